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
        travel_mm, speed_mm_s = _run(batch, 1.0 / (rate_hz * every))
        truths += [
            truth_of(scene, travel_mm[:, :, k], speed_mm_s[:, :, k], rate_hz, every)
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


def _run(scenes: Sequence[Scene], dt: float) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
    """Travel (mm) and speed (mm/s) at every step, (steps, 2, scenes)."""
    steps = int(np.ceil(max(scene.duration_s for scene in scenes) / dt - 1e-9))
    travel_mm = np.empty((steps, 2, len(scenes)), dtype=np.float32)
    speed_mm_s = np.empty_like(travel_mm)
    stepper = _Stepper(scenes, dt)
    for first in range(0, steps, BLOCK_STEPS):
        block = slice(first, min(first + BLOCK_STEPS, steps))
        travel, speed = stepper.advance(*_from_outside(scenes, stepper.fixed, block))
        travel_mm[block] = 1e3 * travel
        speed_mm_s[block] = 1e3 * speed
        if not (np.abs(speed).max() < FASTEST_M_S / 2 and travel.min() * 1e3 > -BEYOND_MM):
            raise CannotAnswer("the virtual bike was thrown about beyond its limits; give it a kinder road")
    return travel_mm, speed_mm_s


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
    """The state of a batch, advanced a block of steps at a time."""

    def __init__(self, scenes: Sequence[Scene], dt: float) -> None:
        self.fixed = _constants(scenes, dt)
        self._travel = travel_table(scenes)
        self._damper = damper_table(scenes)
        _, down = _from_outside(scenes, self.fixed, slice(0, 1))
        rest_mm = [
            [scene.bike.ends[end].equilibrium_mm(down[0, end, k]) for k, scene in enumerate(scenes)]
            for end in (0, 1)
        ]
        self.wheel_m = -(down[0] + self.fixed.wheel_weight) / self.fixed.tyre_rate
        self.body_m = self.wheel_m - np.array(rest_mm) / 1e3 / self.fixed.along
        self.body_m_s = np.zeros_like(self.body_m)
        self.wheel_m_s = np.zeros_like(self.body_m)
        self.friction_ns = np.zeros_like(self.body_m)

    def advance(self, road_n: Floats, down_n: Floats) -> tuple[Floats, Floats]:
        """Go one step for each row of what comes from outside; give travel (m) and its speed (m/s) before it.

        Heights count from where body, suspension topped out, wheel and road all just touch. Written for few
        numpy calls, each into an array that is already there: the calls are what a small batch costs.
        """
        c, springs, dampers = self.fixed, self._travel, self._damper
        body, wheel, body_v, wheel_v = self.body_m, self.wheel_m, self.body_m_s, self.wheel_m_s
        travel, speed = np.empty_like(road_n), np.empty_like(road_n)
        force, a, b, body_n, wheel_n = (np.empty_like(body) for _ in range(5))
        index = np.empty(body.shape, dtype=np.intp)
        spring_row = np.empty((*body.shape, 6))
        damper_row = np.empty((*body.shape, 2))
        spring_value, spring_rise = spring_row[..., :3], spring_row[..., 3:]
        spring_n, ratio, stop_damping = (spring_row[..., k] for k in range(3))
        damper_n, damper_rise = damper_row[..., 0], damper_row[..., 1]
        part = np.empty_like(body)
        part_column = part[..., None]
        impulse = self.friction_ns
        most_ns = c.friction * c.dt
        least_ns = -most_ns
        body_dt, cross_dt, wheel_dt = c.body * c.dt, c.cross * c.dt, c.wheel * c.dt
        own = (c.body + c.wheel) * c.along**2  # travel speed for an impulse at the same end
        other = c.cross * c.along * c.along[::-1]
        per_own = 1.0 / own
        body_along, cross_along = c.body * c.along, c.cross * c.along[::-1]
        wheel_along = c.wheel * c.along
        body_n_other, impulse_other = body_n[::-1], impulse[::-1]
        multiply, add, subtract = np.multiply, np.add, np.subtract

        for x, v, up, down in zip(travel, speed, road_n, down_n, strict=True):
            # Travel and its speed along the axis of the suspension.
            subtract(wheel, body, x)
            multiply(x, c.along, x)
            subtract(wheel_v, body_v, v)
            multiply(v, c.along, v)
            # Springs and stops from the travel table.
            multiply(x, springs.per_unit, a)
            add(a, springs.start, a)
            np.copyto(index, a, casting="unsafe")
            subtract(a, index, part)
            springs.rows.take(index, 0, spring_row, "clip")
            multiply(spring_rise, part_column, spring_rise)
            add(spring_value, spring_rise, spring_value)
            # Damper from the speed table, at the shaft.
            multiply(v, ratio, a)
            multiply(a, dampers.per_unit, a)
            add(a, dampers.start, a)
            np.copyto(index, a, casting="unsafe")
            subtract(a, index, part)
            dampers.rows.take(index, 0, damper_row, "clip")
            multiply(damper_rise, part, a)
            add(a, damper_n, a)
            multiply(a, ratio, force)
            add(force, spring_n, force)
            multiply(stop_damping, v, a)
            add(force, a, force)
            multiply(force, c.along, force)  # along the travel → vertical
            # The tyre pushes and never pulls.
            multiply(wheel, c.tyre_rate, a)
            subtract(up, a, a)
            multiply(wheel_v, c.tyre_damping, b)
            subtract(a, b, a)
            np.maximum(a, 0.0, out=a)
            # Speeds without friction.
            subtract(a, force, wheel_n)
            subtract(wheel_n, c.wheel_weight, wheel_n)
            subtract(force, down, body_n)
            multiply(body_n, body_dt, a)
            multiply(body_n_other, cross_dt, b)
            add(body_v, a, body_v)
            add(body_v, b, body_v)
            multiply(wheel_n, wheel_dt, a)
            add(wheel_v, a, wheel_v)
            # The friction impulse that would stop the sliding, no larger than friction allows.
            subtract(wheel_v, body_v, a)
            multiply(a, c.along, a)
            multiply(impulse_other, other, b)
            subtract(a, b, a)
            multiply(a, per_own, a)
            np.minimum(a, most_ns, out=a)
            np.maximum(a, least_ns, out=impulse)
            multiply(impulse, body_along, a)
            add(body_v, a, body_v)
            multiply(impulse_other, cross_along, b)
            add(body_v, b, body_v)
            multiply(impulse, wheel_along, a)
            subtract(wheel_v, a, wheel_v)
            # Positions from the new speeds.
            multiply(body_v, c.dt, a)
            add(body, a, body)
            multiply(wheel_v, c.dt, a)
            add(wheel, a, wheel)
        return travel, speed
