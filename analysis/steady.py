"""Whether a reading stands still: for taking a reference point from a board that is being watched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

HOLD_S = 1.5
BLOCK_S = 0.1
LEAST_COUNTS = 1.5
FULL_SCALES = (1023, 4095, 65_535)
STILL_SHARE = 1 / 1500
"""Of the converter's full scale, or 1.5 counts if that is more: what a hand that holds still lets through."""
MAD_TO_SD = 1.4826


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The last moments of one channel: mean and scatter (sd) in counts, and whether it stands still.

    ``limit_counts`` is how far 0.1-s means may wander while standing still. ``enough`` is false as long as
    less than the whole time has been seen.
    """

    counts: float
    spread_counts: float
    limit_counts: float
    steady: bool
    enough: bool


def standing(rows: Sequence[tuple[float, float]], hold_s: float = HOLD_S) -> Standing | None:
    """Judge the last ``hold_s`` seconds of rows ``(t_s, counts)``, oldest first; ``None`` without rows.

    >>> still = standing([(0.01 * n, 500 + n % 2) for n in range(200)])
    >>> still.steady, still.counts
    (True, 500.5)
    """
    if not rows:
        return None
    t, counts = np.asarray(rows, dtype=float).T
    inside = t > t[-1] - hold_s
    enough = bool(t[-1] - t[0] >= hold_s)
    t, counts = t[inside], counts[inside]
    block = np.floor((t[-1] - t) / BLOCK_S + 1e-9).astype(int)
    sizes = np.bincount(block)
    means = np.bincount(block, counts)[sizes > 0] / sizes[sizes > 0]
    noise = MAD_TO_SD * float(np.median(np.abs(np.diff(counts)))) / 2**0.5 if counts.size > 1 else 0.0
    full = next((scale for scale in FULL_SCALES if counts.max() <= scale), 2**24 - 1)
    limit = max(LEAST_COUNTS, full * STILL_SHARE, 6 * noise / max(1.0, float(np.median(sizes))) ** 0.5)
    return Standing(
        counts=float(counts.mean()),
        spread_counts=float(counts.std()),
        limit_counts=limit,
        steady=enough and bool(means.max() - means.min() <= limit),
        enough=enough,
    )
