"""The virtual bike ridden again and again: what differs from run to run though nobody touched the bike.

And two changes that are worth finding: softer springs re-set to the same sag, and less travel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.measured_ride import MeasuredRide, measure_log
from analysis.virtual_counts import record_of, to_counts
from analysis.virtual_parts import Damper, Damping, VirtualBike, VirtualEnd
from analysis.virtual_scene import Scene, Truth
from analysis.virtual_sim import simulate
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import End

STEP_HZ = 2000.0
"""Half the steps of a single ride: no question here is about a tenth of a millimetre."""

SENSOR_OFFSET_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """How far a run may differ from the one asked for, all between as likely, as shares.

    ``pace`` and ``roughness`` (height of everything on the road) either way; ``fade`` is how much damping a
    warm damper has lost at the most.
    """

    pace: float = 0.05
    roughness: float = 0.15
    fade: float = 0.10


def another_run(scene: Scene, random: np.random.Generator, variation: Variation) -> Scene:
    """Ride a scene once more, as well as a rider can."""
    pace = 1.0 + variation.pace * float(random.uniform(-1.0, 1.0))
    rough = 1.0 + variation.roughness * float(random.uniform(-1.0, 1.0))
    damping = 1.0 - variation.fade * float(random.uniform(0.0, 1.0))
    road = replace(
        scene.road,
        gd_n0_m3=scene.road.gd_n0_m3 * rough**2,
        features=tuple(replace(one, height_m=one.height_m * rough) for one in scene.road.features),
    )
    bike = replace(
        scene.bike, front=_damped(scene.bike.front, damping), rear=_damped(scene.bike.rear, damping)
    )
    return replace(scene, bike=bike, road=road, speed_m_s=scene.speed_m_s * pace)


def _damped(end: VirtualEnd, share: float) -> VirtualEnd:
    def less(one: Damping) -> Damping:
        return replace(one, low_n_s_m=one.low_n_s_m * share, high_n_s_m=one.high_n_s_m * share)

    damper = Damper(compression=less(end.damper.compression), rebound=less(end.damper.rebound))
    return replace(end, damper=damper)


def softer_springs(bike: VirtualBike, rider_mass_kg: float, by: float = 0.10) -> VirtualBike:
    """Make both springs softer by a share, re-set so that rider sag without friction stays."""
    sag_mm = bike.sag_mm(rider_mass_kg)

    def softened(end: VirtualEnd, at_mm: float) -> VirtualEnd:
        # The spring alone carries as much at this place as before; air and rubber stay what they are.
        stroke_mm = float(end.stroke_mm(np.array([at_mm]))[0])
        return replace(
            end,
            spring_rate_n_mm=end.spring_rate_n_mm * (1.0 - by),
            preload_mm=(end.preload_mm + stroke_mm) / (1.0 - by) - stroke_mm,
        )

    return replace(
        bike, front=softened(bike.front, sag_mm[End.FRONT]), rear=softened(bike.rear, sag_mm[End.REAR])
    )


def less_travel(bike: VirtualBike, by_mm: float = 25.0) -> VirtualBike:
    """Take travel away at full bump at both ends; springs, sag and leverage stay; sensors are zeroed anew."""
    rear = bike.rear
    top_mm = rear.travel_mm - by_mm
    leverage = rear.leverage
    if leverage is not None:
        kept = [wheel for wheel, _ in leverage if wheel < top_mm] + [top_mm]
        leverage = tuple((wheel, float(rear.stroke_mm(np.array([wheel]))[0])) for wheel in kept)
    return replace(
        bike,
        front=replace(bike.front, travel_mm=bike.front.travel_mm - by_mm, sensor_offset_mm=by_mm),
        rear=replace(rear, travel_mm=top_mm, leverage=leverage, sensor_offset_mm=SENSOR_OFFSET_MM),
    )


def ride_log(scene: Scene, truth: Truth, number: int, seconds: float | None = None) -> Log:
    """Record a ride with the bike's own sensors, 10 bits; only its first seconds if wanted."""
    record = record_of(scene.bike)
    values = to_counts(truth, record, seed=number)
    rows = None if seconds is None else round(seconds / truth.dt_s)
    return Log(
        id=f"ride {number}",
        kind=Kind.RIDE,
        started="2026-01-01T09:00:00+00:00",
        bike=record,
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
        segments=(Segment(start_s=0.0, dt_s=truth.dt_s, values=values[:rows]),),
    )


def measured_rides(
    scenes: Sequence[Scene], first: int, lengths_s: Sequence[float]
) -> list[tuple[MeasuredRide, ...]]:
    """Ride scenes and measure them, each at several lengths from its beginning.

    Parameters
    ----------
    scenes : sequence of Scene
    first : int
        Number of the first ride; seeds the noise of its sensors.
    lengths_s : sequence of float

    Returns
    -------
    list of tuple of MeasuredRide
        One tuple a scene, one ride a length.
    """
    found = []
    for number, (scene, truth) in enumerate(
        zip(scenes, simulate(scenes, step_hz=STEP_HZ), strict=True), first
    ):
        rides = []
        for seconds in lengths_s:
            log = ride_log(scene, truth, number, seconds)
            ride, _ = measure_log(log)
            rides.append(ride)
        found.append(tuple(rides))
    return found
