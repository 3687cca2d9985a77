"""What mounting a sensor on a real bike adds to the doubt of a wheel travel: a worked estimate.

The virtual bike and the bench know nothing of brackets, rod ends and rubber. The half-widths below are of
the kind seen in practice; none has a source, and those of play and rubber are from memory. They are put
together as in the GUM (rectangular, independent, coverage factor 2), so that a shop sees what matters and
can put its own figures in their place.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from analysis.gum import rectangular
from ingest.records import Bike, End, Leverage, Measures

LINEARITY_SHARE = 0.005
"""Of the sensor's range, taken as the whole travel: sold with 0.05 to 0.5 % (common practice, no source)."""

HYSTERESIS_MM = 0.5
"""At the sensor, worn or dirty: 0.1 to 0.5 mm (common practice, no source)."""

JOINTS_MM = 0.3
"""At the sensor: brackets that flex and rod ends with play (common practice, no source; from memory)."""

RUBBER_MM = 0.5
"""At the shock: rubber eyes give before the shock moves (common practice, no source; from memory)."""

LINKAGE_MM = 0.2
"""At the shock: worn linkage bearings (common practice, no source; from memory)."""

COVERAGE_FACTOR = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MountingCause:
    """One cause, as a half-width at the wheel."""

    cause: str
    half_width_mm: float
    at_sensor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MountingDoubt:
    """All causes of one end, and what they come to together (± at the wheel, about 95 in 100)."""

    end: End
    causes: tuple[MountingCause, ...]
    expanded_mm: float


def mounting_doubt(bike: Bike, end: End) -> MountingDoubt | None:
    """Work out what real mounting adds at one end of a bike, as it is under its setup.

    Where the sensor follows the shock, what happens there counts at the wheel times the leverage, here the
    mean one over the whole travel. ``None`` where the bike has no suspension at that end.

    Examples
    --------
    >>> from ingest.records import Suspension
    >>> fork = Bike(name="b", front=Suspension(kind="telescopic fork", travel_mm=230.0))
    >>> doubt = mounting_doubt(fork, End.FRONT)
    >>> round(doubt.expanded_mm, 2)  # 2/√3 · √(1.15² + 0.5² + 0.3²)
    1.49
    """
    suspension = bike.suspension(end)
    if suspension is None:
        return None
    sensor = bike.sensors.get(end)
    on_shock = sensor is not None and sensor.measures is Measures.SHOCK_STROKE
    ratio = _mean_ratio(suspension.leverage) if on_shock else 1.0
    causes = tuple(_causes(suspension.travel_mm, ratio, on_shock=on_shock))
    variance = sum(rectangular(cause.half_width_mm) ** 2 for cause in causes)
    return MountingDoubt(end=end, causes=causes, expanded_mm=COVERAGE_FACTOR * math.sqrt(variance))


def _causes(travel_mm: float, ratio: float, *, on_shock: bool) -> Iterator[MountingCause]:
    yield MountingCause(
        cause="the sensor is not quite straight",
        half_width_mm=LINEARITY_SHARE * travel_mm,
        at_sensor=f"{100 * LINEARITY_SHARE:g} % of its range",
    )
    at_sensor = [
        ("a worn or dirty sensor reads late", HYSTERESIS_MM),
        ("play and flex of rod ends and brackets", JOINTS_MM),
    ]
    if on_shock:
        at_sensor += [
            ("rubber in the shock's eyes", RUBBER_MM),
            ("play in the linkage", LINKAGE_MM),
        ]
    for cause, half_width_mm in at_sensor:
        yield MountingCause(
            cause=cause, half_width_mm=half_width_mm * ratio, at_sensor=f"{half_width_mm:g} mm there"
        )


def _mean_ratio(leverage: Leverage | None) -> float:
    """Give wheel travel over shock stroke from end to end."""
    if leverage is None:
        return 1.0
    if leverage.table is None:
        return leverage.ratio or 1.0
    (wheel_low, stroke_low), (wheel_high, stroke_high) = leverage.table[0], leverage.table[-1]
    return (wheel_high - wheel_low) / (stroke_high - stroke_low) if stroke_high > stroke_low else 1.0
