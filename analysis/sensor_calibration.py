"""A sensor's calibration as a measurement: scale, offset, linearity, hysteresis, doubt of later positions.

Readings at the same reference position are averaged before their scatter is judged: going back to the same
gauge block shows play in the sensor, but says nothing new about the length of the block.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

import numpy as np

from analysis.calibration import Floats, LineFit, fit_line
from analysis.calibration_cautions import Findings, cautions
from analysis.curve import DEGREES, CurveFit, fit_curve
from analysis.curve_choice import Choice, choose_curve
from analysis.gum import Contribution, combined, pooled_sd, rectangular, with_uncertainty
from analysis.results import Quantity
from analysis.sensor import LINEARITY_SHARE
from ingest.errors import UsageError

LATER_POINTS = 5

Covariance: TypeAlias = tuple[tuple[float, float], tuple[float, float]]


class Way(StrEnum):
    """Which way the sensor moved to a reference position."""

    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferencePoint:
    """One reading at a known position. ``way`` is ``None`` where nobody noted which way it was reached."""

    counts: float
    mm: float
    way: Way | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterPosition:
    """A position read with this calibration: value, doubt, and what the doubt is made of."""

    counts: float
    position_mm: Quantity
    standard_uncertainty_mm: float
    contributions: tuple[Contribution, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Calibration:
    """What a set of reference points makes of a sensor.

    ``scale_mm_per_count``, ``offset_mm`` and their ``covariance`` (offset, scale) belong to the straight line
    through all points; linearity error and residuals too. ``curve`` names what converts later readings, and
    ``fit`` is it. ``point_sd_mm`` is what one reference position is worth, with ``dof`` degrees of freedom.
    ``hysteresis_mm`` is the largest difference between the ways, ``None`` where no position was reached both
    ways. ``usable`` is false where the counts do not go one way while the mm rise: a point is wrong then, and
    nothing follows from the rest. ``later`` are positions from one end of the range to the other.
    """

    points: tuple[ReferencePoint, ...]
    residuals_mm: tuple[float, ...]
    positions: int
    scale_mm_per_count: float
    offset_mm: float
    scale_se: float | None
    offset_se: float | None
    covariance: Covariance | None
    point_sd_mm: float | None
    dof: float
    range_mm: tuple[float, float]
    range_counts: tuple[float, float]
    linearity_error_mm: float | None
    linearity_error_percent: float | None
    hysteresis_mm: float | None
    curve: str
    curve_because: str
    u_ref_mm: float | None
    step_counts: float
    usable: bool
    later: tuple[LaterPosition, ...]
    cautions: tuple[str, ...]
    fit: CurveFit
    fit_of_positions: CurveFit
    shape_mm: float

    def at(self, counts: float) -> LaterPosition:
        """Give the position at a later reading with its combined uncertainty."""
        return self._later(counts, None)

    def between(self, zero: float, counts: float) -> LaterPosition:
        """Give how far it is from one reading to another: the offset and what else they share cancels."""
        return self._later(counts, zero)

    def _later(self, counts: float, zero: float | None) -> LaterPosition:
        value = float(self.fit.mm(np.array(counts)))
        if zero is not None:
            value -= float(self.fit.mm(np.array(zero)))
        parts = self._contributions(counts, zero)
        return LaterPosition(
            counts=counts,
            position_mm=with_uncertainty(value, parts),
            standard_uncertainty_mm=combined(parts)[0],
            contributions=parts,
        )

    def _contributions(self, counts: float, zero: float | None) -> tuple[Contribution, ...]:
        parts = []
        if self.point_sd_mm is not None:
            spread = math.sqrt(max(self.fit_of_positions.leverage_of(counts, zero), 0.0))
            parts.append(
                Contribution(
                    cause="reference points",
                    standard_uncertainty_mm=self.point_sd_mm * spread,
                    dof=self.dof,
                    basis=f"{self.positions} positions, each good to {self.point_sd_mm:.2f} mm",
                )
            )
        # Two readings lie in two places: each has its own rounding and its own departure from the fit.
        both = 1.0 if zero is None else math.sqrt(2.0)
        grain = self.step_counts * abs(float(self.fit.slope(counts)))
        basis = f"up to {self.shape_mm:.2f} mm off the {self.curve} fit"
        parts += [
            _type_b("linearity", both * self.shape_mm, basis),
            _type_b("resolution", both * grain / 2, f"one count is {grain:.2f} mm"),
        ]
        if self.hysteresis_mm is not None:
            basis = f"the ways differ by {self.hysteresis_mm:.2f} mm"
            parts.append(_type_b("hysteresis", both * self.hysteresis_mm / 2, basis))
        return tuple(parts)


def calibrate(
    points: Sequence[ReferencePoint],
    *,
    u_ref_mm: float | None = None,
    step_counts: float = 1.0,
    curve: str | None = None,
) -> Calibration:
    """Fit reference points and say what later positions are worth.

    Parameters
    ----------
    points : sequence of ReferencePoint
        At two positions or more, in any order.
    u_ref_mm : float, optional
        Standard uncertainty of one reference position (gauge block, tape), placed anew each time. Without it
        the scatter of the points alone speaks, and two points say nothing of their own doubt.
    step_counts : float
        Resolution of the readings.
    curve : str, optional
        A key of `analysis.curve.DEGREES`; without it the residuals decide.

    Raises
    ------
    CannotAnswer
        Fewer than two positions, or readings that do not change.

    Notes
    -----
    The doubt of the fit is the covariance of least squares carried to the later reading, correlation
    included (JCGM 100:2008, H.3). The variance of one position is the residual variance, pooled with the
    stated ``u_ref_mm`` by degrees of freedom; where the points scatter clearly more than the reference
    explains (beyond 97.5 % of χ²), only their scatter counts.

    Examples
    --------
    >>> two = calibrate([ReferencePoint(counts=102, mm=0), ReferencePoint(counts=921, mm=230)], u_ref_mm=0.5)
    >>> round(two.scale_mm_per_count, 4), two.linearity_error_mm
    (0.2808, None)
    """
    _check(u_ref_mm, step_counts, curve)
    counts = np.array([point.counts for point in points], dtype=float)
    mm = np.array([point.mm for point in points], dtype=float)
    line = fit_line(counts, mm)
    mean_counts, mean_mm = _positions(counts, mm)
    choice = (
        choose_curve(mean_counts, mean_mm) if curve is None else Choice(curve=curve, because="as asked for")
    )
    degree = DEGREES[choice.curve]
    fit, of_positions = fit_curve(counts, mm, degree), fit_curve(mean_counts, mean_mm, degree)
    straight = fit_curve(mean_counts, mean_mm, 1)
    expected = (
        None if u_ref_mm is None else math.hypot(u_ref_mm, rectangular(step_counts / 2) * abs(line.slope))
    )
    point_sd, dof, too_much = pooled_sd(of_positions.residual_sd, of_positions.dof, expected)
    covariance = _covariance(mean_counts, point_sd if choice.curve == "straight" else straight.residual_sd)
    span = float(mm.max() - mm.min())
    seen = mean_mm.size > 2
    linearity = float(np.abs(straight.residuals).max()) if seen else None
    findings = Findings(
        counts=mean_counts,
        mm=mean_mm,
        residuals_mm=of_positions.residuals,
        hat_values=np.array([of_positions.leverage_of(float(at)) for at in mean_counts]),
        dof=of_positions.dof,
        span_mm=span,
        one_count_mm=abs(line.slope) * step_counts,
        hysteresis_mm=_hysteresis(points, line),
        curve=choice.curve,
        because=choice.because,
        u_ref_mm=u_ref_mm,
        point_sd_mm=point_sd,
        too_much_scatter=too_much,
    )
    draft = Calibration(
        points=tuple(points),
        residuals_mm=tuple((mm - line.mm(counts)).tolist()),
        positions=int(mean_mm.size),
        scale_mm_per_count=line.slope,
        offset_mm=line.intercept,
        scale_se=None if covariance is None else math.sqrt(covariance[1][1]),
        offset_se=None if covariance is None else math.sqrt(covariance[0][0]),
        covariance=covariance,
        point_sd_mm=point_sd,
        dof=dof,
        range_mm=(float(mm.min()), float(mm.max())),
        range_counts=(float(counts.min()), float(counts.max())),
        linearity_error_mm=linearity,
        linearity_error_percent=None if linearity is None else 100 * linearity / span,
        hysteresis_mm=findings.hysteresis_mm,
        curve=choice.curve,
        curve_because=choice.because,
        u_ref_mm=u_ref_mm,
        step_counts=step_counts,
        usable=findings.one_way,
        later=(),
        cautions=tuple(cautions(findings)),
        fit=fit,
        fit_of_positions=of_positions,
        shape_mm=_shape(of_positions, span, too_much=too_much),
    )
    later = np.linspace(*draft.range_counts, LATER_POINTS)
    return replace(draft, later=tuple(draft.at(float(at)) for at in later))


def _check(u_ref_mm: float | None, step_counts: float, curve: str | None) -> None:
    if u_ref_mm is not None and not 0 < u_ref_mm < math.inf:
        raise UsageError(
            f"reference uncertainty {u_ref_mm:g} mm: it has to be above 0, such as 0.5 for a tape"
        )
    if not 0 < step_counts < math.inf:
        raise UsageError(f"resolution {step_counts:g} counts: it has to be above 0, usually 1")
    if curve is not None and curve not in DEGREES:
        raise UsageError(f"curve {curve!r}: allowed are {', '.join(DEGREES)}")


def _positions(counts: Floats, mm: Floats) -> tuple[Floats, Floats]:
    """Average the readings taken at the same reference position; shape (positions,) each."""
    places, which = np.unique(mm, return_inverse=True)
    return np.bincount(which, counts) / np.bincount(which), places


def _covariance(counts: Floats, sd: float | None) -> Covariance | None:
    """Covariance of offset and scale of the straight line, for one position worth ``sd``."""
    if sd is None:
        return None
    mean = float(counts.mean())
    slope = sd**2 / float(((counts - mean) ** 2).sum())
    return ((sd**2 / counts.size + mean**2 * slope, -mean * slope), (-mean * slope, slope))


def _shape(fit: CurveFit, span_mm: float, *, too_much: bool) -> float:
    """Half width within which the sensor may depart from its curve between the points, mm."""
    assumed = LINEARITY_SHARE * span_mm
    if fit.residual_sd is None:
        return assumed
    largest = float(np.abs(fit.residuals).max())
    return largest if too_much else min(assumed, largest)


def _hysteresis(points: Sequence[ReferencePoint], line: LineFit) -> float | None:
    """Largest difference between a position reached upwards and the same reached downwards, mm."""
    found = []
    for place in {point.mm for point in points}:
        up, down = (
            [point.counts for point in points if point.mm == place and point.way is way] for way in Way
        )
        if up and down:
            found.append(abs(float(np.mean(up) - np.mean(down)) * line.slope))
    return max(found, default=None)


def _type_b(cause: str, half_width_mm: float, basis: str) -> Contribution:
    return Contribution(
        cause=cause, standard_uncertainty_mm=rectangular(abs(half_width_mm)), dof=math.inf, basis=basis
    )
