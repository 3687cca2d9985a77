"""The customer's report of a job: on the screen as on paper, to print or to send as one file."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.answers import Answers
from dashboard.page import Asked, add_page, shell_of
from dashboard.pages.report_sheet import sheet
from dashboard.parts import Look, button_link, look_of, not_found
from dashboard.report_file import file_name, report_html
from dashboard.report_job import Asked as ReportAsked
from dashboard.report_job import Reported, report_of_job
from dashboard.shell import Step, job_bar
from ingest.errors import FlatfootError
from ingest.records import Job


def register(app: Dash, answers: Answers) -> None:
    """Add the page, and the button that saves the report for the customer."""

    def show(asked: Asked, look: Look) -> Any:
        job = answers.job(asked.get("job_id"))
        if job is None:
            return shell_of(not_found("There is no such job in this book."))
        logs = answers.logs(job.id)
        bar = job_bar(job, logs, Step.REPORT, now="to hand over")
        if not logs:
            return [bar, html.Div(nothing_yet(job), className="ff-page")]
        reported = report_of_job(answers, job, asked_of(asked))
        page = [_buttons(reported), sheet(reported, look.units)]
        return [bar, html.Div(page, className="ff-page ff-report-page")]

    add_page(app, "report", title="Report", path_template="/report/<job_id>", show=show)

    @app.callback(
        Output(ids.REPORT_FILE, "data"),
        Input(ids.REPORT_SAVE, "n_clicks"),
        State(f"report-{ids.ASKED}", "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def save(clicks: int | None, asked: Asked, units: object, theme: object) -> Any:
        job = answers.job(asked.get("job_id"))
        if not clicks or job is None:
            raise PreventUpdate
        try:
            reported = report_of_job(answers, job, asked_of(asked))
        except FlatfootError as error:  # the page says why as soon as it is loaded again
            raise PreventUpdate from error
        text = report_html(reported, look_of(units, theme).units)
        return {"content": text, "filename": file_name(job.id), "type": "text/html", "base64": False}


def asked_of(asked: Asked) -> ReportAsked:
    """Read what an address asks for beside the job; a setup or an option that is not named is chosen."""
    return ReportAsked(before=asked.get("before"), after=asked.get("after"), option=asked.get("option"))


def nothing_yet(job: Job) -> Any:
    """Say what comes first while the job has no log."""
    return html.Section(
        [
            html.H1("Nothing to report yet"),
            html.P(
                "The report tells the rider what was measured before and after the work. First comes a sag "
                "check with the rider aboard."
            ),
            html.Div(button_link("Sag check", f"/check/{job.id}", main=True), className="ff-buttons"),
        ],
        className="ff-card",
    )


def _buttons(reported: Reported) -> Any:
    job = reported.job
    prints: dict[str, Any] = {"data-print": "page"}  # assets/print.js
    made = [
        html.Button(
            "Save for the customer", id=ids.REPORT_SAVE, type="button", className="ff-button ff-main"
        ),
        html.Button("Print", type="button", className="ff-button", **prints),
    ]
    if reported.after is None or not reported.after.measured:
        made.append(button_link("Check sag after the work", f"/check/{job.id}"))
    elif reported.comparison is None:
        made.append(button_link("Record a ride", f"/record?job={job.id}"))
    elif reported.proved is None:
        made.append(button_link("Say on the plan what was carried out", f"/plan/{job.id}"))
    return html.Div([*made, dcc.Download(id=ids.REPORT_FILE)], className="ff-buttons ff-noprint")
