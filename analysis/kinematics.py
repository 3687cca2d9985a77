"""Shock stroke to wheel travel.

Leverage here is d(wheel travel) / d(shock stroke), as in the bike file: 2.4 means that the wheel moves
2.4 mm for each mm of the shock.
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator

from analysis.calibration import CARRIED_SHARE, Floats, Span
from ingest.errors import CannotAnswer
from ingest.records import Leverage

INVERSE_POINTS = 4001
"""Grid for the way back from wheel to stroke; its error stays below 0.00001 mm on any real linkage."""


class WheelTravel:
    """Wheel travel from shock stroke: one ratio, or a monotone cubic through a table.

    The cubic is PCHIP (F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM J.
    Numer. Anal. 17, 1980; end slopes as in scipy): it passes through every point, never overshoots between
    two, and its derivative, the leverage, has no steps. Past either end of the table the end slope carries on
    for 5 % of the table's range; further out the answer is NaN.

    Parameters
    ----------
    leverage : Leverage
        A table ``(wheel mm, stroke mm)`` of two rows or more, both columns rising, or one ratio > 0.

    Raises
    ------
    CannotAnswer
        The table does not rise, or neither table nor ratio is given.

    Examples
    --------
    >>> linkage = WheelTravel(Leverage(table=((0, 0), (110, 50), (220, 95))))
    >>> float(linkage.wheel_mm(50.0))
    110.0
    """

    def __init__(self, leverage: Leverage) -> None:
        self.span: Span | None = None
        self._ratio = leverage.ratio
        if leverage.table is None:
            if leverage.ratio is None or not leverage.ratio > 0:
                raise CannotAnswer(f"leverage ratio {leverage.ratio}: give a table, or one ratio above 0")
            return
        wheel, stroke = np.asarray(leverage.table, dtype=float).T
        if wheel.size < 2 or not (np.diff(wheel) > 0).all() or not (np.diff(stroke) > 0).all():
            raise CannotAnswer(
                "leverage table: wheel travel and stroke must both rise from row to row, two rows or more"
            )
        self.span = Span(low=float(stroke[0]), high=float(stroke[-1]))
        self._curve = PchipInterpolator(stroke, wheel)
        self._slope = self._curve.derivative()

    def wheel_mm(self, stroke_mm: Floats | float) -> Floats:
        """Give the wheel travel at a stroke, mm; NaN further than 5 % outside the table."""
        stroke = np.asarray(stroke_mm, dtype=float)
        if self.span is None:
            return np.asarray(self._ratio * stroke)
        inside = np.clip(stroke, self.span.low, self.span.high)
        wheel = self._curve(inside) + self._slope(inside) * (stroke - inside)
        return np.where(self.span.outside(stroke), np.nan, wheel)

    def leverage(self, stroke_mm: Floats | float) -> Floats:
        """Give d(wheel travel) / d(shock stroke) at a stroke; NaN further than 5 % outside the table."""
        stroke = np.asarray(stroke_mm, dtype=float)
        if self.span is None:
            return np.full_like(stroke, self._ratio)
        slope = self._slope(np.clip(stroke, self.span.low, self.span.high))
        return np.where(self.span.outside(stroke), np.nan, slope)

    def stroke_mm(self, wheel_mm: Floats | float) -> Floats:
        """Give the shock stroke at a wheel travel, mm: the way back; NaN where `wheel_mm` never gets to."""
        wheel = np.asarray(wheel_mm, dtype=float)
        if self.span is None:
            return np.asarray(wheel / self._ratio)
        slack = CARRIED_SHARE * (self.span.high - self.span.low) * (1 - 1e-9)
        ends = (self.span.low - slack, self.span.low, self.span.high, self.span.high + slack)
        grid = np.unique(np.concatenate([np.linspace(ends[1], ends[2], INVERSE_POINTS), ends]))
        return np.asarray(np.interp(wheel, self.wheel_mm(grid), grid, left=np.nan, right=np.nan))
