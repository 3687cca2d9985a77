"""Times as they were written down, turned into stretches of one even rate, which is what a log holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

GAP_PERIODS = 1.5
JITTER_PERIODS = 0.5
MOST_GAPS = 1 / 3  # more steps than this that look like gaps: the times are no even sampling at all
Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Rows ``first`` up to before ``last``: row ``i`` was taken at ``start + (i - first) * period``."""

    first: int
    last: int
    start: float
    period: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """The rows that should have come between row ``after`` and the next one."""

    after: int
    missing: int


def even_runs(times: Array) -> tuple[tuple[Run, ...], tuple[Hole, ...]] | None:
    """Cut increasing times into even runs, and say where rows are missing; ``None`` if they are not even.

    A step of more than 1.5 times the median is a hole. Within a run no row lies further than half a period
    from its even place; a run in which one would is cut, without a row lost.

    Parameters
    ----------
    times : array (n,), n ≥ 2
        Strictly increasing, in any unit, which is also the unit of the runs.

    >>> runs, holes = even_runs(np.array([0.0, 10, 20, 31, 40, 70, 80, 90]))
    >>> [(run.first, run.last) for run in runs], holes
    ([(0, 5), (5, 8)], (Hole(after=4, missing=2),))
    """
    steps = np.diff(times)
    is_hole = steps > GAP_PERIODS * (1 + 1e-9) * np.median(steps)
    holes = np.flatnonzero(is_hole)
    if len(holes) > MOST_GAPS * len(steps):
        return None
    period = float(np.mean(steps[~is_hole]))
    bounds = [0, *(int(hole) + 1 for hole in holes), len(times)]
    runs: list[Run] = []
    for first, last in pairwise(bounds):
        for run in _split(times, first, last, period):
            runs.append(_after(runs, run))
    missing = (Hole(after=int(i), missing=max(1, round(steps[i] / period) - 1)) for i in holes)
    return tuple(runs), tuple(missing)


def _split(times: Array, first: int, last: int, period: float) -> list[Run]:
    """Cut where the times leave a straight line furthest, until each piece is even (Douglas and Peucker)."""
    done: list[Run] = []
    waiting = [(first, last)]
    while waiting:
        first, last = waiting.pop()
        piece = times[first:last]
        run = _fit(piece, first, period) or _fit(piece, first, _own_period(piece, period))
        if run is not None:
            done.append(run)
            continue
        chord = np.linspace(piece[0], piece[-1], len(piece))
        cut = first + 1 + int(np.argmax(np.abs(piece - chord)[1:-1]))
        waiting += [(cut, last), (first, cut)]
    return done


def _own_period(piece: Array, otherwise: float) -> float:
    """The period that fits this piece best, for a clock that drifts or a rate that was changed."""
    if len(piece) < 3:
        return float(piece[-1] - piece[0]) if len(piece) == 2 else otherwise
    index = np.arange(len(piece)) - (len(piece) - 1) / 2
    return float(index @ piece / (index @ index))


def _fit(piece: Array, first: int, period: float) -> Run | None:
    off = piece - np.arange(len(piece)) * period
    low, high, allowed = float(off.min()), float(off.max()), JITTER_PERIODS * period
    if high - low > 2 * allowed:
        return None
    start = float(np.clip(off.mean(), high - allowed, low + allowed))
    return Run(first=first, last=first + len(piece), start=start, period=period)


def _after(runs: Sequence[Run], run: Run) -> Run:
    """Keep the rows of neighbouring runs in order where jitter would let them overlap."""
    if not runs:
        return run
    before = runs[-1]
    earliest = before.start + (before.last - before.first - 0.5) * before.period
    return (
        run
        if run.start >= earliest
        else Run(first=run.first, last=run.last, start=earliest, period=run.period)
    )
