"""The side view of a plan: it stands as the plan says it does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.how_much import SagNow
from analysis.plan import PlanRequest, plan
from analysis.plan_results import Option, Plan
from analysis.plan_views import plan_views
from analysis.results import Quantity
from analysis.wanted import from_stack
from ingest.errors import CannotAnswer
from ingest.records import Bike, End


def q(value: float) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=2.0, coverage_factor=2.0)


SAGS = {
    End.FRONT: SagNow(rider=q(50.0), unladen=q(30.0)),
    End.REAR: SagNow(rider=q(45.0), unladen=q(15.0)),
}


@pytest.fixture
def tall(bike: Bike) -> Bike:
    assert bike.front is not None
    assert bike.rear is not None
    return replace(
        bike,
        front=replace(bike.front, full_bump_room_mm=60.0, target_sag_percent=(28.0, 32.0)),
        rear=replace(bike.rear, full_bump_room_mm=60.0, target_sag_percent=(28.0, 32.0)),
        measured_state="unladen",
        seat_ahead_of_rear_axle_mm=520.0,
        seat_height_mm=890.0,
        seat_height_state="rider aboard",
        belly_height_mm=255.0,
        belly_ahead_of_rear_axle_mm=760.0,
    )


def planned(bike: Bike) -> Plan:
    return plan(PlanRequest(bike=bike, wanted=from_stack(45.0), sags=SAGS))


def worked_out(found: Plan) -> list[Option]:
    return [one for one in found.options if one.rake_deg is not None and one.front.axle_up_mm is not None]


def test_it_stands_as_the_plan_says(tall: Bike) -> None:
    options = worked_out(planned(tall))
    assert len(options) >= 5
    for option in options:
        before, after = plan_views(tall, SAGS, option)
        assert before.rake_deg == pytest.approx(option.rake_now_deg, abs=1e-6)
        assert before.wheelbase_mm == pytest.approx(option.wheelbase_now_mm, abs=1e-6)
        assert after.rake_deg == pytest.approx(option.rake_deg, abs=1e-6), option.name
        assert after.trail_mm == pytest.approx(option.trail_mm, abs=1e-6), option.name
        assert after.wheelbase_mm == pytest.approx(option.wheelbase_mm, abs=1e-6), option.name
        assert before.belly_mm is not None
        assert after.belly_mm is not None
        assert before.belly_mm[1] == pytest.approx(option.clearance.belly_now_mm, abs=1e-6)
        assert after.belly_mm[1] == pytest.approx(option.clearance.belly_mm, abs=1e-6), option.name


def test_the_seat_is_where_it_was_measured_and_comes_down_by_the_plan(tall: Bike) -> None:
    for option in worked_out(planned(tall)):
        before, after = plan_views(tall, SAGS, option)
        assert before.seat_mm is not None
        assert after.seat_mm is not None
        assert option.seat_drop_mm is not None
        assert before.seat_mm[1] == pytest.approx(890.0, abs=0.01)
        assert before.seat_mm[1] - after.seat_mm[1] == pytest.approx(option.seat_drop_mm.value)


def test_what_is_missing_is_told(tall: Bike) -> None:
    option = worked_out(planned(tall))[0]
    with pytest.raises(CannotAnswer, match="a side view needs rake, fork offset, wheelbase"):
        plan_views(replace(tall, rake_deg=None), SAGS, option)
    with pytest.raises(CannotAnswer, match="front: a side view needs rider sag"):
        plan_views(tall, {}, option)
    bare = replace(tall, seat_height_mm=None, belly_height_mm=None)
    before, _ = plan_views(bare, SAGS, option)
    assert before.seat_mm is None
    assert before.belly_mm is None


def test_a_seat_measured_in_a_state_nobody_knows_the_sag_of_is_not_shown(tall: Bike) -> None:
    """Taken as measured topped out, it once stood 24 mm lower on the report than on the plan."""
    unladen = replace(tall, measured_state="topped out", seat_height_state="unladen")
    option = worked_out(planned(unladen))[0]
    known, _ = plan_views(unladen, SAGS, option)
    assert known.seat_mm is not None
    assert 850.0 < known.seat_mm[1] < 890.0
    without, _ = plan_views(unladen, {end: replace(sag, unladen=None) for end, sag in SAGS.items()}, option)
    assert without.seat_mm is None
