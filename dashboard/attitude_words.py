"""Front against rear on a ride, in words: who sits deeper, pitch, rake and trail while riding, ride speed."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.ride_results import Attitude, RideSpeed, RideSummary, Span
from dashboard import units as show
from dashboard.ride_events import ends_of
from dashboard.units import Units
from dashboard.wording import CANNOT_TELL, Table, many

LEVEL_WORDS = {
    "level": "Front and rear ride level",
    "front lower": "The front rides lower than the rear",
    "rear lower": "The rear rides lower than the front",
    CANNOT_TELL: "Whether front or rear rides lower cannot be told from this ride",
}

NOT_KNOWN, UNKNOWN_SPEED = "not known", "unknown"
UNKNOWN = (NOT_KNOWN, UNKNOWN_SPEED)


def level_line(attitude: Attitude) -> str:
    """Say in one sentence how the two ends ride, in shares of their travel."""
    said = LEVEL_WORDS.get(attitude.level_word, attitude.level_word)
    front, rear = (show.percent(value) for value in (attitude.front_percent, attitude.rear_percent))
    return f"{said}: front at {front}, rear at {rear} of the travel."


def attitude_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Write pitch, rake, trail and ride speed, each with what it rests on."""
    rows: list[tuple[str, str, str]] = []
    if ride.attitude is not None:
        rows += _attitude_rows(ride.attitude, units)
    if ride.speed is not None:
        rows.append(_speed_row(ride.speed, units))
    return Table(head=("while riding", "", "rests on"), rows=tuple(rows))


def brief_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Write what is known of it, without what it rests on: narrow enough for a terminal."""
    rows = [(name, value) for name, value, _ in attitude_table(ride, units).rows if value not in UNKNOWN]
    return Table(head=("while riding", ""), rows=tuple(rows))


def unknown_lines(ride: RideSummary) -> tuple[str, ...]:
    """Say what is not known of it, and why."""
    return tuple(
        f"{name.capitalize()} {'are' if ',' in name else 'is'} {value}, because {basis}."
        for name, value, basis in attitude_table(ride).rows
        if value in UNKNOWN
    )


def _attitude_rows(attitude: Attitude, units: Units) -> list[tuple[str, str, str]]:
    basis = attitude.measured_state
    if attitude.pitch_deg is None:
        return [("pitch, rake, trail", NOT_KNOWN, basis)]
    rows = [("pitch", pitch_text(attitude.pitch_deg), f"against the bike as its file was measured: {basis}")]
    if attitude.pitch_p5_deg is not None and attitude.pitch_p95_deg is not None:
        low, high = (show.angle(v, sign=True) for v in (attitude.pitch_p5_deg, attitude.pitch_p95_deg))
        rows.append(("nine tenths of the time", f"{low} to {high}", "nose down is +, as in ISO 8855"))
    steady = "the mean ride positions, level ground, tyres not squashed"
    if attitude.rake_deg is not None:
        rows.append(("rake", show.angle(attitude.rake_deg), steady))
    if attitude.trail_mm is not None:
        rows.append(("trail", show.length(attitude.trail_mm, units, 0), steady))
    return rows


def pitch_text(pitch_deg: float) -> str:
    """Write a pitch as people say it.

    >>> pitch_text(0.62), pitch_text(-1.3), pitch_text(0.01)
    ('nose 0.6° down', 'nose 1.3° up', 'level')
    """
    text = show.angle(abs(pitch_deg))
    if text == "0.0°":
        return "level"
    return f"nose {text} {'down' if pitch_deg > 0 else 'up'}"


def _speed_row(speed: RideSpeed, units: Units) -> tuple[str, str, str]:
    if speed.speed_m_s is None:
        return ("ride speed", UNKNOWN_SPEED, speed.unknown_because or "nothing in this ride tells it")
    unit = show.road_speed(0.0, units).split(" ", 1)[1]
    value = show.road_speed(speed.speed_m_s.value, units).removesuffix(f" {unit}")
    doubt = show.road_speed(speed.speed_m_s.expanded_uncertainty, units)
    text = f"{value} ± {doubt}"
    basis = f"the rear wheel meeting the same bumps later; {speed.pieces} of {speed.pieces_tried} pieces tell"
    if speed.slowest_m_s is not None and speed.fastest_m_s is not None:
        slow, fast = (show.road_speed(v, units) for v in (speed.slowest_m_s, speed.fastest_m_s))
        basis += f", nine in ten from {slow.removesuffix(f' {unit}')} to {fast}"
    return ("ride speed", text, basis)


def span_lines(ride: RideSummary) -> tuple[str, ...]:
    """Say how often and how long a wheel hung free, and how often the bike dived and squatted."""
    lines = [
        f"{str(end).capitalize()} wheel off the ground {_often(result.off_ground)}."
        for end, result in ends_of(ride)
        if result.off_ground
    ]
    if ride.attitude is not None:
        said = (("Nose dived", ride.attitude.dives), ("Tail squatted", ride.attitude.squats))
        lines += [f"{what} {_often(spans)}." for what, spans in said if spans]
    return tuple(lines)


def _often(spans: Sequence[Span]) -> str:
    longest = max(span.duration_s for span in spans)
    if len(spans) == 1:
        return f"once, for {show.number(longest)} s"
    total = sum(span.duration_s for span in spans)
    return (
        f"{many(len(spans), 'time')}, {show.number(total)} s in all, {show.number(longest)} s at the longest"
    )
