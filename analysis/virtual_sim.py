"""The virtual bike in motion: all scenes together, one small step of time after the other.

Metres, newtons, kilograms and seconds inside. Each array has one row an end (front, rear) and one column a
scene. A step is semi-implicit: forces from where everything is, speeds from the forces, positions from the
new speeds. Friction is an impulse that stops the sliding within the step if |impulse| ≤ friction × step is
enough for that, else it is as large as it may be; so a standing bike sticks anywhere in its friction band.
The two frictions touch each other through the body only weakly; a step starts from the last step's answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.virtual_parts import GRAVITY_M_S2, VirtualEnd
from analysis.virtual_scene import Scene, Truth
from analysis.virtual_tables import BEYOND_MM, FASTEST_M_S, damper_table, travel_table
from analysis.virtual_truth import truth_of
from ingest.errors import CannotAnswer, UsageError

Floats = npt.NDArray[np.float64]

STEP_HZ = 4000.0
SCENES_AT_ONCE = 64  # keeps the fine grid of a batch below some hundred MB
BLOCK_STEPS = 4000


def simulate(scenes: Sequence[Scene], rate_hz: float = 1000.0, step_hz: float = STEP_HZ) -> tuple[Truth, ...]:
    """Ride all scenes and say what truly happened.

    Parameters
    ----------
    scenes
        What to ride; all are integrated as one numpy batch, so many cost little more than one.
    rate_hz
        Samples per second of the answer, 200 to 2000.
    step_hz
        Least number of internal steps per second; the next multiple of ``rate_hz`` is used. Halving the
        default step moves the travel of a demo ride by less than 0.1 mm RMS (see the tests).

    Returns
    -------
    One `Truth` a scene, in the same order.
    """
    if not 200 <= rate_hz <= 2000:
        raise UsageError(f"{rate_hz:g} samples per second: give a rate from 200 to 2000")
    every = int(np.ceil(step_hz / rate_hz))
    truths: list[Truth] = []
    for first in range(0, len(scenes), SCENES_AT_ONCE):
        batch = scenes[first : first + SCENES_AT_ONCE]
        travel_mm, speed_mm_s, in_the_air = _run(batch, 1.0 / (rate_hz * every))
        truths += [
            truth_of(scene, travel_mm[:, :, k], speed_mm_s[:, :, k], in_the_air[:, :, k], rate_hz, every)
            for k, scene in enumerate(batch)
        ]
    return tuple(truths)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Constants:
    """Everything about the batch that does not change, (2, scenes) unless said."""

    dt: float
    along: Floats  # d(travel) / d(vertical)
    body: Floats  # response of the body over an axle to a vertical force there, 1/kg
    cross: Floats  # and to one over the other axle
    wheel: Floats  # 1 / unsprung mass
    tyre_rate: Floats
    tyre_damping: Floats
    friction: Floats
    weight: Floats  # of the body over each axle
    wheel_weight: Floats


def _constants(scenes: Sequence[Scene], dt: float) -> _Constants:
    ends = [[scene.bike.ends[end] for scene in scenes] for end in (0, 1)]

    def each(value: Callable[[VirtualEnd], float]) -> Floats:
        return np.array([[value(end) for end in row] for row in ends], dtype=float)

    bodies = np.array([_body_response(scene) for scene in scenes])
    riders = [scene.rider_mass_kg if scene.aboard else 0.0 for scene in scenes]
    weight = [scene.bike.body_weights_n(mass) for scene, mass in zip(scenes, riders, strict=True)]
    return _Constants(
        dt=dt,
        along=each(lambda end: 1.0 / np.cos(np.radians(end.axis_deg))),
        body=bodies[:, :2].T.copy(),
        cross=bodies[:, [2, 2]].T.copy(),
        wheel=each(lambda end: 1.0 / end.unsprung_mass_kg),
        tyre_rate=each(lambda end: end.tyre_rate_n_mm * 1e3),
        tyre_damping=each(lambda end: end.tyre_damping_n_s_m),
        friction=each(lambda end: end.friction_n),
        weight=np.array(weight).T.copy(),
        wheel_weight=each(lambda end: end.unsprung_mass_kg * GRAVITY_M_S2),
    )


def _body_response(scene: Scene) -> tuple[float, float, float]:
    """How the body over the axles answers vertical forces there: front, rear, one by the other, 1/kg."""
    bike = scene.bike
    rider_kg = scene.rider_mass_kg if scene.aboard else 0.0
    mass = bike.sprung_mass_kg + rider_kg
    share = (bike.sprung_mass_kg * bike.sprung_front_share + rider_kg * bike.rider_front_share) / mass
    length_m = bike.wheelbase_mm / 1e3
    ahead, above = (bike.rider_front_share - bike.sprung_front_share) * length_m, bike.rider_above_mm / 1e3
    inertia = bike.sprung_mass_kg * (bike.pitch_radius_mm / 1e3) ** 2
    inertia += bike.sprung_mass_kg * rider_kg / mass * (ahead**2 + above**2)
    to_front, to_rear = (1.0 - share) * length_m, share * length_m
    return (
        1.0 / mass + to_front**2 / inertia,
        1.0 / mass + to_rear**2 / inertia,
        1.0 / mass - to_front * to_rear / inertia,
    )


def _run(
    scenes: Sequence[Scene], dt: float
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32], npt.NDArray[np.bool_]]:
    """Travel (mm), speed (mm/s) and whether the tyre is off the ground at every step, (steps, 2, scenes)."""
    steps = int(np.ceil(max(scene.duration_s for scene in scenes) / dt - 1e-9))
    travel_mm = np.empty((steps, 2, len(scenes)), dtype=np.float32)
    speed_mm_s = np.empty_like(travel_mm)
    in_the_air = np.empty(travel_mm.shape, dtype=np.bool_)
    stepper = _Stepper(scenes, dt)
    for first in range(0, steps, BLOCK_STEPS):
        block = slice(first, min(first + BLOCK_STEPS, steps))
        travel, speed, in_the_air[block] = stepper.advance(*_from_outside(scenes, stepper.fixed, block))
        travel_mm[block] = 1e3 * travel
        speed_mm_s[block] = 1e3 * speed
        if not (np.abs(speed).max() < FASTEST_M_S / 2 and travel.min() * 1e3 > -BEYOND_MM):
            raise CannotAnswer("the virtual bike was thrown about beyond its limits; give it a kinder road")
    return travel_mm, speed_mm_s, in_the_air


def _from_outside(scenes: Sequence[Scene], fixed: _Constants, block: slice) -> tuple[Floats, Floats]:
    """What the road pushes up (tyre rate × height + tyre damping × its rise) and the loads push down, N."""
    time = fixed.dt * np.arange(block.start, block.stop + 1)
    shape = (time.size, 2, len(scenes))
    height, load = np.empty(shape), np.empty(shape)
    for k, scene in enumerate(scenes):
        behind = (0.0, scene.bike.wheelbase_mm / 1e3)
        for end in (0, 1):
            height[:, end, k] = scene.road.height_m(scene.speed_m_s * time - behind[end])
        known = np.array([[0.0, 0.0, 0.0], *((one.t_s, one.front_n, one.rear_n) for one in scene.loads)])
        known = known[1:] if scene.loads else known
        for end in (0, 1):
            load[:, end, k] = np.interp(time, known[:, 0], known[:, end + 1])
    rise = np.diff(height, axis=0) / fixed.dt
    return fixed.tyre_rate * height[:-1] + fixed.tyre_damping * rise, load[:-1] + fixed.weight


class _Stepper:
    """The state of a batch, advanced a block of steps at a time.

    Heights count from where body (suspension topped out), wheel and road all just touch. Written for few
    numpy calls, each into an array that is already there: calls are what a small batch costs.
    """

    def __init__(self, scenes: Sequence[Scene], dt: float) -> None:
        fixed = self.fixed = _constants(scenes, dt)
        self._springs = travel_table(scenes)
        self._dampers = damper_table(scenes)
        self._locked = any(end.oil_lock is not None for scene in scenes for end in scene.bike.ends)
        down_n = _from_outside(scenes, fixed, slice(0, 1))[1][0]
        rest_mm = [
            [scene.bike.ends[end].equilibrium_mm(down_n[end, k]) for k, scene in enumerate(scenes)]
            for end in (0, 1)
        ]
        self._wheel = -(down_n + fixed.wheel_weight) / fixed.tyre_rate
        self._body = self._wheel - np.array(rest_mm) / 1e3 / fixed.along
        self._body_speed, self._wheel_speed = np.zeros_like(self._body), np.zeros_like(self._body)
        self._suspension_n, self._a, self._b = (np.empty_like(self._body) for _ in range(3))
        self._body_dt, self._cross_dt, self._wheel_dt = (
            response * dt for response in (fixed.body, fixed.cross, fixed.wheel)
        )
        # Friction: the change of speed along the travel for an impulse there, and what it does to the masses.
        self._impulse = np.zeros_like(self._body)
        self._most, self._least = fixed.friction * dt, -fixed.friction * dt
        self._per_own = 1.0 / ((fixed.body + fixed.wheel) * fixed.along**2)
        self._other = fixed.cross * fixed.along * fixed.along[::-1]
        self._body_along = fixed.body * fixed.along
        self._cross_along = fixed.cross * fixed.along[::-1]
        self._wheel_along = fixed.wheel * fixed.along

    def advance(self, road_n: Floats, down_n: Floats) -> tuple[Floats, Floats, npt.NDArray[np.bool_]]:
        """Go one step a row of what comes from outside.

        Gives travel (m), its speed (m/s) and whether the tyre carries nothing, before each step.
        """
        travel, speed = np.empty_like(road_n), np.empty_like(road_n)
        in_the_air = np.empty(road_n.shape, dtype=np.bool_)
        along, dt, step = self.fixed.along, self.fixed.dt, self._a
        for x, v, air, up, down in zip(travel, speed, in_the_air, road_n, down_n, strict=True):
            np.subtract(self._wheel, self._body, x)
            np.multiply(x, along, x)
            np.subtract(self._wheel_speed, self._body_speed, v)
            np.multiply(v, along, v)
            self._compress(x, v)
            self._push(up, down, air)
            self._rub()
            np.multiply(self._body_speed, dt, step)
            np.add(self._body, step, self._body)
            np.multiply(self._wheel_speed, dt, step)
            np.add(self._wheel, step, self._wheel)
        return travel, speed, in_the_air

    def _compress(self, x: Floats, v: Floats) -> None:
        """Vertical force of spring, damper, oil lock and stops."""
        force, a = self._suspension_n, self._a
        spring = self._springs.at(x)
        ratio = spring[..., 1]
        np.multiply(v, ratio, a)
        damper = self._dampers.at(a)
        np.multiply(damper[..., 0], ratio, force)
        np.add(force, spring[..., 0], force)
        np.multiply(spring[..., 2], v, a)
        np.add(force, a, force)
        if self._locked:
            np.maximum(v, 0.0, out=a)
            np.multiply(spring[..., 3], a, a)
            np.add(force, a, force)
        np.multiply(force, self.fixed.along, force)

    def _push(self, up: Floats, down: Floats, in_the_air: npt.NDArray[np.bool_]) -> None:
        """Speeds after one step of all forces but friction; the tyre pushes and never pulls."""
        c, force, a, b = self.fixed, self._suspension_n, self._a, self._b
        np.multiply(self._wheel, c.tyre_rate, a)
        np.subtract(up, a, a)
        np.multiply(self._wheel_speed, c.tyre_damping, b)
        np.subtract(a, b, a)
        np.less_equal(a, 0.0, in_the_air)
        np.maximum(a, 0.0, out=a)
        np.subtract(a, force, a)
        np.subtract(a, c.wheel_weight, a)
        np.multiply(a, self._wheel_dt, a)
        np.add(self._wheel_speed, a, self._wheel_speed)
        np.subtract(force, down, force)
        self._move_body(force, self._body_dt, self._cross_dt)

    def _rub(self) -> None:
        """Apply the friction impulse that would stop the sliding, no larger than friction allows."""
        impulse, a, b = self._impulse, self._a, self._b
        np.subtract(self._wheel_speed, self._body_speed, a)
        np.multiply(a, self.fixed.along, a)
        np.multiply(impulse[::-1], self._other, b)
        np.subtract(a, b, a)
        np.multiply(a, self._per_own, a)
        np.minimum(a, self._most, out=a)
        np.maximum(a, self._least, out=impulse)
        np.multiply(impulse, self._wheel_along, a)
        np.subtract(self._wheel_speed, a, self._wheel_speed)
        self._move_body(impulse, self._body_along, self._cross_along)

    def _move_body(self, pushed: Floats, own: Floats, cross: Floats) -> None:
        """Add to the body's speed what a push over each axle gives it, there and over the other one."""
        np.multiply(pushed, own, self._a)
        np.add(self._body_speed, self._a, self._body_speed)
        np.multiply(pushed[::-1], cross, self._b)
        np.add(self._body_speed, self._b, self._body_speed)
