"""What stands around every page: the header with its two switches, and the job bar with the steps."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Any

import dash
from dash import Dash, Input, Output, dcc, html

from dashboard import ids
from dashboard.parts import named
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.log import Kind, Log
from ingest.records import Job

MOST_COMPARED = 20
"""Rides a side: all of them are held in memory at once."""
REPORT_PAGE = "flatfoot.report"


class Step(StrEnum):
    """The steps of a job, in the order of the work."""

    BIKE = "Bike and rider"
    SAG = "Sag"
    PLAN = "Plan"
    RIDE = "Ride"
    COMPARE = "Before / after"
    REPORT = "Report"


def frame(shop: str) -> Any:
    """Build the part of the page that never changes."""
    return html.Div(
        [
            html.A("Skip to the page", href="#page", className="ff-skip"),
            html.Header(
                html.Div(
                    [
                        dcc.Link("flatfoot", href="/", className="ff-name"),
                        html.Span(f"{shop} · the book", className="ff-shop"),
                        html.Nav(
                            dcc.Link("Record", href="/record"),
                            className="ff-noprint",
                            **named("recorder"),
                        ),
                        _switch(ids.UNITS, [(Units.MM, "mm"), (Units.IN, "in")], "units"),
                        _switch(ids.THEME, [(Theme.LIGHT, "Light"), (Theme.DARK, "Dark")], "light or dark"),
                    ]
                ),
                className="ff-top",
            ),
            html.Main(dash.page_container, id="page", tabIndex="-1"),
            html.Div(id=ids.THEME_DONE, hidden=True),
            dcc.Store(id=ids.PLAN_STATE),  # outlives a page that is filled anew in other units
        ]
    )


def _switch(name: str, options: Sequence[tuple[str, str]], label: str) -> Any:
    return html.Div(
        dcc.RadioItems(
            id=name,
            options=[{"value": str(value), "label": text} for value, text in options],
            value=str(options[0][0]),
            inline=True,
            persistence=True,
            persistence_type="local",
        ),
        className="ff-switch",
        role="group",
        **named(label),
    )


def register(app: Dash) -> None:
    """Let the theme switch set the colours of the page, in the browser alone."""
    app.clientside_callback(  # type: ignore[no-untyped-call]
        "function (theme) { document.documentElement.dataset.theme = theme; return ''; }",
        Output(ids.THEME_DONE, "children"),
        Input(ids.THEME, "value"),
    )


def job_bar(job: Job | None, logs: Sequence[Log], current: Step, *, now: str = "") -> Any:
    """Build the bar of a job: its tag, and the steps with what is known of each.

    ``now`` is said of the step that is open, instead of what the bar says of it elsewhere.
    """
    if job is None:
        return None
    steps = [(step, *_known(step, job, logs)) for step in Step]
    return html.Nav(
        html.Div(
            [
                html.Div(
                    html.Div([html.B(f"Job {job.id} · {job.rider.name}"), html.Span(bike_line(job))]),
                    className="ff-tag",
                ),
                html.Ol(
                    [
                        _step(number, name, href, now if name == current and now else note, name == current)
                        for number, (name, href, note) in enumerate(steps, 1)
                    ],
                    className="ff-steps",
                ),
            ]
        ),
        className="ff-bar",
        **named("steps of this job"),
    )


def _known(step: Step, job: Job, logs: Sequence[Log]) -> tuple[str | None, str]:
    """Give where a step leads, nowhere while something else comes first, and what is known of it."""
    sags, rides = ([log for log in logs if log.kind == kind] for kind in (Kind.SAG, Kind.RIDE))
    match step:
        case Step.BIKE:
            return f"/job/{job.id}", "done"
        case Step.SAG:
            return (f"/sag/{sags[0].id}", _count(sags, "sag check")) if sags else (None, "no sag check yet")
        case Step.PLAN:
            known = "choose one" if job.kept is None else "agreed"
            return f"/plan/{job.id}", known if sags else "measure sag first"
        case Step.RIDE:
            return (f"/ride/{rides[0].id}", _count(rides, "ride")) if rides else (None, "no ride yet")
        case Step.COMPARE:
            address = compare_address(logs)
            return address, "two rides first" if address is None else "what changed"
        case Step.REPORT:
            if REPORT_PAGE in dash.page_registry:
                return f"/report/{job.id}", "to hand over" if rides else "after the work"
            return None, "after the work"


def _count(logs: Sequence[Log], one: str) -> str:
    return f"{len(logs)} {one}{'' if len(logs) == 1 else 's'}"


def _step(number: int, name: str, href: str | None, note: str, current: bool) -> Any:
    inside = [html.B(f"{number} {name}"), html.Span(note)]
    extra: dict[str, Any] = {"aria-current": "step"} if current else {}
    return html.Li(html.Div(inside) if href is None else dcc.Link(inside, href=href), **extra)


def bike_line(job: Job) -> str:
    """Name the bike and what tells it from others."""
    return f"{job.bike.name}, {job.bike.id}" if job.bike.id else job.bike.name


def setup_name(log: Log) -> str:
    """Name the setup a log was recorded with."""
    return log.setup.name if log.setup else "as the bike file says"


def rides_by_setup(logs: Sequence[Log]) -> dict[str, list[Log]]:
    """Group rides by the setup's name, in the order the setups were first ridden; newest ride first in each.

    ``logs`` come newest first. A setup that was put back (before, after, before again) stays one group.
    """
    rides = [log for log in logs if log.kind == Kind.RIDE]
    groups: dict[str, list[Log]] = {setup_name(log): [] for log in reversed(rides)}
    for log in rides:
        groups[setup_name(log)].append(log)
    return groups


def compare_address(logs: Sequence[Log]) -> str | None:
    """Give the address that compares the rides of the first setup ridden with those of the last one.

    All rides of a setup are its repeats, also those after it was put back. With one setup it is the first
    ride against the last.
    """
    groups = list(rides_by_setup(logs).values())
    if sum(map(len, groups)) < 2:
        return None
    before, after = groups[0], groups[-1]
    if len(groups) == 1:
        before, after = before[-1:], after[:1]
    return compare_of([log.id for log in before[:MOST_COMPARED]], [log.id for log in after[:MOST_COMPARED]])


def compare_of(before: Sequence[str], after: Sequence[str]) -> str:
    """Give the address of a comparison."""
    return f"/compare?before={','.join(before)}&after={','.join(after)}"
