"""From what a channel reads to where the wheel is: calibration, zero, slant, leverage, the range of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats, LineFit, fit_line
from analysis.curve import DEGREES, CurveFit, fit_curve
from analysis.kinematics import WheelTravel
from analysis.slant import Slant, slant
from ingest.errors import CannotAnswer
from ingest.records import Bike, End, Measures


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Positions:
    """Readings converted: wheel travel in mm (NaN = too far out), and which rest on a carried-on slope."""

    travel_mm: Floats
    carried: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """Turns counts of one sensor into wheel travel.

    ``zero_count`` is the topped-out reading in this mounting, or ``None`` for the zero of the calibration.
    ``linkage`` is ``None`` where the sensor follows the wheel itself. ``curve`` converts where the bike file
    says so; ``line`` stays what the sensor's scale and its doubt are taken from. ``slant`` is ``None`` where
    the sensor runs along what it measures.
    """

    line: LineFit
    zero_count: float | None
    linkage: WheelTravel | None
    curve: CurveFit | None = None
    slant: Slant | None = None

    def positions(self, counts: Floats) -> Positions:
        """Convert counts, shape (n,).

        The zero is taken off in the sensor's own length (mm of stroke, or of wheel), so that a sensor clamped
        2 mm further along the shock is put right before the leverage is applied. The three lengths of a
        sensor aslant were measured topped out, so its stroke follows from what it moved since the zero.
        """
        fit = self.line if self.curve is None else self.curve
        length = fit.mm(counts)
        if self.zero_count is not None:
            length = length - fit.mm(np.array(self.zero_count))
        carried = self.line.span.carried(counts)
        if self.slant is not None:
            length = self.slant.stroke_mm(length)
        travel = length
        if self.linkage is not None:
            travel = self.linkage.wheel_mm(length)
            if self.linkage.span is not None:
                carried |= self.linkage.span.carried(length)
        travel = np.where(self.line.span.outside(counts), np.nan, travel)
        return Positions(travel_mm=travel, carried=carried & ~np.isnan(travel))


def converter(bike: Bike, end: End, zero_count: float | None) -> Converter:
    """Build the conversion of one end from the bike as it is under its setup.

    Raises
    ------
    CannotAnswer
        The sensor follows the shock, but the bike has no leverage at that end; or it stands so far aslant
        that it would turn back within the stroke.
    """
    sensor, suspension = bike.sensors[end], bike.suspension(end)
    linkage = None
    if sensor.measures is Measures.SHOCK_STROKE:
        if suspension is None or suspension.leverage is None:
            raise CannotAnswer(
                f"{end} sensor measures shock stroke, but the bike has no {end} leverage: "
                "add its table or ratio"
            )
        linkage = WheelTravel(suspension.leverage)
    counts, mm = zip(*sensor.calibration, strict=True)
    zero = zero_count if zero_count is not None else sensor.zero_count
    degree = DEGREES[sensor.curve or "straight"]
    curve = fit_curve(counts, mm, degree) if degree > 1 else None
    return Converter(
        line=fit_line(counts, mm),
        zero_count=zero,
        linkage=linkage,
        curve=curve,
        slant=slant(bike, end),
    )
