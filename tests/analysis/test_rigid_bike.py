"""The rigid bike: what must hold for any bike, told apart by the state it was measured in."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.rigid_bike import PlaneBike, matching_front_mm, stand
from ingest.errors import UsageError

TALL = PlaneBike(
    rake_deg=26.0,
    fork_offset_mm=45.0,
    wheelbase_mm=1560.0,
    front_wheel_radius_mm=345.0,
    rear_wheel_radius_mm=325.0,
    front_travel_mm=70.0,
    rear_travel_mm=66.0,
)
SEAT, BELLY = (550.0, 880.0), (760.0, 260.0)


def test_the_state_it_was_measured_in_gives_back_what_was_measured() -> None:
    now = stand(TALL, 70.0, 66.0)
    assert (now.rake_deg, now.wheelbase_mm, now.pitch_deg) == pytest.approx((26.0, 1560.0, 0.0))
    for place in (SEAT, BELLY, (0.0, 325.0), (1560.0, 345.0)):
        assert now.place_mm(*place) == pytest.approx(place)


def test_both_axles_stand_at_their_radius() -> None:
    now = stand(TALL, 20.0, 150.0, fork_raised_mm=12.0, rear_axle_up_mm=30.0)
    assert now.height_mm(*now.rear_axle_in_frame_mm) == pytest.approx(325.0)
    assert now.place_mm(*now.front_axle_in_frame_mm) == pytest.approx((now.wheelbase_mm, 345.0))


def test_equal_drops_come_through_at_every_place() -> None:
    before = stand(TALL, 70.0, 66.0)
    front = matching_front_mm(TALL, before, 30.0)
    after = stand(TALL, 70.0, 66.0, fork_raised_mm=front, rear_axle_up_mm=30.0)
    assert after.rake_deg == pytest.approx(before.rake_deg, abs=1e-12)
    for place in (SEAT, BELLY):
        assert before.height_mm(*place) - after.height_mm(*place) == pytest.approx(30.0)


def test_a_bike_measured_topped_out_matches_too_when_it_stands_turned() -> None:
    hanging = replace(TALL, front_travel_mm=0.0, rear_travel_mm=0.0)
    before = stand(hanging, 40.0, 95.0)
    assert before.pitch_deg < -1.0
    front = matching_front_mm(hanging, before, 25.0)
    after = stand(hanging, 40.0, 95.0, fork_raised_mm=front, rear_axle_up_mm=25.0)
    assert after.rake_deg == pytest.approx(before.rake_deg, abs=1e-12)


def test_travel_and_tubes_raised_are_the_same_move_of_the_front_axle() -> None:
    one, other = stand(TALL, 88.0, 66.0), stand(TALL, 70.0, 66.0, fork_raised_mm=18.0)
    assert one == other


def test_the_travel_of_an_a_arm_is_vertical() -> None:
    arm = replace(TALL, telescopic=False)
    lower = stand(arm, 90.0, 86.0)
    assert lower.rake_deg == pytest.approx(26.0)
    assert lower.wheelbase_mm == pytest.approx(1560.0)
    assert matching_front_mm(arm, lower, 20.0) == 20.0
    assert stand(arm, 90.0, 86.0, front_axle_up_mm=10.0) == stand(arm, 100.0, 86.0)


def test_a_swingarm_takes_the_wheelbase_along_its_arc() -> None:
    pivoted = replace(TALL, swingarm_pivot_mm=(560.0, 425.0))
    straight, arc = stand(TALL, 70.0, 106.0), stand(pivoted, 70.0, 106.0)
    length = math.hypot(560.0, 100.0)
    moved_back = math.sqrt(length**2 - 60.0**2) - 560.0
    assert arc.wheelbase_mm - straight.wheelbase_mm == pytest.approx(moved_back, abs=0.2)
    with pytest.raises(UsageError, match="a swingarm of 569 mm cannot take its axle"):
        stand(pivoted, 70.0, 900.0)


def test_a_smaller_tyre_lowers_its_own_end() -> None:
    before, after = stand(TALL, 70.0, 66.0), stand(TALL, 70.0, 66.0, rear_radius_change_mm=-10.0)
    assert before.height_mm(0.0, 900.0) - after.height_mm(0.0, 900.0) == pytest.approx(10.0, abs=0.05)
    assert after.rake_deg > before.rake_deg


@pytest.mark.parametrize("travel", [float("nan"), 5000.0, -5000.0])
def test_a_bike_that_cannot_stand_is_refused(travel: float) -> None:
    with pytest.raises(UsageError, match="leave no bike that stands on two wheels"):
        stand(TALL, travel, 66.0)
