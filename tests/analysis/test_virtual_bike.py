"""The physics of the virtual bike against closed forms and arithmetic done another way."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from analysis.road import Feature, Road, Shape, road_of_class
from analysis.virtual_bike import (
    Damper,
    Damping,
    Load,
    Scene,
    Truth,
    VirtualBike,
    VirtualEnd,
    demo_bike,
    lowered,
    ride_scene,
    simulate,
)
from analysis.virtual_parts import GRAVITY_M_S2
from ingest.errors import CannotAnswer, UsageError
from ingest.records import End

NO_DAMPING = Damper(
    compression=Damping(low_n_s_m=0, high_n_s_m=0), rebound=Damping(low_n_s_m=0, high_n_s_m=0)
)


def linear(end: VirtualEnd, **changes: object) -> VirtualEnd:
    """An end with nothing but a straight spring."""
    bare = replace(end, air=None, rubber=None, friction_n=0.0, leverage=None, damper=NO_DAMPING)
    return replace(bare, **changes)


def without_friction(bike: VirtualBike) -> VirtualBike:
    return replace(bike, front=replace(bike.front, friction_n=0.0), rear=replace(bike.rear, friction_n=0.0))


def standing(bike: VirtualBike, loads: tuple[Load, ...] = (), seconds: float = 4.0) -> Truth:
    return simulate([Scene(bike=bike, rider_mass_kg=58, duration_s=seconds, loads=loads)])[0]


def test_equilibrium_of_a_straight_fork_is_weight_along_the_axis_over_the_rate() -> None:
    bike = replace(demo_bike(), front=linear(demo_bike().front))
    weight_n = (187 * 0.49 + 58 * 0.34) * GRAVITY_M_S2
    expected_mm = weight_n * np.cos(np.radians(26.0)) / 14.5 - 20.0
    assert bike.sag_mm(58)[End.FRONT] == pytest.approx(expected_mm, abs=1e-6)


def test_equilibrium_of_the_linkage_balances_virtual_work() -> None:
    bike = demo_bike()
    sag_mm = bike.sag_mm(58)[End.REAR]
    weight_n = (187 * 0.51 + 58 * 0.66) * GRAVITY_M_S2
    step = np.array([sag_mm - 0.01, sag_mm + 0.01])
    stroke = bike.rear.stroke_mm(step)
    shock_n = 105 * (16 + stroke.mean())
    assert weight_n * 0.02 == pytest.approx(shock_n * np.diff(stroke)[0], rel=1e-4)


def test_stroke_passes_through_the_leverage_table_and_carries_on_past_it() -> None:
    rear = demo_bike().rear
    assert rear.leverage is not None
    wheel, stroke = np.array(rear.leverage).T
    assert rear.stroke_mm(wheel) == pytest.approx(stroke)
    beyond = rear.stroke_mm(np.array([220.0, 230.0, 240.0]))
    assert np.diff(beyond)[0] == pytest.approx(np.diff(beyond)[1])
    assert np.diff(beyond)[0] / 10 == pytest.approx(rear.motion_ratio(np.array([220.0]))[0])


def test_standing_bike_without_friction_stays_at_its_equilibrium() -> None:
    truth = standing(without_friction(demo_bike()))
    for end in End:
        assert truth.travel_mm(end) == pytest.approx(truth.rider_sag_mm[end], abs=0.01)


def test_friction_holds_a_standing_bike_against_less_than_itself() -> None:
    friction_n = demo_bike().front.friction_n / np.cos(np.radians(26.0))
    push = (Load(t_s=0.5, front_n=0, rear_n=0), Load(t_s=1.5, front_n=0.9 * friction_n, rear_n=0))
    truth = standing(demo_bike(), push)
    # What remains is creep over which a grain of sand would fall.
    assert np.ptp(truth.front_mm) < 0.002


def test_friction_gives_way_by_what_exceeds_it() -> None:
    front = linear(demo_bike().front, friction_n=60.0, damper=demo_bike().front.damper)
    push_n, cosine = 300.0, np.cos(np.radians(26.0))
    ramp = ((0.5, 0.0), (4.0, 0.95), (7.0, 1.0))
    loads = tuple(Load(t_s=t_s, front_n=share * push_n, rear_n=0) for t_s, share in ramp)
    truth = standing(replace(demo_bike(), front=front), loads, 8.0)
    moved_mm = truth.front_mm[-1] - truth.front_mm[0]
    assert moved_mm == pytest.approx((push_n * cosine - 60.0) / 14.5, abs=0.1)


def test_free_decay_has_the_frequency_and_damping_of_the_eigenvalues() -> None:
    mass, rate, damping, tyre, wheel = 110.0, 15000.0, 600.0, 170000.0, 19.0
    straight = Damping(low_n_s_m=damping, high_n_s_m=damping)
    end = linear(
        demo_bike().rear,
        travel_mm=400.0,
        spring_rate_n_mm=rate / 1e3,
        preload_mm=0.0,
        damper=Damper(compression=straight, rebound=straight),
        unsprung_mass_kg=wheel,
        tyre_rate_n_mm=tyre / 1e3,
        tyre_damping_n_s_m=0.0,
    )
    bike = replace(
        demo_bike(),
        sprung_mass_kg=2 * mass,
        sprung_front_share=0.5,
        pitch_radius_mm=780.0,
        front=end,
        rear=end,
    )
    # Pushed down and let go at 1 s.
    loads = (
        Load(t_s=0, front_n=300, rear_n=300),
        Load(t_s=1, front_n=300, rear_n=300),
        Load(t_s=1.0001, front_n=0, rear_n=0),
    )
    truth = simulate([Scene(bike=bike, rider_mass_kg=0, duration_s=4.0, loads=loads)], 2000)[0]
    swing = truth.front_mm[2400:] - truth.unladen_sag_mm[End.FRONT]
    up = np.flatnonzero((swing[:-1] < 0) & (swing[1:] >= 0))
    crossings = up - swing[up] / (swing[up + 1] - swing[up])
    peaks = [np.abs(swing[int(a) : int(b)]).max() for a, b in pairwise(crossings)]
    system = np.array(
        [
            [0, 0, 1, 0],
            [0, 0, 0, 1],
            [-rate / mass, rate / mass, -damping / mass, damping / mass],
            [rate / wheel, -(rate + tyre) / wheel, damping / wheel, -damping / wheel],
        ]
    )
    slow = min(np.linalg.eigvals(system), key=lambda value: abs(value.imag) or np.inf)
    period_s = np.diff(crossings).mean() / 2000
    assert 2 * np.pi / period_s == pytest.approx(abs(slow.imag), rel=0.005)
    assert np.log(peaks[0] / peaks[1]) / period_s == pytest.approx(-slow.real, rel=0.03)


def test_without_damping_and_friction_a_swing_keeps_its_height() -> None:
    end = linear(
        demo_bike().rear,
        spring_rate_n_mm=18.0,
        preload_mm=0.0,
        tyre_rate_n_mm=5000.0,
        tyre_damping_n_s_m=0.0,
    )
    bike = replace(demo_bike(), front=end, rear=end, sprung_front_share=0.5, pitch_radius_mm=780.0)
    loads = (Load(t_s=0, front_n=400, rear_n=400), Load(t_s=0.3, front_n=0, rear_n=0))
    travel_mm = simulate([Scene(bike=bike, rider_mass_kg=0, duration_s=12.0, loads=loads)])[0].front_mm
    assert np.ptp(travel_mm[10000:]) == pytest.approx(np.ptp(travel_mm[1000:3000]), rel=0.005)
    assert np.ptp(travel_mm[10000:]) > 2.0


def test_rear_meets_the_road_after_the_wheelbase() -> None:
    end = replace(demo_bike().rear, leverage=None, spring_rate_n_mm=18.0, damper=demo_bike().front.damper)
    bike = replace(
        demo_bike(), front=end, rear=end, sprung_front_share=0.5, rider_front_share=0.5, pitch_radius_mm=780.0
    )
    bump = Road(features=(Feature(at_m=20.0, length_m=1.0, height_m=0.05),))
    # The body's ends do not feel each other: radius² = product of the distances, nobody aboard.
    truth = simulate([Scene(bike=bike, rider_mass_kg=0, road=bump, speed_m_s=7.8, duration_s=5.0)])[0]
    delay = round(1.560 / 7.8 / truth.dt_s)
    assert truth.rear_mm[delay:] == pytest.approx(truth.front_mm[:-delay], abs=0.02)
    assert truth.front_mm.max() - truth.front_mm[0] > 10.0


def test_in_the_air_the_suspension_tops_out_and_the_landing_uses_it() -> None:
    lip = Road(features=(Feature(shape=Shape.JUMP, at_m=20.0, length_m=7.0, height_m=0.35),))
    truth = simulate([Scene(bike=demo_bike(), rider_mass_kg=95, road=lip, speed_m_s=14, duration_s=4)])[0]
    for end in End:
        toppings = truth.ends[end].toppings
        assert toppings
        assert toppings[0].t_s > 27.0 / 14
        assert truth.travel_mm(end)[round(toppings[0].t_s / truth.dt_s) :].max() > 100.0


def test_hard_stop_holds_and_is_noted() -> None:
    drop = Road(features=(Feature(shape=Shape.JUMP, at_m=20.0, length_m=7.0, height_m=0.45),))
    bike = lowered(demo_bike())
    truth = simulate([Scene(bike=bike, rider_mass_kg=110, road=drop, speed_m_s=14, duration_s=4)])[0]
    rear = truth.ends[End.REAR]
    assert bike.rear.travel_mm < rear.max_mm < bike.rear.travel_mm + 8.0
    assert 0.0 < rear.hard_stop_s < rear.rubber_s < 1.0
    deepest = max(rear.above_95_percent, key=lambda event: event.peak_mm)
    assert deepest.peak_mm == pytest.approx(rear.max_mm, abs=1e-3)
    assert deepest.entry_speed_mm_s > 500.0
    assert deepest.t_s == pytest.approx(truth.rear_mm.argmax() * truth.dt_s, abs=truth.dt_s)


def test_damper_is_digressive_and_rebound_is_its_own() -> None:
    damper = Damper(
        compression=Damping(low_n_s_m=800, high_n_s_m=300, knee_m_s=0.2),
        rebound=Damping(low_n_s_m=1500, high_n_s_m=1500),
    )
    force = damper.force_n(np.array([-1.0, 0.0, 0.001, 5.0, 6.0]))
    assert force[0] == pytest.approx(-1500.0)
    assert force[1] == 0.0
    assert force[2] == pytest.approx(0.8, rel=0.01)
    assert force[4] - force[3] == pytest.approx(300.0, rel=0.001)


def test_halving_the_step_moves_next_to_nothing() -> None:
    scenes = [ride_scene(bike, seconds) for bike, seconds in ((demo_bike(), 58), (lowered(demo_bike()), 58))]
    scenes = [replace(scene, duration_s=12.0) for scene in scenes]
    coarse, fine = (simulate(scenes, step_hz=step_hz) for step_hz in (4000, 8000))
    for one, other in zip(coarse, fine, strict=True):
        for end in End:
            assert one.ends[end].max_mm == pytest.approx(other.ends[end].max_mm, abs=0.1)
            assert np.sqrt(np.mean((one.travel_mm(end) - other.travel_mm(end)) ** 2)) < 0.1


@pytest.mark.parametrize("rate_hz", [200, 333, 1000, 2000])
def test_any_rate_gives_samples_of_the_same_ride(rate_hz: float) -> None:
    scene = replace(ride_scene(demo_bike()), duration_s=6.0)
    truth, fine = simulate([scene], rate_hz)[0], simulate([scene], 2000)[0]
    assert truth.front_mm.size == 6 * rate_hz
    time_s = np.arange(truth.front_mm.size) * truth.dt_s
    expected = np.interp(time_s, np.arange(fine.front_mm.size) * fine.dt_s, fine.front_mm)
    assert np.sqrt(np.mean((truth.front_mm - expected) ** 2)) < 0.1
    assert truth.front_max_mm >= truth.front_mm.max()


def test_a_scene_does_not_depend_on_its_company() -> None:
    road = road_of_class("C", seed=1)
    scenes = [
        Scene(bike=bike, rider_mass_kg=58, road=road, speed_m_s=12, duration_s=seconds)
        for bike, seconds in ((demo_bike(), 3.0), (lowered(demo_bike()), 2.0), (demo_bike(), 1.0))
    ]
    together = simulate(scenes)
    for scene, truth in zip(scenes, together, strict=True):
        alone = simulate([scene])[0]
        assert np.array_equal(alone.front_mm, truth.front_mm)
        assert np.array_equal(alone.rear_mm, truth.rear_mm)
    assert [truth.front_mm.size for truth in together] == [3000, 2000, 1000]


def test_truth_cannot_be_changed() -> None:
    truth = standing(demo_bike(), seconds=0.1)
    with pytest.raises(ValueError, match="read-only"):
        truth.front_mm[0] = 1.0


def test_what_cannot_be_ridden_is_refused() -> None:
    with pytest.raises(UsageError, match="100 samples per second: give a rate from 200 to 2000"):
        simulate([ride_scene(demo_bike())], 100)
    cliff = Road(features=(Feature(at_m=15.0, length_m=0.3, height_m=3.0),))
    with pytest.raises(CannotAnswer, match="beyond its limits; give it a kinder road"):
        simulate([Scene(bike=demo_bike(), rider_mass_kg=58, road=cliff, speed_m_s=20, duration_s=3)])
    with pytest.raises(CannotAnswer, match="a load of 900000 N is outside what this suspension can carry"):
        demo_bike().front.equilibrium_mm(900000.0)
