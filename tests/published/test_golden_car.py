"""The virtual bike as the golden car of the International Roughness Index, against its printed coefficients.

Source: M. W. Sayers, T. D. Gillespie and W. D. O. Paterson, Guidelines for Conducting and Calibrating Road
Roughness Measurements, World Bank Technical Paper 46 (1986): constants, and the state-transition matrix of
250 mm steps at 80 km/h, digits as public source files that cite it have them (the paper was not read). The
triangle is after its demonstration; its running index and those of the sines were computed for this check.

The golden car is a quarter car without friction or stops, so an end of a virtual bike can be one. The index
is the mean of how fast its suspension moves, per metre of road.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from analysis.road import Road
from analysis.virtual_bike import Damper, Damping, Scene, VirtualBike, VirtualEnd, simulate

KT_OVER_MS, KS_OVER_MS, C_OVER_MS, MU_OVER_MS = 653.0, 63.3, 6.0, 0.15
SPEED_M_S = 80 / 3.6
STEP_M = 0.25

# d(zs)/dx, its rate, d(zu)/dx, its rate (zs: body, zu: wheel), from one step to the next; slope of the road.
ST = np.array(
    [
        [0.9966071, 0.01091514, -0.002083274, 0.0003190145],
        [-0.5563044, 0.9438768, -0.8324718, 0.05064701],
        [0.02153176, 0.002126763, 0.7508714, 0.008221888],
        [3.335013, 0.3376467, -39.12762, 0.4347564],
    ]
)
PR = np.array([0.005476107, 1.388776, 0.2275968, 35.79262])

TRIANGLE_MM = {0.0: 0.0, 1.0: 0.0, 3.0: 2.0, 5.0: 0.0, 100.0: 0.0}
TRIANGLE_INDEX = {20: 0.8050660344569517, 39: 0.521712868370039, 119: 0.20667696475472996}  # after steps

# Wavelength m, amplitude mm: index of a steady ride over it, m/km.
SINES = {(2.5, 1.0): 2.6184222404266486, (5.0, 2.0): 1.8714654848604457, (15.0, 5.0): 2.0364143641989374,
         (30.0, 10.0): 0.6064154167647934}  # fmt: skip

LENGTH_M = 120.0
SAMPLES_A_STEP = 8
STEP_HZ = 8000.0
BODY_KG = 250.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileRoad(Road):
    """A road given by heights at places, straight lines between them."""

    at_m: tuple[float, ...]
    height_mm: tuple[float, ...]

    def height_m(self, distance_m: np.ndarray) -> np.ndarray:
        return np.interp(distance_m, self.at_m, self.height_mm) / 1e3


def golden_bike() -> VirtualBike:
    """Two golden cars that do not feel each other; only the front one is looked at."""
    straight = Damping(low_n_s_m=C_OVER_MS * BODY_KG, high_n_s_m=C_OVER_MS * BODY_KG)
    end = VirtualEnd(
        travel_mm=600,
        spring_rate_n_mm=KS_OVER_MS * BODY_KG / 1e3,
        preload_mm=0,
        damper=Damper(compression=straight, rebound=straight),
        unsprung_mass_kg=MU_OVER_MS * BODY_KG,
        bump_stop=None,
        top_out_stop=None,
        tyre_rate_n_mm=KT_OVER_MS * BODY_KG / 1e3,
        tyre_damping_n_s_m=0,
    )
    return VirtualBike(
        name="two golden cars",
        id="none",
        wheelbase_mm=1500,
        sprung_mass_kg=2 * BODY_KG,
        sprung_front_share=0.5,
        pitch_radius_mm=750,
        rider_front_share=0.5,
        rider_above_mm=0,
        front=end,
        rear=end,
        rake_deg=0,
        fork_offset_mm=0,
        front_wheel_radius_mm=300,
        rear_wheel_radius_mm=300,
    )


def rough_mm() -> dict[float, float]:
    """Heights a random walk apart: steps of 1 mm RMS each 250 mm."""
    heights = np.cumsum(np.random.default_rng(8).normal(0.0, 1.0, 481))
    return dict(zip((np.arange(481) * STEP_M).tolist(), (heights - heights[0]).tolist(), strict=True))


def sine_mm(length_m: float, amplitude_mm: float) -> dict[float, float]:
    """From flat to the full wave within one of it."""
    places = np.arange(0.0, LENGTH_M + 2.0, length_m / 200)
    heights = np.clip(places / length_m, 0.0, 1.0) * amplitude_mm * np.sin(2 * np.pi * places / length_m)
    return dict(zip(places.tolist(), heights.tolist(), strict=True))


@pytest.fixture(scope="module")
def slopes() -> dict[object, np.ndarray]:
    """Speed of the suspension per speed of the ride, mm/m, eight times each 250 mm, from the start on."""
    profiles = {"triangle": TRIANGLE_MM, "rough": rough_mm()} | {wave: sine_mm(*wave) for wave in SINES}
    scenes = [
        Scene(
            bike=golden_bike(),
            rider_mass_kg=0,
            road=ProfileRoad(at_m=tuple(profile), height_mm=tuple(profile.values())),
            speed_m_s=SPEED_M_S,
            duration_s=(LENGTH_M + STEP_M) / SPEED_M_S,
        )
        for profile in profiles.values()
    ]
    truths = simulate(scenes, SAMPLES_A_STEP * SPEED_M_S / STEP_M, STEP_HZ)
    return {name: truth.front_speed_mm_s / SPEED_M_S for name, truth in zip(profiles, truths, strict=True)}


def by_printed_coefficients(slopes: np.ndarray) -> np.ndarray:
    """The same from the matrices as printed: slope of body less wheel, mm/m, after each step."""
    state, found = np.zeros(4), []
    for slope in slopes:
        state = ST @ state + PR * slope
        found.append(state[2] - state[0])
    return np.array(found)


def test_constant_slope_is_kept_by_the_printed_matrices() -> None:
    """Standing on an even slope nothing moves: the rows must add up. PR_1 misses by 1e-7, as printed."""
    even = np.array([1.0, 0.0, 1.0, 0.0])
    assert ST @ even + PR == pytest.approx(even, abs=5e-5)


def printed_and_ours(profile_mm: dict[float, float], slopes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    steps = np.arange(0.0, LENGTH_M + STEP_M / 2, STEP_M)
    heights = np.interp(steps, tuple(profile_mm), tuple(profile_mm.values()))
    printed = by_printed_coefficients(np.diff(heights) / STEP_M)
    return printed, slopes[SAMPLES_A_STEP * np.arange(1, printed.size + 1)]


def test_triangle_step_by_step(slopes: dict[object, np.ndarray]) -> None:
    printed, ours = printed_and_ours(TRIANGLE_MM, slopes["triangle"])
    assert np.abs(ours - printed).max() < 0.005 * np.abs(printed).max()
    # The demonstration starts at 0.25 m.
    running = np.cumsum(np.abs(ours[1:])) / np.arange(1, ours.size)
    for steps, index in TRIANGLE_INDEX.items():
        assert running[steps - 1] == pytest.approx(index, rel=0.005)


def test_rough_road_step_by_step(slopes: dict[object, np.ndarray]) -> None:
    printed, ours = printed_and_ours(rough_mm(), slopes["rough"])
    assert np.sqrt(np.mean((ours - printed) ** 2)) < 0.005 * np.sqrt(np.mean(printed**2))
    assert np.mean(np.abs(ours)) == pytest.approx(np.mean(np.abs(printed)), rel=0.002)


@pytest.mark.parametrize("wave", SINES)
def test_index_of_a_steady_sine(slopes: dict[object, np.ndarray], wave: tuple[float, float]) -> None:
    """The last 60 m, when the start has died away: whole waves of each length."""
    last = round(60.0 / STEP_M) * SAMPLES_A_STEP
    assert np.mean(np.abs(slopes[wave][-last:])) == pytest.approx(SINES[wave], rel=0.005)
