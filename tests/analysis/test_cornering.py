"""Lean at first contact: by hand where it can be done by hand, and what must hold anywhere."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.cornering import TouchPoint, TravelUnderLoad, WorkDone, lean_at_contact, lean_in_turn
from analysis.rigid_bike import PlaneBike, stand
from ingest.errors import CannotAnswer, UsageError

BIKE = PlaneBike(
    rake_deg=26.0,
    fork_offset_mm=45.0,
    wheelbase_mm=1560.0,
    front_wheel_radius_mm=345.0,
    rear_wheel_radius_mm=325.0,
    front_travel_mm=70.0,
    rear_travel_mm=66.0,
)
PEG = TouchPoint(name="left peg", x_ahead_of_rear_axle_mm=640.0, y_mm=330.0, half_width_mm=310.0)


def linear_travel(sag_mm: float, load_n: float, rate_n_mm: float, full_mm: float) -> TravelUnderLoad:
    """An end of one wheel rate: deeper by load × (times − 1) / rate, to full bump."""
    return lambda times: min(sag_mm + (times - 1.0) * load_n / rate_n_mm, full_mm)


def rigid(travel_mm: float):
    return lambda _: travel_mm


def found(bike: PlaneBike = BIKE, point: TouchPoint = PEG, crown: float = 0.0, **more):
    return lean_at_contact(
        bike,
        point,
        front_crown_mm=crown,
        rear_crown_mm=crown,
        front_travel=more.pop("front_travel", rigid(70.0)),
        rear_travel=more.pop("rear_travel", rigid(66.0)),
        **more,
    )


def test_a_stiff_bike_on_knife_edges_is_a_right_triangle() -> None:
    assert found().lean_deg == pytest.approx(math.degrees(math.atan2(330.0, 310.0)))


def test_round_tyres_carry_it_further() -> None:
    """Both wheels alike: crown + (y − crown) cos − half width sin = 0, solved by hand on the half angle."""
    level = replace(BIKE, rear_wheel_radius_mm=345.0)
    crown = 60.0
    a, b = 330.0 - crown, 310.0
    by_hand = math.degrees(math.acos(-crown / math.hypot(a, b)) - math.atan2(b, a))
    lean = found(level, crown=crown).lean_deg
    assert lean == pytest.approx(by_hand, abs=1e-6)
    assert lean > math.degrees(math.atan2(330.0, 310.0))


def test_the_load_of_the_lean_takes_lean_away() -> None:
    loaded = found(
        crown=60.0,
        front_travel=linear_travel(70.0, 900.0, 14.0, 230.0),
        rear_travel=linear_travel(66.0, 1300.0, 20.0, 220.0),
    )
    assert loaded.lean_deg < found(crown=60.0).lean_deg - 2.0
    deeper = 1 / math.cos(math.radians(loaded.lean_deg))
    assert loaded.front_travel_mm == pytest.approx(70.0 + (deeper - 1) * 900.0 / 14.0)
    assert loaded.rear_travel_mm == pytest.approx(66.0 + (deeper - 1) * 1300.0 / 20.0)


def test_lowering_takes_lean_away() -> None:
    lowered = found(crown=60.0, moved=WorkDone(fork_raised_mm=33.4, rear_axle_up_mm=30.0))
    assert lowered.height_mm == pytest.approx(300.0, abs=0.1)
    assert 2.0 < found(crown=60.0).lean_deg - lowered.lean_deg < 4.0


def test_nothing_touches_before_the_tyres_run_out() -> None:
    high = replace(PEG, y_mm=900.0)
    assert found(point=high).lean_deg is None


def test_what_cannot_be_answered() -> None:
    buried = replace(PEG, y_mm=20.0)
    lower = WorkDone(fork_raised_mm=100 / math.cos(math.radians(26)), rear_axle_up_mm=100)
    with pytest.raises(CannotAnswer, match="left peg: it is 80 mm below the ground"):
        found(point=buried, moved=lower)
    with pytest.raises(UsageError, match="half width 0 mm"):
        found(point=replace(PEG, half_width_mm=0.0))


def test_a_wide_tyre_leans_further_than_the_forces() -> None:
    lean = lean_in_turn(15.0, 30.0, crown_mm=70.0, mass_height_mm=650.0)
    assert lean.with_tyres_deg > lean.ideal_deg
    with pytest.raises(UsageError, match="it lies well above them"):
        lean_in_turn(15.0, 30.0, crown_mm=70.0, mass_height_mm=100.0)
    with pytest.raises(UsageError, match="give a radius above 0 m"):
        lean_in_turn(15.0, 0.0)


def test_the_bike_of_these_tests_stands_as_measured() -> None:
    assert stand(BIKE, 70.0, 66.0).pitch_deg == pytest.approx(0.0)
