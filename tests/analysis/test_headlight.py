"""The beam on the wall."""

from __future__ import annotations

import math

import pytest

from analysis.headlight import beam_change
from analysis.rigid_bike import PlaneBike, matching_front_mm, stand

BIKE = PlaneBike(
    rake_deg=26.0,
    fork_offset_mm=45.0,
    wheelbase_mm=1560.0,
    front_wheel_radius_mm=345.0,
    rear_wheel_radius_mm=325.0,
)
LAMP = (1450.0, 950.0)


def test_a_level_drop_lowers_the_beam_by_itself() -> None:
    before = stand(BIKE, 0.0, 0.0)
    front = matching_front_mm(BIKE, before, 25.0)
    found = beam_change(before, stand(BIKE, 0.0, 0.0, fork_raised_mm=front, rear_axle_up_mm=25.0), LAMP)
    assert found.lower_mm == pytest.approx(25.0)
    assert found.by_pitch_mm == pytest.approx(0.0, abs=1e-9)


def test_a_lower_rear_sends_the_beam_up() -> None:
    before, after = stand(BIKE, 0.0, 0.0), stand(BIKE, 0.0, 0.0, rear_axle_up_mm=40.0)
    found = beam_change(before, after, LAMP, dip_percent=0.0)
    assert found.by_pitch_mm == pytest.approx(10_000 * math.tan(math.radians(after.pitch_deg)))
    assert found.by_pitch_mm < -250.0
