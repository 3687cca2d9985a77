"""Reference points of a sensor to a straight line, with the doubt of the line.

A potentiometer is linear to within its data sheet; the line through the points a person took is what turns
counts into millimetres. The points also bound it: beyond the last one the line carries on for 5 % of the
range and no further.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ingest.errors import CannotAnswer

Floats = npt.NDArray[np.float64]
Samples = npt.NDArray[np.floating[Any]]
"""One value a sample of a log, float32 where memory counts."""

CARRIED_SHARE = 0.05
"""Share of a range for which the end slope carries on beyond its last point; further out is masked."""

UNREMARKABLE_SHARE = 0.005
"""Closer to the last point than this share of the range is noise, or an end stop that gives; no caution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The range between the first and the last reference point, in whatever unit they have."""

    low: float
    high: float

    def beyond(self, values: Floats, share: float) -> npt.NDArray[np.bool_]:
        """Tell which values lie beyond either end by more than `share` of the range."""
        slack = share * (self.high - self.low)
        return (values < self.low - slack) | (values > self.high + slack)

    def carried(self, values: Floats) -> npt.NDArray[np.bool_]:
        """Tell which values rest on the carried-on end slope: usable, with a caution."""
        return self.beyond(values, UNREMARKABLE_SHARE) & ~self.outside(values)

    def outside(self, values: Floats) -> npt.NDArray[np.bool_]:
        """Tell which values are too far out to convert."""
        return self.beyond(values, CARRIED_SHARE)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFit:
    """``mm = intercept + slope * counts`` by ordinary least squares, and how far to trust it.

    ``covariance`` is that of (intercept, slope). It, the standard errors and ``residual_sd`` are ``None`` for
    two points: a line always passes through two points, so they say nothing about its doubt.
    """

    slope: float
    intercept: float
    slope_se: float | None
    intercept_se: float | None
    covariance: tuple[tuple[float, float], tuple[float, float]] | None
    residual_sd: float | None
    r_squared: float
    dof: int
    points: int
    span: Span

    def mm(self, counts: Floats) -> Floats:
        """Convert counts to mm on the line, without regard to the range."""
        return self.intercept + self.slope * counts

    def standard_error(self, counts: float) -> float | None:
        """Give the standard uncertainty of the line at a reading, mm; ``None`` for two points.

        The correlation of intercept and slope is part of it: without that term a line far from zero counts
        looks far worse than it is (JCGM 100:2008, H.3.5 and equation H.15).
        """
        if self.covariance is None:
            return None
        (offset, both), (_, slope) = self.covariance
        return float(np.sqrt(max(offset + 2 * counts * both + counts**2 * slope, 0.0)))


def fit_line(counts: Sequence[float] | Floats, mm: Sequence[float] | Floats) -> LineFit:
    """Fit a straight line through calibration points by ordinary least squares.

    Parameters
    ----------
    counts, mm : array_like, shape (n,)
        Readings and the positions they were taken at, n ≥ 2, at two different readings or more.

    Returns
    -------
    LineFit

    Raises
    ------
    CannotAnswer
        Fewer than two points, all at one reading, or positions that do not change.

    Notes
    -----
    Sums are taken about the means, so readings far from zero lose no digits. Textbook formulas of simple
    linear regression; checked against NIST StRD Norris in ``tests/published/test_nist_norris.py``.

    Examples
    --------
    >>> line = fit_line([102, 921], [0, 230])
    >>> round(line.slope, 4), line.residual_sd
    (0.2808, None)
    """
    x, y = np.asarray(counts, dtype=float), np.asarray(mm, dtype=float)
    n = x.size
    if n < 2 or y.size != n:
        raise CannotAnswer(f"calibration with {n} point(s): two or more are needed, each with counts and mm")
    x_mean, y_mean = float(x.mean()), float(y.mean())
    dx, dy = x - x_mean, y - y_mean
    sxx, syy = float(dx @ dx), float(dy @ dy)
    if sxx == 0.0 or syy == 0.0:
        raise CannotAnswer(
            "calibration points all have the same counts or the same mm: take them at two positions or more"
        )
    slope = float(dx @ dy) / sxx
    intercept = y_mean - slope * x_mean
    residual = dy - slope * dx
    dof = n - 2
    covariance: tuple[tuple[float, float], tuple[float, float]] | None = None
    residual_sd: float | None = None
    if dof > 0:
        residual_sd = float(np.sqrt(residual @ residual / dof))
        slope_var = residual_sd**2 / sxx
        covariance = (
            (residual_sd**2 / n + x_mean**2 * slope_var, -x_mean * slope_var),
            (-x_mean * slope_var, slope_var),
        )
    return LineFit(
        slope=slope,
        intercept=intercept,
        slope_se=None if covariance is None else covariance[1][1] ** 0.5,
        intercept_se=None if covariance is None else covariance[0][0] ** 0.5,
        covariance=covariance,
        residual_sd=residual_sd,
        r_squared=1.0 - float(residual @ residual) / syy,
        dof=dof,
        points=n,
        span=Span(low=float(x.min()), high=float(x.max())),
    )
