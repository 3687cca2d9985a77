"""One job: the bike and the rider, the setups laid side by side, the logs, and what to compare."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import Dash, Input, Output, dcc, html

from analysis.effective import effective_bike
from dashboard import ids
from dashboard.answers import Answers
from dashboard.log_words import ending_line, link_line
from dashboard.page import Asked, add_page, shell_of
from dashboard.parts import Look, button_link, card, not_found, open_link, page_head, table, text_table
from dashboard.setup_words import side_by_side
from dashboard.shell import Step, bike_line, compare_address, compare_of, job_bar, rides_by_setup, setup_name
from dashboard.units import duration, length, mass
from ingest.log import Log
from ingest.records import Job

REPEATS = (
    "Rides of one setup are its repeats. Three a side, and the first setup once more after the other, make "
    "an answer that can be believed."
)
LOG_HEAD = ("Kind", "Setup", "Recorded", "Lasted", "How it went", "")


def register(app: Dash, answers: Answers) -> None:
    """Add the page and the chooser of rides."""

    def show(asked: Asked, look: Look) -> Any:
        job = answers.job(asked.get("job_id"))
        if job is None:
            return shell_of(not_found("There is no such job in this book."))
        logs = answers.book.logs(job.id)
        wanted = "wanted at the seat: not yet known"
        if job.wanted_lowering_mm is not None:
            wanted = f"wanted at the seat: {length(job.wanted_lowering_mm, look.units, 0)} lower"
        return [
            job_bar(job, logs, Step.BIKE),
            html.Div(
                [
                    page_head(
                        f"Job {job.id}",
                        wanted,
                        button_link("Sag check", f"/check/{job.id}", main=not logs),
                        button_link("Record", f"/record?job={job.id}"),
                    ),
                    html.Div(
                        [
                            html.Div([_who(job, look), _setups(job, look)]),
                            html.Div([_logs(logs), _choose(job, logs)]),
                        ],
                        className="ff-columns ff-halves",
                    ),
                ],
                className="ff-page",
            ),
        ]

    add_page(app, "job", title="Job", path_template="/job/<job_id>", show=show)

    @app.callback(
        Output(ids.JOB_COMPARE, "children"), Input(ids.JOB_BEFORE, "value"), Input(ids.JOB_AFTER, "value")
    )
    def offer(before: list[str] | None, after: list[str] | None) -> Any:
        return offered(before or [], after or [])


def offered(before: Sequence[str], after: Sequence[str]) -> Any:
    """Make the button that compares, or the closed one that says what comes first."""
    if not before or not after:
        return html.Button("First: choose a ride on each side", disabled=True, className="ff-button")
    if set(before) & set(after):
        return html.Button("First: no ride on both sides", disabled=True, className="ff-button")
    text = f"Compare {len(before)} before with {len(after)} after"
    return button_link(text, compare_of(before, after), main=True)


def _who(job: Job, look: Look) -> Any:
    rider = [job.rider.name]
    if job.rider.mass_kg is not None:
        rider.append(f"{mass(job.rider.mass_kg, look.units)} in gear")
    bike = job.bike
    rows = [("Rider", ", ".join(rider)), ("Bike", bike_line(job))]
    if bike.use:
        rows.append(("Use", bike.use))
    rows += [
        (name, f"{part.kind}, {length(part.travel_mm, look.units, 0)} of travel")
        for name, part in (("Front", bike.front), ("Rear", bike.rear))
        if part is not None
    ]
    if job.notes:
        rows.append(("Notes", job.notes))
    return card("Bike and rider", table(("", "as the bike file says"), rows))


def _setups(job: Job, look: Look) -> Any:
    if not job.setups:
        return card("Setups", html.P("No setup saved yet: the bike stands as its file says."))
    bikes = [("bike file", job.bike), *((s.name, effective_bike(job.bike, s)) for s in job.setups)]
    made = side_by_side(bikes, look.units, only_changes=True)
    notes = [html.P([html.B(f"{setup.name}: "), setup.notes]) for setup in job.setups if setup.notes]
    body = text_table(made) if made.rows else html.P("Nothing differs from the bike file.")
    return card("Setups", body, *notes, sub="what differs")


def _logs(logs: Sequence[Log]) -> Any:
    if not logs:
        return card("Logs", html.P("Nothing recorded yet. The sag check comes first."))
    rows = [
        [
            log.kind.value,
            setup_name(log),
            log.started.replace("T", " ")[:16],
            duration(log.duration_s),
            ", ".join(part for part in (ending_line(log), link_line(log)) if part),
            open_link(f"{log.kind} {log.id}", f"/{log.kind}/{log.id}"),
        ]
        for log in logs
    ]
    return card("Logs", table(LOG_HEAD, rows, numbers=(3,), stack=True))


def _choose(job: Job, logs: Sequence[Log]) -> Any:
    groups = rides_by_setup(logs)
    if sum(map(len, groups.values())) < 2:
        return card("Before and after", html.P("Two rides come first: one before the work and one after it."))
    options = [
        {"value": log.id, "label": f"{name}, {log.started.replace('T', ' ')[5:16]}"}
        for name, rides in groups.items()
        for log in reversed(rides)
    ]
    address = compare_address(logs) or ""
    before, after = (part.partition("=")[2].split(",") for part in address.partition("?")[2].split("&"))
    columns = [
        html.Fieldset(
            [
                html.Legend(html.B(title)),
                dcc.Checklist(id=name, options=options, value=value, className="ff-choices"),
            ],
            className="ff-plain",
        )
        for title, name, value in (("Before", ids.JOB_BEFORE, before), ("After", ids.JOB_AFTER, after))
    ]
    rank = [button_link("Rank the setups", f"/rank?job={job.id}")] if len(groups) > 2 else []
    return card(
        "Before and after",
        html.P(REPEATS),
        html.Div(columns, className="ff-pair ff-choose"),
        html.Div([html.Div(id=ids.JOB_COMPARE), *rank], className="ff-buttons"),
    )
