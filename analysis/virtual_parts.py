"""What the virtual bike is made of: springs, rubber, stops, dampers, tyres, masses. Records and their forces.

Everything here is the physical truth of an invented bike, not a measurement. Positions are wheel travel from
topped out in mm (front along the fork axis, rear vertical at the axle), forces in N, compression positive.
Forces along the travel are what the wheel feels: a shock force times d(stroke)/d(wheel travel).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from ingest.errors import CannotAnswer
from ingest.records import End

Floats = npt.NDArray[np.float64]

GRAVITY_M_S2 = 9.80665
ATMOSPHERE_N_MM2 = 0.101325


@dataclass(frozen=True, slots=True, kw_only=True)
class AirSpring:
    """Trapped air above the fork oil: polytropic, at outside pressure when topped out."""

    area_mm2: float
    column_mm: float
    exponent: float = 1.3

    def force_n(self, stroke_mm: Floats) -> Floats:
        """Force over the outside pressure. Past 95 % of the air column it no longer rises."""
        left = np.maximum(1.0 - stroke_mm / self.column_mm, 0.05)
        return np.asarray(ATMOSPHERE_N_MM2 * self.area_mm2 * (left**-self.exponent - 1.0), dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class BumpRubber:
    """Progressive rubber over the last ``length_mm`` of stroke: ``full_force_n (depth/length)^power``."""

    length_mm: float
    full_force_n: float
    power: float = 2.5

    def force_n(self, stroke_mm: Floats, full_stroke_mm: float) -> Floats:
        """Force at the shaft; zero before the rubber is reached."""
        depth = np.maximum(stroke_mm - (full_stroke_mm - self.length_mm), 0.0) / self.length_mm
        return np.asarray(self.full_force_n * depth**self.power, dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class OilLock:
    """A cup at the bottom of a fork that has ever less room for the oil to leave it: damping, not a spring.

    Over the last ``length_mm`` of stroke going in meets ``full_n_s_m (depth/length)^power`` times the shaft
    speed; a valve lets the oil back freely on the way out. It holds nothing up, so where the bike rests does
    not depend on it.
    """

    length_mm: float = 18.0
    full_n_s_m: float = 6000.0
    power: float = 2.0

    def damping_n_s_m(self, stroke_mm: Floats, full_stroke_mm: float) -> Floats:
        """Damping at the shaft on the way in; past the full stroke it no longer rises."""
        depth = np.clip((stroke_mm - (full_stroke_mm - self.length_mm)) / self.length_mm, 0.0, 1.0)
        return np.asarray(self.full_n_s_m * depth**self.power, dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A stiff end of the travel: ``rate × depth × (1 + loss × speed of going in)``, at the wheel.

    The loss grows with depth, so the force starts from zero (Hunt and Crossley 1975, from memory).
    """

    rate_n_mm: float = 2500.0
    loss_s_m: float = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Damping:
    """One direction of a damper: ``low_n_s_m`` at creeping speed, ``high_n_s_m`` well past ``knee_m_s``.

    ``high < low`` is digressive, ``high > low`` progressive; the slope passes smoothly from one to the other.
    """

    low_n_s_m: float
    high_n_s_m: float
    knee_m_s: float = 0.3

    def force_n(self, speed_m_s: Floats) -> Floats:
        """Force against a speed that is not negative."""
        blend = self.knee_m_s * (1.0 - np.exp(-speed_m_s / self.knee_m_s))
        return np.asarray(
            self.high_n_s_m * speed_m_s + (self.low_n_s_m - self.high_n_s_m) * blend, dtype=float
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Damper:
    """Compression and rebound damping at the shaft."""

    compression: Damping
    rebound: Damping

    def force_n(self, speed_m_s: Floats) -> Floats:
        """Signed force against the shaft speed, compression positive."""
        size = np.abs(speed_m_s)
        return np.where(speed_m_s >= 0, self.compression.force_n(size), -self.rebound.force_n(size))


@dataclass(frozen=True, slots=True, kw_only=True)
class VirtualEnd:
    """One end of the bike. ``leverage`` is ``(wheel mm, stroke mm)``; ``None`` means stroke = wheel travel.

    ``friction_n`` is Coulomb friction along the travel at the wheel. ``axis_deg`` is how far the travel leans
    from the vertical. ``sensor_offset_mm`` is how far into the sensor's own calibration the suspension is
    topped out: 0 on the stock bike, more where a spacer keeps it from extending as far as it used to.
    """

    travel_mm: float
    spring_rate_n_mm: float
    preload_mm: float
    damper: Damper
    unsprung_mass_kg: float
    leverage: tuple[tuple[float, float], ...] | None = None
    air: AirSpring | None = None
    rubber: BumpRubber | None = None
    oil_lock: OilLock | None = None
    bump_stop: Stop | None = Stop()
    top_out_stop: Stop | None = Stop()
    friction_n: float = 0.0
    tyre_rate_n_mm: float = 180.0
    tyre_damping_n_s_m: float = 300.0
    axis_deg: float = 0.0
    sensor_offset_mm: float = 0.0

    @property
    def full_stroke_mm(self) -> float:
        """Stroke at full travel."""
        return float(self.stroke_mm(np.array([self.travel_mm]))[0])

    @property
    def rubber_from_mm(self) -> float | None:
        """Wheel travel at which the bump rubber is touched."""
        if self.rubber is None:
            return None
        grid = np.linspace(0.0, self.travel_mm, 4001)
        return float(np.interp(self.full_stroke_mm - self.rubber.length_mm, self.stroke_mm(grid), grid))

    def stroke_mm(self, travel_mm: Floats) -> Floats:
        """Stroke of the damper at a wheel travel; the end slopes carry on past both ends of the table."""
        return self._stroke(travel_mm, derivative=False)

    def motion_ratio(self, travel_mm: Floats) -> Floats:
        """d(stroke) / d(wheel travel) at a wheel travel."""
        return self._stroke(travel_mm, derivative=True)

    def _stroke(self, travel_mm: Floats, *, derivative: bool) -> Floats:
        if self.leverage is None:
            return np.ones_like(travel_mm) if derivative else np.array(travel_mm, dtype=float)
        curve, slopes = _leverage_curve(self.leverage)
        inside = np.clip(travel_mm, self.leverage[0][0], self.leverage[-1][0])
        slope = np.asarray(slopes(inside), dtype=float)
        return slope if derivative else np.asarray(curve(inside), dtype=float) + slope * (travel_mm - inside)

    def spring_force_n(self, travel_mm: Floats) -> Floats:
        """Force at the wheel of spring, air and rubber, along the travel, without the stops."""
        stroke = self.stroke_mm(travel_mm)
        force = np.maximum(self.spring_rate_n_mm * (self.preload_mm + stroke), 0.0)
        if self.air is not None:
            force = force + self.air.force_n(stroke)
        if self.rubber is not None:
            force = force + self.rubber.force_n(stroke, self.full_stroke_mm)
        return np.asarray(force * self.motion_ratio(travel_mm), dtype=float)

    def elastic_force_n(self, travel_mm: Floats) -> Floats:
        """Force at the wheel of everything that does not depend on speed, friction left out."""
        bump, top_out = self._stop_depths_mm(travel_mm)
        force = self.spring_force_n(travel_mm)
        if self.bump_stop is not None:
            force = force + self.bump_stop.rate_n_mm * bump
        if self.top_out_stop is not None:
            force = force - self.top_out_stop.rate_n_mm * top_out
        return force

    def stop_damping_n_s_m(self, travel_mm: Floats) -> Floats:
        """Damping of the stops at a travel; zero between them."""
        damping = np.zeros_like(travel_mm)
        for stop, depth in zip(
            (self.bump_stop, self.top_out_stop), self._stop_depths_mm(travel_mm), strict=True
        ):
            if stop is not None:
                damping = damping + stop.rate_n_mm * depth * stop.loss_s_m
        return damping

    def lock_damping_n_s_m(self, travel_mm: Floats) -> Floats:
        """Damping of the oil lock at the wheel on the way in; zero on the way out and without a lock."""
        if self.oil_lock is None:
            return np.zeros_like(travel_mm)
        at_shaft = self.oil_lock.damping_n_s_m(self.stroke_mm(travel_mm), self.full_stroke_mm)
        return np.asarray(at_shaft * self.motion_ratio(travel_mm) ** 2, dtype=float)

    def _stop_depths_mm(self, travel_mm: Floats) -> tuple[Floats, Floats]:
        return np.maximum(travel_mm - self.travel_mm, 0.0), np.maximum(-travel_mm, 0.0)

    def equilibrium_mm(self, vertical_load_n: float) -> float:
        """Travel at which the suspension without friction carries a vertical load, by root finding."""
        return _equilibrium_mm(self, vertical_load_n)


# Both are asked for the same few parts again and again by a batch of scenes.
@lru_cache(maxsize=256)
def _leverage_curve(table: tuple[tuple[float, float], ...]) -> tuple[PchipInterpolator, PchipInterpolator]:
    wheel, stroke = np.array(table, dtype=float).T
    curve = PchipInterpolator(wheel, stroke)
    return curve, curve.derivative()


@lru_cache(maxsize=1024)
def _equilibrium_mm(end: VirtualEnd, vertical_load_n: float) -> float:
    along_n = vertical_load_n * math.cos(math.radians(end.axis_deg))

    def missing_n(travel_mm: float) -> float:
        return float(end.elastic_force_n(np.array([travel_mm]))[0]) - along_n

    low, high = -30.0, end.travel_mm + 30.0
    if missing_n(low) > 0 or missing_n(high) < 0:
        raise CannotAnswer(f"a load of {vertical_load_n:.0f} N is outside what this suspension can carry")
    return float(brentq(missing_n, low, high, xtol=1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class VirtualBike:
    """A bike in the plane: a rigid sprung body on two ends. Shares are of weight on the front axle.

    ``pitch_radius_mm`` is the radius of gyration of the sprung mass without rider. The rider is a lump
    fixed to the body, ``rider_above_mm`` over its centre of mass. The rest only describes the bike to a bike
    file.
    """

    name: str
    id: str
    wheelbase_mm: float
    sprung_mass_kg: float
    sprung_front_share: float
    pitch_radius_mm: float
    rider_front_share: float
    rider_above_mm: float
    front: VirtualEnd
    rear: VirtualEnd
    rake_deg: float
    fork_offset_mm: float
    front_wheel_radius_mm: float
    rear_wheel_radius_mm: float

    @property
    def ends(self) -> tuple[VirtualEnd, VirtualEnd]:
        """Front and rear."""
        return self.front, self.rear

    def body_weights_n(self, rider_mass_kg: float) -> tuple[float, float]:
        """Weight of body and rider standing on the front and on the rear suspension, N."""
        front_kg = self.sprung_mass_kg * self.sprung_front_share + rider_mass_kg * self.rider_front_share
        rear_kg = self.sprung_mass_kg + rider_mass_kg - front_kg
        return GRAVITY_M_S2 * front_kg, GRAVITY_M_S2 * rear_kg

    def sag_mm(self, rider_mass_kg: float) -> dict[End, float]:
        """Travel taken up by bike and rider if there were no friction; 0 for the bike alone."""
        front_n, rear_n = self.body_weights_n(rider_mass_kg)
        return {End.FRONT: self.front.equilibrium_mm(front_n), End.REAR: self.rear.equilibrium_mm(rear_n)}
