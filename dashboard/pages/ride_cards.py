"""The cards of the ride page that are always open: rulers, events, speeds, front against rear, faults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import partial
from typing import Any

from dash import html

from analysis.results import Quantity
from analysis.ride_results import EndRide, RideSummary, TravelEvent
from dashboard import ids
from dashboard.attitude_words import attitude_table, level_line
from dashboard.drawings.ride import TALL_PX, ride_ruler
from dashboard.drawings.speed import last_drawn, speed_panel
from dashboard.fault_words import drift_lines, fault_table
from dashboard.height_words import height_table, ride_position, rough_lines
from dashboard.pages.ride_cells import pairs, with_second
from dashboard.parts import Look, card, csv_text, drawing, save_button, table
from dashboard.ride_events import NumberedEvent, ends_of, numbered_events
from dashboard.ride_words import event_second_line, event_words
from dashboard.section_words import Parts, section_table
from dashboard.units import NOTHING, drop_height, duration, length, length_number, number, quantity
from dashboard.wording import many
from ingest.records import End

LISTED = 60  # more rows than anybody reads, and each button costs the browser time; the data has all
Sags = Mapping[End, Quantity]


def rulers(ride: RideSummary, look: Look, sags: Sags, sag_log: str | None) -> Any:
    """Draw both rulers with their grains, and say under them where the wheel rides and what is left."""
    ends = ends_of(ride)
    scale = TALL_PX / max((result.travel_mm for _, result in ends), default=1.0)
    drawings = []
    for end, result in ends:
        alt = ruler_alt(end, result, look, sags.get(end))
        draw = partial(
            ride_ruler, end, result, look.units, px_per_mm=scale, title=alt, rider_sag=sags.get(end)
        )
        grains = [((k + 0.5) / len(result.grains_mm), mm) for k, mm in enumerate(result.grains_mm)]
        data = csv_text(("share_of_time", "travel_mm"), grains)
        name = f"ruler_{ride.log_id}_{end}"
        drawings.append(drawing(draw, look, alt=alt, name=name, data=data))
    lines = rough_lines(ride, look.units)
    grain_s = max((result.duration_s for _, result in ends), default=0.0) / 100
    return card(
        "Where the wheel spends its time",
        html.Div(drawings, className="ff-drawings"),
        pairs(height_table(ride, look.units)),
        *([html.Ul([html.Li(line) for line in lines])] if lines else []),
        *([html.P(_sag_source(sag_log), className="ff-quiet")] if sag_log else []),
        sub=f"one grain: 1 in 100 of the ride, {number(grain_s)} s",
    )


def _sag_source(sag_log: str) -> str:
    return f"Rider sag at rest is from the sag check {sag_log}, the newest of this setup."


def ruler_alt(end: End, result: EndRide, look: Look, rider_sag: Quantity | None) -> str:
    """Say in words all a ruler shows."""
    units = look.units
    parts = [
        f"{end}: rides at {ride_position(result, units)} {units}",
        f"5 % of the time past {length(result.p95_mm, units)}",
        f"deepest {length(result.travel_used_mm, units)} of {length(result.travel_mm, units, 0)}",
    ]
    if result.height is not None:
        parts.append(f"{length(result.height.left_mm, units, 0)} of travel left where it rides")
    if rider_sag is not None:
        parts.append(f"rider sag at rest {quantity(rider_sag, units)} {units}")
    if result.found_travel_mm is not None:
        parts.append(f"the stop was found at {length(result.found_travel_mm, units, 0)}")
    return ", ".join(parts)


def events(ride: RideSummary, look: Look) -> Any:
    """List bottomings, then toppings, under the numbers they have in the figure; all of them as data."""
    numbered = numbered_events(ride)
    if not numbered:
        return card("What happened", html.P("It neither bottomed nor topped out."))
    in_order = sorted(numbered, key=lambda item: item.is_topping)
    unit = look.units
    head = ("", "at", "what happened", f"travel {unit}", f"speed in, {unit}/s", "as a drop from")
    made = table(head, [_event(item, look) for item in in_order[:LISTED]], numbers=(3, 4, 5), stack=True)
    more = len(in_order) - LISTED
    return card(
        "What happened",
        html.Div(made, className="ff-tall"),
        *([html.P(f"… and {many(more, 'event')} more, all in the data.")] if more > 0 else []),
        sub="full square: bottoming, listed first; hollow: topping",
        links=[save_button("Data", f"events_{ride.log_id}.csv", _events_csv(in_order))],
    )


def _event(item: NumberedEvent, look: Look) -> list[Any]:
    event, at = item.event, duration(item.event.t_s)
    what = f"{item.end} {event_words(event)}"
    button = html.Button(
        str(item.number),
        id={"type": ids.RIDE_EVENT, "number": item.number},
        type="button",
        className="ff-event hollow" if item.is_topping else "ff-event",
        title=f"show event {item.number}, {what} at {at}",
    )
    return [
        button,
        at,
        with_second(what, event_second_line(event)),
        length_number(event.peak_mm, look.units),
        length_number(event.entry_speed_mm_s, look.units, 0),
        drop_height(event.drop_height_mm, look.units),
    ]


def _events_csv(items: Sequence[NumberedEvent]) -> str:
    head = ("number", "end", "grade", *(field.name for field in fields(TravelEvent) if field.name != "grade"))
    rows = [
        (item.number, str(item.end), *(getattr(item.event, name) for name in ("grade", *head[3:])))
        for item in items
    ]
    return csv_text(head, rows)


def speeds(ride: RideSummary, look: Look) -> Any:
    """Draw how much of the time each wheel was faster than a speed."""
    ends = ends_of(ride)
    fastest = max((last_drawn(result) for _, result in ends), default=0.0)
    title = "Share of time faster than …"
    if not fastest:
        return card(title, html.P("No stretch was long enough to work out a speed."))
    drawings = []
    for end, result in ends:
        alt = f"{end}: share of the time the wheel moves faster than a speed, in compression and in rebound"
        draw = partial(speed_panel, end, result, look.units, fastest_mm_s=fastest, title=alt)
        data = csv_text(("direction", "speed_mm_s", "share_of_time"), _speed_rows(result))
        drawings.append(drawing(draw, look, alt=alt, name=f"speed_{ride.log_id}_{end}", data=data))
    return card(
        title,
        html.Div(drawings, className="ff-drawings"),
    )


def _speed_rows(result: EndRide) -> list[tuple[str, float, float]]:
    return [
        (name, speed, share)
        for name, seen in (
            ("compression", result.compression_exceedance),
            ("rebound", result.rebound_exceedance),
        )
        for speed, share in zip(seen.speed_mm_s, seen.share, strict=True)
    ]


def front_against_rear(ride: RideSummary, look: Look) -> list[Any]:
    """Say who sits deeper, and what that makes of pitch, rake and trail; nothing where one end is missing."""
    made = attitude_table(ride, look.units)
    if not made.rows:
        return []
    said = [] if ride.attitude is None else [html.P(html.B(level_line(ride.attitude)))]
    rows = [[with_second(name, basis), value] for name, value, basis in made.rows]
    return [card("Front against rear", *said, table((made.head[0], ""), rows, numbers=(1,)))]


def faults(ride: RideSummary, look: Look) -> list[Any]:
    """List what was left out and why, with what to look at; nothing where all was well."""
    made, drifts = fault_table(ride), drift_lines(ride, look.units)
    if not made.rows and not drifts:
        return []
    rows = [[with_second(what, much), check] for what, much, check in made.rows]
    shown: list[Any] = [table((made.head[0], made.head[2]), rows)] if rows else []
    if drifts:
        shown.append(html.Ul([html.Li(line) for line in drifts]))
    sub = "faulty readings are left out everywhere, never filled in" if rows else None
    return [card("Sensors", *shown, sub=sub)]


def sections(parts: Parts, look: Look) -> list[Any]:
    """Put the sections of the ride side by side; nothing where nobody marked any."""
    if not parts.parts:
        return []
    made = section_table(parts.parts, look.units)
    rows = [
        [with_second(name, lasts if road == NOTHING else f"{lasts}, {road}"), *numbers]
        for name, lasts, *numbers, road in made.rows
    ]
    head = ("", *made.head[2:-1])
    short = [html.P(f"Left out: {line}.", className="ff-quiet") for line in parts.left_out]
    return [
        card(
            "Section by section",
            table(head, rows, numbers=(1, 2, 3)),
            *short,
            sub="front · rear",
        )
    ]
