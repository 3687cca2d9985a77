"""Before and after: the answer first, then the paired rulers, the numbers, what changed, what it cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.answers import Answers
from dashboard.compared import Compared, gather
from dashboard.page import Asked, add_page, shell_of
from dashboard.pages import compare_cards as cards
from dashboard.pages import compare_rides
from dashboard.pages import compare_work as work
from dashboard.parts import Look, button_link, look_of, not_found, text_table
from dashboard.rank_words import day_lines, day_question, day_table
from dashboard.shell import MOST_COMPARED, Step, job_bar, rides_by_setup
from dashboard.units import MM_PER_INCH, Units
from ingest.errors import FlatfootError, UsageError
from ingest.log import Log
from ingest.records import Job


def register(app: Dash, answers: Answers) -> None:
    """Add the page and the planner of test days."""

    def show(asked: Asked, look: Look) -> Any:
        sides = asked_rides(answers, asked)
        if sides is None:
            return shell_of(not_found("One of the rides to compare is not in this book."))
        compared = gather(answers, *sides)
        job = answers.job(sides[1][0].job)
        logs = answers.book.logs(job.id) if job else []
        return [
            job_bar(job, logs, Step.COMPARE, now="read it"),
            html.Div(page_of(compared, job, logs, look), className="ff-page ff-compare"),
        ]

    add_page(app, "compare", title="Before and after", path="/compare", show=show)

    @app.callback(
        Output(ids.DAY_SHOWN, "children"),
        Input(ids.DAY_PLAN, "n_clicks"),
        State(ids.DAY_METRIC, "value"),
        State(ids.DAY_CHANGE, "value"),
        State(f"compare-{ids.ASKED}", "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def plan(clicks: int | None, metric: object, change: object, asked: Asked, units: str, theme: str) -> Any:
        sides = asked_rides(answers, asked)
        if not clicks or sides is None:
            raise PreventUpdate
        try:
            return planned(answers, sides, str(metric), str(change), look_of(units, theme))
        except FlatfootError as error:
            return html.P(str(error))


def asked_rides(answers: Answers, asked: Asked) -> tuple[list[Log], list[Log]] | None:
    """Find the rides an address names; ``None`` where the book does not have one of them.

    Raises
    ------
    UsageError
        More rides a side than are held in memory at once.
    """
    wanted = [[log_id for log_id in asked.get(side, "").split(",") if log_id] for side in ("before", "after")]
    if max(map(len, wanted)) > MOST_COMPARED:
        raise UsageError(f"more than {MOST_COMPARED} rides a side cannot be compared here: choose fewer")
    sides = [[log for log_id in side if (log := answers.header(log_id)) is not None] for side in wanted]
    if not all(sides) or list(map(len, sides)) != list(map(len, wanted)):
        return None
    return sides[0], sides[1]


def page_of(compared: Compared, job: Job | None, logs: Sequence[Log], look: Look) -> list[Any]:
    """Lay out the page; on a phone and on paper the cards follow each other in the order people ask."""
    work_cards = [work.changed(compared, look), *work.sag(compared, look), work.given_up(compared, look)]
    left = [
        cards.answer(compared.comparison),
        _buttons(job, logs),
        *cards.mind(compared.comparison),
        html.Div(work_cards, className="ff-rest"),
    ]
    ride_cards = [
        work.bottoming(compared),
        *compare_rides.ride_next(compared),
        compare_rides.rides(compared),
        compare_rides.plan_card(compared, look),
    ]
    right = [
        cards.rulers(compared, look),
        cards.measured(compared, look),
        html.Div(ride_cards, className="ff-rest"),
    ]
    return [html.Div([html.Div(left), html.Div(right)], className="ff-columns ff-wide-right")]


def _buttons(job: Job | None, logs: Sequence[Log]) -> Any:
    prints: dict[str, Any] = {"data-print": "page"}  # assets/print.js
    buttons = [html.Button("Print", type="button", className="ff-button ff-main", **prints)]
    if job is not None:
        buttons.append(button_link("Record another run", f"/record?job={job.id}"))
        if len(rides_by_setup(logs)) > 2:
            buttons.append(button_link("Rank the setups", f"/rank?job={job.id}"))
    return html.Div(buttons, className="ff-buttons ff-noprint ff-o12")


def planned(
    answers: Answers, sides: tuple[list[Log], list[Log]], metric: str, change: str, look: Look
) -> list[Any]:
    """Plan a test day from the side with more runs, the one after where both have as many.

    Raises
    ------
    FlatfootError
        The change is no number, or what `analysis.test_day.plan_test_day` raises.
    """
    before, after = sides
    runs = before if len(before) > len(after) else after
    try:
        size = float(change.replace(",", ".").replace("−", "-"))
    except ValueError as error:
        raise UsageError(f"{change!r} is no number: type the size of the change, for example 5") from error
    if look.units is Units.IN and metric.endswith("_mm"):
        size *= MM_PER_INCH
    day = answers.test_day([log.id for log in runs], metric, size)
    question = day_question(day, look.units)
    shown = [html.H3(f"{question[0].upper()}{question[1:]}")]
    if day.options:
        shown.append(text_table(day_table(day), numbers=(1, 2)))
    said = (*day_lines(day, look.units), *day.cautions)
    return [*shown, html.Ul([html.Li(f"{line[0].upper()}{line[1:]}.") for line in said])]
