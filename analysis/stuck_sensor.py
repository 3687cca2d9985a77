"""A reading that stands still while the wheel must be moving.

A wheel at rest is no fault: parked, rolling on a smooth floor, stuck in its friction, hanging in the air. So
standing still is called stuck only where something else says that the bike is being ridden: the other end
going up and down as no hand moves it, or this end's own reading being stopped dead out of fast motion and
coming loose with a jump.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Samples
from analysis.excursions import Runs, runs
from analysis.jumps import CALM_MM_S, LEAST_JUMP_MM, jumps

Values = npt.NDArray[np.generic]

LEAST_S = 0.4
"""On virtual rides over ISO 8608 A to D no end away from its stops rested so long with its wheel rolling."""

LOOKS = 10
"""A first look takes so many samples of the shortest span; what does not stand still in them is left."""

STILL_UNITS, STILL_NOISES = 1.0, 5.0
"""No sample of a standing reading is further from its middle than one step of the converter, or than this
many standard deviations of its noise."""

MEANS_NOISES = 4.0

HANGING_MM, HANGING_S = 3.0, 10.0
"""Topped out a wheel hangs and cannot move: a wheelie, a jump, a bike on its stand."""

WINDOW_S = 1.0
TURNING_S = 0.005
TURN_NOISES = 6.0
RIDDEN_TURNS = 5
TURN_MM = 1.0
"""The other end turns round at least so often in a second, by at least so much each time. Pushing a bike up
and down in the workshop makes three or four turns a second (common practice, no source)."""

MOVING_MM_S, MOVING_S = 100.0, 0.02
"""And it moves so fast (root mean square, from one 20 ms to the next). On a smooth road friction holds one
end still for most of a second while the other hops about: on virtual rides over class A with up to 200 N of
friction at 54 mm/s at most; beside virtual stuck sensors it moved at 156 mm/s at least."""

SETTING_OFF_S = 2.0
"""Where a bike sets off, one wheel is on the move before the other. A reading that stands before the other
end moves, or after it, is called stuck only if the other end is ridden for so long."""

NOISY_UNITS = 1.0
"""A converter with this much noise never gives the same code for 0.4 s; one that does has frozen."""

STANDS_S = 0.1
"""The other end is looked at in pieces of this length."""

DEAD_STOP_MM_S = 150.0
DEAD_STOP_S = 0.02
LOOSE_MM, BACK_S = 5.0, 3.0
"""A standing reading that jumps away has come loose, unless it jumps back within this time: then it is the
reading in between that is wrong."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Trace:
    """One stretch of readings of one end: wheel mm of one unit, and the noise of the reading in units."""

    values: Values
    dt_s: float
    mm_each: float
    noise: float

    @property
    def turn(self) -> float:
        """How far the reading goes at least when the wheel turns round, in units."""
        per = max(1.0, TURNING_S / self.dt_s)
        return max(TURN_MM / abs(self.mm_each), TURN_NOISES * self.noise / math.sqrt(per))


def stuck_spans(own: Trace, travel_mm: Samples, other: Trace | None) -> Runs:
    """Find the spans in which a sensor is stuck.

    Parameters
    ----------
    own : Trace
        The end in question.
    travel_mm : ndarray, shape (n,)
        Its wheel travel; NaN where the reading is out of range, which is somebody else's business.
    other : Trace or None
        The other end, row by row at the same times.

    Returns
    -------
    Runs
        Spans of samples, each at least 0.3 s long.
    """
    found = [
        span
        for first, stop in _standing(own).pairs()
        if (span := _stuck_part(own, travel_mm, other, first, stop)) is not None
    ]
    return _as_runs(found)


def _as_runs(spans: Sequence[tuple[int, int]]) -> Runs:
    table = np.array(spans, dtype=np.intp).reshape(-1, 2)
    return Runs(first=table[:, 0], end=table[:, 1])


def _standing(own: Trace) -> Runs:
    """Find where the reading stands, to the sample: from means over some 40 ms, then sample by sample."""
    per = max(1, round(LEAST_S / LOOKS / own.dt_s))
    near = max(STILL_UNITS, STILL_NOISES * own.noise)
    glance = own.values[::per].astype(float)
    looked = runs(np.abs(np.diff(glance)) <= 2.0 * near)
    found: list[tuple[int, int]] = []
    for a, b in looked.pairs():
        if b - a >= LOOKS - 2:
            low, high = max(0, (a - 1) * per), min(own.values.size, (b + 2) * per)
            found += [(low + p, low + q) for p, q in _levels(own, low, high, per, near)]
    return _as_runs(found)


