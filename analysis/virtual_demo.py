"""Invented bikes and rides to try things on. None of the numbers belongs to a bike one can buy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.road import Feature, Road, Shape, road_of_class
from analysis.virtual_parts import AirSpring, BumpRubber, Damper, Damping, VirtualBike, VirtualEnd
from analysis.virtual_scene import Scene

STOCK_LEVERAGE = ((0.0, 0.0), (55.0, 21.0), (110.0, 43.5), (165.0, 67.3), (220.0, 92.0))
LOWERED_LEVERAGE = ((0.0, 0.0), (50.0, 19.6), (100.0, 40.5), (150.0, 62.7), (195.0, 84.0))
LIGHT_RIDER_KG = 58.0


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
                compression=Damping(low_n_s_m=750, high_n_s_m=450),
                rebound=Damping(low_n_s_m=1350, high_n_s_m=900),
            ),
            air=AirSpring(area_mm2=2900, column_mm=330),
            rubber=BumpRubber(length_mm=35, full_force_n=3000),
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
    front_spring_rate_n_mm: float = 9.2,
    front_preload_mm: float = 20.0,
    rear_spring_rate_n_mm: float = 75.0,
    rear_preload_mm: float = 14.0,
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


def varied_scenes(
    n: int = 10,
    seed: int = 0,
    *,
    bike: VirtualBike | None = None,
    rider_mass_kg: float = 95.0,
    duration_s: float = 60.0,
) -> tuple[Scene, ...]:
    """Make rides that differ in road, speed and what lies on it, hard enough to bottom at both ends."""
    bike = demo_bike() if bike is None else bike
    random = np.random.default_rng(seed)
    scenes = []
    for k in range(n):
        name = "ABCD"[k % 4]
        speed = float(random.uniform(*{"A": (20, 25), "B": (16, 22), "C": (11, 16), "D": (7, 10)}[name]))
        features = _features(random, speed * duration_s, speed)
        road: Road = road_of_class(name, seed=int(random.integers(1 << 30)), features=features)
        scenes.append(
            Scene(bike=bike, rider_mass_kg=rider_mass_kg, road=road, speed_m_s=speed, duration_s=duration_s)
        )
    return tuple(scenes)


def _features(random: np.random.Generator, length_m: float, speed_m_s: float) -> tuple[Feature, ...]:
    """A bump, a jump or whoops every few seconds of the ride, none in the first ones."""
    features: list[Feature] = []
    at = 4.0 * speed_m_s
    while at < length_m - 4.0 * speed_m_s:
        kind = random.choice(3)
        if kind == 0:
            features.append(
                Feature(at_m=at, length_m=random.uniform(0.6, 2.0), height_m=random.uniform(0.05, 0.15))
            )
        elif kind == 1:
            rise_m_s = random.uniform(1.5, 3.0)
            length = 0.4 * speed_m_s
            features.append(
                Feature(shape=Shape.JUMP, at_m=at, length_m=length, height_m=0.5 * rise_m_s * 0.4)
            )
        else:
            features.append(
                Feature(at_m=at, length_m=0.45 * speed_m_s, height_m=random.uniform(0.15, 0.3), repeats=4)
            )
        at += random.uniform(3.0, 6.0) * speed_m_s
    return tuple(features)
