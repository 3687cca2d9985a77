"""The leverage measured on the bike: spring out, the wheel jacked up and down, stroke against axle height.

One smooth curve (a cubic where there are positions enough) is laid through both ways, with the play between
wheel and shock as one more unknown: up the wheel is ahead of the shock by half of it, down it is behind.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.calibration import Floats
from analysis.gum import coverage_factor, pooled_sd
from analysis.results import Quantity
from analysis.sensor_calibration import Way
from ingest.errors import CannotAnswer, UsageError

POSITIONS_FOR_A_RATE = 5
POSITIONS_FOR_A_CUBIC = 6
GOOD_POSITIONS = 8
TABLE_ROWS = 9
STRAY_SDS = 4.0
SHOWS_PLAY_MM = 1.0
STEEPEST_STRETCH = 0.35
"""A step between two positions longer than this share of the travel leaves the curve unseen (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyPoint:
    """One position: shock stroke and axle height in mm, from any zero, and the way it was reached."""

    stroke_mm: float
    axle_mm: float
    way: Way | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeverageAt:
    """d(wheel travel) / d(shock stroke) at one stroke, with the wheel travel there."""

    stroke_mm: float
    wheel_mm: float
    leverage: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class LeverageSurvey:
    """What a survey makes of a linkage. Stroke and wheel travel count from the lowest position.

    ``table`` is ``(wheel mm, stroke mm)`` for the bike file and ``leverage`` the slope along it; both are
    empty where ``supports_wheel_rate`` is false. ``mean_leverage`` is that of the whole travel, a secant.
    ``play_mm`` is how far the wheel moves before the shock follows, ``None`` with one way only.
    """

    points: tuple[SurveyPoint, ...]
    residuals_mm: tuple[float, ...]
    positions: int
    degree: int
    supports_wheel_rate: bool
    table: tuple[tuple[float, float], ...]
    leverage: tuple[LeverageAt, ...]
    mean_leverage: Quantity
    travel_mm: Quantity
    stroke_mm: float
    play_mm: Quantity | None
    point_sd_mm: float | None
    dof: float
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Fit:
    """Axle height over scaled stroke: ``values`` of powers 0…degree and play last, ``unscaled`` (XᵀX)⁻¹."""

    centre: float
    half: float
    degree: int
    values: Floats
    unscaled: Floats
    residuals: Floats
    dof: int
    sd: float
    sd_dof: float
    too_much: bool

    def powers(self, stroke: float) -> Floats:
        z = (stroke - self.centre) / self.half
        row = np.zeros(self.values.size)
        row[: self.degree + 1] = z ** np.arange(self.degree + 1)
        return row

    def slopes(self, stroke: float) -> Floats:
        z = (stroke - self.centre) / self.half
        row = np.zeros(self.values.size)
        k = np.arange(1, self.degree + 1)
        row[1 : self.degree + 1] = k * z ** (k - 1) / self.half
        return row

    def quantity(self, row: Floats, relative: float = 0.0) -> Quantity:
        """Give a linear combination of the unknowns; ``relative`` is a doubt of the scale of the stroke."""
        value = float(row @ self.values)
        fitted = self.sd**2 * float(row @ self.unscaled @ row)
        variance = fitted + (relative * value) ** 2
        dof = self.sd_dof * (variance / fitted) ** 2 if fitted > 0 else math.inf
        k = coverage_factor(dof)
        return Quantity(value=value, expanded_uncertainty=k * math.sqrt(variance), coverage_factor=k)


def survey_leverage(
    points: Sequence[SurveyPoint], *, u_axle_mm: float | None = None, stroke_scale_share: float = 0.0
) -> LeverageSurvey:
    """Work out leverage, true travel and play from a jacked wheel.

    Parameters
    ----------
    points : sequence of SurveyPoint
        At least three different strokes; 8 to 10 positions, up and down, are a good survey.
    u_axle_mm : float, optional
        Standard uncertainty of one axle height (tape or rule); pooled with the scatter of the points.
    stroke_scale_share : float
        Standard uncertainty of the stroke sensor's scale, as a share of it.

    Raises
    ------
    CannotAnswer
        Fewer than three positions, or an axle that does not rise while the stroke does.

    Notes
    -----
    Least squares of a polynomial of degree 3 (2 below six positions, 1 below five) and the play. The
    uncertainty of a slope is the covariance of the fit carried to it, plus that of the sensor's scale.

    Examples
    --------
    >>> rows = [SurveyPoint(stroke_mm=s, axle_mm=300 + 2.5 * s - 0.003 * s * s) for s in range(0, 91, 10)]
    >>> found = survey_leverage(rows, u_axle_mm=0.5)
    >>> round(found.travel_mm.value, 1), round(found.leverage[0].leverage.value, 3)
    (200.7, 2.5)
    """
    if u_axle_mm is not None and not 0 < u_axle_mm < math.inf:
        raise UsageError(
            f"uncertainty of the axle heights {u_axle_mm:g} mm: it has to be above 0, such as 0.5"
        )
    positions = _positions(points)
    if positions < 3:
        raise CannotAnswer(
            f"{positions} position(s): a leverage needs three or more, and 8 to 10 are a survey"
        )
    fit = _fit(points, positions, u_axle_mm)
    strokes = np.array([point.stroke_mm for point in points])
    low, high = float(strokes.min()), float(strokes.max())
    grid = np.linspace(low, high, TABLE_ROWS)
    _check_slopes(fit, grid)
    supported = positions >= POSITIONS_FOR_A_RATE
    travel = fit.quantity(fit.powers(high) - fit.powers(low))
    secant = (fit.powers(high) - fit.powers(low)) / (high - low)
    play = np.eye(fit.values.size)[-1] if fit.values.size > fit.degree + 1 else None
    play_mm = None if play is None else fit.quantity(play)
    rows = tuple(_at(fit, float(stroke), low, stroke_scale_share) for stroke in grid) if supported else ()
    return LeverageSurvey(
        points=tuple(points),
        residuals_mm=tuple(fit.residuals.tolist()),
        positions=positions,
        degree=fit.degree,
        supports_wheel_rate=supported,
        table=tuple((round(row.wheel_mm, 2), round(row.stroke_mm, 2)) for row in rows),
        leverage=rows,
        mean_leverage=fit.quantity(secant, stroke_scale_share),
        travel_mm=travel,
        stroke_mm=high - low,
        play_mm=play_mm,
        point_sd_mm=fit.sd,
        dof=fit.sd_dof,
        cautions=tuple(_cautions(points, fit, positions, play_mm, u_axle_mm)),
    )


def _positions(points: Sequence[SurveyPoint]) -> int:
    """Count different positions: a height reached again on the way back is no new one."""
    return max(
        (len({round(point.axle_mm) for point in points if point.way is way}) for way in (*Way, None)),
        default=0,
    )


def _fit(points: Sequence[SurveyPoint], positions: int, u_axle_mm: float | None) -> _Fit:
    strokes = np.array([point.stroke_mm for point in points])
    heights = np.array([point.axle_mm for point in points])
    degree = 1 if positions < POSITIONS_FOR_A_RATE else 2 if positions < POSITIONS_FOR_A_CUBIC else 3
    centre, half = float(strokes.max() + strokes.min()) / 2, float(strokes.max() - strokes.min()) / 2
    if half <= 0:
        raise CannotAnswer("the stroke did not change while the axle was jacked: is this the right sensor?")
    columns = [((strokes - centre) / half) ** k for k in range(degree + 1)]
    ways = np.array([{Way.UP: 0.5, Way.DOWN: -0.5}.get(p.way, 0.0) if p.way else 0.0 for p in points])
    if (ways > 0).any() and (ways < 0).any():
        columns.append(ways)
    design = np.column_stack(columns)
    if len(points) < design.shape[1] or np.linalg.matrix_rank(design) < design.shape[1]:
        raise CannotAnswer(
            f"{len(points)} readings are too few or too alike: jack the wheel in 8 to 10 steps"
        )
    q, r = np.linalg.qr(design)
    inverse = np.linalg.inv(r)
    values = inverse @ (q.T @ heights)
    residuals = heights - design @ values
    dof = len(points) - design.shape[1]
    seen = math.sqrt(float(residuals @ residuals) / dof) if dof > 0 else None
    sd, sd_dof, too_much = pooled_sd(seen, dof, u_axle_mm)
    if sd is None:
        raise CannotAnswer(
            f"{len(points)} readings leave nothing to judge their scatter by: take more, or say how well "
            "the heights are known"
        )
    return _Fit(
        centre=centre,
        half=half,
        degree=degree,
        values=values,
        unscaled=inverse @ inverse.T,
        residuals=residuals,
        dof=dof,
        sd=sd,
        sd_dof=sd_dof,
        too_much=too_much,
    )


def _check_slopes(fit: _Fit, grid: Floats) -> None:
    slopes = [float(fit.slopes(float(stroke)) @ fit.values) for stroke in grid]
    if max(slopes) <= 0:
        raise CannotAnswer(
            "the stroke falls while the axle rises: the sensor's calibration runs the wrong way, "
            "or the columns are swapped"
        )
    if min(slopes) <= 0:
        raise CannotAnswer("the axle does not rise steadily with the stroke: a row was read or typed wrongly")


def _at(fit: _Fit, stroke: float, low: float, scale_share: float) -> LeverageAt:
    return LeverageAt(
        stroke_mm=stroke - low,
        wheel_mm=float((fit.powers(stroke) - fit.powers(low)) @ fit.values),
        leverage=fit.quantity(fit.slopes(stroke), scale_share),
    )


def _cautions(
    points: Sequence[SurveyPoint],
    fit: _Fit,
    positions: int,
    play: Quantity | None,
    u_axle_mm: float | None,
) -> Iterator[str]:
    if positions < POSITIONS_FOR_A_RATE:
        yield (
            f"{positions} positions do not support a wheel rate: they give the mean leverage of the travel, "
            f"not how it changes; jack the wheel in {GOOD_POSITIONS} to 10 steps"
        )
    elif positions < GOOD_POSITIONS:
        yield f"{positions} positions are few for a changing leverage: {GOOD_POSITIONS} to 10 are better"
    worst = int(np.abs(fit.residuals).argmax())
    if fit.too_much:
        yield (
            f"the heights scatter by {fit.sd:.1f} mm about a smooth curve, more than ±{u_axle_mm:g} mm "
            f"explains; the row at {points[worst].axle_mm:g} mm lies furthest off"
        )
    elif abs(fit.residuals[worst]) > STRAY_SDS * fit.sd:
        yield f"the row at {points[worst].axle_mm:g} mm lies {abs(fit.residuals[worst]):.1f} mm off the rest"
    heights = np.sort([point.axle_mm for point in points])
    if positions >= POSITIONS_FOR_A_RATE and np.diff(heights).max() > STEEPEST_STRETCH * np.ptp(heights):
        yield "the positions leave a long stretch of the travel out: spread them evenly"
    if play is None:
        yield "taken one way only: play in the linkage does not show (jack up, then let down again)"
    elif play.value > max(SHOWS_PLAY_MM, play.expanded_uncertainty):
        yield f"the wheel moves {play.value:.1f} mm before the shock follows: look at bearings and bushes"
    elif play.value < -play.expanded_uncertainty:
        yield "the ways differ the wrong way round: were up and down swapped?"
    yield "the travel is the true one only if the wheel was jacked from topped out to full bump"
