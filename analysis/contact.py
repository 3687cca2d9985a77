"""Contact with the stop, recognised from the motion: whether a wheel ran into it, and where it really is.

A spring, a damper, a progressive rubber and an oil lock slow a wheel down over 10 to 30 ms. A stop does it
within a few. So what is looked at is how much harder the wheel is slowed down in the 10 ms around the
deepest sample than in the 10 ms before and after, in m/s² (`excess_deceleration`): a second derivative in
the middle of a parabola, the mean of the two beside it taken off. What pushes alike all the time, however
hard, cancels.

The limits were chosen on 420 rides of the virtual bike (2000 to 200 samples a second, 10 bits; rubber alone,
rubber with an oil lock, stops of 1500 to 4500 N/mm): of 17 000 peaks that met no stop, one in a hundred came
to 105 m/s² and none to 185; a stop pressed in by 1 mm gives about 130, a much stiffer one more, so that it
reads a millimetre or two early. How they do on other rides is in `tests/evidence/test_ride_many.py`.

A stop that gives nothing, or is merely leant on under long braking, may not stand out so. But it shows in
where the peaks end: a spring goes deeper for a faster entry, a stop does not. So peaks that pile up within
half a millimetre at the deepest travel, with next to none just short of it, and came in at speeds that
differ, have met a stop (`_piled_up`). The limits were chosen on 60 rides of the virtual bike (seed 101): of
46 ends that never met their stop the nearest had three such peaks, two just short of them and 0.3 m²/s²
between their energies. On fresh rides (seeds 202 and 424243) none of 83 such ends was found.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.calibration import Floats
from analysis.excursions import Indices, runs
from analysis.motion import EndMotion, MotionSegment

REACH_S = 0.005
"""Half of the stretch each second derivative is taken over."""

SLOWEST_RATE_HZ = 190.0
"""Below 200 samples a second a contact falls between two samples."""

LIKELY_M_S2 = 75.0
"""One of several peaks at the same depth is taken for a contact from here on."""

CLEAR_M_S2 = 140.0
"""One of those at the same depth has to come to this."""

CERTAIN_M_S2 = 200.0
"""A peak alone has to speak for itself."""

PRESSED_M_S2_PER_MM = 140.0
"""What a stop pressed in by 1 mm gives, so that where it begins can be told from peaks beyond it."""

LEAST_LIKELY, LEAST_BEYOND = 2, 3
LIKELY_SHARE = 0.5
STOP_FLEX_MM = 7.0
SHALLOWEST_STOP = 0.75
CLEARLY_SHORT_MM = 2.0
"""A zero and a calibration are no better than this; a stop less far from nominal is the nominal one."""

MERGED_S = 0.1
ENTRY_SHARE = 0.95

PILE_MM = 0.6
"""Peaks at a stop lie this close together: two counts of 10 bits and what a stiff stop gives."""

SHORT_OF_PILE_MM = 2.4
"""So far below the deepest it is looked whether the peaks thin out, as those a spring stops do, or end."""

FAST_PILE, SLOW_PILE = 3, 5
FEW_SHORT_OF_FAST, FEW_SHORT_OF_SLOW = 3, 5
"""Just short of a pile there are at most so many times fewer peaks than in it."""

LEAST_ENERGY_M2_S2 = 0.6
"""Half the squares of the entry speeds differ by so much: over 0.6 mm that is 1000 m/s², and no spring."""

UNLIKE_SPEEDS = 1.5
"""Slow ones tell by their number; but the same bump met again and again ends at the same place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundStop:
    """Where the stop was found, wheel travel in mm, and on how many peaks beyond it that rests."""

    travel_mm: float
    contacts: int


def excess_deceleration(part: MotionSegment, at: Indices) -> Floats:
    """Tell how much harder the wheel is slowed down around each sample than just before and after.

    Parameters
    ----------
    part : MotionSegment
    at : ndarray of int, shape (k,)
        Deepest samples of excursions.

    Returns
    -------
    ndarray, shape (k,)
        m/s²; NaN at a rate below 200 Hz, and where a masked sample or the stretch's end lies within 15 ms.
    """
    excess = np.full(at.size, np.nan)
    if part.dt_s * SLOWEST_RATE_HZ > 1:
        return excess
    weights = _weights(part.dt_s)
    half = weights.size // 2
    inside = (at >= half) & (at < part.travel_mm.size - half)
    around = at[inside, None] + np.arange(-half, half + 1)
    excess[inside] = part.travel_mm[around] @ weights
    return excess


