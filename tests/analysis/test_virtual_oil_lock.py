from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.road import Feature, Road, Shape
from analysis.virtual_bike import EndTruth, OilLock, Scene, VirtualBike, demo_bike, simulate
from ingest.records import End

LOCK = OilLock(length_mm=18.0, full_n_s_m=8000.0, power=2.0)


def locked(bike: VirtualBike) -> VirtualBike:
    return replace(bike, front=replace(bike.front, oil_lock=LOCK))


def soft() -> VirtualBike:
    bike = demo_bike()
    return replace(bike, front=replace(bike.front, spring_rate_n_mm=6.5, rubber=None))


def test_an_oil_lock_grows_over_the_end_of_the_stroke_and_works_on_the_way_in_only() -> None:
    front = locked(demo_bike()).front
    depth = np.array([0.0, 200.0, 212.0, 221.0, 230.0, 235.0])
    expected = [0.0, 0.0, 0.0, 2000.0, 8000.0, 8000.0]  # 8000 (depth / 18)² from 212 mm on
    np.testing.assert_allclose(front.lock_damping_n_s_m(depth), expected, atol=1e-9)
    assert not demo_bike().front.lock_damping_n_s_m(depth).any()


def test_an_oil_lock_leaves_where_the_bike_rests_as_it_was() -> None:
    assert locked(demo_bike()).sag_mm(95.0) == demo_bike().sag_mm(95.0)
    depth = np.linspace(-3.0, 235.0, 500)
    np.testing.assert_array_equal(
        locked(demo_bike()).front.elastic_force_n(depth), demo_bike().front.elastic_force_n(depth)
    )


@pytest.fixture(scope="module")
def jumps() -> tuple[EndTruth, EndTruth]:
    """The front of a soft bike over one jump, without and with an oil lock."""
    road = Road(features=(Feature(shape=Shape.JUMP, at_m=20.0, length_m=6.0, height_m=0.5),))
    scenes = [
        Scene(bike=bike, rider_mass_kg=95.0, road=road, speed_m_s=12.0, duration_s=4.0)
        for bike in (soft(), locked(soft()))
    ]
    without, with_lock = (truth.ends[End.FRONT] for truth in simulate(scenes))
    return without, with_lock


def test_an_oil_lock_softens_the_landing(jumps: tuple[EndTruth, EndTruth]) -> None:
    without, with_lock = jumps
    assert without.hard_stop_s > 0
    assert with_lock.max_mm < without.max_mm - 0.3
    assert with_lock.max_mm > 212


def test_time_in_the_air_is_what_the_jump_gives(jumps: tuple[EndTruth, EndTruth]) -> None:
    """Nothing carries the wheel from the lip (20 + 6 m at 12 m/s) until it lands."""
    start, end = max(jumps[0].in_the_air_s, key=lambda span: span[1] - span[0])
    assert start == pytest.approx(26.0 / 12.0, abs=0.02)
    assert 0.1 < end - start < 0.6
