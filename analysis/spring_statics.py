"""What carries the load at one end of the bike at rest: spring, preload, leverage, and air where it is known.

Positions are wheel travel from topped out in mm: along the fork axis for a telescopic fork, vertical for
everything else. Forces "along the travel" are in that direction: of a vertical load a telescopic fork feels
load × cos(rake), as the tyre rolls freely and the sliders do not carry sideways force without friction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq

from analysis.calibration import Floats
from analysis.kinematics import WheelTravel
from ingest.errors import CannotAnswer
from ingest.records import Bike, End, Leverage, Suspension

STANDARD_GRAVITY_M_S2 = 9.80665  # exact by definition (3rd CGPM, 1901)
ATMOSPHERE_N_MM2 = 0.101325
FORK = "telescopic fork"
CURVATURE_MM = 10.0
"""Leverage tables have a row every 20 to 50 mm: how the ratio changes is taken over ± this much travel."""
FULLEST_AIR = 0.95
GRID_POINTS = 2001


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Trapped air above the fork oil: polytropic, at outside pressure when topped out.

    ``exponent`` lies between 1 (slow) and 1.4 (fast); 1.3 is common practice, no source.
    """

    area_mm2: float
    column_mm: float
    exponent: float = 1.3

    def force_n(self, stroke_mm: float) -> float:
        """Force over the outside pressure at a stroke, N."""
        left = 1.0 - min(stroke_mm / self.column_mm, FULLEST_AIR)
        return float(ATMOSPHERE_N_MM2 * self.area_mm2 * (left**-self.exponent - 1.0))

    def rate_n_mm(self, stroke_mm: float) -> float:
        """Slope of that force, N/mm."""
        left = 1.0 - min(stroke_mm / self.column_mm, FULLEST_AIR)
        slope = self.exponent * left ** (-self.exponent - 1.0) / self.column_mm
        return float(ATMOSPHERE_N_MM2 * self.area_mm2 * slope)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Linkage:
    """Stroke and d(stroke)/d(wheel travel) on a fine grid of wheel travel; all of shape (n,).

    It is `WheelTravel` the other way round, laid out once because a forecast asks it a thousand times.
    """

    wheel_mm: Floats
    stroke_mm: Floats
    ratio: Floats

    def stroke_at(self, travel_mm: float) -> float:
        """Stroke at a wheel travel; past either end the end slope carries on."""
        inside = min(max(travel_mm, float(self.wheel_mm[0])), float(self.wheel_mm[-1]))
        stroke = float(np.interp(inside, self.wheel_mm, self.stroke_mm))
        return stroke + self.ratio_at(inside) * (travel_mm - inside)

    def ratio_at(self, travel_mm: float) -> float:
        """d(stroke)/d(wheel travel) at a wheel travel."""
        return float(np.interp(travel_mm, self.wheel_mm, self.ratio))


@lru_cache(maxsize=64)
def linkage(leverage: Leverage) -> Linkage:
    """Lay out a leverage; one ratio is a straight line."""
    curve = WheelTravel(leverage)
    span = (0.0, 100.0) if curve.span is None else (curve.span.low, curve.span.high)
    stroke = np.linspace(*span, GRID_POINTS)
    return Linkage(wheel_mm=curve.wheel_mm(stroke), stroke_mm=stroke, ratio=1.0 / curve.leverage(stroke))


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringEnd:
    """One end at rest. ``rate_n_mm`` is that of all its springs together; ``preload_mm`` is of each."""

    travel_mm: float
    rate_n_mm: float
    preload_mm: float
    linkage: Linkage | None = None
    air: Air | None = None

    def with_spring(self, rate_n_mm: float, preload_mm: float) -> SpringEnd:
        """Put in other springs, or the same with other preload."""
        return replace(self, rate_n_mm=rate_n_mm, preload_mm=preload_mm)

    def stroke_mm(self, travel_mm: float) -> float:
        """Stroke of the spring at a wheel travel."""
        return travel_mm if self.linkage is None else self.linkage.stroke_at(travel_mm)

    def ratio(self, travel_mm: float) -> float:
        """d(stroke) / d(wheel travel), the inverse of the leverage."""
        return 1.0 if self.linkage is None else self.linkage.ratio_at(travel_mm)

    def ratio_change_per_mm(self, travel_mm: float) -> float:
        """d²(stroke) / d(wheel travel)², over ± `CURVATURE_MM`."""
        low, high = max(travel_mm - CURVATURE_MM, 0.0), min(travel_mm + CURVATURE_MM, self.travel_mm)
        return (self.ratio(high) - self.ratio(low)) / (high - low)

    def spring_force_n(self, travel_mm: float) -> float:
        """Force of springs and air at the spring, N; a loose spring pushes nothing."""
        stroke = self.stroke_mm(travel_mm)
        force = max(self.rate_n_mm * (self.preload_mm + stroke), 0.0)
        return force if self.air is None else force + self.air.force_n(stroke)

    def force_n(self, travel_mm: float) -> float:
        """Force at the wheel along its travel, N: spring force × d(stroke)/d(wheel travel)."""
        return self.spring_force_n(travel_mm) * self.ratio(travel_mm)

    def sag_mm(self, force_n: float) -> float:
        """Travel that carries a force along the travel; 0 or full travel where it rests on a stop."""
        if self.force_n(0.0) >= force_n:
            return 0.0
        if self.force_n(self.travel_mm) <= force_n:
            return self.travel_mm
        return float(brentq(lambda travel: self.force_n(travel) - force_n, 0.0, self.travel_mm, xtol=1e-7))

    def preload_for_mm(self, travel_mm: float, force_n: float) -> float:
        """Preload that carries a force along the travel at a travel; below zero the spring is loose."""
        stroke = self.stroke_mm(travel_mm)
        air = 0.0 if self.air is None else self.air.force_n(stroke)
        return (force_n / self.ratio(travel_mm) - air) / self.rate_n_mm - stroke


def total_rate_n_mm(suspension: Suspension) -> float | None:
    """Give the rate of all springs of an end together, N/mm, ``None`` where the file has none."""
    if suspension.spring_rate_n_mm is None:
        return None
    return suspension.spring_rate_n_mm * (suspension.springs or 1)


def air_of(suspension: Suspension) -> Air | None:
    """Give the air above the oil, ``None`` unless both its measures are in the file."""
    if suspension.air_area_mm2 is None or suspension.air_column_mm is None:
        return None
    return Air(area_mm2=suspension.air_area_mm2, column_mm=suspension.air_column_mm)


def spring_end(suspension: Suspension, rate_n_mm: float, preload_mm: float) -> SpringEnd:
    """Put together what the bike file says of an end, with springs of a total rate at a preload."""
    return SpringEnd(
        travel_mm=suspension.travel_mm,
        rate_n_mm=rate_n_mm,
        preload_mm=preload_mm,
        linkage=None if suspension.leverage is None else linkage(suspension.leverage),
        air=air_of(suspension),
    )


def along_travel(bike: Bike, end: End) -> float:
    """Give the share of a vertical load that acts along the wheel's travel: cos(rake) for a telescopic fork.

    Raises
    ------
    CannotAnswer
        The bike has a telescopic fork but no rake.
    """
    suspension = bike.suspension(end)
    if suspension is None or suspension.kind != FORK:
        return 1.0
    if bike.rake_deg is None:
        raise CannotAnswer(f"{end}: a telescopic fork takes load × cos(rake); add rake_deg to the bike file")
    return math.cos(math.radians(bike.rake_deg))
