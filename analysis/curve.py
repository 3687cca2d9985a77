"""A sensor that is not straight: a low polynomial through its reference points, no digits lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb

import numpy as np

from analysis.calibration import Floats, Span
from ingest.errors import CannotAnswer

DEGREES = {"straight": 1, "quadratic": 2, "cubic": 3}
"""What a calibration may be fitted with, by the word for it in the bike file."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CurveFit:
    """``mm = Σ coefficients[k] * z**k`` with ``z = (counts − centre) / half_range``, by least squares.

    ``unscaled`` is (XᵀX)⁻¹ in the same scaled powers, shape (degree + 1, degree + 1): times the variance of
    one point it is the covariance. ``residual_sd`` is ``None`` where no point is left over to show it.
    """

    degree: int
    centre: float
    half_range: float
    coefficients: Floats
    unscaled: Floats
    residuals: Floats
    residual_sd: float | None
    dof: int
    span: Span

    def mm(self, counts: Floats) -> Floats:
        """Convert counts to mm; beyond the points the end slope carries on, a polynomial would run away."""
        inside = np.clip(counts, self.span.low, self.span.high)
        return np.asarray(self._value(inside) + self.slope(inside) * (counts - inside))

    def slope(self, counts: Floats | float) -> Floats:
        """Give the mm that one count is worth at a reading."""
        z = (np.clip(counts, self.span.low, self.span.high) - self.centre) / self.half_range
        return np.asarray(np.polyval((np.arange(self.degree + 1) * self.coefficients)[:0:-1], z)) / (
            self.half_range
        )

    def leverage_of(self, counts: float, since: float | None = None) -> float:
        """Give by how much the variance of one point counts in the fit at a reading (the hat value).

        With ``since``, in the difference of two positions: what both share cancels.
        """
        powers = ((counts - self.centre) / self.half_range) ** np.arange(self.degree + 1)
        if since is not None:
            powers = powers - ((since - self.centre) / self.half_range) ** np.arange(self.degree + 1)
        return float(powers @ self.unscaled @ powers)

    @property
    def monotone(self) -> bool:
        """Whether mm only rise or only fall between the first and the last point."""
        slopes = self.slope(np.linspace(self.span.low, self.span.high, 201))
        return bool((slopes > 0).all() or (slopes < 0).all())

    def plain_powers(self) -> tuple[Floats, Floats | None]:
        """Give the coefficients of counts⁰, counts¹, … and their standard errors (``None`` without any)."""
        move = np.zeros((self.degree + 1, self.degree + 1))
        for k in range(self.degree + 1):
            for j in range(k + 1):
                move[j, k] = comb(k, j) * (-self.centre) ** (k - j) / self.half_range**k
        errors = None
        if self.residual_sd is not None:
            errors = self.residual_sd * np.sqrt(np.diag(move @ self.unscaled @ move.T))
        return move @ self.coefficients, errors

    def _value(self, counts: Floats) -> Floats:
        return np.asarray(np.polyval(self.coefficients[::-1], (counts - self.centre) / self.half_range))


def fit_curve(counts: Sequence[float] | Floats, mm: Sequence[float] | Floats, degree: int) -> CurveFit:
    """Fit a polynomial of degree 1 to 3 by least squares (QR of centred and scaled powers).

    Raises
    ------
    CannotAnswer
        Fewer different readings than the polynomial has coefficients.

    Notes
    -----
    Powers of raw counts lose most digits of a double; counts moved and scaled to ±1 do not. Checked against
    NIST StRD Pontius in ``tests/published/test_nist_pontius.py``.

    Examples
    --------
    >>> curve = fit_curve([0, 100, 200, 300], [0, 11, 24, 39], 2)
    >>> round(float(curve.mm(np.array(150.0))), 3)
    17.25
    """
    x, y = np.asarray(counts, dtype=float), np.asarray(mm, dtype=float)
    if np.unique(x).size <= degree:
        raise CannotAnswer(
            f"{np.unique(x).size} different readings: a curve of degree {degree} needs {degree + 1} or more"
        )
    centre, half_range = float(x.max() + x.min()) / 2, float(x.max() - x.min()) / 2
    powers = ((x - centre) / half_range)[:, None] ** np.arange(degree + 1)
    q, r = np.linalg.qr(powers)
    inverse = np.linalg.inv(r)
    coefficients = inverse @ (q.T @ y)
    residuals = y - powers @ coefficients
    dof = x.size - degree - 1
    return CurveFit(
        degree=degree,
        centre=centre,
        half_range=half_range,
        coefficients=coefficients,
        unscaled=inverse @ inverse.T,
        residuals=residuals,
        residual_sd=float(np.sqrt(residuals @ residuals / dof)) if dof > 0 else None,
        dof=dof,
        span=Span(low=float(x.min()), high=float(x.max())),
    )
