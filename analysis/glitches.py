"""Lone samples that cannot be motion: an electrical spike that goes and comes back within two samples."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats

IMPOSSIBLE_MM_S = 15_000.0
"""No wheel moves this fast on its suspension; falling off a house roof lands at half of it."""

LEAST_JUMP_MM = 5.0
"""At high sample rates a few counts of noise would pass for such a speed; a smaller spike does no harm."""


def lone_spikes(travel_mm: Floats, dt_s: float) -> npt.NDArray[np.intp]:
    """Find samples that jump away at an impossible speed and back again at once.

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
    # A jump from sample i to i + 1 arrives at i + 1 and leaves from i.
    arrives, leaves = big + 1, big
    middle = np.intersect1d(arrives, leaves)
    lone = middle[np.sign(steps[middle - 1]) != np.sign(steps[middle])]
    # At an end there is only one jump to see; it counts where the motion next to it is calm.
    last = steps.size - 1
    at_edges = [
        edge
        for edge, step, beside in ((0, 0, 1), (last + 1, last, last - 1))
        if step in big and beside not in big
    ]
    return np.union1d(lone, np.asarray(at_edges, dtype=np.intp))
