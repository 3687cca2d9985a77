"""A ride in words: its numbers, its events, its cautions."""

from __future__ import annotations

from analysis.ride_results import EndRide, Events, RideSummary, TravelEvent
from dashboard import units as show
from dashboard.ride_events import ends_of
from dashboard.units import NOTHING, Units
from dashboard.wording import Table, cautions_of
from ingest.records import End


def ride_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Front and rear side by side, one row for each number of a ride.

    The mean ride position stands with its doubt in `dashboard.height_words.height_table`.
    """
    ends = (ride.front, ride.rear)
    rows = tuple(
        (name, *(_ride_cell(name, end, units) if end else NOTHING for end in ends)) for name in RIDE_ROWS
    )
    return Table(head=("", "front", "rear"), rows=rows)


RIDE_ROWS = (
    "travel",
    "deepest",
    "half the time past",
    "5 % of the time past",
    "1 % of the time past",
    "bottoming",
    "topping",
    "compression speed, 95 %",
    "rebound speed, 95 %",
    "fastest in compression",
    "fastest in rebound",
)


def _ride_cell(name: str, end: EndRide, units: Units) -> str:
    down, up = end.compression_speed_mm_s, end.rebound_speed_mm_s
    cells = {
        "travel": show.length(end.travel_mm, units, 0),
        "deepest": f"{show.length(end.travel_used_mm, units)} ({show.percent(end.travel_used_percent)})",
        "half the time past": _share_of_travel(end.p50_mm, end, units),
        "5 % of the time past": _share_of_travel(end.p95_mm, end, units),
        "1 % of the time past": _share_of_travel(end.p99_mm, end, units),
        "bottoming": event_count(end.bottoming),
        "topping": event_count(end.topping),
        "compression speed, 95 %": show.speed(down.p95 if down else None, units),
        "rebound speed, 95 %": show.speed(up.p95 if up else None, units),
        "fastest in compression": show.speed(down.max if down else None, units),
        "fastest in rebound": show.speed(up.max if up else None, units),
    }
    return cells[name]


def _share_of_travel(value_mm: float, end: EndRide, units: Units) -> str:
    return f"{show.length(value_mm, units)} ({show.percent(100 * value_mm / end.travel_mm)})"


def event_count(events: Events) -> str:
    """Write how often something happened, and how often that is in ten minutes."""
    if events.count == 0:
        return "never"
    many_a_time = events.per_10_min >= 10
    return f"{_times(events.count)} ({show.number(events.per_10_min, 0 if many_a_time else 1)} in 10 min)"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


# What an event is called where one sentence says what happened.
GRADE_WORDS = {
    "rubber": "touched the rubber",
    "near full": "came near full bump",
    "hard stop": "hit the hard stop",
    "topped out": "topped out",
}


def event_words(event: TravelEvent) -> str:
    """Say what happened in an event, its end left out.

    >>> event_words(TravelEvent(t_s=1, peak_mm=228, entry_speed_mm_s=900, grade="hard stop", contact=True))
    'hit the hard stop'
    """
    return GRADE_WORDS.get(event.grade, event.grade)


def event_second_line(event: TravelEvent) -> str:
    """Say how long an event lasted, and by what a stop was recognised."""
    parts = [f"for {show.number(event.dwell_s, 2)} s"] if event.dwell_s >= 0.01 else []
    if event.contact:
        parts.append("the stop felt in the motion")
    return ", ".join(parts)


def event_row(event: TravelEvent, units: Units = Units.MM) -> tuple[str, ...]:
    """Write one event: when, how far, how fast it came there, as what drop, for how long, its grade."""
    return (
        f"{show.number(event.t_s, 2)} s",
        show.length(event.peak_mm, units),
        show.speed(event.entry_speed_mm_s, units),
        show.drop_height(event.drop_height_mm, units),
        f"{show.number(event.dwell_s, 2)} s",
        event.grade,
    )


def event_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Write every bottoming, touch of the rubber and topping of both ends, in the order they happened."""
    listed: list[tuple[float, tuple[str, ...]]] = []
    for name, end in ((End.FRONT, ride.front), (End.REAR, ride.rear)):
        if end is None:
            continue
        for what, events in (("bottoming", end.bottoming), ("topping", end.topping)):
            for event in events.events:
                called = "touch" if event.grade == "rubber" else what  # the rubber alone is no bottoming
                listed.append((event.t_s, (name, called, *event_row(event, units))))
    return Table(
        head=("end", "what", "at", "travel", "came in at", "as a drop", "for", "grade"),
        rows=tuple(row for _, row in sorted(listed, key=lambda timed: timed[0])),
    )


def answer_lines(ride: RideSummary, units: Units = Units.MM) -> tuple[str, ...]:
    """Answer what people ask first, a sentence an end: travel used, and whether it ran out."""
    return tuple(_answer_line(end, result, units) for end, result in ends_of(ride))


def _answer_line(end: End, result: EndRide, units: Units) -> str:
    deepest, full = (show.length_number(mm, units, 0) for mm in (result.travel_used_mm, result.travel_mm))
    share = show.percent(result.travel_used_percent)
    said = [f"{str(end).capitalize()} uses {deepest} of {full} {units}, {share}", _ran_out(result)]
    if result.topping.count:
        said.append(f"topped out {_times(result.topping.count)}")
    return f"{', '.join(said)}."


def _ran_out(result: EndRide) -> str:
    events = result.bottoming.events
    if result.bottoming.count:
        hard = sum(event.grade == "hard stop" for event in events)
        stops = f" ({hard} on the hard stop)" if hard else ""
        return f"bottomed {_times(result.bottoming.count)}{stops}"
    touched = sum(event.grade == "rubber" for event in events)
    if touched:
        return f"touched the rubber {_times(touched)}, never bottomed"
    return "never bottomed"


def ride_cautions(ride: RideSummary) -> tuple[str, ...]:
    """All cautions of a ride, each naming its end, none twice."""
    return cautions_of(ride.front, ride.rear, ride.cautions)
