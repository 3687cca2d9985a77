"""Bottoming and topping: when the suspension ran out of travel at one end or the other.

Bottoming is an excursion above 95 % of full travel whose peak reaches 98 %, or that met the stop by the look
of its motion; excursions less than 100 ms apart are one. Topping is coming back to 1 mm or less after having
been above 5 mm. Events never reach across a gap, nor across a masked stretch of 100 ms or more.
The two percentages, the two positions and the 100 ms are the house's definition, not a standard.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from analysis.calibration import Samples
from analysis.contact import CERTAIN_M_S2, LIKELY_M_S2, STOP_FLEX_MM, excess_deceleration
from analysis.excursions import runs
from analysis.motion import EndMotion, MotionSegment
from analysis.ride_results import Events, TravelEvent
from analysis.spring_statics import STANDARD_GRAVITY_M_S2

ENTRY_SHARE = 0.95
BOTTOM_SHARE = 0.98
HARD_SHARE = 0.995
"""From here on the rubber has nothing left to give: graded ``hard stop`` like a recognised contact."""

TOPPED_MM = 1.0
OUT_OF_TOP_MM = 5.0

MERGED_S = 0.1


def bottomings(motion: EndMotion, full_mm: float) -> tuple[TravelEvent, ...]:
    """Find excursions into the last 5 % of the travel.

    Parameters
    ----------
    motion : EndMotion
        One end of one log.
    full_mm : float
        Full travel: nominal, or where the stop was found (`analysis.contact.found_stop`).

    Returns
    -------
    tuple of TravelEvent
        In order of time, graded: ``rubber`` (peak below 98 %; not a bottoming), ``near full`` (98 % or more)
        or ``hard stop`` (99.5 % or more, or the stop recognised from the motion). What another peak of the
        ride went far beyond was no stop, however abruptly it ended.
    """
    if not motion.distribution.total:
        return ()
    stop_from_mm = float(motion.distribution.values[-1]) - STOP_FLEX_MM
    return tuple(event for part in motion.segments for event in _bottomings(part, full_mm, stop_from_mm))


def toppings(motion: EndMotion) -> tuple[TravelEvent, ...]:
    """Find the returns to full extension: at 1 mm or less after having been above 5 mm.

    Hovering there is one event until 5 mm are passed again. The entry speed is a positive number.
    """
    return tuple(event for part in motion.segments for event in _toppings(part))


def counted_events(events: Iterable[TravelEvent], duration_s: float) -> Events:
    """Count events and relate them to ten minutes of valid data; the grade ``rubber`` is listed only."""
    listed = tuple(events)
    count = sum(event.grade != "rubber" for event in listed)
    return Events(count=count, per_10_min=count * 600.0 / duration_s, events=listed)


def _bottomings(part: MotionSegment, full_mm: float, stop_from_mm: float) -> Iterator[TravelEvent]:
    level_mm = ENTRY_SHARE * full_mm
    found = runs(part.travel_mm > level_mm).merged(MERGED_S / part.dt_s)
    deepest = found.deepest(part.travel_mm)
    # What float32 adds beyond the fourth digit is not the sensor's.
    peaks_mm = part.travel_mm[deepest].astype(float).round(4)
    at_the_end = peaks_mm >= HARD_SHARE * full_mm
    least_m_s2 = np.where(at_the_end, LIKELY_M_S2, CERTAIN_M_S2)
    contact = (excess_deceleration(part, deepest) >= least_m_s2) & (peaks_mm >= stop_from_mm)
    for k, (first, end) in enumerate(zip(found.first.tolist(), found.end.tolist(), strict=True)):
        if at_the_end[k] or contact[k]:
            grade = "hard stop"
        else:
            grade = "near full" if peaks_mm[k] >= BOTTOM_SHARE * full_mm else "rubber"
        speed = _speed_on_passing(part, first, level_mm)
        yield TravelEvent(
            t_s=part.start_s + int(deepest[k]) * part.dt_s,
            peak_mm=float(peaks_mm[k]),
            entry_speed_mm_s=speed,
            grade=grade,
            dwell_s=part.dt_s * int(np.count_nonzero(part.travel_mm[first:end] > level_mm)),
            drop_height_mm=_drop_height_mm(speed),
            contact=bool(contact[k]),
        )


def _toppings(part: MotionSegment) -> Iterator[TravelEvent]:
    travel = part.travel_mm
    topped = np.flatnonzero(travel <= TOPPED_MM)
    if not topped.size:
        return
    found = runs(~(travel > OUT_OF_TOP_MM))
    # Which topped-out samples each stretch has; most stretches have none.
    begins, stops = np.searchsorted(topped, found.first), np.searchsorted(topped, found.end)
    for k in np.flatnonzero(begins < stops):
        first, own = int(found.first[k]), topped[begins[k] : stops[k]]
        # A stretch that opens the segment came from nowhere known, and so does one after a long mask.
        if first == 0 or _long_masked(travel[first : own[0]], part.dt_s):
            continue
        at = int(own[np.argmin(travel[own])])
        speed = _speed_on_passing(part, first, OUT_OF_TOP_MM)
        yield TravelEvent(
            t_s=part.start_s + at * part.dt_s,
            peak_mm=round(float(travel[at]), 4),
            entry_speed_mm_s=None if speed is None else -speed,
            grade="topped out",
            dwell_s=part.dt_s * own.size,
            drop_height_mm=_drop_height_mm(speed),
        )


def _long_masked(travel: Samples, dt_s: float) -> bool:
    return travel.size * dt_s >= MERGED_S and int(np.count_nonzero(np.isnan(travel))) * dt_s >= MERGED_S


def _speed_on_passing(part: MotionSegment, at: int, level_mm: float) -> float | None:
    """Speed at the moment of passing a level between samples ``at - 1`` and ``at``; None where unknown."""
    if at == 0:
        return None
    (x0, x1), (v0, v1) = part.travel_mm[at - 1 : at + 1], part.speed_mm_s[at - 1 : at + 1]
    speed = v0 + (v1 - v0) * (level_mm - x0) / (x1 - x0)
    return None if np.isnan(speed) else float(speed)


def _drop_height_mm(speed_mm_s: float | None) -> float | None:
    """Height of a free fall that ends at a speed: v² / 2g."""
    return None if speed_mm_s is None else speed_mm_s**2 / (2e3 * STANDARD_GRAVITY_M_S2)
