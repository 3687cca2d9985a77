"""Jumps no wheel can make, and which of the readings between them are the wheel's.

A jump is a step from one sample to the next at more than 15 m/s, or one that comes out of calm and ends in
calm: a wheel may be stopped dead by a bump stop, but it must have been on its way before. Jumps cut a stretch
into pieces. A loose plug is away and comes back; which pieces are the wheel's follows from the longest story
a wheel could have ridden through them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.excursions import Indices

Values = npt.NDArray[np.generic]

IMPOSSIBLE_MM_S = 15_000.0
"""No wheel moves this fast on its suspension; falling off a house roof lands at half of it."""

LEAST_JUMP_MM = 5.0
CALM_MM_S = 1_500.0
"""A jump out of calm into calm is one from 5 mm + this speed on. On virtual rides (200 to 2000 samples a
second) clean motion came to 7.3 mm of the 12.5 mm at 200 Hz and to a third of it at 500 Hz and more."""

POSSIBLE_MM_S = 8_000.0
"""Where the readings of a while are missing, the wheel may have moved on at up to this speed."""

GAP_COST, BRIEF_S = 2.0, 0.1
"""A piece has to be longer than twice the gap before it, or than this, to count as the wheel's."""

SLIP_S = 2.0
"""A jump that never comes back (a sensor that slipped) is believed where both sides last longer than this."""

LOOK_BACK = 64


def jumps(values: Values, dt_s: float, mm_each: float) -> Indices:
    """Find impossible steps.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One stretch of readings, counts or mm; NaN where there is none.
    dt_s, mm_each : float
        Sample interval, s, and wheel travel of one unit, mm.

    Returns
    -------
    ndarray of int
        Each ``i`` for which the step from sample ``i`` to ``i + 1`` is a jump, rising.
    """
    if values.size < 3:
        return np.empty(0, dtype=np.intp)
    limit_mm = LEAST_JUMP_MM + CALM_MM_S * dt_s
    always_mm = max(IMPOSSIBLE_MM_S * dt_s, LEAST_JUMP_MM)
    large = _larger(values, min(limit_mm, always_mm) / abs(mm_each))
    if not large.size:
        return large
    step = _step_mm(values, large, mm_each)
    away = [np.abs(step - _step_mm(values, large + side, mm_each)) for side in (-1, 1)]
    calm = np.minimum(*away) >= limit_mm
    # Two impossible steps in a row the same way are one slow fall; either is enough to cut there.
    return large[(calm & (np.abs(step) >= limit_mm)) | (np.abs(step) > always_mm)]


def _larger(values: Values, limit: float) -> Indices:
    """Find the steps larger than a limit; whole counts are compared as they are, which is much faster."""
    if values.dtype == np.uint16 and int(values.max()) < 1 << 15:
        whole = max(1, int(limit))
        # Unsigned differences wrap around: adding the limit brings -limit..limit to 0..2 limit.
        moved = np.subtract(values[1:], values[:-1])
        moved += np.uint16(whole)
        return np.flatnonzero(moved > np.uint16(2 * whole))
    steps = np.diff(values.astype(np.float64 if values.dtype.kind == "f" else np.int32))
    return np.flatnonzero((steps > limit) | (steps < -limit))


def _step_mm(values: Values, at: Indices, mm_each: float) -> npt.NDArray[np.float64]:
    """Steps from samples ``at`` to the next, mm; 0 beyond the ends and where a reading is missing."""
    first = np.clip(at, 0, values.size - 2)
    step = (values[first + 1].astype(float) - values[first].astype(float)) * abs(mm_each)
    return np.asarray(np.where((at == first) & np.isfinite(step), step, 0.0))


def ridden_pieces(
    pieces: Sequence[tuple[int, int]], values: Values, dt_s: float, mm_each: float
) -> tuple[bool, ...]:
    """Tell which pieces of a stretch belong to the wheel.

    The longest story wins: a chain of pieces in which each begins where a wheel could have got to since the
    end of the one before. What is left out between two costs twice as much as it lasts, 0.1 s at most, so
    that crumbs between dropouts are not picked up; a jump that never comes back costs 2 s.

    Parameters
    ----------
    pieces : sequence of (first, stop)
        In order, without overlap.
    values, dt_s, mm_each
        As for `jumps`.
    """
    first, stop = np.array(pieces, dtype=np.intp).reshape(-1, 2).T
    opens, closes = (values[at].astype(float) * abs(mm_each) for at in (first, stop - 1))
    length = (stop - first) * dt_s
    best, came_from = length.copy(), np.full(first.size, -1)
    far, far_at = -np.inf, -1
    for k in range(1, first.size):
        low = max(0, k - LOOK_BACK)
        if low and best[low - 1] > far:
            far, far_at = float(best[low - 1]), low - 1
        gap = (first[k] - stop[low:k]) * dt_s
        way = np.abs(opens[k] - closes[low:k])
        possible = (gap > 0) & (way <= LEAST_JUMP_MM + POSSIBLE_MM_S * (gap + dt_s))
        score = best[low:k] - np.where(possible, np.minimum(GAP_COST * gap, BRIEF_S), SLIP_S)
        before = int(np.argmax(score))
        value, where = float(score[before]), low + before
        if far - SLIP_S > value:
            value, where = far - SLIP_S, far_at
        if value >= 0:
            best[k] += value
            came_from[k] = where
    ridden = [False] * first.size
    at = int(np.argmax(best)) if first.size else -1
    while at >= 0:
        ridden[at] = True
        at = int(came_from[at])
    return tuple(ridden)
