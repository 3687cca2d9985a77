"""How far each number of one ride could have come out otherwise on the same ride, by chance alone.

The ride is cut into quarter-seconds, each summed up as a histogram; resampled rides are sums of histograms,
so the mean and every percentile of hundreds of them cost one matrix product. What the short resampled
stretches cannot know, how a number swings over the whole ride, is measured beside it. For the middle of the
travel it decides: a suspension pushed in comes back out past its mean, so the mean over a ride is known
better than stretches alone would say. For the rare ends of the travel it can only widen.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.motion import EndMotion
from analysis.resampling import block_weights, mean_block_length, slow_standard_error, slow_waves

Floats = npt.NDArray[np.float64]

PIECE_S = 0.25
REPLICATES = 400
ENOUGH_HZ = 250.0
"""Of a faster log every so-manyth sample is looked at: neighbours that close say the same."""

TRAVEL_BIN_MM = 0.5
SPEED_BIN_MM_S = 10.0
MIDDLE = 0.50
TRAVEL_SHARES = {"p50_mm": MIDDLE, "p95_mm": 0.95, "p99_mm": 0.99}
SPEED_SHARES = ({"compression_p95_mm_s": 0.95}, {"rebound_p95_mm_s": 0.95})


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

    @property
    def samples(self) -> Floats:
        """How many samples each piece has; none where nothing moved that way."""
        return np.asarray(self.counts.sum(axis=1))

    @property
    def mean(self) -> float:
        return float(self.counts.sum(axis=0) @ self.centres / self.counts.sum())

    def quantile(self, share: float) -> float:
        return float(_quantiles(self.counts.sum(axis=0)[None, :], self.edges, share)[0])

    def beyond(self, share: float) -> Floats:
        """How many samples of each piece lie beyond a quantile of the whole ride."""
        return np.asarray(self.counts[:, self.edges[1:] > self.quantile(share)].sum(axis=1))

    def pull_of_mean(self) -> Floats:
        """How much each piece pulls the mean away from what it is."""
        return self.counts @ self.centres - self.mean * self.samples

    def pull_of_quantile(self, share: float) -> Floats:
        """How many samples more of each piece than its due lie beyond a quantile."""
        beyond = self.beyond(share)
        return np.asarray(beyond - beyond.sum() / self.samples.sum() * self.samples)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Draws:
    """Resampled rides: how often each piece occurs in each, (replicates, pieces), in stretches of so many."""

    weights: Floats
    block: int

    @property
    def stretches(self) -> float:
        return float(self.weights.shape[1] / self.block)


def spreads(motion: EndMotion, seed: int = 0) -> dict[str, Spread]:
    """Give the spread of the mean and percentiles of one end of one ride.

    Parameters
    ----------
    motion : EndMotion
        With one valid sample at least.
    seed : int
        Of the resampling; the same seed gives the same answer.

    Returns
    -------
    dict
        By metric name without the end: ``mean_mm``, ``p50_mm``, ``p95_mm``, ``p99_mm``,
        ``compression_p95_mm_s``, ``rebound_p95_mm_s``; a direction in which nothing moved is left out. Empty
        where no stretch holds a valid quarter of a second.
    """
    travels, speeds = _cut(motion)
    if not any(np.isfinite(piece).any() for piece in travels):
        return {}
    travel = _histograms(travels, TRAVEL_BIN_MM)
    known = travel.samples > 0
    travel = _Pieces(counts=travel.counts[known], edges=travel.edges)
    asked: list[tuple[_Pieces, Mapping[str, float]]] = [(travel, TRAVEL_SHARES)]
    for shares, sign in zip(SPEED_SHARES, (1.0, -1.0), strict=True):
        moving = [np.where(sign * piece > 0, sign * piece, np.nan) for piece in speeds]
        if any(np.isfinite(piece).any() for piece in moving):
            found = _histograms(moving, SPEED_BIN_MM_S)
            asked.append((_Pieces(counts=found.counts[known], edges=found.edges), shares))
    pulls = [travel.pull_of_mean()]
    pulls += [pieces.pull_of_quantile(share) for pieces, shares in asked for share in shares.values()]
    block = mean_block_length(np.column_stack(pulls))
    draws = _Draws(weights=block_weights(int(known.sum()), block, REPLICATES, seed), block=block)
    spread = {"mean_mm": _of_mean(travel, draws)}
    for pieces, wanted in asked:
        drawn = draws.weights @ pieces.counts
        for name, share in wanted.items():
            spread[name] = _of_quantile(pieces, draws, _quantiles(drawn, pieces.edges, share), share)
    return spread


def _of_mean(pieces: _Pieces, draws: _Draws) -> Spread:
    drawn = draws.weights @ (pieces.counts @ pieces.centres) / (draws.weights @ pieces.samples)
    return _by_slow_swings(_spread(drawn, draws.stretches), pieces.pull_of_mean(), draws)


def _of_quantile(pieces: _Pieces, draws: _Draws, drawn: Floats, share: float) -> Spread:
    """Spread of a quantile: of a rare one as from the few moments it was passed in."""
    moments = _moments(pieces.beyond(share), draws.block)
    if moments < draws.stretches:
        return _spread(drawn, moments)
    plain = _spread(drawn, draws.stretches)
    lasting = _by_slow_swings(plain, pieces.pull_of_quantile(share), draws)
    return lasting if share == MIDDLE or lasting.standard_error > plain.standard_error else plain


def _spread(drawn: Floats, stretches: float) -> Spread:
    """Take the scatter of resampled values; resampling finds too little among few stretches, as n does."""
    dof = max(stretches - 1.0, 1.0)
    return Spread(standard_error=float(np.sqrt((dof + 1.0) / dof) * drawn.std(ddof=1)), dof=dof)


def _by_slow_swings(spread: Spread, pull: Floats, draws: _Draws) -> Spread:
    """Scale a spread by what of it lasts over the ride, seen on what each piece pulls the number by."""
    waves = slow_waves(pull.size)
    slow = slow_standard_error(pull, waves)
    seen = _spread(draws.weights @ pull / pull.size, draws.stretches).standard_error
    if slow is None or seen == 0.0:
        return spread
    return Spread(
        standard_error=spread.standard_error * slow / seen, dof=min(draws.stretches - 1.0, float(waves))
    )


def _moments(beyond: Floats, block: int) -> float:
    """Count the separate moments in which a rare percentile was passed: it is known from no more than these.

    No limit where it was passed in most pieces, as a median is.
    """
    passed = np.flatnonzero(beyond > 0)
    if 2 * passed.size > beyond.size:
        return math.inf
    return 1 + int(np.count_nonzero(np.diff(passed) > block))


def _cut(motion: EndMotion) -> tuple[list[Floats], list[Floats]]:
    """Cut travel and speed of each gap-free stretch into pieces, (pieces, samples); a rest is dropped."""
    travels: list[Floats] = []
    speeds: list[Floats] = []
    for part in motion.segments:
        step = max(1, math.floor(1.0 / (ENOUGH_HZ * part.dt_s) + 1e-6))
        per = max(1, round(PIECE_S / (step * part.dt_s)))
        for cut, values in ((travels, part.travel_mm), (speeds, part.speed_mm_s)):
            thinned = values[::step].astype(float)
            rows = thinned.size // per
            cut.append(thinned[: rows * per].reshape(rows, per))
    return travels, speeds


def _histograms(pieces: Sequence[Floats], width: float) -> _Pieces:
    """Count each piece into common bins."""
    valid = [np.isfinite(piece) for piece in pieces]
    kept = [piece[known] for piece, known in zip(pieces, valid, strict=True)]
    highest = max(float(values.max()) for values in kept if values.size)
    lowest = min(float(values.min()) for values in kept if values.size)
    bins = int((highest - lowest) / width) + 1
    counts = []
    for values, known in zip(kept, valid, strict=True):
        rows = known.shape[0]
        row_of = np.repeat(np.arange(rows), np.count_nonzero(known, axis=1))
        bin_of = np.minimum(((values - lowest) / width).astype(np.intp), bins - 1)
        counts.append(np.bincount(row_of * bins + bin_of, minlength=rows * bins).reshape(rows, bins))
    edges = lowest + width * np.arange(bins + 1)
    return _Pieces(
        counts=np.concatenate(counts).astype(np.float64), edges=np.asarray(edges, dtype=np.float64)
    )


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
