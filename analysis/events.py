"""Bottoming and topping: when the suspension ran out of travel at one end or the other.

Bottoming is an excursion above 95 % of full travel whose peak reaches 98 %, or that met the stop by the look
of its motion; excursions less than 100 ms apart are one. Topping is coming back to 1 mm or less after having
been above 5 mm. Events never reach across a gap, nor across a masked stretch of 100 ms or more.
The two percentages, the two positions and the 100 ms are the house's definition, not a standard.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import numpy.typing as npt

from analysis.excursions import Indices, Runs, runs
from analysis.motion import EndMotion, MotionSegment
from analysis.ride_results import Events, TravelEvent

ENTRY_SHARE = 0.95
BOTTOM_SHARE = 0.98
HARD_SHARE = 0.995
"""From here on the rubber has nothing left to give: graded ``hard stop`` like a recognised contact."""

TOPPED_MM = 1.0
OUT_OF_TOP_MM = 5.0

MERGED_S = 0.1

CONTACT_S = 0.006
CONTACT_SPEED_MM_S = 1000.0
CONTACT_RATIO = 0.65
"""A stop takes the speed within a few ms; see `met_stop`. On the virtual bike excursions that met no stop
came to 0.59 at most, those that did to anything between 0.4 and 0.85: what is missed here still counts by
its peak."""

REPEATS = 3
REPEATED_RATIO = 0.55
"""Several at the same depth may each be a little less abrupt than one that has to speak for itself."""

STOP_FLEX_MM = 2.5
SHALLOWEST_STOP = 0.75


def bottomings(motion: EndMotion, full_mm: float) -> tuple[TravelEvent, ...]:
    """Find excursions into the last 5 % of the travel.

    Parameters
    ----------
    motion : EndMotion
        One end of one log.
    full_mm : float
        Full travel: nominal, or where the stop was found (`found_travel_mm`).

    Returns
    -------
    tuple of TravelEvent
        In order of time, graded: ``rubber`` (peak below 98 %; not a bottoming), ``near full`` (98 % or more)
        or ``hard stop`` (99.5 % or more, or the stop recognised from the motion).
    """
    return tuple(event for part in motion.segments for event in _bottomings(part, full_mm))


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


def found_travel_mm(motion: EndMotion) -> float | None:
    """Tell where the stop is, if the log shows that it comes earlier than the nominal travel says.

    Three contacts or more, recognised from the motion, that end within 2.5 mm of the deepest travel of the
    whole log, at less than 98 % of the nominal travel and at more than three quarters of it. The shallowest
    is the answer, since a stop gives a little under a hard blow. ``None`` where the log does not show it.
    """
    if not motion.distribution.total:
        return None
    deepest_mm = float(motion.distribution.values[-1])
    if not SHALLOWEST_STOP * motion.travel_mm < deepest_mm < BOTTOM_SHARE * motion.travel_mm:
        return None
    peaks: list[float] = []
    for part in motion.segments:
        deepest = _excursions(part, deepest_mm - STOP_FLEX_MM).deepest(part.travel_mm)
        peaks += part.travel_mm[deepest[met_stop(part, deepest, REPEATED_RATIO)]].tolist()
    return min(peaks) if len(peaks) >= REPEATS else None


def met_stop(part: MotionSegment, deepest: Indices, ratio: float = CONTACT_RATIO) -> npt.NDArray[np.bool_]:
    """Recognise which excursions ended at a stop, from how abruptly they came to their deepest sample.

    Compared are the last 6 ms before the deepest sample and the 6 ms before those. A spring, a damper or a
    rubber slows the wheel down gradually: with constant deceleration the last 6 ms cover a third of what
    the 6 ms before covered. At a stop the wheel is still on its way until the last moment. Taken as a contact
    from `ratio` on, at 1 m/s or more before. Needs 500 samples a second; below that nothing is recognised.
    """
    span = round(CONTACT_S / part.dt_s)
    known = deepest >= 2 * span
    if span < 3 or not known.any():
        return np.zeros(deepest.size, dtype=np.bool_)
    at = np.where(known, deepest, 2 * span)
    travel = part.travel_mm
    last = travel[at] - travel[at - span]
    before = travel[at - span] - travel[at - 2 * span]
    fast = before >= CONTACT_SPEED_MM_S * span * part.dt_s
    return np.asarray(known & fast & (last >= ratio * before))


def _excursions(part: MotionSegment, level_mm: float) -> Runs:
    return runs(part.travel_mm > level_mm).merged(MERGED_S / part.dt_s)


def _bottomings(part: MotionSegment, full_mm: float) -> Iterator[TravelEvent]:
    found = _excursions(part, ENTRY_SHARE * full_mm)
    deepest = found.deepest(part.travel_mm)
    contact = met_stop(part, deepest)
    for k, at in enumerate(deepest):
        peak_mm = float(part.travel_mm[at])
        if peak_mm >= HARD_SHARE * full_mm or contact[k]:
            grade = "hard stop"
        else:
            grade = "near full" if peak_mm >= BOTTOM_SHARE * full_mm else "rubber"
        yield TravelEvent(
            t_s=part.start_s + int(at) * part.dt_s,
            peak_mm=peak_mm,
            entry_speed_mm_s=_speed_on_passing(part, int(found.first[k]), ENTRY_SHARE * full_mm),
            grade=grade,
        )


def _toppings(part: MotionSegment) -> Iterator[TravelEvent]:
    travel = part.travel_mm
    found = runs(~(travel > OUT_OF_TOP_MM))
    for first, end in zip(found.first.tolist(), found.end.tolist(), strict=True):
        low = np.flatnonzero(travel[first:end] <= TOPPED_MM)
        # A stretch that opens the segment came from nowhere known, and so does one after a long mask.
        if first == 0 or not low.size or _long_masked(travel[first : first + low[0]], part.dt_s):
            continue
        at = first + int(np.nanargmin(travel[first:end]))
        speed = _speed_on_passing(part, first, OUT_OF_TOP_MM)
        yield TravelEvent(
            t_s=part.start_s + at * part.dt_s,
            peak_mm=float(travel[at]),
            entry_speed_mm_s=None if speed is None else -speed,
            grade="topped out",
        )


def _long_masked(travel: npt.NDArray[np.float64], dt_s: float) -> bool:
    return int(np.count_nonzero(np.isnan(travel))) * dt_s >= MERGED_S


def _speed_on_passing(part: MotionSegment, at: int, level_mm: float) -> float | None:
    """Speed at the moment of passing a level between samples ``at - 1`` and ``at``; None where unknown."""
    if at == 0:
        return None
    (x0, x1), (v0, v1) = part.travel_mm[at - 1 : at + 1], part.speed_mm_s[at - 1 : at + 1]
    speed = v0 + (v1 - v0) * (level_mm - x0) / (x1 - x0)
    return None if np.isnan(speed) else float(speed)
