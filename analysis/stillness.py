"""Find where the suspension stood still: the spans a sag reading may be taken from.

Everything works on a thin track, about twenty means a second: that takes out the noise of the converter,
keeps a lift or a push (which last a good part of a second), and makes five minutes a few thousand numbers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

STEP_S = 0.05
WINDOW_S = 1.5
EDGE_S = 0.25
# A rider who sits still moves the bike by up to a millimetre either way; a bike being let down moves faster.
FIDGET_RANGE_MM = 2.5
# A rider who sways goes that far before settling; a lift or a push goes much further.
CLEAR_MM = 2.0
EDGE_MM = 0.3
MAD_TO_SD = 1.4826


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Track:
    """Means of some 50 ms each: when (s, the middle of each) and where. NaN stands between two segments."""

    t_s: Floats
    mm: Floats

    def within(self, span: StillSpan) -> Floats:
        """Give the finite values inside a span."""
        inside = self.mm[(self.t_s >= span.start_s) & (self.t_s <= span.end_s)]
        return inside[np.isfinite(inside)]


@dataclass(frozen=True, slots=True, kw_only=True)
class StillSpan:
    """One stretch without real motion.

    ``level_mm`` is the median, ``creep_mm`` how far the last third lies from the first, ``side`` where the
    motion before came from (`approach`).
    """

    start_s: float
    end_s: float
    level_mm: float
    creep_mm: float
    side: str | None


def thin(pieces: Iterable[tuple[float, float, npt.NDArray[np.generic]]]) -> Track:
    """Take means of some 50 ms of each piece ``(start_s, dt_s, values of shape (n,))``.

    A mean with a missing (NaN) sample in it is missing. Readings slower than that stay as they are.
    """
    times: list[Floats] = [np.empty(0)]
    means: list[Floats] = [np.empty(0)]
    for start_s, dt_s, values in pieces:
        per = max(1, round(STEP_S / dt_s))
        rows = values.size // per
        if rows == 0:
            continue
        # The last sample of a piece is followed by a gap: a missing value keeps windows from reaching across.
        means_of = np.asarray(values[: rows * per], dtype=np.float64).reshape(rows, per).mean(axis=1)
        block = np.asarray(means_of, dtype=np.float64)
        centre = np.asarray(start_s + dt_s * (per * np.arange(rows) + (per - 1) / 2), dtype=np.float64)
        times += [centre, np.array([centre[-1] + per * dt_s / 2])]
        means += [block, np.array([np.nan])]
    return Track(t_s=np.concatenate(times), mm=np.concatenate(means))


def still_spans(track: Track) -> tuple[StillSpan, ...]:
    """Find the stretches of at least 1.5 s in which the suspension rests.

    Rest means: no 1.5 s of it cover more than 2.5 mm, or six times the noise of the means where that is
    more, so a coarse or noisy converter does not look like motion.

    Parameters
    ----------
    track : Track
        From `thin`, in wheel mm from any zero; more = deeper.

    Returns
    -------
    tuple of StillSpan
        In order of time.
    """
    position = track.mm
    step_s = _step_s(track)
    window = max(3, round(WINDOW_S / step_s))
    if position.size < window:
        return ()
    views = np.lib.stride_tricks.sliding_window_view(position, window)
    with np.errstate(invalid="ignore"):
        quiet = views.max(axis=1) - views.min(axis=1) <= max(FIDGET_RANGE_MM, 6 * _noise(position))
    # A mean is at rest when it lies well inside any quiet window; at the edges of one, motion may begin.
    edge = min(round(EDGE_S / step_s), (window - 1) // 2)
    first = np.pad(quiet.astype(int), (edge, window - edge))
    last = np.pad(quiet.astype(int), (window - edge, edge))
    resting = np.cumsum(first - last) > 0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], resting, [False]]).astype(int)))
    return tuple(_span(track, int(start), int(stop), step_s) for start, stop in edges.reshape(-1, 2))


def settled(inside_mm: Floats) -> Floats:
    """Drop the last of the settling from a reading: what lies away from its median."""
    away = np.abs(inside_mm - np.median(inside_mm))
    return inside_mm[away <= max(EDGE_MM, 3 * MAD_TO_SD * float(np.median(away)))]


def approach(before_mm: Floats, level_mm: float, spread_mm: float) -> str | None:
    """Say which way the suspension last moved before it came to rest.

    The last motion decides which way friction holds: from less travel (let down) reads ``from above``, from
    deeper (let up) ``from below``. ``None`` where nothing moved before.
    """
    clear = max(CLEAR_MM, 4 * spread_mm)
    away = np.flatnonzero(np.abs(before_mm - level_mm) > clear)
    if away.size == 0:
        return None
    return "from above" if before_mm[away[-1]] < level_mm else "from below"


def _span(track: Track, first: int, last: int, step_s: float) -> StillSpan:
    inside = track.mm[first:last]
    level = float(np.median(inside))
    spread = MAD_TO_SD * float(np.median(np.abs(inside - level)))
    third = max(1, inside.size // 3)
    creep = float(np.median(inside[-third:]) - np.median(inside[:third]))
    half = step_s / 2
    return StillSpan(
        start_s=float(track.t_s[first]) - half,
        end_s=float(track.t_s[last - 1]) + half,
        level_mm=level,
        creep_mm=creep,
        side=approach(track.mm[:first], level, spread),
    )


def _step_s(track: Track) -> float:
    return float(np.median(np.diff(track.t_s))) if track.t_s.size > 1 else STEP_S


def _noise(position: Floats) -> float:
    """Noise of the means, as a standard deviation: from the median step, which ignores the motion between."""
    steps = np.abs(np.diff(position))
    steps = steps[np.isfinite(steps)]
    return MAD_TO_SD * float(np.median(steps)) / 2**0.5 if steps.size else 0.0


def overlap_s(one: StillSpan, other: StillSpan) -> float:
    """Seconds for which both ends rested; negative where they did not meet."""
    return min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