def _levels(own: Trace, low: int, high: int, per: int, near: float) -> list[tuple[int, int]]:
    """Find the level stretches inside ``low:high``, counted from ``low``."""
    values = own.values[low:high].astype(float)
    means = values[: values.size // per * per].reshape(-1, per).mean(axis=1)
    alike = max(0.5 * STILL_UNITS * (own.noise > 0), MEANS_NOISES * own.noise * (2.0 / per) ** 0.5)
    spans = []
    for a, b in runs(np.abs(np.diff(means)) <= alike).pairs():
        level = float(np.median(values[a * per : (b + 1) * per]))
        if np.ptp(means[a : b + 1]) > 2.0 * alike:
            continue
        off = np.flatnonzero(~(np.abs(values - level) <= near))
        before, after = off[off < a * per + per // 2], off[off >= b * per + per // 2]
        first = int(before[-1]) + 1 if before.size else 0
        stop = int(after[0]) if after.size else values.size
        if (stop - first) * own.dt_s >= LEAST_S:
            spans.append((first, stop))
    return spans


def _may_move(travel_mm: Samples, seconds: float) -> bool:
    """Tell whether a wheel that far in can move; hanging free it need not, for a while."""
    level = float(np.median(travel_mm))
    return level > HANGING_MM or (level <= HANGING_MM and seconds > HANGING_S)


def _stuck_part(
    own: Trace, travel_mm: Samples, other: Trace | None, first: int, stop: int
) -> tuple[int, int] | None:
    """Give the part of a standing span that is stuck, ``None`` where there is no telling."""
    if np.isnan(travel_mm[first]) or (other is not None and _stands_too(other, first, stop)):
        return None
    if _comes_loose(own, stop) or _stopped_dead(own, first, stop):
        return first, stop
    if not _may_move(travel_mm[first:stop], (stop - first) * own.dt_s):
        return None
    return _moved_meanwhile(own, other, first, stop)


def _moved_meanwhile(own: Trace, other: Trace | None, first: int, stop: int) -> tuple[int, int] | None:
    """Give the part of a standing span in which the other end says that the wheel must have moved."""
    if other is None:
        return None
    if _frozen(own, first, stop) and np.ptp(other.values[first:stop].astype(float)) >= other.turn:
        return first, stop
    window = round(WINDOW_S / other.dt_s)
    if stop - first < 2 * window:
        least = max(3, round(RIDDEN_TURNS * (stop - first) / window))
        enough = _turns(other, first, stop) >= least and _moves_fast(other, first, stop)
        return (first, stop) if enough and _moved_around(own, first, stop) else None
    starts = np.arange(first, stop - window + 1, max(1, window // 2))
    ridden = [at for at in starts.tolist() if _turns(other, at, at + window) >= RIDDEN_TURNS]
    if not ridden:
        return None
    # Between two ridden windows, or one and the wheel's own motion, a smooth bit of road is part of it.
    spare = SETTING_OFF_S / own.dt_s if _moved_around(own, first, stop) else 0
    begin = first if ridden[0] - first <= max(spare, 0) else ridden[0]
    end = stop if stop - (ridden[-1] + window) <= max(spare, window // 2) else ridden[-1] + window
    whole = (begin, end) == (first, stop) and spare > 0
    lasts = whole or (end - begin) * own.dt_s >= SETTING_OFF_S
    return (begin, end) if lasts and _moves_fast(other, begin, end) else None


def _frozen(own: Trace, first: int, stop: int) -> bool:
    return own.noise >= NOISY_UNITS and not np.ptp(own.values[first:stop].astype(float))


def _moved_around(own: Trace, first: int, stop: int) -> bool:
    """Tell whether the reading moved just before and just after it stood."""
    near = round(LEAST_S / own.dt_s)
    before, after = own.values[max(0, first - near) : first], own.values[stop : stop + near]
    return all(part.size and np.ptp(part.astype(float)) >= own.turn for part in (before, after))


def _stands_too(other: Trace, first: int, stop: int) -> bool:
    """Tell whether the other end is as still most of the time: then the bike stands."""
    per = max(2, round(STANDS_S / other.dt_s))
    rows = (stop - first) // per
    values = other.values[first : first + rows * per].astype(float).reshape(rows, per)
    still = np.ptp(values, axis=1) <= 2.0 * max(STILL_UNITS, STILL_NOISES * other.noise)
    return bool(2 * np.count_nonzero(still) > rows)


def _moves_fast(other: Trace, first: int, stop: int) -> bool:
    """Tell whether the other end moves faster than it does where friction may hold this one."""
    apart = max(1, round(MOVING_S / other.dt_s))
    values = other.values[first:stop].astype(float)
    if values.size <= apart:
        return False
    speed = (values[apart:] - values[:-apart]) * other.mm_each / (apart * other.dt_s)
    return bool((speed**2).mean() >= MOVING_MM_S**2)


def _turns(other: Trace, first: int, stop: int) -> int:
    """Count how often the other reading turns round, by ``turn`` at least; 0 where it jumps about."""
    per = max(1, round(TURNING_S / other.dt_s))
    rows = (stop - first) // per
    values = other.values[first : first + rows * per].astype(float).reshape(rows, per).mean(axis=1)
    if values.size < 3 or not np.isfinite(values).all() or np.ptp(values) < other.turn:
        return 0
    turns, extreme, rising = 0, float(values[0]), True
    for value in values.tolist():
        beyond = (value - extreme) if rising else (extreme - value)
        if beyond > 0:
            extreme = value
        elif beyond < -other.turn:
            turns, extreme, rising = turns + 1, value, not rising
    return turns


def _comes_loose(own: Trace, stop: int) -> bool:
    """Tell whether a span before ``stop`` ends with an impossible jump that does not soon come back."""
    after = own.values[stop - 1 : stop + round(BACK_S / own.dt_s)].astype(float)
    jumped = jumps(np.concatenate([np.full(2, after[0]), after]), own.dt_s, own.mm_each) - 2
    if not jumped.size or jumped[0] != 0:
        return False
    away = np.abs(after - after[0]) * abs(own.mm_each) > LOOSE_MM
    came_from_away = away[jumped[1:]] & ~away[np.minimum(jumped[1:] + 1, away.size - 1)]
    return not came_from_away.any()


def _stopped_dead(own: Trace, first: int, stop: int) -> bool:
    """Tell whether the reading was stopped out of fast motion and came loose with a jump."""
    back = max(1, round(DEAD_STOP_S / own.dt_s))
    if first < back or stop >= own.values.size:
        return False
    level, before, after = (float(own.values[at]) for at in (first, first - back, stop))
    fast = abs(level - before) * abs(own.mm_each) >= DEAD_STOP_MM_S * DEAD_STOP_S
    loose = abs(after - level) * abs(own.mm_each) >= LEAST_JUMP_MM + CALM_MM_S * own.dt_s
    return fast and loose
