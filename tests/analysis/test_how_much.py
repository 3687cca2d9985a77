"""How much lower, and what of it is left for parts: sag first, the trap in numbers, boards, inseam, reach."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.how_much import WORTH_A_PART_MM, SagNow, Wanted, how_much
from analysis.plan_request import request_for, seat_aboard_mm
from analysis.results import Quantity
from analysis.wanted import STATURE_REFUSED, from_boards, from_inseam, from_reach, from_stack
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Bike, End, Job, Rider

INCH_MM = 25.4


def q(value: float, doubt: float = 4.0) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=1.96)


def sags(front: float | None, rear: float | None, targets: tuple[float, float] | None) -> dict[End, SagNow]:
    known = zip(End, (front, rear), targets or (None, None), strict=True)
    return {end: SagNow(rider=None if mm is None else q(mm), target_mm=target) for end, mm, target in known}


@pytest.fixture
def seated(bike: Bike) -> Bike:
    return replace(bike, seat_ahead_of_rear_axle_mm=560.0)


def test_sag_error_of_a_light_rider_is_the_whole_lowering(seated: Bike) -> None:
    """Common practice, no source: 1.0 in where 2.5 in is right, 1.5 in wanted: no part needed."""
    wanted = from_boards(3, INCH_MM / 2)  # one shop board is half an inch: common practice, no source
    found = how_much(seated, wanted, sags(INCH_MM, INCH_MM, (2.5 * INCH_MM, 2.5 * INCH_MM)))
    assert wanted.amount_mm.value == pytest.approx(1.5 * INCH_MM)
    assert found.from_correct_sag_mm is not None
    assert found.from_correct_sag_mm.value == pytest.approx(1.5 * INCH_MM, abs=1.5)  # the fork leans
    assert found.hardware_mm == 0.0
    assert found.trap_mm == pytest.approx(3.0 * INCH_MM, abs=1.5)
    assert any("the seat drops 75 mm where 38 mm was wanted" in text for text in found.warnings)
    assert any("no lowering part" in text for text in found.warnings)


def test_with_travel_straight_up_it_is_exact(seated: Bike) -> None:
    assert seated.front is not None
    a_arm = replace(seated, front=replace(seated.front, kind="A-arm, single shock"))
    found = how_much(a_arm, from_boards(3, 12.7), sags(INCH_MM, INCH_MM, (2.5 * INCH_MM, 2.5 * INCH_MM)))
    assert found.from_correct_sag_mm is not None
    assert found.from_correct_sag_mm.value == pytest.approx(1.5 * INCH_MM)
    assert found.trap_mm == pytest.approx(3.0 * INCH_MM)
    assert (found.hardware_mm, found.left_over_mm and round(found.left_over_mm.value, 9)) == (0.0, 0.0)


def test_against_the_sum_done_by_hand(seated: Bike) -> None:
    random = np.random.default_rng(5)
    for _ in range(50):
        front, rear, to_front, to_rear = (float(value) for value in random.uniform(20.0, 90.0, 4))
        ahead, stack = float(random.uniform(300.0, 800.0)), float(random.uniform(20.0, 90.0))
        bike = replace(seated, seat_ahead_of_rear_axle_mm=ahead)
        found = how_much(bike, from_stack(stack), sags(front, rear, (to_front, to_rear)))
        share, along = ahead / 1560.0, math.cos(math.radians(26.0))
        given = share * along * (to_front - front) + (1 - share) * (to_rear - rear)
        assert found.from_correct_sag_mm is not None
        assert found.from_correct_sag_mm.value == pytest.approx(given)
        left = stack - given
        assert found.hardware_mm == pytest.approx(0.0 if left < WORTH_A_PART_MM else left)
        assert found.trap_mm == pytest.approx(stack + given)
        assert found.front.seat_mm == pytest.approx(share * along * (to_front - front))


def test_doubt_comes_from_both_sags_and_the_seat(seated: Bike) -> None:
    found = how_much(seated, from_stack(40.0), sags(45.0, 41.0, (70.0, 68.0)))
    share, along = 560.0 / 1560.0, math.cos(math.radians(26.0))
    seat = 50.0 / math.sqrt(3.0) / 1560.0 * (along * 25.0 - 27.0)
    u = math.hypot(share * along * 4.0 / 1.96, (1 - share) * 4.0 / 1.96, seat)
    assert found.from_correct_sag_mm is not None
    assert found.from_correct_sag_mm.expanded_uncertainty == pytest.approx(1.96 * u, rel=1e-3)
    assert found.left_over_mm is not None
    assert found.left_over_mm.expanded_uncertainty > found.from_correct_sag_mm.expanded_uncertainty


def test_a_heavy_rider_needs_more_than_the_stack(seated: Bike) -> None:
    found = how_much(seated, from_stack(30.0), sags(95.0, 92.0, (70.0, 66.0)))
    assert found.from_correct_sag_mm is not None
    assert found.from_correct_sag_mm.value < -20
    assert found.hardware_mm == pytest.approx(30.0 - found.from_correct_sag_mm.value)
    assert any("correct sag brings the seat up by 25 mm" in text for text in found.warnings)
    assert any("more than the 30 mm" in text for text in found.warnings)
    assert any("drops 5 mm where 30 mm was wanted" in text for text in found.warnings)


def test_never_below_zero(seated: Bike) -> None:
    found = how_much(seated, from_stack(10.0), sags(30.0, 30.0, (70.0, 66.0)))
    assert found.hardware_mm == 0.0
    assert any("mm more than is wanted: no lowering part" in text for text in found.warnings)


@pytest.mark.parametrize(("front", "rear", "named"), [(None, None, "front and rear"), (45.0, None, "rear")])
def test_unknown_sag_gives_no_figure(
    seated: Bike, front: float | None, rear: float | None, named: str
) -> None:
    found = how_much(seated, from_stack(40.0), sags(front, rear, None))
    assert (found.hardware_mm, found.from_correct_sag_mm, found.trap_mm) == (None, None, None)
    assert found.warnings[0].startswith(f"Measure sag first: rider sag is not known {named}.")
    assert "feet on the pegs" in found.warnings[0]


def test_targets_come_from_the_use_and_need_one(seated: Bike) -> None:
    found = how_much(seated, from_stack(40.0), sags(45.0, 41.0, None))
    assert found.front.target_mm == pytest.approx(0.305 * 230)
    assert found.front.target_origin == "adventure use, common practice, no source"
    aimless = how_much(replace(seated, use=None), from_stack(40.0), sags(45.0, 41.0, None))
    assert aimless.hardware_mm is None
    assert any("No target sag is known front and rear" in text for text in aimless.warnings)


def test_the_moment_of_the_boards_counts(seated: Bike) -> None:
    now = {end: SagNow(rider=q(60.0), at_boards=q(40.0), target_mm=65.0) for end in End}
    found = how_much(seated, from_stack(40.0), now)
    then = how_much(seated, from_stack(40.0), {end: SagNow(rider=q(40.0), target_mm=65.0) for end in End})
    assert found.hardware_mm == pytest.approx(then.hardware_mm)
    assert any("was 40 mm when the boards were measured and is 60 mm now" in text for text in found.warnings)


def test_without_rake_and_seat_usual_ones_are_taken_with_doubt(bike: Bike) -> None:
    bare = replace(bike, rake_deg=None)
    found = how_much(bare, from_stack(40.0), sags(45.0, 41.0, None))
    known = how_much(
        replace(bike, seat_ahead_of_rear_axle_mm=546.0), from_stack(40.0), sags(45.0, 41.0, None)
    )
    assert found.from_correct_sag_mm is not None
    assert known.from_correct_sag_mm is not None
    assert found.from_correct_sag_mm.value == pytest.approx(known.from_correct_sag_mm.value, abs=1.0)
    assert any("no rake_deg: 27° was taken" in text for text in found.warnings)
    assert any("35 % of the wheelbase" in text for text in found.warnings)


# --------------------------------------------------------------------------------------- what is wanted


def test_boards_are_counted_and_slips_named() -> None:
    assert from_boards(4, 12.5).amount_mm.value == 50.0
    for count, board in ((0, 12.5), (-1, 12.5), (3, 0.5), (3, float("nan"))):
        with pytest.raises(UsageError, match="boards of"):
            from_boards(count, board)
    with pytest.raises(UsageError, match="a board stack of 400 mm: 0 to 300"):
        from_stack(400.0)


def test_a_stature_is_refused_with_how_loose_it_is() -> None:
    """ANSUR II, NATICK/TR-15/007, public data: scatter of crotch height about the line on stature, a standard
    deviation, 23.88 mm (men) and 23.58 mm (women), worked out from the single records.
    """
    assert f"± {1.96 * 23.878:.0f} mm" in STATURE_REFUSED
    assert "± 47 mm" in STATURE_REFUSED


def test_inseam_and_reach(seated: Bike) -> None:
    found = from_inseam(q(880.0, 8.0), 800.0)
    assert found.amount_mm.value == pytest.approx(80.0)
    assert 20 < found.amount_mm.expanded_uncertainty < 40
    assert "common practice, no source" in found.source
    surer = from_reach(q(880.0, 8.0), 845.0)
    assert surer.amount_mm.value == pytest.approx(35.0)
    assert surer.amount_mm.expanded_uncertainty < found.amount_mm.expanded_uncertainty
    assert from_reach(q(800.0), 845.0).amount_mm.value == 0.0
    with pytest.raises(UsageError, match="an inseam of 80 mm"):
        from_inseam(q(880.0), 80.0)


def test_the_seat_is_taken_to_the_rider_aboard(seated: Bike) -> None:
    tall = replace(seated, seat_height_mm=905.0, seat_height_state="unladen")
    known = {end: SagNow(rider=q(60.0), unladen=q(30.0)) for end in End}
    share = 560.0 / 1560.0
    sinks = share * math.cos(math.radians(26.0)) * 30.0 + (1 - share) * 30.0
    assert seat_aboard_mm(tall, known).value == pytest.approx(905.0 - sinks)
    hung = replace(tall, seat_height_state="topped out")
    assert seat_aboard_mm(hung, known).value == pytest.approx(905.0 - 2 * sinks)
    aboard = replace(tall, seat_height_state="rider aboard")
    assert seat_aboard_mm(aboard, {}).value == 905.0
    with pytest.raises(CannotAnswer, match="front sag from there to the rider aboard is not known"):
        seat_aboard_mm(tall, {})
    with pytest.raises(CannotAnswer, match="seat_height_state"):
        seat_aboard_mm(seated, known)


def test_a_job_says_what_it_knows(seated: Bike) -> None:
    job = Job(
        id="0001",
        bike=seated,
        rider=Rider(name="Lena", mass_kg=60, inseam_mm=780),
        wanted_lowering_mm=45.0,
        front_sag_at_boards_mm=38.0,
    )
    request = request_for(job, None, None, None, "x")
    assert request.wanted == from_stack(45.0)
    assert request.sags[End.FRONT].at_boards == q(38.0)
    assert request.sags[End.REAR] == SagNow()
    without = replace(job, wanted_lowering_mm=None)
    assert request_for(without, None, None, None, "x").wanted is None
    seat = replace(seated, seat_height_mm=870.0, seat_height_state="rider aboard")
    found = request_for(replace(without, bike=seat), None, None, None, "x").wanted
    assert isinstance(found, Wanted)
    assert found.amount_mm.value == pytest.approx(90.0)


def test_a_seat_that_would_come_up_rises(seated: Bike) -> None:
    found = how_much(seated, from_stack(20.0), sags(120.0, 120.0, (60.0, 60.0)))
    said = " ".join(found.warnings)
    assert "the seat rises" in said
    assert "drops -" not in said
