"""Front and rear at the same moments, although a board reads its channels one after the other."""

from __future__ import annotations

import math

import numpy as np

from analysis.calibration import Floats, Samples
from analysis.motion import MotionSegment
from analysis.pieces import piece_means

WHOLE = 1e-6
"""Skews closer than this share of a sample to a whole number of samples need no interpolation."""


def means_at_times_of(start_s: float, part: MotionSegment, per: int) -> Floats:
    """Give the means of pieces of the travel of one stretch, moved to the times of the other end's.

    Parameters
    ----------
    start_s : float
        When the other end's first sample of the same stretch was taken.
    part : MotionSegment
    per : int
        Samples in a piece.

    Returns
    -------
    ndarray, shape (n // per,)
        As `piece_means` of travel interpolated by a straight line between the two neighbouring samples, at
        ``start_s + i * part.dt_s``. What lies before or after the stretch is as if masked.
    """
    late = (start_s - part.start_s) / part.dt_s
    whole = round(late) if abs(late - round(late)) < WHOLE else math.floor(late)
    share = late - whole if abs(late - whole) >= WHOLE else 0.0
    here = piece_means(_shifted(part.travel_mm, whole), per)
    if share == 0.0:
        return here
    # The mean of values on straight lines is on the straight line between the means.
    return np.asarray(here + share * (piece_means(_shifted(part.travel_mm, whole + 1), per) - here))


def _shifted(values: Samples, by: int) -> Samples:
    """Give ``values[i + by]`` for each ``i``, NaN beyond the ends."""
    if by == 0:
        return values
    moved = np.full_like(values, np.nan)
    if 0 < by < values.size:
        moved[:-by] = values[by:]
    elif -values.size < by < 0:
        moved[-by:] = values[:by]
    return moved
