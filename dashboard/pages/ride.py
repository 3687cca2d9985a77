"""One ride: what it answers, travel over time, where the wheels spend their time, what happened."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, html
from dash.exceptions import PreventUpdate

from analysis.ride_results import RideSummary
from dashboard import ids, travel_figure
from dashboard.answers import Answers, Ridden
from dashboard.page import Asked, add_page, shell_of
from dashboard.pages import ride_cards as cards
from dashboard.pages.ride_more import folded
from dashboard.pages.ride_travel import travel_card
from dashboard.parts import Look, cautions, look_of, not_found
from dashboard.ride_events import numbered_events
from dashboard.ride_words import ride_cautions
from dashboard.section_words import Parts, section_names
from dashboard.shell import Step, job_bar, setup_name
from dashboard.travel_figure import Scene
from dashboard.travel_points import View, asked_view, whole_view
from ingest.log import Kind

EVENT_VIEW_S = 2.0  # shown before and after an event somebody asked for


def register(app: Dash, answers: Answers) -> None:
    """Add the page and its zoom."""

    def show(asked: Asked, look: Look) -> Any:
        log = answers.header(asked.get("log_id"))
        if log is None or log.kind is not Kind.RIDE:
            return shell_of(not_found("There is no such ride in this book."))
        chosen = section_of(asked)
        parts = answers.parts(log.id)
        if chosen and parts.part(chosen) is None:
            return shell_of(not_found(f"This ride has no section {chosen}."))
        job = answers.job(log.job)
        logs = answers.logs(job.id) if job else []
        ridden = answers.ridden(log.id, chosen)
        return [
            job_bar(job, logs, Step.RIDE, now=setup_name(log)),
            html.Div(page_of(ridden, parts, chosen, look), className="ff-page ff-ride"),
        ]

    add_page(app, "ride", title="Ride", path_template="/ride/<log_id>", show=show)

    # Plotly also speaks of its own size here; sent on, that would overtake the answer to a button.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        "function (said) { return said && Object.keys(said).some(k => k.startsWith('xaxis.'))"
        " ? said : dash_clientside.no_update; }",
        Output(ids.RIDE_ZOOMED, "data"),
        Input(ids.RIDE_GRAPH, "relayoutData"),
        prevent_initial_call=True,
    )

    @app.callback(
        Output(ids.RIDE_GRAPH, "figure"),
        Input(ids.RIDE_ZOOMED, "data"),
        Input(ids.RIDE_WHOLE, "n_clicks"),
        Input({"type": ids.RIDE_EVENT, "number": ALL}, "n_clicks"),
        State(f"ride-{ids.ASKED}", "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def zoom(relayout: Any, _whole: Any, _events: Any, asked: Asked, units: str, theme: str) -> Any:
        log = answers.header(asked.get("log_id"))
        if log is None:
            raise PreventUpdate
        chosen = section_of(asked)
        scene = scene_of(answers.ridden(log.id, chosen), answers.parts(log.id), look_of(units, theme))
        pressed = [
            ctx.triggered_prop_ids[what["prop_id"]] for what in ctx.triggered if what["value"] is not None
        ]
        view = _view(pressed, relayout, scene.ride, whole_view(scene.motions))
        if view is None:
            raise PreventUpdate
        return travel_figure.zoomed(scene, view)


def section_of(asked: Asked) -> int:
    """Read from the address which section is wanted, 0 for the whole ride."""
    text = asked.get("section", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 0


def scene_of(ridden: Ridden, parts: Parts, look: Look) -> Scene:
    """Put together what the figure of travel over time shows."""
    return Scene(
        motions=ridden.motions, ride=ridden.ride, log=ridden.log, look=look, names=section_names(parts)
    )


def page_of(ridden: Ridden, parts: Parts, chosen: int, look: Look) -> list[Any]:
    """Lay the page out in the order people ask: the answer, where it rides, what happened, how fast."""
    ride = ridden.ride
    return [
        travel_card(scene_of(ridden, parts, look), parts, chosen),
        *cards.sections(parts, look),
        html.Div(
            [
                html.Div([cards.rulers(ride, look, ridden.rider_sags, ridden.sag_log)]),
                html.Div([cards.events(ride, look), *cards.front_against_rear(ride, look)]),
            ],
            className="ff-columns ff-wide-left",
        ),
        html.Div(
            [
                html.Div([cards.speeds(ride, look)]),
                html.Div([*cards.faults(ride, look), *cautions(ride_cautions(ride))]),
            ],
            className="ff-columns ff-wide-left",
        ),
        *folded(ridden.log, ride, look),
    ]


def _view(pressed: Sequence[Any], relayout: Any, ride: RideSummary, whole: View) -> View | None:
    """Say which stretch to show; a button counts, even where plotly speaks in the same breath."""
    for what in pressed:
        if isinstance(what, dict):
            return _event_view(ride, what.get("number"), whole)
    if ids.RIDE_WHOLE in pressed:
        return whole
    return asked_view(relayout, whole)


def _event_view(ride: RideSummary, wanted: object, whole: View) -> View | None:
    for item in numbered_events(ride):
        if item.number == wanted:
            at = item.event.t_s
            return (max(at - EVENT_VIEW_S, whole[0]), min(at + EVENT_VIEW_S, whole[1]))
    return None
