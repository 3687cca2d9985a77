"""The measures of a plan: a form with what is missing first, and writing what was typed into the files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from dash import dcc, html

from dashboard import ids
from dashboard.pages.compare_parts import fold
from dashboard.parts import Look, card
from dashboard.plan_measures import JOB, MEASURES, Measure, shown_value, typed_changes, unit_of
from dashboard.units import Units
from ingest.bike_edit import with_measures
from ingest.book import Book
from ingest.chassis_file import STATES
from ingest.errors import UsageError
from ingest.job_edit import with_wanted
from ingest.records import Job

Edit = Callable[[str], str]


def form(job: Job, look: Look) -> Any:
    """Build the form: what is missing with how to take it, what is known folded away."""
    missing = [one for one in MEASURES if one.known(job, job.bike) is None and _applies(one, job)]
    known = [one for one in MEASURES if one not in missing and _applies(one, job)]
    told = (
        html.P("Nothing is missing.")
        if not missing
        else html.P(f"{len(missing)} not measured yet; leave empty what you do not know.")
    )
    return card(
        "Measures for this plan",
        told,
        html.Div([_field(one, job, look.units) for one in missing], className="ff-measures"),
        fold(
            f"{len(known)} known: change them here",
            html.Div([_field(one, job, look.units) for one in known], className="ff-measures"),
            kind="ff-more",
        ),
        html.Div(
            html.Button("Write them down", id=ids.PLAN_SAVE, type="button", className="ff-button"),
            className="ff-buttons",
        ),
        html.Div(id=ids.PLAN_SAVED),
        html.P(
            "They go into the files of the bike and the job; what stood there before is kept in the book.",
            className="ff-quiet",
        ),
    )


def _applies(measure: Measure, job: Job) -> bool:
    """Leave out what belongs to an end the bike file does not have, and the other way to say the stack."""
    table = measure.place.partition(".")[0]
    if table in ("front", "rear"):
        return (job.bike.front if table == "front" else job.bike.rear) is not None
    if table != JOB:
        return True
    by_boards = job.boards is not None
    if measure.key == "wanted_lowering_mm":
        return not by_boards
    return by_boards or job.wanted_lowering_mm is None


def _field(measure: Measure, job: Job, units: Units) -> Any:
    known = measure.known(job, job.bike)
    name = {"type": ids.PLAN_MEASURE, "place": measure.place.replace(".", ":")}
    value = shown_value(measure, known, units)
    if measure.unit == "state":
        box: Any = dcc.Dropdown(
            id=name, options=list(STATES), value=value or None, clearable=False, searchable=False
        )
    else:
        box = dcc.Input(id=name, type="text", value=value, maxLength=12)
    unit = unit_of(measure, units)
    return html.Label(
        [
            html.B(measure.label),
            html.Span(measure.how, className="ff-quiet"),
            html.Span([box, f" {unit}" if unit else ""], className="ff-typed"),
        ],
        className="ff-field",
    )


def write(book: Book, job: Job, typed: Mapping[str, object], units: Units) -> int:
    """Write what was typed and differs into the job file and the bike file; give how many were.

    Everything is checked before anything is written. `UsageError` or `FileProblem` says in one line what is
    wrong.
    """
    changes = typed_changes(typed, job, job.bike, units)
    of_job = {place.partition(".")[2]: value for place, value in changes.items() if place.startswith("job.")}
    of_bike = {place: value for place, value in changes.items() if not place.startswith("job.")}
    steps: list[tuple[Callable[[str, Edit], Job], Edit]] = []
    if of_bike:
        steps.append((book.change_bike, partial(with_measures, values=of_bike)))
    if of_job:
        steps.append((book.change_job, _wanted(of_job, job)))
    for change, edit in steps:
        change(job.id, partial(_tried, edit))
    for change, edit in steps:
        change(job.id, edit)
    return len(changes)


def _tried(edit: Edit, text: str) -> str:
    """Try an edit and give the text as it was."""
    edit(text)
    return text


def _wanted(of_job: Mapping[str, float | str], job: Job) -> Edit:
    numbers = {key: float(value) for key, value in of_job.items()}
    total = numbers.pop("wanted_lowering_mm", None)
    if total is not None and numbers:
        raise UsageError("type the boards, how many and how thick, or the height of the stack: not both")
    if total is not None:
        return partial(with_wanted, total_mm=total)
    boards, board_mm = numbers.get("boards", job.boards), numbers.get("board_mm", job.board_mm)
    return partial(with_wanted, total_mm=None, boards=boards, board_mm=board_mm)
