"""Front and rear at the same moments, although a board reads its channels one after the other."""

from __future__ import annotations

import math

import numpy as np

from analysis.calibration import Floats
from analysis.motion import EndMotion, MotionSegment

WHOLE = 1e-6
"""Skews closer than this share of a sample to a whole number of samples need no interpolation."""


def at_common_times(front: EndMotion, rear: EndMotion) -> tuple[tuple[float, float, Floats, Floats], ...]:
    """Put both ends of one log on the front's times, stretch by stretch.

    Parameters
    ----------
    front, rear : EndMotion
        Both of the same log, so that their stretches belong together one by one.

    Returns
    -------
    tuple of (start_s, dt_s, front_mm, rear_mm)
        One a stretch, none joined across a gap. ``front_mm`` and ``rear_mm`` have the front's shape (n,):
        sample ``i`` of both is at ``start_s + i * dt_s``. The rear is interpolated by a straight line between
        its two neighbouring samples; it is NaN where one of them is masked or missing.
    """
    return tuple(
        (ahead.start_s, ahead.dt_s, ahead.travel_mm, _moved(behind, ahead))
        for ahead, behind in zip(front.segments, rear.segments, strict=True)
    )


def _moved(part: MotionSegment, onto: MotionSegment) -> Floats:
    """Give the travel of `part` at the times of `onto`."""
    late = (onto.start_s - part.start_s) / part.dt_s
    whole = round(late) if abs(late - round(late)) < WHOLE else math.floor(late)
    share = late - whole if abs(late - whole) >= WHOLE else 0.0
    here = _shifted(part.travel_mm, whole)
    if share == 0.0:
        return here
    moved = here + share * (_shifted(part.travel_mm, whole + 1) - here)
    moved.setflags(write=False)
    return np.asarray(moved)


def _shifted(values: Floats, by: int) -> Floats:
    """Give ``values[i + by]`` for each ``i``, NaN beyond the ends."""
    if by == 0:
        return values
    moved = np.full(values.shape, np.nan)
    if 0 < by < values.size:
        moved[:-by] = values[by:]
    elif -values.size < by < 0:
        moved[-by:] = values[:by]
    moved.setflags(write=False)
    return moved
