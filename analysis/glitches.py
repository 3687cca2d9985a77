"""Samples that cannot be motion: an electrical spike that jumps away and back again within a few ms."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats

IMPOSSIBLE_MM_S = 15_000.0
"""No wheel moves this fast on its suspension; falling off a house roof lands at half of it."""

LEAST_JUMP_MM = 5.0
"""At high sample rates a few counts of noise would pass for such a speed; a smaller spike does no harm."""

LONGEST_S = 0.003
LONGEST_SAMPLES = 2
"""A wheel thrown out and back at such speeds within this time is a plug with a bad contact."""


def lone_spikes(travel_mm: Floats, dt_s: float) -> npt.NDArray[np.intp]:
    """Find samples that jump away at an impossible speed and back again within 3 ms.

    Parameters
    ----------
    travel_mm : ndarray, shape (n,)
        One stretch of uniform samples. A jump right at one of its ends counts as a spike of the end sample.
    dt_s : float
        Sample interval, s.

    Returns
    -------
    ndarray of int
        Where they are, rising.
    """
    limit = max(IMPOSSIBLE_MM_S * dt_s, LEAST_JUMP_MM)
    if travel_mm.size < 3:
        return np.empty(0, dtype=np.intp)
    steps = np.diff(travel_mm)
    big = np.flatnonzero((steps > limit) | (steps < -limit))
    if big.size == 0:
        return big
    # A jump from sample i to i + 1; all samples up to the jump back belong to the spike.
    away = np.flatnonzero(
        (np.sign(steps[big[:-1]]) != np.sign(steps[big[1:]]))
        & (np.diff(big) <= max(LONGEST_SAMPLES, LONGEST_S / dt_s))
    )
    begins = np.bincount(big[away] + 1, minlength=travel_mm.size)
    ends = np.bincount(big[away + 1] + 1, minlength=travel_mm.size)
    there = np.flatnonzero(np.cumsum(begins - ends))
    # At an end there is only one jump to see; it counts where the motion next to it is calm.
    last = steps.size - 1
    at_edges = [
        edge
        for edge, step, beside in ((0, 0, 1), (last + 1, last, last - 1))
        if step in big and beside not in big
    ]
    return np.union1d(there, np.asarray(at_edges, dtype=np.intp))
