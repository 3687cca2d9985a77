"""How many strokes of which size a ride had: rainflow counting (ASTM E1049) of millions of samples.

Movements under 5 mm are left out: noise, tyre hum and the grain of the converter make thousands of them, and
they say nothing about how the travel is used. A small movement inside a larger one closes where both its
neighbours are at least as large, whatever comes before and after; so all such are taken out at once, pass
after pass, and what never closes is left for `analysis.strokes.count_strokes`. The counts are those that
function gives of the same turning points.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats, Samples
from analysis.motion import MotionSegment
from analysis.ride_results import StrokeClass
from analysis.strokes import count_strokes, turning_points

BORDERS_MM = (5.0, 10.0, 20.0, 40.0, 80.0, 160.0, float("inf"))
"""Each class reaches from one border to just under the next; what is smaller than the first is left out."""

LOOKED_AT_S = 0.004
"""Turning points are looked for on this grid. A wheel on its tyre swings 10 to 20 times a second, so a peak
between two looks is missed by a hundredth of the stroke."""

LONGEST_MASK_S = 0.1
"""A stroke may have a masked spike in it, but not a masked stretch this long."""


def stroke_classes(segments: Iterable[MotionSegment], duration_s: float) -> tuple[StrokeClass, ...]:
    """Count the strokes of a ride by size.

    Parameters
    ----------
    segments : iterable of MotionSegment
        Stretches of one end; no stroke reaches from one to the next, nor across a masked 0.1 s.
    duration_s : float
        Valid time, which ``per_10_min`` relates to.

    Returns
    -------
    tuple of StrokeClass
        One a class of `BORDERS_MM`. A stroke is a movement there and back and belongs to the class of its
        size, one way; what never came back counts half.
    """
    totals = np.zeros(len(BORDERS_MM) - 1)
    for part in segments:
        for stretch in _stretches(part):
            sizes, counts = stroke_sizes(turning_points(stretch), BORDERS_MM[0])
            which = np.searchsorted(BORDERS_MM, sizes, side="right") - 1
            totals += np.bincount(which, weights=counts, minlength=totals.size)
    return tuple(
        StrokeClass(from_mm=low, to_mm=high, count=count, per_10_min=600.0 * count / duration_s)
        for low, high, count in zip(BORDERS_MM[:-1], BORDERS_MM[1:], totals.tolist(), strict=True)
    )


def stroke_sizes(points: Floats, least: float) -> tuple[Floats, Floats]:
    """Give size and count of the strokes between turning points, leaving those smaller than `least` out.

    Parameters
    ----------
    points : ndarray, shape (n,)
        Turning points: each step goes the other way than the one before.
    least : float
        Smallest stroke that is given, in the unit of the points.

    Returns
    -------
    sizes, counts : ndarray, shape (k,)
        As `count_strokes` has them, in another order: 1 for there and back, 0.5 for one way.

    Examples
    --------
    >>> sizes, counts = stroke_sizes(np.array([0.0, 30, 20, 55, 45, 100, 0]), 5.0)
    >>> sorted(zip(sizes.tolist(), counts.tolist()))
    [(10.0, 1.0), (10.0, 1.0), (100.0, 0.5), (100.0, 0.5)]
    """
    closed: list[Floats] = []
    while points.size > 3:
        steps = np.abs(np.diff(points))
        # The first of several equal steps closes, so that no point is taken out twice.
        inner = np.flatnonzero((steps[1:-1] < steps[:-2]) & (steps[1:-1] <= steps[2:])) + 1
        if not inner.size:
            break
        found = steps[inner]
        closed.append(found[found >= least])
        kept = np.ones(points.size, dtype=np.bool_)
        kept[inner] = kept[inner + 1] = False
        points = points[kept]
    rest = count_strokes(points)
    large = rest.size >= least
    whole = np.concatenate([*closed, np.empty(0)])
    return np.concatenate([whole, rest.size[large]]), np.concatenate([np.ones(whole.size), rest.count[large]])


def _stretches(part: MotionSegment) -> Iterator[Samples]:
    """Give the travel on the grid, in pieces between long masks, without masked samples."""
    step = max(1, round(LOOKED_AT_S / part.dt_s))
    travel = np.ascontiguousarray(part.travel_mm[::step])
    known = ~np.isnan(travel)
    if known.all():
        yield travel
        return
    at: npt.NDArray[np.intp] = np.flatnonzero(known)
    longest = LONGEST_MASK_S / (step * part.dt_s)
    yield from np.split(travel[at], np.flatnonzero(np.diff(at) - 1 >= longest) + 1)
