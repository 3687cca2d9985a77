"""Invented bikes and rides to try things on. None of the numbers belongs to a bike one can buy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.road import Feature, Shape, road_of_class
from analysis.virtual_parts import (
    GRAVITY_M_S2,
    AirSpring,
    BumpRubber,
    Damper,
    Damping,
    Stop,
    VirtualBike,
    VirtualEnd,
)
from analysis.virtual_scene import Load, Scene

STOCK_LEVERAGE = ((0.0, 0.0), (55.0, 21.0), (110.0, 43.5), (165.0, 67.3), (220.0, 92.0))
LOWERED_LEVERAGE = ((0.0, 0.0), (50.0, 19.6), (100.0, 40.5), (150.0, 62.7), (195.0, 84.0))
LIGHT_RIDER_KG = 58.0
TOP_OUT_STOP = Stop(rate_n_mm=6000.0)  # hanging on it gives 0.15 mm at most
MASS_HEIGHT_MM = 680.0  # of bike and rider together, over the ground

# Class of the road, and the slowest and fastest speed somebody might ride there, m/s.
ROADS = (("A", 20.0, 25.0), ("B", 16.0, 22.0), ("C", 11.0, 16.0), ("D", 7.0, 10.0), ("C", 8.0, 13.0))


def demo_bike() -> VirtualBike:
    """A tall adventure twin, sprung and damped for a rider much heavier than 58 kg in gear."""
    return VirtualBike(
        name="Workshop tall twin",
        id="frame 0001",
        wheelbase_mm=1560,
        sprung_mass_kg=187,
        sprung_front_share=0.49,
        pitch_radius_mm=620,
        rider_front_share=0.34,
        rider_above_mm=450,
        front=VirtualEnd(
            travel_mm=230,
            spring_rate_n_mm=14.5,
            preload_mm=20,
            damper=Damper(
                compression=Damping(low_n_s_m=750, high_n_s_m=330),
                rebound=Damping(low_n_s_m=1350, high_n_s_m=900),
            ),
            air=AirSpring(area_mm2=2900, column_mm=400),
            rubber=BumpRubber(length_mm=35, full_force_n=2200),
            top_out_stop=TOP_OUT_STOP,
            friction_n=65,
            unsprung_mass_kg=19,
            tyre_rate_n_mm=170,
            axis_deg=26.0,
        ),
        rear=VirtualEnd(
            travel_mm=220,
            spring_rate_n_mm=105,
            preload_mm=16,
            leverage=STOCK_LEVERAGE,
            damper=Damper(
                compression=Damping(low_n_s_m=6000, high_n_s_m=3500, knee_m_s=0.15),
                rebound=Damping(low_n_s_m=10500, high_n_s_m=8000, knee_m_s=0.15),
            ),
            rubber=BumpRubber(length_mm=12, full_force_n=7000),
            top_out_stop=TOP_OUT_STOP,
            friction_n=45,
            unsprung_mass_kg=24,
            tyre_rate_n_mm=190,
        ),
        rake_deg=26.0,
        fork_offset_mm=45,
        front_wheel_radius_mm=345,
        rear_wheel_radius_mm=325,
    )


def lowered(
    bike: VirtualBike,
    *,
    shorter_mm: float = 25.0,
    front_spring_rate_n_mm: float = 10.5,
    front_preload_mm: float = 23.5,
    rear_spring_rate_n_mm: float = 85.0,
    rear_preload_mm: float = 14.5,
    leverage: tuple[tuple[float, float], ...] = LOWERED_LEVERAGE,
) -> VirtualBike:
    """Make the same bike with softer springs, less travel at both ends and other linkage plates.

    A spacer in the fork keeps it from extending: its sensor reads from ``shorter_mm`` on. The rear sensor
    sits on another shock, topped out 5 mm further in.
    """
    front = replace(
        bike.front,
        travel_mm=bike.front.travel_mm - shorter_mm,
        spring_rate_n_mm=front_spring_rate_n_mm,
        preload_mm=front_preload_mm,
        sensor_offset_mm=shorter_mm,
    )
    rear = replace(
        bike.rear,
        travel_mm=leverage[-1][0],
        spring_rate_n_mm=rear_spring_rate_n_mm,
        preload_mm=rear_preload_mm,
        leverage=leverage,
        sensor_offset_mm=5.0,
    )
    return replace(bike, front=front, rear=rear)


def ride_scene(
    bike: VirtualBike, rider_mass_kg: float = LIGHT_RIDER_KG, seed: int = 4, duration_s: float = 60.0
) -> Scene:
    """Make the shop's test ride: a rough road at 14 m/s with bumps, dips, a brow or two and some braking.

    The same seed is the same road, whatever the bike, so that it can be ridden before and after.
    """
    speed_m_s = 14.0
    random = np.random.default_rng(seed)
    features: list[Feature] = []
    for at_s in np.arange(5.0, duration_s - 3.0, 3.5):
        at_m = float(at_s) * speed_m_s
        match int(random.integers(4)):
            case 0:
                features.append(_bump(random, at_m, speed_m_s))
            case 1:
                height_m = float(random.uniform(0.10, 0.16))
                features.append(Feature(at_m=at_m, length_m=0.55 * speed_m_s, height_m=height_m, repeats=2))
            case 2:
                height_m = float(random.uniform(-0.12, -0.06))
                features.append(Feature(at_m=at_m, length_m=0.3 * speed_m_s, height_m=height_m))
            case _:
                height_m = float(random.uniform(0.08, 0.16))
                features.append(
                    Feature(shape=Shape.JUMP, at_m=at_m, length_m=0.5 * speed_m_s, height_m=height_m)
                )
    return Scene(
        bike=bike,
        rider_mass_kg=rider_mass_kg,
        road=road_of_class("C", seed=seed, features=tuple(features)),
        speed_m_s=speed_m_s,
        duration_s=duration_s,
        loads=_braking(random, bike, rider_mass_kg, duration_s),
    )


def varied_scenes(
    n: int = 10,
    seed: int = 0,
    *,
    bike: VirtualBike | None = None,
    rider_mass_kg: float = 95.0,
    duration_s: float = 60.0,
) -> tuple[Scene, ...]:
    """Make rides that differ in road, speed and what lies on it, hard enough to bottom at both ends.

    Without a ``bike`` they are ridden in turn on the stock demo bike and on the lowered one.
    """
    bikes = (bike,) if bike is not None else (demo_bike(), lowered(demo_bike()))
    random = np.random.default_rng(seed)
    scenes = []
    for k in range(n):
        road_class, slowest_m_s, fastest_m_s = ROADS[k % len(ROADS)]
        speed_m_s = float(random.uniform(slowest_m_s, fastest_m_s))
        features = _features(random, speed_m_s * duration_s, speed_m_s)
        ridden = bikes[k % len(bikes)]
        scenes.append(
            Scene(
                bike=ridden,
                rider_mass_kg=rider_mass_kg,
                road=road_of_class(road_class, seed=int(random.integers(1 << 30)), features=features),
                speed_m_s=speed_m_s,
                duration_s=duration_s,
                loads=_braking(random, ridden, rider_mass_kg, duration_s),
            )
        )
    return tuple(scenes)


def _braking(
    random: np.random.Generator, bike: VirtualBike, rider_mass_kg: float, duration_s: float
) -> tuple[Load, ...]:
    """Weight thrown forward for a second or two every now and then, by braking with 0.3 to 0.7 g."""
    mass_kg = bike.sprung_mass_kg + rider_mass_kg + bike.front.unsprung_mass_kg + bike.rear.unsprung_mass_kg
    loads = [Load(t_s=0.0, front_n=0.0, rear_n=0.0)]
    at_s = 5.0
    while at_s < duration_s - 5.0:
        moved_n = (
            mass_kg * GRAVITY_M_S2 * float(random.uniform(0.3, 0.7)) * MASS_HEIGHT_MM / bike.wheelbase_mm
        )
        for after_s, share in ((0.0, 0.0), (0.3, 1.0), (1.5, 1.0), (1.8, 0.0)):
            loads.append(Load(t_s=at_s + after_s, front_n=share * moved_n, rear_n=-share * moved_n))
        at_s += float(random.uniform(6.0, 12.0))
    return tuple(loads)


def _features(random: np.random.Generator, length_m: float, speed_m_s: float) -> tuple[Feature, ...]:
    """A bump, a jump or whoops every few seconds of the ride, none in the first and last ones.

    Lengths go with the speed, so that each feature takes the wheel about as long on every ride.
    """
    features: list[Feature] = []
    at_m = 4.0 * speed_m_s
    while at_m < length_m - 4.0 * speed_m_s:
        makes = (_bump, _jump, _whoops)[int(random.integers(3))]
        features.append(makes(random, at_m, speed_m_s))
        at_m += float(random.uniform(3.0, 5.0)) * speed_m_s
    return tuple(features)


def _bump(random: np.random.Generator, at_m: float, speed_m_s: float) -> Feature:
    seconds, height_m = float(random.uniform(0.08, 0.15)), float(random.uniform(0.03, 0.07))
    return Feature(at_m=at_m, length_m=seconds * speed_m_s, height_m=height_m)


def _jump(random: np.random.Generator, at_m: float, speed_m_s: float) -> Feature:
    # A parabola climbed in 0.5 s is left at its lip with 2 × height / 0.5 s: 0.6 to 1.4 m/s upwards.
    height_m = float(random.uniform(0.15, 0.35))
    return Feature(shape=Shape.JUMP, at_m=at_m, length_m=0.5 * speed_m_s, height_m=height_m)


def _whoops(random: np.random.Generator, at_m: float, speed_m_s: float) -> Feature:
    height_m = float(random.uniform(0.12, 0.22))
    return Feature(at_m=at_m, length_m=0.5 * speed_m_s, height_m=height_m, repeats=4)
