"""Recording in the browser: choose what and from where, watch it come in, mark, stop."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.answers import Answers
from dashboard.commands.live_line import SAG_MARKS
from dashboard.drawings.sag import LIVE_PX, live_ruler
from dashboard.drawings.svg import data_uri
from dashboard.page import Asked, add_page, answer
from dashboard.pages.check_form import busy
from dashboard.parts import Look, button_link, card, fault, look_of, page_head
from dashboard.recording import Now, Recording, Wheel
from dashboard.units import duration, length, length_number, number
from ingest.errors import FlatfootError
from ingest.log import Kind

EVERY_MS = 180  # a little more than five updates a second
NO_SETUP = "This job has no setup yet, and a recording belongs to one: flatfoot job setup --help says how."
SAFE = "Support the bike so that it cannot fall. Nobody watches a screen while riding."


def register(app: Dash, answers: Answers, recording: Recording) -> None:
    """Add the page and what its buttons do."""

    def show(asked: Asked, look: Look) -> Any:
        now = recording.now()
        if now is not None and now.guided:  # marks typed here would not be in the guide's list
            return html.Div(busy(now.job_id, guided=True), className="ff-page")
        if now is not None:
            return _live_page(recording, look)
        return _form_page(answers, recording, asked.get("job"))

    add_page(app, "record", title="Record", path="/record", show=show)
    _register_form(app, answers, recording)
    _register_live(app, recording)


def _register_form(app: Dash, answers: Answers, recording: Recording) -> None:
    @app.callback(
        Output(ids.RECORD_SETUP, "options"),
        Output(ids.RECORD_SETUP, "value"),
        Output(ids.RECORD_NO_SETUP, "children"),
        Input(ids.RECORD_JOB, "value"),
    )
    def setups_of(job_id: str | None) -> tuple[list[dict[str, str]], str | None, str]:
        job = answers.job(job_id)
        names = [setup.name for setup in job.setups] if job else []
        options = [{"value": name, "label": name} for name in names]
        return options, (names[-1] if names else None), ("" if names else NO_SETUP)

    @app.callback(
        Output(ids.RECORD_PORT, "options"),
        Input(ids.RECORD_LOOK, "n_clicks"),
        prevent_initial_call=True,
    )
    def look_again(clicks: int | None) -> list[dict[str, str]]:
        if not clicks:
            raise PreventUpdate
        return _port_options(recording)

    @app.callback(
        Output(f"record-{ids.SHOWN}", "children", allow_duplicate=True),
        Output(ids.RECORD_NOTE, "children", allow_duplicate=True),
        Input(ids.RECORD_START, "n_clicks"),
        State(ids.RECORD_JOB, "value"),
        State(ids.RECORD_SETUP, "value"),
        State(ids.RECORD_KIND, "value"),
        State(ids.RECORD_PORT, "value"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
        running=[(Output(ids.RECORD_START, "disabled"), True, False)],
    )
    def start(
        clicks: int | None, job: Any, setup: Any, kind: Any, port: Any, units: str, theme: str
    ) -> tuple[Any, Any]:
        if not clicks:
            raise PreventUpdate
        try:
            if not job or not setup or not port:
                return no_update, html.P("First: choose the job, its setup and the port.", role="alert")
            recording.start(str(job), str(setup), str(kind), str(port))
        except FlatfootError as error:
            return no_update, _trouble(str(error))
        return _live_page(recording, look_of(units, theme)), no_update


def _register_live(app: Dash, recording: Recording) -> None:
    @app.callback(
        Output(ids.RECORD_LIVE, "children"),
        Input(ids.RECORD_TICK, "n_intervals"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def tick(_: int, units: str, theme: str) -> Any:
        return answer(lambda: _live(recording.now(), look_of(units, theme)))

    @app.callback(
        Output(ids.RECORD_NOTE, "children", allow_duplicate=True),
        Input({"type": ids.RECORD_MARK, "text": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    def mark(_: Any) -> Any:
        if not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        text = str(ctx.triggered_id["text"])
        try:
            recording.mark(text)
        except FlatfootError as error:
            return _trouble(str(error))
        return html.P(f"marked: {text}", role="status")

    @app.callback(
        Output(f"record-{ids.SHOWN}", "children", allow_duplicate=True),
        Input(ids.RECORD_STOP, "n_clicks"),
        prevent_initial_call=True,
    )
    def stop(clicks: int | None) -> Any:
        if not clicks:
            raise PreventUpdate
        return answer(lambda: _stopped(*recording.stop()))


# ----------------------------------------------------------------------------------------------- before


def _form_page(answers: Answers, recording: Recording, wanted: str | None) -> Any:
    jobs = answers.book.jobs()
    ids_known = [job.id for job in jobs]
    ready = [job.id for job in jobs if job.setups]
    chosen = wanted if wanted in ids_known else next(reversed(ready or ids_known), None)
    options = [{"value": job.id, "label": f"{job.id} · {job.rider.name}, {job.bike.name}"} for job in jobs]
    if not jobs:
        return html.Div(
            fault("There is no job yet, and every recording belongs to one.", "Open one: flatfoot job new"),
            className="ff-page",
        )
    form = card(
        "What, and from where",
        _field("Job", dcc.Dropdown(id=ids.RECORD_JOB, options=options, value=chosen, clearable=False)),
        _field(
            "Setup",
            html.Div(
                [
                    dcc.RadioItems(id=ids.RECORD_SETUP, options=[], className="ff-choices"),
                    html.P(id=ids.RECORD_NO_SETUP),
                ]
            ),
        ),
        _field(
            "What is recorded",
            dcc.RadioItems(
                id=ids.RECORD_KIND,
                options=[
                    {"value": Kind.SAG.value, "label": "a sag check"},
                    {"value": Kind.RIDE.value, "label": "a ride"},
                ],
                value=Kind.SAG.value,
                className="ff-choices",
            ),
        ),
        _field("Port", _ports(recording)),
        html.Div(id=ids.RECORD_NOTE),
        html.Div(
            [
                html.Button(
                    "Start recording", id=ids.RECORD_START, type="button", className="ff-button ff-main"
                ),
                html.Button("Look for ports again", id=ids.RECORD_LOOK, type="button", className="ff-button"),
            ],
            className="ff-buttons",
        ),
        html.P(SAFE, className="ff-quiet"),
    )
    guided = button_link("Guided sag check", f"/check/{chosen}")
    return html.Div([page_head("Record", None, guided), form], className="ff-page")


def _field(name: str, inside: Any) -> Any:
    return html.Div([html.Span(name, className="ff-label"), inside], className="ff-field", role="group")


def _port_options(recording: Recording) -> list[dict[str, str]]:
    return [{"value": port.url, "label": port.label} for port in recording.ports()]


def _ports(recording: Recording) -> Any:
    options = _port_options(recording)
    value = options[0]["value"] if len(options) == 1 else None
    radio = dcc.RadioItems(id=ids.RECORD_PORT, options=options, value=value, className="ff-choices")
    if options:
        return radio
    return html.Div([radio, html.P("No board found. Plug it in, then look for ports again.")])


def _trouble(text: str) -> Any:
    return html.Div(html.P(text), className="ff-card ff-fault", role="alert")


# ----------------------------------------------------------------------------------------- while it runs


def _live_page(recording: Recording, look: Look) -> Any:
    now = recording.now()
    marks = SAG_MARKS if now is not None and now.kind is Kind.SAG else ("mark",)
    buttons = [
        html.Button(text, id={"type": ids.RECORD_MARK, "text": text}, type="button", className="ff-button")
        for text in marks
    ]
    return html.Div(
        [
            dcc.Interval(id=ids.RECORD_TICK, interval=EVERY_MS),
            page_head("Recording"),
            html.Div(
                [
                    html.Div(html.Div(_live(now, look), id=ids.RECORD_LIVE, className="ff-live")),
                    html.Div(
                        [
                            card(
                                "Mark",
                                html.P("Press while the wheels stand still as named.", className="ff-quiet"),
                                html.Div(buttons, className="ff-buttons"),
                                html.Div(id=ids.RECORD_NOTE),
                            ),
                            html.Div(
                                html.Button(
                                    "Stop and keep it",
                                    id=ids.RECORD_STOP,
                                    type="button",
                                    className="ff-button ff-main",
                                ),
                                className="ff-buttons",
                            ),
                            html.P(SAFE, className="ff-quiet"),
                        ]
                    ),
                ],
                className="ff-columns ff-wide-left",
            ),
        ],
        className="ff-page",
    )


def _live(now: Now | None, look: Look) -> Any:
    if now is None:
        return card(
            "Nothing is being recorded",
            html.P("The recording was ended, perhaps in another window. It is in its job."),
            html.Div(
                [button_link("Record again", "/record"), button_link("All jobs", "/")], className="ff-buttons"
            ),
        )
    scale = LIVE_PX / max((wheel.travel_mm for wheel in now.wheels), default=1.0)
    what = f"{now.kind} of job {now.job_id}, {now.rider}, setup {now.setup}, from {now.port}"
    return card(
        f"{now.live.status} {duration(now.live.duration_s)}",
        html.P([html.B(_losses(now)), f" · {_rate(now)}"]),
        *([html.P(now.live.message, role="alert")] if now.live.message else []),
        html.Div([_wheel(wheel, look, scale) for wheel in now.wheels], className="ff-drawings"),
        html.P(f"Marked so far: {', '.join(now.marks)}" if now.marks else "Nothing marked yet."),
        sub=what,
    )


def _losses(now: Now) -> str:
    if not now.live.lost_samples and not now.live.damaged:
        return "nothing lost"
    return f"{now.live.lost_samples} samples lost, {now.live.damaged} frames damaged"


def _rate(now: Now) -> str:
    rate = "" if now.live.rate_hz is None else f", {number(now.live.rate_hz, 0)} a second"
    return f"{now.live.samples} samples{rate}"


def _wheel(wheel: Wheel, look: Look, scale: float) -> Any:
    alt = f"{wheel.end} now at {length(wheel.now_mm, look.units)} of {length(wheel.travel_mm, look.units, 0)}"
    svg = live_ruler(
        wheel.end,
        wheel.travel_mm,
        wheel.now_mm,
        wheel.recent_mm,
        look.units,
        look.colours,
        px_per_mm=scale,
        title=alt,
    )
    return html.Div(
        [
            html.Div(
                [
                    html.Span(f"{length_number(wheel.now_mm, look.units)} ", className="ff-reading"),
                    f"{look.units}, {wheel.counts if wheel.counts is not None else 'no'} counts",
                ]
            ),
            html.Img(src=data_uri(svg), alt=alt),
        ]
    )


# ------------------------------------------------------------------------------------------------ after


def _stopped(log_id: str, kind: Kind, trouble: str | None) -> Any:
    said = [html.P(f"It had ended before: {trouble}")] if trouble else []
    done = html.Section(
        [
            html.H2("Recorded and sealed"),
            *said,
            html.P(f"The {kind} is in the book as {log_id}."),
            html.Div(
                [
                    button_link(f"Open the {kind}", f"/{kind}/{log_id}", main=True),
                    button_link("Record another", "/record"),
                ],
                className="ff-buttons",
            ),
        ],
        className="ff-card ff-answer",
    )
    return html.Div([page_head("Record"), done], className="ff-page")
