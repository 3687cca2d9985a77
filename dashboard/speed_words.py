"""How fast wheel and damper shaft moved, and strokes by size: tables."""

from __future__ import annotations

import math

from analysis.ride_results import EndRide, RideSummary, Speeds, StrokeClass
from dashboard import units as show
from dashboard.ride_events import ends_of
from dashboard.units import NOTHING, Units
from dashboard.wording import Table

SPEED_HEAD = ("half", "95 in 100", "99 in 100", "fastest")
SPEED_MEANS = (
    "Of all the time the wheel moved that way, half of it was slower than the first number, 95 parts in 100 "
    "slower than the second."
)
STROKE_MEANS = (
    "A stroke is once down and up again, or up and down, whatever small ones lie inside it "
    "(rainflow counting, ASTM E1049)."
)


def wheel_speeds(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Write the speeds of both wheels, compression and rebound."""
    rows = [
        (f"{end}, {way}", *_cells(speeds, units))
        for end, result in ends_of(ride)
        for way, speeds in (
            ("compression", result.compression_speed_mm_s),
            ("rebound", result.rebound_speed_mm_s),
        )
    ]
    return Table(head=(f"at the wheel, {units}/s", *SPEED_HEAD), rows=tuple(rows))


def shaft_speeds(ride: RideSummary, units: Units = Units.MM) -> Table | None:
    """Write the speeds at the damper shafts that do not move as their wheel does; ``None`` without any."""
    rows = [
        (f"{end}, {way}", *_cells(speeds, units))
        for end, result in ends_of(ride)
        if result.shaft is not None and not _as_wheel(result)
        for way, speeds in (("compression", result.shaft.compression), ("rebound", result.shaft.rebound))
    ]
    return Table(head=(f"at the shock shaft, {units}/s", *SPEED_HEAD), rows=tuple(rows)) if rows else None


def _as_wheel(result: EndRide) -> bool:
    return result.shaft is not None and math.isclose(result.shaft.leverage_at_ride, 1.0, abs_tol=5e-4)


def shaft_lines(ride: RideSummary) -> tuple[str, ...]:
    """Say how each shaft moves against its wheel."""
    lines = []
    for end, result in ends_of(ride):
        if result.shaft is None:
            continue
        if _as_wheel(result):
            lines.append(f"{str(end).capitalize()}: the damper moves as the wheel does.")
        else:
            ratio = show.number(result.shaft.leverage_at_ride, 2)
            lines.append(
                f"{str(end).capitalize()}: where it rides, the wheel moves {ratio} times as far as the shock."
            )
    return tuple(lines)


def _cells(speeds: Speeds | None, units: Units) -> tuple[str, ...]:
    if speeds is None:
        return ("not known",) * 4
    return tuple(
        show.length_number(value, units, 0) for value in (speeds.p50, speeds.p95, speeds.p99, speeds.max)
    )


def dead_band_line(ride: RideSummary, units: Units = Units.MM) -> str | None:
    """Say below which speed nothing can be told, where there is such a speed."""
    bands = [(end, result.dead_band_mm_s) for end, result in ends_of(ride) if result.dead_band_mm_s > 0]
    if not bands:
        return None
    said = ", ".join(f"{show.speed(mm_s, units)} ({end})" for end, mm_s in bands)
    return f"Under {said} the sensor's noise alone looks like movement: no share of time is given there."


def stroke_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Write how many strokes of each size either end made in ten minutes."""
    ends = (ride.front, ride.rear)
    found = [_by_size(end) for end in ends]
    sizes = sorted({size for strokes in found for size in strokes})
    rows = [
        (
            _size(size, units),
            *(
                _count(strokes.get(size)) if end else NOTHING
                for end, strokes in zip(ends, found, strict=True)
            ),
        )
        for size in sizes
    ]
    return Table(head=(f"strokes of, {units}", "front in 10 min", "rear in 10 min"), rows=tuple(rows))


def _by_size(end: EndRide | None) -> dict[tuple[float, float], StrokeClass]:
    return {} if end is None else {(one.from_mm, one.to_mm): one for one in end.strokes}


def _size(size: tuple[float, float], units: Units) -> str:
    low, high = (show.length_number(mm, units, 0) for mm in size)
    return f"{low} and more" if high == NOTHING else f"{low} to {high}"


def _count(stroke: StrokeClass | None) -> str:
    if stroke is None or stroke.count == 0:
        return "none"
    return show.number(stroke.per_10_min, 0 if stroke.per_10_min >= 10 else 1)
