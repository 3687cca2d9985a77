"""Springs and setups of one job in order: which first, and what each is best and worst at."""

from __future__ import annotations

from typing import Any

from dash import Dash, html

from analysis.compare_results import Ranked, Ranking
from dashboard import rank_words
from dashboard.answers import Answers
from dashboard.page import Asked, add_page, shell_of
from dashboard.pages.compare_parts import fold, lines
from dashboard.parts import Look, card, cautions, not_found, text_table
from dashboard.shell import MOST_COMPARED, Step, job_bar, rides_by_setup
from ingest.records import End

MOST_SETUPS = 8
EQUAL_SAG = {
    True: "ridden at the same rider sag as the others",
    False: "not at the same rider sag as the others: part of any difference is that",
    None: "whether it was ridden at the same rider sag is not known",
}


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
    return [
        html.Div(
            [
                html.Div([_answer(ranking), *cautions([*ranking.uncertain, *ranking.cautions])]),
                html.Div(
                    [
                        card(
                            "The order",
                            text_table(rank_words.place_table(ranking), numbers=range(2, 6), stack=True),
                        ),
                        card("Measured while riding", *numbers, sub=rank_words.IN_10_MIN),
                    ]
                ),
            ],
            className="ff-columns ff-wide-right",
        )
    ]


def _answer(ranking: Ranking) -> Any:
    first = [one.setup for one in ranking.ranked if one.place == 1]
    alone = len(first) == 1
    said = " comes first." if alone else " share the first place."
    return html.Section(
        [
            html.P("Which setup is better?", className="ff-quiet"),
            html.H1([html.B(" and ".join(first)), html.Span(said)], className="ff-verdict"),
            *(_setup(one) for one in ranking.ranked),
            fold("The rule", html.P(ranking.rule)),
        ],
        className="ff-card ff-answer",
    )


def _setup(one: Ranked) -> Any:
    said = [
        f"{what} {', '.join(at)}"
        for what, at in (("best at:", one.best_at), ("worst at:", one.worst_at))
        if at
    ]
    said = said or ["nothing that chance does not explain"]
    return html.Div(
        [html.P([html.B(one.setup), f", place {one.place}"]), lines([*said, EQUAL_SAG[one.equal_sag]])]
    )
