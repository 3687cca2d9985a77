"""The guided sag check in the browser: what to do, a live ruler for each end, readings that take themselves.

The check itself runs in the server (`dashboard.recording`): a page only shows it, so a reload, a second
window or a phone that fell asleep loses nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.answers import Answers
from dashboard.guide import CHECKLIST, Guide, Wish
from dashboard.page import Asked, add_page, answer, shell_of
from dashboard.pages import check_form
from dashboard.pages.check_parts import parts_of, version_of
from dashboard.parts import Look, button_link, card, look_of, not_found
from dashboard.recording import Recording
from dashboard.shell import Step, job_bar
from ingest.errors import FlatfootError, UsageError
from ingest.log import Kind

EVERY_MS = 150  # six updates a second and a little more
SHOWN = f"check-{ids.SHOWN}"
ASKED = f"check-{ids.ASKED}"


def register(app: Dash, answers: Answers, recording: Recording) -> None:
    """Add the page and what its buttons do."""

    def show(asked: Asked, look: Look) -> Any:
        job = answers.job(asked.get("job_id"))
        if job is None:
            return shell_of(not_found("There is no such job in this book."))
        guide = recording.guide(job.id)
        bar = job_bar(job, answers.book.logs(job.id), Step.SAG, now="being measured" if guide else "")
        if guide is not None:
            return [bar, _live_page(guide, look)]
        now = recording.now()
        if now is not None:
            return [bar, shell_of(check_form.busy(now.job_id, guided=now.guided))]
        return [bar, check_form.form(job, recording.ports())]

    add_page(app, "check", title="Sag check", path_template="/check/<job_id>", show=show)
    _register_form(app, recording, show)
    _register_live(app, answers, recording)
    _register_buttons(app, recording)
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("flatfoot", "narrow"),
        Output(ids.CHECK_NARROW, "data"),
        Input(ids.CHECK_TICK, "n_intervals"),
        State(ids.CHECK_NARROW, "data"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("flatfoot", "taken"),
        Output(ids.CHECK_HEARD, "children"),
        Input(ids.CHECK_VERSION, "data"),
    )


def _register_form(app: Dash, recording: Recording, show: Callable[[Asked, Look], Any]) -> None:
    @app.callback(
        Output(ids.CHECK_PORT, "options"), Input(ids.CHECK_LOOK, "n_clicks"), prevent_initial_call=True
    )
    def look_again(clicks: int | None) -> list[dict[str, str]]:
        if not clicks:
            raise PreventUpdate
        return check_form.port_options(recording.ports())

    @app.callback(
        Output(SHOWN, "children", allow_duplicate=True),
        Output(ids.CHECK_NOTE, "children"),
        Input(ids.CHECK_START, "n_clicks"),
        State(ASKED, "data"),
        State(ids.CHECK_SETUP, "value"),
        State(ids.CHECK_LOAD, "value"),
        State(ids.CHECK_APART, "value"),
        State(ids.CHECK_ROUNDS, "value"),
        State(ids.CHECK_LIST, "value"),
        State(ids.CHECK_PORT, "value"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
        running=[(Output(ids.CHECK_START, "disabled"), True, False)],
    )
    def start(
        clicks: Any,
        asked: Any,
        setup: Any,
        load: Any,
        apart: Any,
        rounds: Any,
        confirmed: Any,
        port: Any,
        units: Any,
        theme: Any,
    ) -> Any:
        if not clicks:
            raise PreventUpdate
        if not setup or not port:
            return no_update, html.P("First: choose the setup and the port.", role="alert")
        try:
            wish = _wish(rounds, apart, confirmed)
            job_id = str(asked.get("job_id"))
            text = str(load).strip()[:200] if load else None
            recording.start(job_id, str(setup), Kind.SAG, str(port), load_case=text, wish=wish)
        except FlatfootError as error:
            return no_update, html.P(str(error), role="alert", className="ff-card ff-fault")
        return answer(lambda: show({"job_id": job_id}, look_of(units, theme))), no_update


def _wish(rounds: Any, apart: Any, confirmed: Any) -> Wish:
    """Read what the form says."""
    if not str(rounds).isdecimal():
        raise UsageError("say how often each load is read")
    ticked = tuple(item for item in CHECKLIST if isinstance(confirmed, list) and item in confirmed)
    return Wish(rounds=int(rounds), apart=apart == "yes", confirmed=ticked)


def _register_live(app: Dash, answers: Answers, recording: Recording) -> None:
    @app.callback(
        Output(ids.CHECK_RULERS, "children"),
        Output(ids.CHECK_STILL, "children"),
        Output(ids.CHECK_SAY, "children"),
        Output(ids.CHECK_READINGS, "children"),
        Output(ids.CHECK_AGAIN, "children"),
        Output(ids.CHECK_VERSION, "data"),
        Output(ids.CHECK_GO, "href"),
        Output(SHOWN, "children", allow_duplicate=True),
        Input(ids.CHECK_TICK, "n_intervals"),
        State(ids.CHECK_VERSION, "data"),
        State(ids.CHECK_NARROW, "data"),
        State(ASKED, "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def tick(_: Any, seen: Any, narrow: Any, asked: Any, units: Any, theme: Any) -> Any:
        job_id = str(asked.get("job_id"))
        guide = recording.guide(job_id)
        if guide is None:
            return _after(recording, answers, job_id)
        view = guide.view()
        made = parts_of(view, look_of(units, theme), narrow=narrow is True)
        moving = (made.rulers, made.still)
        if version_of(view) == seen:  # only what moves is sent again
            return (*moving, *[no_update] * 6)
        return (*moving, made.say, made.readings, made.again, version_of(view), no_update, no_update)


def _register_buttons(app: Dash, recording: Recording) -> None:
    for name, press in (
        (ids.CHECK_TAKE, Guide.take),
        (ids.CHECK_AGAIN, Guide.again),
        (ids.CHECK_MORE, Guide.another_round),
    ):
        _register_button(app, recording, name, press)

    @app.callback(
        Output(ids.CHECK_NOTE, "children", allow_duplicate=True),
        Input(ids.CHECK_STOP, "n_clicks"),
        State(ASKED, "data"),
        prevent_initial_call=True,
    )
    def stop(clicks: Any, asked: Any) -> Any:
        if not clicks or recording.guide(str(asked.get("job_id"))) is None:
            raise PreventUpdate
        try:
            recording.stop()  # every window finds the sealed log at its next tick
        except FlatfootError as error:
            return html.P(str(error), role="alert", className="ff-card ff-fault")
        return ""


def _register_button(app: Dash, recording: Recording, name: str, press: Callable[[Guide], None]) -> None:
    @app.callback(
        Output(ids.CHECK_NOTE, "children", allow_duplicate=True),
        Input(name, "n_clicks"),
        State(ASKED, "data"),
        prevent_initial_call=True,
    )
    def pressed(clicks: Any, asked: Any) -> Any:
        guide = recording.guide(str(asked.get("job_id")))
        if not clicks or guide is None:
            raise PreventUpdate
        try:
            press(guide)
        except FlatfootError as error:
            return html.P(str(error), role="alert")
        return ""


def _live_page(guide: Guide, look: Look) -> Any:
    view = guide.view()
    made = parts_of(view, look, narrow=False)
    ticked = [
        html.Li([html.B("yes  " if item in view.confirmed else "left open  "), item]) for item in CHECKLIST
    ]
    return html.Div(
        [
            dcc.Interval(id=ids.CHECK_TICK, interval=EVERY_MS),
            dcc.Store(id=ids.CHECK_VERSION, data=version_of(view)),
            dcc.Store(id=ids.CHECK_NARROW),
            dcc.Location(id=ids.CHECK_GO, refresh="callback-nav"),
            html.Div(id=ids.CHECK_HEARD, hidden=True),
            html.Section(made.say, id=ids.CHECK_SAY, className="ff-card ff-check-say", role="status"),
            html.Section(made.rulers, id=ids.CHECK_RULERS, className="ff-card ff-check-rulers"),
            html.Section(made.still, id=ids.CHECK_STILL, className="ff-card ff-check-still"),
            html.Div(_buttons(made.again), className="ff-check-act"),
            html.Div(
                [
                    html.Section(made.readings, id=ids.CHECK_READINGS, className="ff-card"),
                    card("What the sensors cannot see", html.Ul(ticked, className="ff-check-ticked")),
                ],
                className="ff-check-list",
            ),
        ],
        className="ff-page ff-check",
    )


def _buttons(again: str) -> list[Any]:
    def button(name: str, inside: Any) -> Any:
        return html.Button(inside, id=name, type="button", className="ff-button")

    space = html.Kbd("Space", className="ff-wide")
    return [
        html.P(
            [html.B("Hands free: "), "after 2 s of “steady” the reading is taken, with a beep."],
            className="ff-wide",
        ),
        button(ids.CHECK_TAKE, ["Take it anyway", space]),
        button(ids.CHECK_AGAIN, again),
        button(ids.CHECK_STOP, "Stop"),
        button(ids.CHECK_MORE, "One round more"),
        html.Div(id=ids.CHECK_NOTE),
    ]


def _after(recording: Recording, answers: Answers, job_id: str) -> Any:
    """Wait while it is sealed, then go to the sag card; where nothing was sealed, say that it has ended."""
    if recording.is_sealing(job_id):
        return (no_update, [html.P("Writing it into the book …", role="status")], *[no_update] * 6)
    log_id = recording.sealed(job_id)
    if log_id is not None:
        return (*[no_update] * 6, f"/sag/{log_id}", no_update)
    return (*[no_update] * 7, answer(lambda: shell_of(_ended(answers, job_id))))


def _ended(answers: Answers, job_id: str) -> Any:
    """Say that the check has ended, in a window that did not end it."""
    newest = next((log for log in answers.book.logs(job_id) if log.kind is Kind.SAG), None)
    href = f"/job/{job_id}" if newest is None else f"/sag/{newest.id}"
    return card(
        "This check has ended",
        html.P("It was stopped, perhaps in another window. What was recorded is in the book."),
        button_link("Open the job" if newest is None else "Open the sag card", href, main=True),
    )
