"""Geometry: what must hold for any bike, and what is said when it cannot be answered."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.geometry import geometry_change, geometry_of
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Bike


def test_bike_as_its_file_has_it(bike: Bike) -> None:
    found = geometry_of(bike)
    assert (found.rake_deg, found.wheelbase_mm, found.pitch_deg) == pytest.approx((26.0, 1560.0, 0.0))


def test_both_ends_up_alike_leave_rake_and_trail_alone(bike: Bike) -> None:
    before, after = geometry_of(bike), geometry_change(bike, front_axle_up_mm=30.0, rear_axle_up_mm=30.0)
    assert after.rake_deg == pytest.approx(before.rake_deg)
    assert after.trail_mm == pytest.approx(before.trail_mm)
    assert after.wheelbase_mm == pytest.approx(before.wheelbase_mm)


def test_tubes_raised_turn_the_nose_down(bike: Bike) -> None:
    after = geometry_change(bike, fork_axis_mm=18.0)
    assert after.pitch_deg > 0
    assert after.rake_deg < 26.0
    assert after.trail_mm < geometry_of(bike).trail_mm


def test_there_and_back_is_where_it_was(bike: Bike) -> None:
    there = geometry_change(bike, rear_axle_up_mm=40.0)
    moved = replace(bike, rake_deg=there.rake_deg, wheelbase_mm=there.wheelbase_mm)
    # The frame turned, so the way back is along a turned vertical: a small second-order error.
    back = geometry_change(moved, rear_axle_up_mm=-40.0)
    assert back.rake_deg == pytest.approx(26.0, abs=0.02)


def test_missing_measure_is_named(bike: Bike) -> None:
    with pytest.raises(CannotAnswer, match=r"fork_offset_mm; add it to the bike file"):
        geometry_of(replace(bike, fork_offset_mm=None))


def test_impossible_change_is_refused(bike: Bike) -> None:
    with pytest.raises(UsageError, match="no bike that stands"):
        geometry_change(bike, fork_axis_mm=5000.0)


@pytest.mark.parametrize("far", [float("nan"), float("inf"), -float("inf"), 5000.0, -5000.0])
@pytest.mark.parametrize("which", ["rear_axle_up_mm", "fork_axis_mm", "front_axle_up_mm"])
def test_a_move_that_no_bike_can_make_is_refused(bike: Bike, which: str, far: float) -> None:
    """``--rear-axle-up-mm nan`` once answered null with exit status 0, and 5000 a rake of 99 degrees."""
    with pytest.raises(UsageError, match="leave no bike that stands on two wheels"):
        geometry_change(bike, **{which: far})
