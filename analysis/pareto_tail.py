"""The tail of a distribution over a threshold: a generalised Pareto fitted by likelihood, and what it says.

After S. Coles, An Introduction to Statistical Modeling of Extreme Values, Springer 2001, chapter 4: what
exceeds a high threshold by ``y`` has the tail ``(1 + shape y / scale)^(-1 / shape)``. Excesses may be cut off
at a limit, beyond which only their number counts. Any one unit throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq, minimize
from scipy.special import chdtri

Floats = npt.NDArray[np.float64]

SHAPES = np.linspace(-0.7, 1.0, 69) + 1e-7
"""Shapes looked at. Towards -1 a tail ends as a wall just behind the deepest peak seen, which a few peaks
cannot show; from 1 on it has no mean. The little keeps the grid off 0, a removable hole."""

LOG_SHARES = np.concatenate([np.linspace(-40.0, -12.0, 15)[:-1], np.linspace(-12.0, -0.02, 140), [-1e-6]])

DEVIANCE_95 = float(chdtri(1, 0.05))
"""Twice the fall of the log-likelihood within which 95 % of intervals from many peaks cut: 3.84."""
FEW_PEAKS_95 = 4.3
"""The same from few peaks: of 1500 simulated records of 35 to 120 peaks with a known rate, 95 in 100 lay
within 4.2 and not within 3.84. The tenth more is for records unlike those (judgement)."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Excesses:
    """How far peaks went over a threshold, shape (k,), each below ``limit``; ``beyond`` more reached it."""

    below: Floats
    beyond: int = 0
    limit: float = math.inf

    @property
    def count(self) -> int:
        """Count all peaks over the threshold."""
        return int(self.below.size) + self.beyond


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ParetoTail:
    """A fitted tail. ``covariance`` of (scale, shape) from the observed information, shape (2, 2)."""

    scale: float
    shape: float
    covariance: Floats
    log_likelihood: float

    def excess_of(self, share: float) -> float:
        """Give the excess that this share of the peaks over the threshold reaches."""
        return float(self.scale * np.expm1(-self.shape * math.log(share)) / self.shape)


def fit_tail(excesses: Excesses) -> ParetoTail:
    """Fit scale and shape by maximum likelihood, from the best of a coarse grid.

    It takes some peaks below the limit. The shape is kept from -0.7 to 1 (see `SHAPES`).
    """

    mean = float(np.mean(excesses.below))

    def loss(at: Floats) -> float:
        if not SHAPES[0] <= at[1] <= SHAPES[-1] or abs(at[0] - math.log(mean)) > 20:
            return math.inf
        return -float(_log_likelihood(excesses, math.exp(at[0]), at[1]))

    starts = [
        np.array([math.log(mean * factor), shape])
        for factor in (0.7, 1.0, 1.5, 2.2)
        for shape in (-0.6, -0.3, -0.05, 0.2)
    ]
    start = min(starts, key=loss)
    best = minimize(loss, start, method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9}).x
    scale, shape = math.exp(best[0]), float(best[1])
    if abs(shape) < 1e-9:
        shape = 1e-9
    return ParetoTail(
        scale=scale,
        shape=shape,
        covariance=_covariance(excesses, scale, shape),
        log_likelihood=float(_log_likelihood(excesses, scale, shape)),
    )


def excess_interval(excesses: Excesses, share: float) -> tuple[float, float]:
    """Give the 95 % profile-likelihood interval of the excess that a given share of the peaks reaches.

    The rides do not need it. It cuts the same profile as `rate_beyond`, and it is the one that published
    figures check (`tests/published/test_coles_rain.py`).
    """
    fitted = fit_tail(excesses)
    best = fitted.excess_of(share)

    def over(excess: float) -> float:
        profile = _profile(excesses, excess, np.array([math.log(share)]))[0]
        return 2 * (fitted.log_likelihood - float(profile)) - DEVIANCE_95

    # A share reached by every tenth peak is inside the data: there is always a root on either side.
    low, high = best, best
    while over(low) < 0:
        low *= 0.9
    while over(high) < 0:
        high *= 1.2
    return float(brentq(over, low, best)), float(brentq(over, best, high))


def rate_beyond(
    excesses: Excesses, excess: float, exposure: float, dispersion: float = 1.0
) -> tuple[float, tuple[float, float]]:
    """Give how often peaks reach an excess, per unit of exposure, with its 95 % interval.

    The number of peaks is Poisson, ``dispersion`` times as scattered; rate, scale and shape are judged by one
    likelihood, of which the interval is the profile.

    Parameters
    ----------
    excesses : Excesses
        One peak or more.
    excess : float
        The excess asked for, at most the limit of the excesses.
    exposure : float
        How long, or how far, the peaks were collected.
    dispersion : float
        1 or more; widens the interval as that many times fewer peaks would.

    Returns
    -------
    (rate, (low, high))
        The low end is 0 where a tail that ends before the excess explains the peaks well enough.
    """
    logs = _profile(excesses, excess, LOG_SHARES)
    count = excesses.count
    rates = np.geomspace(1e-6, 1e1, 401) * count / exposure
    log_peaks = np.log(rates)[:, None] - LOG_SHARES
    joint = logs + count * log_peaks - np.exp(log_peaks) * exposure
    profile = joint.max(axis=1)
    never = -math.inf
    if excesses.beyond == 0:
        never = _ending_before(excesses, excess) + count * math.log(count / exposure) - count
    top = max(float(profile.max()), never)
    over = 2 * (top - profile) - FEW_PEAKS_95 * dispersion
    best = 0.0 if never >= profile.max() else _top_of(rates, profile)
    inside = np.flatnonzero(over <= 0)
    if not inside.size:
        return best, (0.0, float(rates[0]))
    first, last = int(inside[0]), int(inside[-1])
    from_never = first == 0 or 2 * (top - never) <= FEW_PEAKS_95 * dispersion
    low = 0.0 if from_never else _crossing(rates, over, first - 1)
    return best, (low, _crossing(rates, over, last) if last + 1 < rates.size else float(rates[last]))


