"""How far each number of one ride could have come out otherwise on the same ride, by chance alone.

The ride is cut into quarter-seconds, each summed up as a histogram; resampled rides are sums of histograms,
so the mean and every percentile of five hundred of them cost one matrix product.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.motion import EndMotion
from analysis.resampling import SLOW_WAVES, block_weights, mean_block_length, slow_standard_error

Floats = npt.NDArray[np.float64]

PIECE_S = 0.25
REPLICATES = 500
TRAVEL_BIN_MM = 0.5
SPEED_BIN_MM_S = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Standard error of one number within one ride, and the degrees of freedom it was seen with."""

    standard_error: float
    dof: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Pieces:
    """Histograms of the pieces, shape (pieces, bins); ``edges`` has one more than there are bins."""

    counts: Floats
    edges: Floats

    @property
    def centres(self) -> Floats:
        return (self.edges[1:] + self.edges[:-1]) / 2


def spreads(motion: EndMotion, seed: int = 0) -> dict[str, Spread]:
    """Give the spread of the mean and percentiles of one end of one ride.

    Parameters
    ----------
    motion : EndMotion
    seed : int
        Of the resampling; the same seed gives the same answer.

    Returns
    -------
    dict
        By metric name without the end: ``mean_mm``, ``p50_mm``, ``p95_mm``, ``p99_mm``,
        ``compression_p95_mm_s``, ``rebound_p95_mm_s``; a direction in which nothing moved is left out.
    """
    travels = _cut(motion, [part.travel_mm for part in motion.segments])
    speeds = _cut(motion, [part.speed_mm_s for part in motion.segments])
    shares = {"p50_mm": 0.50, "p95_mm": 0.95, "p99_mm": 0.99}
    found = _resampled(_histograms(travels, TRAVEL_BIN_MM), shares, seed, mean="mean_mm")
    for name, sign in (("compression_p95_mm_s", 1.0), ("rebound_p95_mm_s", -1.0)):
        moving = [np.where(sign * piece > 0, sign * piece, np.nan) for piece in speeds]
        if any(np.isfinite(piece).any() for piece in moving):
            found |= _resampled(_histograms(moving, SPEED_BIN_MM_S), {name: 0.95}, seed)
    return found


def _cut(motion: EndMotion, stretches: list[Floats]) -> list[Floats]:
    """Cut each gap-free stretch into pieces, shape (pieces, samples a piece); a rest is dropped."""
    cut: list[Floats] = []
    for part, values in zip(motion.segments, stretches, strict=True):
        per = max(1, round(PIECE_S / part.dt_s))
        rows = values.size // per
        cut.append(values[: rows * per].reshape(rows, per))
    return cut


def _histograms(pieces: list[Floats], width: float) -> _Pieces:
    """Count each piece into common bins; pieces without a single valid sample are left out."""
    highest = max(float(np.nanmax(piece)) for piece in pieces if np.isfinite(piece).any())
    lowest = min(float(np.nanmin(piece)) for piece in pieces if np.isfinite(piece).any())
    bins = int((highest - lowest) / width) + 1
    counts = []
    for piece in pieces:
        rows = piece.shape[0]
        valid = np.isfinite(piece)
        row_of = np.broadcast_to(np.arange(rows)[:, None], piece.shape)[valid]
        bin_of = np.minimum(((piece[valid] - lowest) / width).astype(np.intp), bins - 1)
        counts.append(np.bincount(row_of * bins + bin_of, minlength=rows * bins).reshape(rows, bins))
    edges = lowest + width * np.arange(bins + 1)
    table = np.concatenate(counts).astype(np.float64)
    return _Pieces(counts=table[table.sum(axis=1) > 0], edges=np.asarray(edges, dtype=np.float64))


def _resampled(
    pieces: _Pieces, shares: Mapping[str, float], seed: int, *, mean: str | None = None
) -> dict[str, Spread]:
    """Spread of the percentiles in ``shares``, and of the mean under the name ``mean``."""
    total = pieces.counts.sum(axis=0)
    samples = pieces.counts.sum(axis=1)
    beyond = {
        name: pieces.counts[:, pieces.edges[1:] > _quantiles(total[None, :], pieces.edges, share)[0]]
        for name, share in shares.items()
    }
    above = {name: counts.sum(axis=1) / samples for name, counts in beyond.items()}
    means = pieces.counts @ pieces.centres / samples
    block = mean_block_length(np.column_stack([means, *above.values()]))
    weights = block_weights(samples.size, block, REPLICATES, seed)
    drawn = weights @ pieces.counts
    stretches = samples.size / block
    found: dict[str, Spread] = {}
    for name, share in shares.items():
        values, moments = _quantiles(drawn, pieces.edges, share), _moments(above[name], block)
        if moments < stretches:
            found[name] = _spread(values, moments)
        else:
            found[name] = _with_slow_swings(_spread(values, stretches), above[name], weights)
    if mean is not None:
        drawn_means = drawn @ pieces.centres / drawn.sum(axis=1)
        found[mean] = _with_slow_swings(_spread(drawn_means, stretches), means, weights)
    return found


def _spread(drawn: Floats, stretches: float) -> Spread:
    """Take the scatter of resampled values; resampling finds too little among few stretches, as n does."""
    dof = max(stretches - 1.0, 1.0)
    return Spread(standard_error=float(np.sqrt((dof + 1.0) / dof) * drawn.std(ddof=1)), dof=dof)


def _with_slow_swings(spread: Spread, series: Floats, weights: Floats) -> Spread:
    """Widen a spread by what the resampling misses of slow swings, seen on the series behind the number."""
    slow = slow_standard_error(series)
    seen = _spread(weights @ series / series.size, spread.dof + 1.0).standard_error
    if slow is None or seen == 0.0 or slow <= seen:
        return spread
    wider = spread.standard_error * slow / seen
    return Spread(standard_error=wider, dof=min(spread.dof, float(SLOW_WAVES)))


def _moments(above: Floats, block: int) -> float:
    """Count the separate moments in which a rare percentile was passed: it is known from no more than these.

    No limit where it was passed in most pieces, as a median is.
    """
    passed = np.flatnonzero(above > 0)
    if 2 * passed.size > above.size:
        return math.inf
    return 1 + int(np.count_nonzero(np.diff(passed) > block))


def _quantiles(counts: Floats, edges: Floats, share: float) -> Floats:
    """Give one quantile of each row of histograms, values taken as even within a bin."""
    below = np.cumsum(counts, axis=1)
    wanted = share * below[:, -1:]
    at = np.argmax(below >= wanted, axis=1)
    rows = np.arange(counts.shape[0])
    inside = counts[rows, at]
    before = below[rows, at] - inside
    part = np.divide(wanted[:, 0] - before, inside, out=np.zeros_like(inside), where=inside > 0)
    return np.asarray(edges[at] + part * (edges[1] - edges[0]), dtype=np.float64)
