"""One ride: travel over time, where the wheels spend their time, how fast they move, what happened."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html
from dash.exceptions import PreventUpdate

from analysis.ride_results import EndRide, RideSummary
from dashboard import figures, ids
from dashboard.answers import Answers
from dashboard.drawings.ride import TALL_PX, ride_ruler
from dashboard.drawings.speed import last_drawn, speed_panel
from dashboard.log_words import ending_line, link_line, log_line
from dashboard.page import Asked, add_page, shell_of
from dashboard.parts import (
    Look,
    card,
    cautions,
    csv_text,
    drawing,
    look_of,
    named,
    not_found,
    table,
    text_table,
)
from dashboard.ride_words import event_row, ride_cautions, ride_table
from dashboard.shell import STEPS, job_bar, setup_name
from dashboard.units import duration, length, length_number
from ingest.log import Kind, Log
from ingest.records import End

EVENT_VIEW_S = 2.0  # shown before and after an event somebody asked for
GRAPH: Any = {"displayModeBar": False, "responsive": True}


def register(app: Dash, answers: Answers) -> None:
    """Add the page and its zoom."""

    def show(asked: Asked, look: Look) -> Any:
        log = answers.header(asked.get("log_id"))
        if log is None or log.kind is not Kind.RIDE:
            return shell_of(not_found("There is no such ride in this book."))
        ride = answers.ride(log.id)
        job = answers.job(log.job)
        logs = answers.book.logs(job.id) if job else []
        return [
            job_bar(job, logs, STEPS[2], now=setup_name(log)),
            html.Div(
                [
                    _travel(answers, log, ride, look),
                    html.Div(
                        [
                            html.Div([_rulers(ride, look), card("In numbers", *_numbers(ride, look))]),
                            html.Div(
                                [
                                    _events(ride, look),
                                    _speeds(ride, look),
                                    *cautions(ride_cautions(ride)),
                                    _about(log, ride),
                                ]
                            ),
                        ],
                        className="ff-columns ff-wide-left",
                    ),
                ],
                className="ff-page",
            ),
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
        motions, ride = answers.motions(log.id), answers.ride(log.id)
        pressed = [
            ctx.triggered_prop_ids[what["prop_id"]] for what in ctx.triggered if what["value"] is not None
        ]
        view = _view(pressed, relayout, ride, figures.whole_view(motions))
        if view is None:
            raise PreventUpdate
        return figures.zoomed(motions, ride, view, look_of(units, theme))


def _view(
    pressed: Sequence[Any], relayout: Any, ride: RideSummary, whole: figures.View
) -> figures.View | None:
    """Say which stretch to show; a button counts, even where plotly speaks in the same breath."""
    for what in pressed:
        if isinstance(what, dict):
            return _event_view(ride, what.get("number"), whole)
    if ids.RIDE_WHOLE in pressed:
        return whole
    return figures.asked_view(relayout, whole)


def _event_view(ride: RideSummary, wanted: object, whole: figures.View) -> figures.View | None:
    for item in figures.numbered_events(ride):
        if item.number == wanted:
            at = item.event.t_s
            return (max(at - EVENT_VIEW_S, whole[0]), min(at + EVENT_VIEW_S, whole[1]))
    return None


def _ends(ride: RideSummary) -> list[tuple[End, EndRide]]:
    both = ((End.FRONT, ride.front), (End.REAR, ride.rear))
    return [(end, result) for end, result in both if result is not None]


def _travel(answers: Answers, log: Log, ride: RideSummary, look: Look) -> Any:
    motions = answers.motions(log.id)
    graph = dcc.Graph(
        id=ids.RIDE_GRAPH,
        figure=figures.travel_figure(motions, ride, log, look),
        config=GRAPH,
        responsive=True,
    )
    sub = f"{duration(log.duration_s)} · {link_line(log)} · travel, {look.units}; line: mean ride position"
    ended = ending_line(log)
    return html.Section(
        [
            html.Header(
                [
                    html.H1("Ride"),
                    html.Span(f"{setup_name(log)} · {sub}", className="ff-quiet ff-grow"),
                    html.Button(
                        "Whole ride", id=ids.RIDE_WHOLE, type="button", className="ff-link ff-noprint"
                    ),
                ]
            ),
            *([html.P(ended)] if ended else []),
            dcc.Store(id=ids.RIDE_ZOOMED),
            html.Div(graph, role="img", **named(travel_alt(ride, look))),
            html.P(
                "Front above, rear below; topped out at the top, full bump on the hatching. Draw across a "
                "stretch to see it closer, or press an event's number. Where squares would cover each "
                "other only the first is drawn; a closer look shows the rest.",
                className="ff-quiet ff-noprint",
            ),
        ],
        className="ff-card",
    )


def travel_alt(ride: RideSummary, look: Look) -> str:
    """Say in words what the travel over time shows."""
    parts = [
        f"{end}: rides at {length(r.mean_mm, look.units)}, deepest {length(r.travel_used_mm, look.units)} of "
        f"{length(r.travel_mm, look.units, 0)}"
        for end, r in _ends(ride)
    ]
    return "Travel over time. " + "; ".join(parts)


def _rulers(ride: RideSummary, look: Look) -> Any:
    ends = _ends(ride)
    scale = TALL_PX / max((result.travel_mm for _, result in ends), default=1.0)
    drawings = []
    for end, result in ends:
        alt = (
            f"{end}: rides at {length(result.mean_mm, look.units)}, 5 % of the time past "
            f"{length(result.p95_mm, look.units)}, deepest {length(result.travel_used_mm, look.units)} of "
            f"{length(result.travel_mm, look.units, 0)}"
        )
        drawings.append(
            drawing(
                partial(ride_ruler, end, result, look.units, px_per_mm=scale, title=alt),
                look,
                alt=alt,
                name=f"travel_{ride.log_id}_{end}",
                data=csv_text(
                    ("share_of_time", "travel_mm"),
                    [((k + 0.5) / len(result.grains_mm), mm) for k, mm in enumerate(result.grains_mm)],
                ),
            )
        )
    return card(
        "Where the wheel spends its time",
        html.Div(drawings, className="ff-drawings"),
        sub="one grain: 1 in 100 of the ride",
    )


def _speeds(ride: RideSummary, look: Look) -> Any:
    ends = _ends(ride)
    fastest = max((last_drawn(result) for _, result in ends), default=0.0)
    if not fastest:
        return card("Share of time faster than …", html.P("No stretch was long enough to work out a speed."))
    drawings = []
    for end, result in ends:
        alt = f"{end}: share of the time the wheel moves faster than a speed, in compression and in rebound"
        drawings.append(
            drawing(
                partial(speed_panel, end, result, look.units, fastest_mm_s=fastest, title=alt),
                look,
                alt=alt,
                name=f"speed_{ride.log_id}_{end}",
                data=csv_text(("direction", "speed_mm_s", "share_of_time"), _speed_rows(result)),
            )
        )
    return card("Share of time faster than …", html.Div(drawings, className="ff-drawings"))


def _speed_rows(result: EndRide) -> list[tuple[str, float, float]]:
    return [
        (name, speed, share)
        for name, seen in (
            ("compression", result.compression_exceedance),
            ("rebound", result.rebound_exceedance),
        )
        for speed, share in zip(seen.speed_mm_s, seen.share, strict=True)
    ]


def _numbers(ride: RideSummary, look: Look) -> list[Any]:
    head = ("", "50 % slower", "95 %", "99 %", "fastest")
    rows = []
    for end, result in _ends(ride):
        for name, speeds in (
            ("compression", result.compression_speed_mm_s),
            ("rebound", result.rebound_speed_mm_s),
        ):
            cells = (
                ["not known"] * 4
                if speeds is None
                else [
                    length_number(v, look.units, 0) for v in (speeds.p50, speeds.p95, speeds.p99, speeds.max)
                ]
            )
            rows.append([f"{end}, {name}, {look.units}/s", *cells])
    return [
        text_table(ride_table(ride, look.units), numbers=(1, 2), stack=True),
        html.H3("Wheel speed while moving that way"),
        table(head, rows, numbers=range(1, 5), stack=True),
    ]


def _events(ride: RideSummary, look: Look) -> Any:
    rows = []
    for item in figures.numbered_events(ride):
        at, _, _, grade = event_row(item.event, look.units)
        what = f"{item.end} topped out" if item.is_topping else f"{item.end} {grade}"
        button = html.Button(
            str(item.number),
            id={"type": ids.RIDE_EVENT, "number": item.number},
            type="button",
            className="ff-event hollow" if item.is_topping else "ff-event",
            title=f"show event {item.number}, {what} at {at}",
        )
        rows.append(
            [
                button,
                at,
                what,
                length_number(item.event.peak_mm, look.units),
                length_number(item.event.entry_speed_mm_s, look.units, 0),
            ]
        )
    if not rows:
        return card("What happened", html.P("It neither bottomed nor topped out."))
    head = ("", "at", "what happened", f"travel {look.units}", f"speed in, {look.units}/s")
    made = table(head, rows, numbers=(1, 3, 4))
    return card(
        "What happened", html.Div(made, className="ff-tall"), sub="full square: bottoming; hollow: topping"
    )


def _about(log: Log, ride: RideSummary) -> Any:
    lines = [log_line(log), *(f"amended: {text}" for text in ride.amendments)]
    lines += [
        f"{end}: speeds up to {result.bandwidth_hz:.0f} Hz (−3 dB), {result.samples} samples, "
        f"{result.masked_samples} left out"
        for end, result in _ends(ride)
    ]
    return html.Div([html.P(line, className="ff-quiet ff-small") for line in lines])
