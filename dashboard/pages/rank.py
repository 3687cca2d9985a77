"""Springs and setups of one job in order: which first, and what each is best and worst at."""

from __future__ import annotations

from typing import Any

from dash import Dash, html

from analysis.compare_results import Ranking
from dashboard import rank_words
from dashboard.answers import Answers
from dashboard.page import Asked, add_page, shell_of
from dashboard.pages.compare_parts import fold
from dashboard.parts import Look, card, cautions, not_found, table, text_table
from dashboard.shell import MOST_COMPARED, Step, job_bar, rides_by_setup
from ingest.records import End

MOST_SETUPS = 8
NOTHING_SAID = "nothing that chance does not explain"


def register(app: Dash, answers: Answers) -> None:
    """Add the page."""

    def show(asked: Asked, look: Look) -> Any:
        job = answers.job(asked.get("job"))
        if job is None:
            return shell_of(not_found("There is no such job in this book."))
        logs = answers.book.logs(job.id)
        groups = list(rides_by_setup(logs).items())[-MOST_SETUPS:]
        most = MOST_COMPARED // 2 if len(groups) > 2 else MOST_COMPARED
        ranking = answers.ranking({name: [log.id for log in rides[:most]] for name, rides in groups})
        return [
            job_bar(job, logs, Step.COMPARE),
            html.Div(page_of(ranking, look), className="ff-page ff-compare"),
        ]

    add_page(app, "rank", title="Setups in order", path="/rank", show=show)


def page_of(ranking: Ranking, look: Look) -> list[Any]:
    """Lay out the page: the order, what each is good for, the numbers, the rule."""
    tables = [rank_words.numbers_table(ranking, end, look.units) for end in End]
    numbers = [
        text_table(made, numbers=range(1, len(made.head)), stack=True)
        for made in tables
        if len(made.head) > 1
    ]
    order = text_table(rank_words.place_table(ranking), numbers=range(2, 6), stack=True)
    right = [
        card("The order", order),
        card("What each is good for", _traits(ranking)),
        card("Measured while riding", *numbers, sub=rank_words.IN_10_MIN),
    ]
    left = [_answer(ranking), *cautions([*ranking.uncertain, *ranking.cautions])]
    return [html.Div([html.Div(left), html.Div(right)], className="ff-columns ff-wide-right")]


def _answer(ranking: Ranking) -> Any:
    first = [one.setup for one in ranking.ranked if one.place == 1]
    said = " comes first." if len(first) == 1 else " share the first place."
    return html.Section(
        [
            html.P("Which setup is better?", className="ff-quiet"),
            html.H1([html.B(" and ".join(first)), html.Span(said)], className="ff-verdict"),
            html.P(_sag_line(ranking)),
            fold("The rule", html.P(ranking.rule)),
        ],
        className="ff-card ff-answer",
    )


def _sag_line(ranking: Ranking) -> str:
    said = {one.equal_sag for one in ranking.ranked}
    if said == {True}:
        return "All were ridden at the same rider sag, so the springs themselves are compared."
    if False in said:
        return "They were not ridden at the same rider sag: part of any difference is where each was set."
    return "Whether they were ridden at the same rider sag is not known: check the sag of each setup."


def _traits(ranking: Ranking) -> Any:
    rows = [(html.B(one.setup), _listed(one.best_at), _listed(one.worst_at)) for one in ranking.ranked]
    return html.Div(table(("setup", "best at", "worst at"), rows, stack=True), className="ff-traits")


def _listed(said: tuple[str, ...]) -> Any:
    return html.Div([html.Div(line) for line in rank_words.both_ends(said)] or NOTHING_SAID)
