"""A ride in short pieces: the mean of each, which is all that slow things need."""

from __future__ import annotations

import numpy as np

from analysis.calibration import Floats, Samples

LEAST_VALID = 0.5


def piece_means(values: Samples, per: int) -> Floats:
    """Give the mean of each whole piece of ``per`` samples, shape (n // per,); a rest at the end is dropped.

    Masked (NaN) samples are left out; a piece with more than half of them masked is NaN.

    >>> piece_means(np.array([1.0, 3.0, np.nan, 5.0, 7.0]), 2).tolist()
    [2.0, 5.0]
    """
    table = _table(values, per)
    means: Floats = np.einsum("ij->i", table).astype(float) / per
    return _holes_filled(means, table)


def piece_mean_squares(values: Samples, per: int) -> Floats:
    """Give the mean square of each whole piece of ``per`` samples, masked samples as in `piece_means`."""
    table = _table(values, per)
    squares: Floats = np.einsum("ij,ij->i", table, table).astype(float) / per
    return _holes_filled(squares, table, squared=True)


def bridged(values: Floats) -> Floats:
    """Lay straight lines across masked samples, shape (n,); as they are where all or none are masked.

    For frequencies only: a straight line adds next to nothing above a few hertz, a hole would spoil it all.
    """
    valid = np.isfinite(values)
    if valid.all() or not valid.any():
        return values
    at = np.arange(values.size)
    return np.asarray(np.interp(at, at[valid], values[valid]))


def _table(values: Samples, per: int) -> Samples:
    rows = values.size // per
    return values[: rows * per].reshape(rows, per)


def _holes_filled(means: Floats, table: Samples, *, squared: bool = False) -> Floats:
    """Do the few pieces again that hold masked samples: all others never look for any."""
    holed = np.flatnonzero(np.isnan(means))
    if not holed.size:
        return means
    part = table[holed] ** 2 if squared else table[holed]
    valid = np.count_nonzero(np.isfinite(part), axis=1)
    enough = valid >= LEAST_VALID * table.shape[1]
    means[holed[enough]] = np.nansum(part[enough], axis=1) / valid[enough]
    return means
