"""The proof: what is kept, what is named, what nobody measured, and that broken promises are found."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.compare_results import Answer, Comparison, Likeness, Metric
from analysis.plan_results import EndPlan, EndSagPlan, HowMuch, Option, Plan
from analysis.proof import Visit, prove
from analysis.proof_judging import around, judged
from analysis.proof_results import Promise, Proof
from analysis.results import EndSag, Quantity, SagCheck
from analysis.ride_results import EndRide, Events, Exceedance, RideSummary, TravelEvent
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Bike, End

COS = math.cos(math.radians(26.0))


def q(value: float, doubt: float = 2.0) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.0)


def end_plan(now: float, then: float, travel: float, axle_up: float, vertical: float) -> EndPlan:
    return EndPlan(
        means="some parts",
        axle_up_mm=axle_up,
        drop_mm=vertical * axle_up,
        travel_now_mm=travel,
        travel_mm=travel,
        rider_sag_now_mm=now,
        rider_sag_mm=q(then),
        deepest_expected_mm=200.0,
        bottoming_word="not expected",
    )


DONE = Option(
    name="softer springs, tubes up 18, plates 24",
    kind="parts",
    front=end_plan(46.0, 70.0, 230.0, 42.0, COS),
    rear=end_plan(40.0, 66.0, 220.0, 50.0, 1.0),
    serves=True,
    seat_drop_mm=q(0.35 * 42.0 * COS + 0.65 * 50.0, 3.0),
)
NO_SAG = EndSagPlan(
    rider_sag_mm=None,
    at_boards_mm=None,
    target_mm=None,
    target_percent=None,
    target_origin=None,
    change_mm=None,
    seat_mm=None,
)
PLAN = Plan(
    bike="Workshop tall twin",
    wanted_lowering_mm=45.0,
    from_correct_sag_mm=24.0,
    hardware_lowering_mm=21.0,
    warnings=(),
    options=(DONE, replace(DONE, name="rear only")),
    order="least given up first",
    how_much=HowMuch(
        wanted_mm=q(45.0, 1.0),
        wanted_from="boards",
        seat_share=0.35,
        seat_share_basis="measured",
        front=NO_SAG,
        rear=NO_SAG,
        from_correct_sag_mm=q(24.0),
        left_over_mm=q(21.0),
        hardware_mm=21.0,
        trap_mm=69.0,
        warnings=(),
    ),
)


def sag(log_id: str, front: float, rear: float) -> SagCheck:
    def end(rider: float, travel: float) -> EndSag:
        return EndSag(
            travel_mm=travel,
            unladen_sag_mm=None,
            rider_sag_mm=q(rider),
            unladen_sag_percent=None,
            rider_sag_percent=100 * rider / travel,
            friction_band_mm=None,
            target_sag_mm=None,
            word="right",
            zero_reading=None,
            readings=(),
        )

    return SagCheck(log_id=log_id, front=end(front, 230.0), rear=end(rear, 220.0), advice=())


def ride(log_id: str, bottomings: int = 0, used: float = 205.0, found: float | None = None) -> RideSummary:
    events = tuple(
        TravelEvent(t_s=100.0 * k + 7, peak_mm=219.0, entry_speed_mm_s=900.0, grade="near full")
        for k in range(bottomings)
    )
    none = Events(count=0, per_10_min=0.0, events=())

    def end(travel: float, met: Events) -> EndRide:
        curve = Exceedance(speed_mm_s=(), share=())
        return EndRide(
            duration_s=1200.0,
            samples=1_200_000,
            lost_samples=0,
            travel_mm=travel,
            travel_used_mm=used,
            travel_used_percent=100 * used / travel,
            mean_mm=80.0,
            p50_mm=80.0,
            p95_mm=140.0,
            p99_mm=180.0,
            bottoming=met,
            topping=none,
            compression_speed_mm_s=None,
            rebound_speed_mm_s=None,
            bandwidth_hz=60.0,
            grains_mm=(),
            compression_exceedance=curve,
            rebound_exceedance=curve,
            found_travel_mm=found,
        )

    return RideSummary(
        log_id=log_id,
        front=end(230.0, none),
        rear=end(220.0, Events(count=bottomings, per_10_min=bottomings / 2, events=events)),
    )


def comparison(front_change: float, rear_change: float, half: float = 3.0) -> Comparison:
    def metric(name: str, before: float, change: float) -> Metric:
        return Metric(
            name=name,
            unit="mm",
            before=before,
            after=before + change,
            change=change,
            ci95=(change - half, change + half),
            changed=True,
        )

    metrics = tuple(
        metric(f"{end}_{name}", before, change)
        for end, change in (("front", front_change), ("rear", rear_change))
        for name, before in (("mean_mm", 55.0), ("p99_mm", 150.0))
    )
    return Comparison(
        before=(),
        after=(),
        metrics=metrics,
        answer=Answer(verdict="changed", uses_its_travel="yes", because=()),
        likeness=(Likeness(what="pace", before="slow", after="fast", word="differs", says="pace differs"),),
    )


def found(proof: Proof, name: str, end: End | None = None) -> Promise:
    return next(one for one in proof.promises if one.name == name and one.end == end)


BEFORE = Visit(sag=sag("sag before", 46.0, 40.0), rides=(ride("ride before"),))


def test_kept(bike: Bike) -> None:
    after = Visit(sag=sag("sag after", 71.0, 65.0), rides=(ride("ride after"),))
    proof = prove(PLAN, BEFORE, after, bike=bike, comparison=comparison(24.0, 26.0))
    assert proof.verdict == "as promised"
    assert proof.differs == ()
    assert proof.uses_its_travel == "yes"
    front = found(proof, "rider_sag_mm", End.FRONT)
    assert front.before is not None
    assert front.before.value == 46.0
    assert front.promised is not None
    assert front.promised.interval == (68.0, 72.0)
    assert front.difference is not None
    assert front.difference.value == pytest.approx(1.0)
    assert front.difference.interval == pytest.approx((1 - math.sqrt(8), 1 + math.sqrt(8)))
    assert {found(proof, name, end).word for name in ("mean_mm", "p99_mm") for end in End} == {"as promised"}
    assert found(proof, "bottoming_per_10_min", End.REAR).word == "as promised"
    assert found(proof, "travel_used_mm", End.REAR).word == "cannot tell"
    assert "pace differs" in proof.cautions


def test_the_seat_comes_from_both_sags(bike: Bike) -> None:
    """Front 10 mm deeper along the fork than promised, rear 4 mm less deep, seat at 35 % of the wheelbase."""
    proof = prove(PLAN, BEFORE, Visit(sag=sag("sag after", 80.0, 62.0)), bike=bike)
    seat = found(proof, "seat_drop_mm")
    assert seat.difference is not None
    assert seat.difference.value == pytest.approx(0.35 * 10.0 * COS - 0.65 * 4.0)
    assert seat.measured is not None
    assert DONE.seat_drop_mm is not None
    assert seat.measured.value == pytest.approx(DONE.seat_drop_mm.value + seat.difference.value)
    assert found(proof, "wanted_mm").word == "as promised"
    assert "no ride after the work: whether the travel is used and whether it bottoms is not shown" in (
        proof.cautions
    )


def test_broken_promises_are_named(bike: Bike) -> None:
    after = Visit(sag=sag("sag after", 71.0, 52.0), rides=(ride("ride after", bottomings=3),))
    proof = prove(PLAN, BEFORE, after, bike=bike)
    assert proof.verdict == "not as promised"
    assert {(one.name, one.end, one.word) for one in proof.differs} == {
        ("rider_sag_mm", End.REAR, "less"),
        ("seat_drop_mm", None, "less"),
        ("wanted_mm", None, "less"),
        ("bottoming_per_10_min", End.REAR, "more"),
    }
    rate = found(proof, "bottoming_per_10_min", End.REAR).measured
    assert rate is not None
    # Three in twenty minutes; limits of a count of three are 0.619 and 8.767 (Garwood 1936).
    assert rate.value == pytest.approx(1.5)
    assert rate.interval == pytest.approx((0.309, 4.384), abs=0.001)
    assert any("one may look broken by chance" in caution for caution in proof.cautions)


def test_bottoming_that_was_expected_and_did_not_come(bike: Bike) -> None:
    worse = replace(DONE, rear=replace(DONE.rear, bottoming_word="expected"))
    plan = replace(PLAN, options=(worse,))
    after = Visit(rides=(ride("ride after"),))
    assert found(prove(plan, BEFORE, after, bike=bike), "bottoming_per_10_min", End.REAR).word == "better"
    brief = RideSummary(
        log_id="brief",
        front=None,
        rear=replace(ride("x").rear, duration_s=60.0),  # type: ignore[type-var]
    )
    proof = prove(plan, BEFORE, Visit(rides=(brief,)), bike=bike)
    assert found(proof, "bottoming_per_10_min", End.REAR).word == "cannot tell"
    silent = replace(DONE, rear=replace(DONE.rear, bottoming_word="cannot tell"))
    proof = prove(replace(PLAN, options=(silent,)), BEFORE, after, bike=bike)
    assert found(proof, "bottoming_per_10_min", End.REAR).word == "not promised"


def test_wide_doubt_proves_nothing(bike: Bike) -> None:
    wide = sag("sag after", 71.0, 65.0)
    assert wide.rear is not None
    after = Visit(sag=replace(wide, rear=replace(wide.rear, rider_sag_mm=q(70.0, 14.0))))
    proof = prove(PLAN, BEFORE, after, bike=bike)
    assert found(proof, "rider_sag_mm", End.REAR).word == "cannot tell"
    assert proof.verdict == "cannot tell"


def test_a_stop_that_comes_early_is_named(bike: Bike) -> None:
    proof = prove(PLAN, BEFORE, Visit(rides=(ride("ride after", found=205.0),)), bike=bike)
    assert found(proof, "travel_mm", End.REAR).word == "less"
    assert proof.verdict == "not as promised"


def test_a_tape_beats_the_sags(bike: Bike) -> None:
    after = Visit(sag=sag("sag after", 71.0, 65.0))
    proof = prove(PLAN, BEFORE, after, bike=bike, taped_seat_drop_mm=q(33.0, 2.0))
    assert found(proof, "seat_drop_taped_mm").word == "less"
    wanted = found(proof, "wanted_mm")
    assert wanted.measured is not None
    assert wanted.measured.value == 33.0
    assert not any("tape" in caution for caution in proof.cautions)


def test_boards_laid_at_another_sag_count_from_there(bike: Bike) -> None:
    rear = replace(NO_SAG, rider_sag_mm=q(40.0), at_boards_mm=q(30.0))
    plan = replace(PLAN, how_much=replace(PLAN.how_much, rear=rear))
    after = Visit(sag=sag("sag after", 70.0, 66.0))
    wanted = found(prove(plan, BEFORE, after, bike=bike), "wanted_mm")
    seat = found(prove(plan, BEFORE, after, bike=bike), "seat_drop_mm")
    assert wanted.measured is not None
    assert seat.measured is not None
    assert wanted.measured.value - seat.measured.value == pytest.approx(0.65 * 10.0)


def test_the_deepest_moment_is_held_against_what_roads_may_differ(bike: Bike) -> None:
    doubted = replace(DONE, rear=replace(DONE.rear, deepest_doubt_mm=22.0))
    plan = replace(PLAN, options=(doubted,))
    for used, word in ((205.0, "as promised"), (219.0, "as promised"), (224.0, "more"), (150.0, "less")):
        proof = prove(plan, BEFORE, Visit(rides=(ride("ride after", used=used),)), bike=bike)
        assert found(proof, "travel_used_mm", End.REAR).word == word
        assert found(proof, "travel_used_mm", End.FRONT).word == "cannot tell"
        assert proof.verdict == "cannot tell"


def test_one_in_twenty_is_named_by_chance_and_real_differences_are_found() -> None:
    """Both sides drawn with the doubt they state (2 standard deviations): 5 in 100 look broken, give or take.

    Nothing was tuned. A true difference of twice the doubt of the difference is found 97 times in 100.
    """
    random = np.random.default_rng(725)
    u_plan, u_read = 2.0, 1.5
    doubt = 2 * math.hypot(u_plan, u_read)
    named = []
    for shift in (0.0, 2 * doubt):
        words = [
            judged(
                "rider_sag_mm",
                End.REAR,
                before=None,
                promised=around(random.normal(60.0, u_plan), 2 * u_plan),
                measured=around(random.normal(60.0 + shift, u_read), 2 * u_read),
            ).word
            for _ in range(4000)
        ]
        named.append(sum(word in ("more", "less") for word in words) / 4000)
    assert 0.035 < named[0] < 0.06
    assert named[1] > 0.96


def test_a_setup_that_is_not_the_plan_is_told(bike: Bike) -> None:
    """Spacers planned and not fitted: sags then do not tell how high the seat is, a tape does."""
    spacer = replace(DONE, name="spacers", front=replace(DONE.front, travel_mm=205.0))
    plan = replace(PLAN, options=(spacer, DONE))
    after = Visit(sag=sag("sag after", 71.0, 65.0))
    proof = prove(plan, BEFORE, after, bike=bike, option="spacers", taped_seat_drop_mm=q(30.0))
    assert any(
        "the setup after the work has a travel of 230 mm, the plan 205 mm" in text for text in proof.cautions
    )
    assert found(proof, "seat_drop_mm").word == "not measured"
    assert found(proof, "seat_drop_taped_mm").word == "less"
    # Without a name, the option that has the travel of the bike is taken.
    assert prove(plan, BEFORE, after, bike=bike).option == DONE.name


def test_what_cannot_be_asked(bike: Bike) -> None:
    after = Visit(sag=sag("sag after", 71.0, 65.0))
    with pytest.raises(CannotAnswer, match="nothing was measured after the work"):
        prove(PLAN, BEFORE, Visit(), bike=bike)
    with pytest.raises(UsageError, match=r"no option 'paint': it has 'softer springs"):
        prove(PLAN, BEFORE, after, bike=bike, option="paint")
    shorter = replace(DONE, front=replace(DONE.front, travel_mm=205.0))
    with pytest.raises(UsageError, match="no allowed option of the plan leaves the travels that the setup"):
        prove(replace(PLAN, options=(shorter,)), BEFORE, after, bike=bike)
    with pytest.raises(UsageError, match="log 'ride before' stands both before and after"):
        prove(PLAN, BEFORE, BEFORE, bike=bike)
    assert prove(PLAN, BEFORE, after, bike=bike, option="rear only").option == "rear only"


def test_no_rake_no_seat(bike: Bike) -> None:
    proof = prove(PLAN, BEFORE, Visit(sag=sag("s", 71.0, 65.0)), bike=replace(bike, rake_deg=None))
    assert found(proof, "seat_drop_mm").word == "not measured"