def found_stop(motion: EndMotion) -> FoundStop | None:
    """Tell where the stop is, if the log shows that it comes earlier than the nominal travel says.

    Each likely contact says where the stop begins: its peak less how far it pressed the stop in. Their
    median is the answer if one of them is clear, three peaks or more lie beyond it, half of them likely
    contacts, and none by more than a stop gives. ``None`` where the log does not show it, or not clearly
    short of the nominal travel. Where no contact is clear, peaks that pile up may tell (see above).
    """
    if not motion.distribution.total:
        return None
    deepest_mm = float(motion.distribution.values[-1])
    if deepest_mm < SHALLOWEST_STOP * motion.travel_mm:
        return None
    stop = _pressed_in(motion, deepest_mm) or _piled_up(motion, deepest_mm)
    if stop is None or stop.travel_mm > motion.travel_mm - CLEARLY_SHORT_MM:
        return None
    return stop


def _pressed_in(motion: EndMotion, deepest_mm: float) -> FoundStop | None:
    """Tell where the stop is from how hard it slowed the wheel down."""
    peaks, excess = _deep_peaks(motion, deepest_mm - STOP_FLEX_MM)
    likely = excess >= LIKELY_M_S2
    if np.count_nonzero(likely) < LEAST_LIKELY or not (excess >= CLEAR_M_S2).any():
        return None
    stop_mm = float(np.median(peaks[likely] - excess[likely] / PRESSED_M_S2_PER_MM))
    beyond = peaks >= stop_mm
    contacts = int(np.count_nonzero(beyond))
    if contacts < LEAST_BEYOND or np.count_nonzero(likely & beyond) < LIKELY_SHARE * contacts:
        return None
    if deepest_mm - stop_mm > STOP_FLEX_MM:
        return None
    return FoundStop(travel_mm=stop_mm, contacts=contacts)


def _piled_up(motion: EndMotion, deepest_mm: float) -> FoundStop | None:
    """Tell where the stop is from peaks that end at one depth however fast they came."""
    peaks, speeds = _entries(motion, ENTRY_SHARE * deepest_mm)
    piled = peaks >= deepest_mm - PILE_MM
    short = int(np.count_nonzero(~piled & (peaks >= deepest_mm - SHORT_OF_PILE_MM)))
    count = int(np.count_nonzero(piled))
    known = speeds[piled & (speeds > 0)]
    if not known.size:
        return None
    slowest, fastest = float(known.min()), float(known.max())
    hard = count >= FAST_PILE and (fastest**2 - slowest**2) / 2e6 >= LEAST_ENERGY_M2_S2
    often = count >= SLOW_PILE and fastest >= UNLIKE_SPEEDS * slowest
    ends_there = (hard and FEW_SHORT_OF_FAST * short <= count) or (
        often and FEW_SHORT_OF_SLOW * short <= count
    )
    if not ends_there:
        return None
    return FoundStop(travel_mm=float(peaks[piled].min()), contacts=count)


def _entries(motion: EndMotion, level_mm: float) -> tuple[Floats, Floats]:
    """Give the peak of each excursion above a level and the speed it came in at, NaN where unknown."""
    peaks, speeds = [np.empty(0)], [np.empty(0)]
    for part in motion.segments:
        found = runs(part.travel_mm > level_mm).merged(MERGED_S / part.dt_s)
        peaks.append(part.travel_mm[found.deepest(part.travel_mm)].astype(float))
        speeds.append(part.speed_mm_s[found.first].astype(float))
    return np.concatenate(peaks), np.concatenate(speeds)


def _deep_peaks(motion: EndMotion, above_mm: float) -> tuple[Floats, Floats]:
    """Give the peak and its excess deceleration of each excursion above a travel."""
    peaks, excess = [np.empty(0)], [np.empty(0)]
    for part in motion.segments:
        deepest = runs(part.travel_mm > above_mm).merged(MERGED_S / part.dt_s).deepest(part.travel_mm)
        peaks.append(part.travel_mm[deepest].astype(float))
        excess.append(excess_deceleration(part, deepest))
    return np.concatenate(peaks), np.concatenate(excess)


def _weights(dt_s: float) -> Floats:
    """What to weigh the samples around a peak with: m/s² from mm."""
    half = max(1, round(REACH_S / dt_s))
    offsets = np.arange(-half, half + 1) * dt_s
    bend: Floats = -2.0 * np.linalg.pinv(np.vander(offsets, 3))[0] / 1e3
    weights = np.zeros(6 * half + 1)
    weights[2 * half : 4 * half + 1] += bend
    weights[: 2 * half + 1] -= bend / 2
    weights[4 * half :] -= bend / 2
    return weights
