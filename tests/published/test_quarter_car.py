"""The linear limit of the virtual bike against the closed-form quarter car on a white-noise-velocity road.

Source: variances from the Lyapunov equation, rederived symbolically; the same model in D. Hrovat, "Survey of
advanced suspension developments", Automatica 33(10), 1997, and S. Türkay and H. Akçay, J. Sound Vib. 282,
2005 (papers not read). The first set of parameters is a common textbook passenger car (from memory), the
second one is like the front of a motorcycle. Both ride in one virtual bike whose ends do not feel each other
(radius of gyration² = product of the distances to the axles).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from analysis.road import Road
from analysis.virtual_bike import Damper, Damping, Scene, Truth, VirtualBike, VirtualEnd, simulate
from ingest.records import End

RIDE_S, SETTLE_S, SPEED_M_S = 30.0, 8.0, 20.0
GD_M3 = 64e-6
WHITE_M2_S = 2 * np.pi**2 * 0.1**2 * GD_M3 * SPEED_M_S


@dataclass(frozen=True)
class Car:
    ms: float
    mu: float
    ks: float
    c: float
    kt: float
    # Check values: RMS of stroke (m), its speed (m/s), body acceleration (m/s²) and tyre (m) at this W.
    white: float
    stroke: float
    speed: float
    acceleration: float
    tyre: float

    def closed_form(self, w: float) -> tuple[float, float, float, float]:
        ms, mu, ks, c, kt = self.ms, self.mu, self.ks, self.c, self.kt
        both = ms + mu
        tyre = c * both**2 / (kt * ms**2) + ks**2 * both**3 / (c * kt**2 * ms**2)
        tyre += mu / c - 2 * ks * mu * both / (c * kt * ms)
        acceleration = c * kt / ms**2 + ks**2 * both / (c * ms**2)
        return (
            float(np.sqrt(w * both / (2 * c))),
            float(np.sqrt(w * kt / (2 * c))),
            float(np.sqrt(w / 2 * acceleration)),
            float(np.sqrt(w / 2 * tyre)),
        )


CARS = {
    End.FRONT: Car(240, 36, 16000, 980, 160000, 0.0002526618726678876,
                   0.005964806515171907, 0.14361566416410484, 0.7085403313792465, 0.0022510468692383333),
    End.REAR: Car(110, 18, 9000, 1100, 180000, 2 * np.pi**2 * 0.01 * 256e-6 * 15,
                  0.006640856978667903, 0.24903213670004637, 2.5489060313689578, 0.002960642694791755),
}  # fmt: skip


def linear_end(car: Car) -> VirtualEnd:
    straight = Damping(low_n_s_m=car.c, high_n_s_m=car.c)
    return VirtualEnd(
        travel_mm=400,
        spring_rate_n_mm=car.ks / 1e3,
        preload_mm=0,
        damper=Damper(compression=straight, rebound=straight),
        unsprung_mass_kg=car.mu,
        bump_stop=None,
        top_out_stop=None,
        tyre_rate_n_mm=car.kt / 1e3,
        tyre_damping_n_s_m=0,
    )


def decoupled_bike() -> VirtualBike:
    front, rear = CARS[End.FRONT], CARS[End.REAR]
    share = front.ms / (front.ms + rear.ms)
    return VirtualBike(
        name="two quarter cars",
        id="none",
        wheelbase_mm=1500,
        sprung_mass_kg=front.ms + rear.ms,
        sprung_front_share=share,
        pitch_radius_mm=1500 * np.sqrt(share * (1 - share)),
        rider_front_share=share,
        rider_above_mm=0,
        front=linear_end(front),
        rear=linear_end(rear),
        rake_deg=0,
        fork_offset_mm=0,
        front_wheel_radius_mm=300,
        rear_wheel_radius_mm=300,
    )


@pytest.fixture(scope="module")
def truth() -> Truth:
    # The road repeats exactly once in the time that is looked at: no sampling error is left.
    road = Road(
        gd_n0_m3=GD_M3,
        seed=4,
        low_cycle_per_m=1 / (RIDE_S * SPEED_M_S),
        high_cycle_per_m=15.0,
        period_m=RIDE_S * SPEED_M_S,
        lead_in_m=0.0,
    )
    scene = Scene(
        bike=decoupled_bike(),
        rider_mass_kg=0,
        road=road,
        speed_m_s=SPEED_M_S,
        duration_s=SETTLE_S + RIDE_S,
    )
    return simulate([scene], 2000)[0]


@pytest.mark.parametrize("end", CARS)
def test_closed_form_gives_the_printed_values(end: End) -> None:
    car = CARS[end]
    printed = (car.stroke, car.speed, car.acceleration, car.tyre)
    assert car.closed_form(car.white) == pytest.approx(printed, rel=1e-9)


@pytest.mark.parametrize("end", CARS)
def test_variances_of_the_simulated_ride(truth: Truth, end: End) -> None:
    car = CARS[end]
    last = slice(-round(RIDE_S / truth.dt_s), None)
    stroke_m = (truth.travel_mm(end)[last] - truth.rider_sag_mm[end]) / 1e3
    speed_m_s = truth.speed_mm_s(end)[last] / 1e3
    # Newton for the body and for the wheel gives what the truth does not carry.
    body_m_s2 = (car.ks * stroke_m + car.c * speed_m_s) / car.ms
    wheel_m_s2 = body_m_s2 + np.gradient(speed_m_s, truth.dt_s)
    tyre_m = (car.ms * body_m_s2 + car.mu * wheel_m_s2) / car.kt
    measured = [float(np.sqrt(np.mean(each**2))) for each in (stroke_m, speed_m_s, body_m_s2, tyre_m)]
    assert measured == pytest.approx(car.closed_form(WHITE_M2_S), rel=0.02)
    # The damper's mean power does not depend on damper, spring or masses: W kt / 2.
    assert car.c * measured[1] ** 2 == pytest.approx(WHITE_M2_S * car.kt / 2, rel=0.04)
