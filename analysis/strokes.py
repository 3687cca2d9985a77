"""Strokes: travel over time as a list of closed movements, small ones inside large ones.

Rainflow counting after ASTM E1049-85 (Reapproved 2017), section 5.4.4. Each cycle is a movement there and
back; what never closes is counted as half a cycle.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats, Samples
from ingest.errors import CannotAnswer


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cycles:
    """Movements in the order they close, shape (k,) each. ``count`` is 1 for a whole cycle, 0.5 for half."""

    start: Floats
    end: Floats
    count: Floats

    @property
    def size(self) -> Floats:
        """How far each movement goes, in the unit of the values."""
        return np.abs(self.end - self.start)

    @property
    def middle(self) -> Floats:
        """The middle of each movement."""
        return (self.start + self.end) / 2.0


def turning_points(values: npt.ArrayLike) -> Floats:
    """Keep the first value, each value where the direction changes, and the last; shape (n,) to (m,).

    >>> turning_points([0, 1, 2, 2, 1, 3]).tolist()
    [0.0, 2.0, 1.0, 3.0]
    """
    x: Samples = np.asarray(values)
    if x.dtype.kind != "f":
        x = x.astype(float)
    if np.isnan(x).any():
        raise CannotAnswer("strokes cannot be counted across masked samples: count each stretch by itself")
    steps = np.diff(x)
    moves = np.flatnonzero(steps != 0)
    if not moves.size:
        return x[:1].astype(float)
    rises = steps[moves] > 0
    turns = moves[np.flatnonzero(rises[1:] != rises[:-1])] + 1
    return np.concatenate([x[:1], x[turns], x[-1:]]).astype(float)


def count_strokes(values: npt.ArrayLike) -> Cycles:
    """Count the movements in a series by rainflow counting.

    Parameters
    ----------
    values : array_like, shape (n,)
        One stretch of travel without masked samples, any unit.

    Returns
    -------
    Cycles

    Raises
    ------
    CannotAnswer
        A value is NaN.

    Examples
    --------
    >>> cycles = count_strokes([-2, 1, -3, 5, -1, 3, -4, 4, -2])
    >>> sorted(zip(cycles.size.tolist(), cycles.count.tolist()))
    [(3.0, 0.5), (4.0, 0.5), (4.0, 1.0), (6.0, 0.5), (8.0, 0.5), (8.0, 0.5), (9.0, 0.5)]
    """
    closed: list[tuple[float, float, float]] = []
    open_points: list[float] = []
    for point in turning_points(values).tolist():
        open_points.append(point)
        while len(open_points) >= 3:
            before, start, end = open_points[-3:]
            if abs(end - start) < abs(start - before):
                break
            if len(open_points) == 3:
                # The range that holds the starting point: half a cycle, and the start moves on.
                closed.append((before, start, 0.5))
                del open_points[0]
            else:
                closed.append((before, start, 1.0))
                del open_points[-3:-1]
    closed += [(start, end, 0.5) for start, end in pairwise(open_points)]
    table = np.asarray(closed, dtype=float).reshape(-1, 3)
    return Cycles(start=table[:, 0], end=table[:, 1], count=table[:, 2])
