"""All jobs of the book: who, what bike, what is there, and the way in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import Dash, Input, Output, dcc, html

from dashboard import ids
from dashboard.answers import Answers
from dashboard.page import Asked, add_page, answer
from dashboard.parts import Look, look_of, open_link, page_head, table
from dashboard.shell import compare_address, setup_name
from dashboard.units import length
from ingest.log import Kind, Log
from ingest.records import Job

HEAD = ("Job", "Rider and bike", "Wanted at the seat", "Logs", "Where it stands", "Last touched", "")


def register(app: Dash, answers: Answers) -> None:
    """Add the page and its find box."""

    def show(_: Asked, look: Look) -> Any:
        jobs = answers.book.jobs()
        if not jobs:
            return html.Div([page_head("Jobs"), _empty()], className="ff-page")
        find = dcc.Input(
            id=ids.JOBS_FIND, type="search", placeholder="Find a rider, bike or job number", debounce=False
        )
        title = page_head("Jobs", "1 in this book" if len(jobs) == 1 else f"{len(jobs)} in this book")
        section = html.Section(
            [
                html.Div(
                    [html.Label("Find a rider, bike or job number", htmlFor=ids.JOBS_FIND), find],
                    className="ff-field ff-noprint",
                ),
                html.Div(_table(answers, jobs, look), id=ids.JOBS_TABLE),
            ],
            className="ff-card",
        )
        return html.Div([title, section], className="ff-page")

    add_page(app, "jobs", title="Jobs", path="/", show=show)

    @app.callback(
        Output(ids.JOBS_TABLE, "children"),
        Input(ids.JOBS_FIND, "value"),
        Input(ids.UNITS, "value"),
        Input(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def find_jobs(wanted: str | None, units: str, theme: str) -> Any:
        return answer(lambda: _table(answers, found(answers.book.jobs(), wanted), look_of(units, theme)))


def found(jobs: Sequence[Job], wanted: str | None) -> list[Job]:
    """Keep the jobs in which every word somebody typed occurs."""
    words = str(wanted or "").lower().split()
    return [
        job
        for job in jobs
        if all(word in f"{job.id} {job.rider.name} {job.bike.name} {job.bike.id}".lower() for word in words)
    ]


def _table(answers: Answers, jobs: Sequence[Job], look: Look) -> Any:
    if not jobs:
        return html.P("No job has these words in it. Take some away.")
    rows = [(job, answers.book.logs(job.id)) for job in jobs]
    rows.sort(key=lambda row: last_touched(*row), reverse=True)
    return table(HEAD, [_row(job, logs, look) for job, logs in rows], numbers=(2, 5), stack=True)


def _row(job: Job, logs: Sequence[Log], look: Look) -> list[Any]:
    wanted = "not yet known"
    if job.wanted_lowering_mm is not None:
        wanted = length(job.wanted_lowering_mm, look.units, 0)
    return [
        html.B(job.id),
        html.Div([html.B(job.rider.name), html.Span(job.bike.name, className="ff-second")]),
        wanted,
        logs_there(logs),
        where_it_stands(logs),
        last_touched(job, logs).replace("T", " ")[:16],
        open_link(f"job {job.id}", f"/job/{job.id}"),
    ]


def logs_there(logs: Sequence[Log]) -> str:
    """Count what was recorded.

    >>> logs_there([])
    'none yet'
    """
    counts = [(sum(log.kind == kind for log in logs), kind.value) for kind in Kind]
    texts = [f"{count} {name}{'' if count == 1 or name == 'sag' else 's'}" for count, name in counts if count]
    return ", ".join(texts) or "none yet"


def where_it_stands(logs: Sequence[Log]) -> str:
    """Say in a few words how far a job is, from what was recorded under which setups."""
    kinds = {log.kind for log in logs}
    if not kinds:
        return "Booked; nothing recorded yet"
    if Kind.SAG not in kinds:
        return "Ridden, sag not yet checked"
    if Kind.RIDE not in kinds:
        return "Sag checked, not yet ridden"
    setups = {setup_name(log) for log in logs if log.kind == Kind.RIDE}
    if len(setups) > 1 and compare_address(logs) is not None:
        return "Ridden before and after: read the answer"
    return "Sag checked and ridden before the work"


def last_touched(job: Job, logs: Sequence[Log]) -> str:
    """Give when something of a job was last recorded, else when it was opened."""
    return max([log.started for log in logs], default=job.opened or "")


def _empty() -> Any:
    return html.Section(
        [
            html.H2("No job in this book yet"),
            html.P("A job is the work for one rider on one bike. Open the first one in a terminal:"),
            html.P(html.Code("flatfoot job new --help")),
            html.P("Or look at a finished one first, recorded from a bike that exists only in the computer:"),
            html.P(html.Code("flatfoot demo")),
        ],
        className="ff-card",
    )
