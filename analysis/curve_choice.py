"""Straight or bent: whether the reference points demand a curve (F test), and whether it matters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from analysis.calibration import Floats
from analysis.curve import CurveFit, fit_curve

CHANCE = 0.005
"""A curve is taken where chance alone would bend the points as much in fewer than 1 of 200 calibrations."""

WORTH_SHARE = 0.001
"""… and where it departs from the line by more than this share of the range, and by more than one count."""

POSITIONS_FOR_QUADRATIC = 5
POSITIONS_FOR_CUBIC = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """``curve`` is a key of `analysis.curve.DEGREES`; ``because`` says why in one sentence."""

    curve: str
    because: str


def choose_curve(counts: Floats, mm: Floats) -> Choice:
    """Choose between a straight line, a quadratic and a cubic.

    Parameters
    ----------
    counts, mm : array, shape (n,)
        One row for each reference position (readings at the same one averaged).

    Notes
    -----
    The usual F test of nested least-squares models. A bend that is the same to both sides of the middle (S)
    shows in the cubic only, so the cubic is tried against the line as well as against the quadratic. A curve
    that turns back within the points is never chosen: no potentiometer does that.
    """
    if mm.size < POSITIONS_FOR_QUADRATIC:
        return Choice(
            curve="straight",
            because=f"straight line: {mm.size} positions cannot tell a curve from scatter "
            f"({POSITIONS_FOR_QUADRATIC} or more can)",
        )
    line = fit_curve(counts, mm, 1)
    bent = [fit_curve(counts, mm, 2)]
    if mm.size >= POSITIONS_FOR_CUBIC:
        bent.append(fit_curve(counts, mm, 3))
    demanded = [curve for curve in bent if _better(curve, line) and _matters(curve, line) and curve.monotone]
    if not demanded:
        return Choice(
            curve="straight", because="straight line: the residuals show no bend beyond their scatter"
        )
    best = demanded[0]
    if len(demanded) > 1 and _better(demanded[1], best):
        best = demanded[1]
    name = "quadratic" if best.degree == 2 else "cubic"
    return Choice(
        curve=name,
        because=f"{name}: the points bend away from the straight line by up to {_apart(best, line):.2f} mm, "
        "far more than they scatter",
    )


def _better(curve: CurveFit, simpler: CurveFit) -> bool:
    """F test of the simpler model within the curve."""
    left, right = (float(fit.residuals @ fit.residuals) for fit in (simpler, curve))
    more = simpler.dof - curve.dof
    if right <= 1e-20 * left:
        return True
    ratio = (left - right) / more / (right / curve.dof)
    return bool(fdtrc(more, curve.dof, max(ratio, 0.0)) < CHANCE)


def _matters(curve: CurveFit, line: CurveFit) -> bool:
    low, high = float(line.mm(np.array(line.span.low))), float(line.mm(np.array(line.span.high)))
    one_count = abs(high - low) / (line.span.high - line.span.low)
    return _apart(curve, line) > max(WORTH_SHARE * abs(high - low), one_count)


def _apart(curve: CurveFit, line: CurveFit) -> float:
    """Largest distance between curve and line within the points, mm."""
    counts = np.linspace(line.span.low, line.span.high, 201)
    return float(np.abs(curve.mm(counts) - line.mm(counts)).max())