def _crossing(rates: Floats, over: Floats, at: int) -> float:
    """Give the rate between two of the grid at which a curve crosses nought."""
    part = over[at] / (over[at] - over[at + 1])
    return float(rates[at] * np.power(rates[at + 1] / rates[at], part))


def _top_of(rates: Floats, profile: Floats) -> float:
    """Give the rate at the top of a profile, by a parabola through its highest three points."""
    at = int(np.clip(np.argmax(profile), 1, rates.size - 2))
    left, middle, right = profile[at - 1 : at + 2]
    bend = left - 2 * middle + right
    aside = 0.0 if bend >= 0 else float(np.clip(0.5 * (left - right) / bend, -1.0, 1.0))
    step = float(rates[at + 1] / rates[at])
    return float(rates[at] * np.power(step, aside))


def _profile(excesses: Excesses, excess: float, log_shares: Floats) -> Floats:
    """Highest log-likelihood for each share of peaks that reaches an excess: over all shapes, shape (k,).

    Share and shape give the scale, so only the shape is left to look for.
    """
    scale = SHAPES * excess / np.expm1(-SHAPES * log_shares[:, None])
    found = _log_likelihood(excesses, scale, SHAPES[None, :])
    at = np.clip(np.argmax(found, axis=1), 1, SHAPES.size - 2)
    rows = np.arange(log_shares.size)
    left, middle, right = (found[rows, at + k] for k in (-1, 0, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        higher = middle - (left - right) ** 2 / (8 * (left - 2 * middle + right))
    smooth = np.isfinite(higher) & (left - 2 * middle + right < 0) & (middle >= left) & (middle >= right)
    return np.asarray(np.where(smooth, higher, found.max(axis=1)))


def _ending_before(excesses: Excesses, excess: float) -> float:
    """Highest log-likelihood of the tails that end before an excess, so that nothing ever reaches it."""
    deepest = float(excesses.below.max())
    shapes = SHAPES[SHAPES < -0.01]
    ends = np.linspace(deepest, max(excess, deepest), 101) * (1 + 1e-9)
    scale = -shapes * ends[:, None]
    return float(_log_likelihood(excesses, scale, shapes[None, :]).max())


def _log_likelihood(excesses: Excesses, scale: npt.ArrayLike, shape: npt.ArrayLike) -> Floats:
    """Log-likelihood for scales and shapes of a common shape; minus infinity where a peak is impossible."""
    scale, shape = np.asarray(scale, dtype=float)[..., None], np.asarray(shape, dtype=float)[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = np.log1p(np.maximum(shape * excesses.below / scale, -1.0))
        terms = -np.log(scale[..., 0]) * excesses.below.size - (1 / shape[..., 0] + 1) * inside.sum(axis=-1)
        if excesses.beyond:
            terms = terms + excesses.beyond * _log_share(excesses.limit, scale[..., 0], shape[..., 0])
    return np.asarray(np.where(np.isfinite(terms), terms, -np.inf))


def _log_share(excess: float, scale: npt.ArrayLike, shape: npt.ArrayLike) -> Floats:
    with np.errstate(divide="ignore"):
        inside = np.maximum(np.asarray(shape) * excess / np.asarray(scale), -1.0)
        return np.asarray(-np.log1p(inside) / np.asarray(shape))


def _covariance(excesses: Excesses, scale: float, shape: float) -> Floats:
    """Invert the observed information, by differences; not a number where the fit lies on an edge."""
    steps = (1e-4 * scale, 1e-4)

    def at(i: int, j: int) -> float:
        return float(_log_likelihood(excesses, scale + i * steps[0], shape + j * steps[1]))

    middle = at(0, 0)
    scale_2 = (at(1, 0) - 2 * middle + at(-1, 0)) / steps[0] ** 2
    shape_2 = (at(0, 1) - 2 * middle + at(0, -1)) / steps[1] ** 2
    both = (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / (4 * steps[0] * steps[1])
    information = -np.array([[scale_2, both], [both, shape_2]])
    if not np.isfinite(information).all() or np.linalg.det(information) <= 0:
        return np.full((2, 2), np.nan)
    return np.asarray(np.linalg.inv(information))
