"""The head of the ride page: what it answers first, and travel over time."""

from __future__ import annotations

import math
from typing import Any

from dash import dcc, html

from dashboard import ids
from dashboard.attitude_words import level_line, span_lines
from dashboard.drawings.svg import data_uri
from dashboard.drawings.travel import travel_drawing
from dashboard.fault_words import fault_lines
from dashboard.log_words import ending_line, link_line
from dashboard.parts import csv_text, named, save_button
from dashboard.ride_events import ends_of
from dashboard.ride_words import answer_lines
from dashboard.section_words import Parts
from dashboard.shell import setup_name
from dashboard.theme import PRINT
from dashboard.travel_figure import Scene, travel_figure
from dashboard.travel_points import thinned, whole_view
from dashboard.units import Units, duration, length

GRAPH: Any = {"displayModeBar": False, "responsive": True}
HOW_TO_READ = (
    "Front above, rear below; topped out at the top, full bump on the hatching; the line is the mean ride "
    "position. Draw across a stretch to see it closer, or press an event's number. Where squares would cover "
    "each other only the first is drawn; a closer look shows the rest."
)
LANES = "Bars under the curves: air F, air R – that wheel hung free; dive, squat – nose or tail went down."


def travel_card(scene: Scene, parts: Parts, chosen: int) -> Any:
    """Build the first card: the answer in words, then the travel it rests on."""
    log, units = scene.log, scene.look.units
    said = " · ".join(
        [
            setup_name(log),
            log.started.replace("T", " ")[:16],
            f"{duration(log.duration_s)} min",
            link_line(log),
            f"travel in {units}",
        ]
    )
    ended = ending_line(log)
    return html.Section(
        [
            html.Header(
                [
                    html.H1(_title(parts, chosen)),
                    html.Span(said, className="ff-quiet ff-grow"),
                    html.Button(
                        "Whole section" if chosen else "Whole ride",
                        id=ids.RIDE_WHOLE,
                        type="button",
                        className="ff-link ff-noprint",
                    ),
                ]
            ),
            *_choice(log.id, parts, chosen),
            html.Div([html.P(html.B(line)) for line in _answer(scene)], className="ff-said"),
            *([html.P(ended)] if ended else []),
            dcc.Store(id=ids.RIDE_ZOOMED),
            _figure(scene),
            *_spans(scene),
            html.Details(
                [html.Summary("How to read this"), html.P(HOW_TO_READ), html.P(LANES)],
                className="ff-quiet ff-noprint",
            ),
        ],
        className="ff-card",
    )


def _title(parts: Parts, chosen: int) -> str:
    part = parts.part(chosen) if chosen else None
    return "Ride" if part is None else f"Ride, {part.title}"


def _choice(log_id: str, parts: Parts, chosen: int) -> list[Any]:
    """Offer the whole ride and each of its sections; nothing to choose where nobody marked any."""
    if not parts.parts:
        return []
    links = []
    for part in parts.parts:
        here: dict[str, Any] = {"aria-current": "true"} if part.number == chosen else {}
        query = f"?section={part.number}" if part.number else ""
        links.append(html.Li(dcc.Link(part.title, href=f"/ride/{log_id}{query}"), **here))
    return [
        html.Nav(html.Ul(links, className="ff-parts"), className="ff-noprint", **named("part of the ride"))
    ]


def _answer(scene: Scene) -> list[str]:
    ride = scene.ride
    level = [] if ride.attitude is None else [level_line(ride.attitude)]
    return [*answer_lines(ride, scene.look.units), *level, *fault_lines(ride)]


def _figure(scene: Scene) -> Any:
    alt = travel_alt(scene)
    figure = travel_figure(scene)
    graph = dcc.Graph(
        id=ids.RIDE_GRAPH,
        figure=figure,
        config=GRAPH,
        responsive=True,
        style={"height": f"{figure.layout.height}px"},  # else a zoom would leave it none
    )
    paper = data_uri(travel_drawing(scene, PRINT, title=alt))
    links = [
        save_button("SVG", f"travel_{scene.log.id}.svg", None),
        save_button("Data", f"travel_{scene.log.id}.csv", _csv(scene)),
    ]
    return html.Figure(
        [
            html.Div(graph, role="img", className="ff-screen", **named(alt)),
            html.Img(src=paper, alt="", className="ff-print"),
            html.Figcaption(links),
        ],
        className="ff-drawing ff-over-time",
    )


def travel_alt(scene: Scene) -> str:
    """Say in words what the travel over time shows."""
    units = scene.look.units
    parts = [
        f"{end}: rides at {length(r.mean_mm, units)}, deepest {length(r.travel_used_mm, units)} of "
        f"{length(r.travel_mm, units, 0)}"
        for end, r in ends_of(scene.ride)
    ]
    left_out = sum(len(scene.left_out(end)) for end in scene.motions)
    if left_out:
        parts.append(f"{left_out} spans left out")
    return "Travel over time. " + "; ".join(parts)


def _csv(scene: Scene) -> str:
    """Give the travel as it is drawn: the least and the greatest of each short stretch, in mm."""
    rows: list[tuple[str, str, str]] = []
    for end, motion in scene.motions.items():
        at_s, mm = thinned(motion, whole_view(scene.motions), Units.MM)
        rows += [
            (str(end), f"{t:.3f}", f"{value:.2f}")
            for t, value in zip(at_s.tolist(), mm.tolist(), strict=True)
            if not math.isnan(value)
        ]
    return csv_text(("end", "time_s", "travel_mm"), rows)


def _spans(scene: Scene) -> list[Any]:
    lines = span_lines(scene.ride)
    return [html.P(" ".join(lines))] if lines else []
