"""The plan: options in order, refusals with their reasons and the list intact, what each does to the bike."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.geometry import geometry_change
from analysis.how_much import SagNow
from analysis.means_spring import SpringAtHand
from analysis.plan import PlanRequest, plan
from analysis.plan_limits import mind, too_much
from analysis.plan_results import Option, Plan
from analysis.results import Quantity
from analysis.wanted import from_stack
from ingest.chassis import Chain, Headlight, Lean, Plates, Stands, TouchPoint
from ingest.errors import UsageError
from ingest.records import Bike, End

KINDS = {
    "preload",
    "springs",
    "lowering springs",
    "plates",
    "shock",
    "rear only",
    "seat",
    "tyres",
}


def q(value: float, doubt: float = 2.0) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=1.96)


@pytest.fixture
def tall(bike: Bike) -> Bike:
    """The usual bike with room at full bump, springs and everything around it measured."""
    assert bike.front is not None
    assert bike.rear is not None
    return replace(
        bike,
        seat_ahead_of_rear_axle_mm=560.0,
        seat_height_mm=900.0,
        seat_height_state="unladen",
        measured_state="rider aboard",
        belly_height_mm=260.0,
        belly_ahead_of_rear_axle_mm=720.0,
        stands=Stands(
            side_stand_length_mm=336.0,
            side_stand_pivot_height_mm=330.0,
            side_stand_pivot_offset_mm=105.0,
            side_stand_pivot_ahead_of_rear_axle_mm=610.0,
            side_stand_lean_deg=11.0,
            centre_stand_length_mm=330.0,
        ),
        lean=Lean(
            front_crown_radius_mm=48.0,
            rear_crown_radius_mm=72.0,
            touch=(
                TouchPoint(name="peg", out_mm=345.0, height_mm=365.0, ahead_of_rear_axle_mm=590.0),
                TouchPoint(name="silencer", out_mm=250.0, height_mm=330.0, ahead_of_rear_axle_mm=100.0),
            ),
        ),
        chain=Chain(
            front_teeth=15,
            rear_teeth=45,
            pitch_mm=15.875,
            sprocket_height_mm=385.0,
            sprocket_ahead_of_rear_axle_mm=680.0,
            pivot_height_mm=380.0,
            pivot_ahead_of_rear_axle_mm=600.0,
        ),
        headlight=Headlight(height_mm=1000.0, ahead_of_rear_axle_mm=1320.0, wall_distance_mm=10_000.0),
        front=replace(
            bike.front, spring_rate_n_mm=12.0, preload_mm=28.0, full_bump_room_mm=80.0, clamp_parallel_mm=70.0
        ),
        rear=replace(
            bike.rear,
            spring_rate_n_mm=90.0,
            preload_mm=22.0,
            full_bump_room_mm=80.0,
            plates=(Plates(name="lower", drop_mm=25.0), Plates(name="low", drop_mm=40.0)),
        ),
    )


SAGS = {
    End.FRONT: SagNow(rider=q(50.0), unladen=q(30.0)),
    End.REAR: SagNow(rider=q(48.0), unladen=q(20.0)),
}


def planned(bike: Bike, stack: float = 50.0, **more: object) -> Plan:
    return plan(PlanRequest(bike=bike, wanted=from_stack(stack), sags=SAGS, **more))  # type: ignore[arg-type]


def of(found: Plan, kind: str, word: str = "") -> Option:
    return next(one for one in found.options if one.kind == kind and word in one.name)


def test_all_ways_are_there_least_work_first(tall: Bike) -> None:
    found = planned(tall)
    assert {one.kind for one in found.options} == KINDS
    allowed = [one for one in found.options if one.allowed]
    assert [one.allowed for one in found.options] == sorted(
        (one.allowed for one in found.options), reverse=True
    )
    assert [one.intervention for one in allowed] == sorted(one.intervention for one in allowed)
    for one in found.options:
        assert one.allowed or one.because
        assert one.does_not_fix
        assert one.way_back
    assert not of(found, "seat").reversible
    assert all(one.reversible for one in found.options if one.kind != "seat")
    assert "how deep the work goes" in found.order


def test_what_serves_gives_what_is_wanted(tall: Bike) -> None:
    found = planned(tall)
    assert found.hardware_lowering_mm == pytest.approx(50.0 - (found.from_correct_sag_mm or 0.0))
    serving = [one for one in found.options if one.serves]
    assert serving
    for one in serving:
        assert one.seat_drop_mm is not None
        assert one.seat_drop_mm.value >= 47.0
        assert one.falls_short_mm == pytest.approx(50.0 - one.seat_drop_mm.value)
    assert not of(found, "preload").serves
    assert not of(found, "rear only").serves


def test_the_smallest_plates_that_serve_are_taken(tall: Bike) -> None:
    assert "'lower'" in of(planned(tall, 42.0), "plates").rear.means
    assert "'low'" in of(planned(tall, 55.0), "plates").rear.means
    assert tall.rear is not None
    tight = replace(tall, rear=replace(tall.rear, full_bump_room_mm=38.0))
    option = of(planned(tight, 55.0), "plates")  # 40 mm do not fit, 25 mm do
    assert option.allowed
    assert "'lower'" in option.rear.means
    assert any("falls short of what is wanted by" in text for text in option.because)


def test_plates_that_raise_the_bike_are_not_taken(tall: Bike) -> None:
    assert tall.rear is not None
    higher = replace(tall, rear=replace(tall.rear, plates=(Plates(name="higher", drop_mm=-20.0),)))
    option = of(planned(higher), "plates")
    assert "higher" not in option.rear.means
    assert option.serves


def test_an_option_no_bike_could_stand_with_is_refused(tall: Bike) -> None:
    assert tall.front is not None
    odd = replace(
        tall,
        wheelbase_mm=520.0,
        rake_deg=60.0,
        front_wheel_radius_mm=600.0,
        rear_wheel_radius_mm=120.0,
        chain=None,
        front=replace(tall.front, clamp_parallel_mm=None),
    )
    (option,) = plan(PlanRequest(bike=odd, fork_tubes_raised_mm=150.0, front_room_mm=300.0)).options
    assert not option.allowed
    assert option.rake_deg is None
    assert "no bike that stands on two wheels" in option.because[0]


def test_front_and_rear_together_leave_rake(tall: Bike) -> None:
    """Equal vertical lowering at both ends leaves rake to 0.05°; equal mm of fork and axle do not."""
    bike = replace(tall, chain=None)
    assert bike.rear is not None
    bike = replace(bike, rear=replace(bike.rear, plates=(Plates(name="a", drop_mm=30.0),)))
    option = of(planned(bike, 48.0), "plates", "fork tubes")
    assert option.front.amount_mm == pytest.approx(30.0 / math.cos(math.radians(26.0)))
    assert abs(option.rake_from_parts_deg or 9.9) < 0.05
    equal = geometry_change(bike, rear_axle_up_mm=30.0, fork_axis_mm=30.0)
    assert equal.rake_deg - 26.0 > 0.1


def test_the_rear_alone_says_how_much_trail_grows(tall: Bike) -> None:
    bike = replace(tall, chain=None)
    assert bike.rear is not None
    bike = replace(bike, rear=replace(bike.rear, plates=(Plates(name="a", drop_mm=40.0),)))
    option = of(planned(bike, 60.0), "rear only")
    exact = geometry_change(bike, rear_axle_up_mm=40.0)
    assert option.trail_from_parts_mm == pytest.approx(exact.trail_mm - 118.2, abs=0.4)
    assert option.rake_from_parts_deg == pytest.approx(exact.rake_deg - 26.0, abs=0.03)
    assert option.matching_front_mm == pytest.approx(40.0 / math.cos(math.radians(26.0)), abs=0.3)
    (said,) = (text for text in option.gives_up if "rake" in text)
    assert "the rear comes down 40 mm more than the other end" in said
    assert "rake +1.5°, trail +11 mm" in said
    assert "Matching front drop: 45 mm along its travel" in said


def test_the_seat_comes_down_as_a_rigid_bike_does(tall: Bike) -> None:
    """The rigid body on its wheels against the shares of the two axles."""
    for one in planned(tall).options:
        if one.seat_drop_mm is None or one.kind in ("seat", "tyres"):
            continue
        share = 560.0 / 1560.0
        by_shares = share * (one.front.drop_mm or 0.0) + (1 - share) * (one.rear.drop_mm or 0.0)
        assert one.seat_drop_mm.value == pytest.approx(by_shares, abs=1.0)
        assert 0.5 < one.seat_drop_mm.expanded_uncertainty < 15.0


def test_what_lies_around_the_bike_follows(tall: Bike) -> None:
    option = of(planned(tall), "shock", "spacers")
    room = option.clearance
    assert room.belly_now_mm == pytest.approx(260.0)
    assert room.belly_mm == pytest.approx(260.0 - 50.0, abs=3.0)
    assert room.belly_at_full_bump_mm == pytest.approx(room.belly_at_full_bump_now_mm or 0.0, abs=0.5)
    assert room.lean_now_deg is not None
    assert room.lean_deg is not None
    assert room.lean_deg < room.lean_now_deg - 2
    assert room.lean_by == "peg"
    assert option.stand.side_stand_mm is not None
    assert 20 < 336.0 - option.stand.side_stand_mm < 70
    assert 20 < 330.0 - (option.stand.centre_stand_mm or 0.0) < 70
    assert option.chain_slack_mm is not None
    assert option.chain_slack_now_mm is not None
    assert option.headlight_drop_at_wall_mm is not None
    assert any("ground clearance at rider sag" in text for text in option.gives_up)
    raised = of(planned(tall), "plates", "fork tubes")
    assert raised.clearance.belly_at_full_bump_mm is not None
    assert raised.clearance.belly_at_full_bump_mm < (room.belly_at_full_bump_now_mm or 0.0) - 15
    assert raised.front.full_bump_room_mm == pytest.approx(80.0 - (raised.front.amount_mm or 0.0))


def test_a_touch_point_that_cannot_be_worked_out_takes_the_lean_with_it(tall: Bike) -> None:
    """It may be the first to touch: without it the lean would look better than it is."""
    assert tall.lean is not None
    buried = replace(tall.lean.touch[0], name="stand foot", height_mm=-20.0)
    found = planned(replace(tall, lean=replace(tall.lean, touch=(*tall.lean.touch, buried))))
    room = of(found, "shock", "spacers").clearance
    assert (room.lean_now_deg, room.lean_deg, room.lean_by) == (None, None, None)
    said = [text for text in found.cautions if "lean to the first contact" in text]
    assert said
    assert "stand foot: it is 20 mm below the ground" in said[0]
    assert any("stand foot" in text for text in of(found, "shock", "spacers").not_told)


def test_half_the_tyres_crowns_are_no_lean_and_that_is_said(tall: Bike) -> None:
    assert tall.lean is not None
    found = planned(replace(tall, lean=replace(tall.lean, front_crown_radius_mm=None)))
    assert of(found, "preload").clearance.lean_deg is None
    assert any("lean ([lean] with touch points and crown radii)" in text for text in found.cautions)


def test_stands_are_fitted_to_the_parked_bike_or_not_at_all(tall: Bike) -> None:
    """The load of the parked bike tells the length: with rider sag alone there is none."""
    sags = {**SAGS, End.REAR: SagNow(rider=q(48.0))}
    found = plan(PlanRequest(bike=tall, wanted=from_stack(50.0), sags=sags))
    stand = of(found, "shock", "spacers").stand
    assert (stand.side_stand_now_mm, stand.side_stand_mm, stand.side_stand_lean_uncut_deg) == (
        336,
        None,
        None,
    )
    assert (stand.centre_stand_now_mm, stand.centre_stand_mm) == (330, None)
    said = " ".join(found.cautions)
    assert "Not told: stands: they are fitted to the parked bike, nobody aboard" in said
    assert "unladen sag (rear) is not known; measure it" in said
    assert "Not told: chain slack" in said
    assert "midway between the axles, because not measured: centre_stand_pivot_ahead" in said


def test_the_stand_left_as_it_is_may_tip_the_bike(tall: Bike) -> None:
    """A pivot that comes down on the same leg stands the bike up: more so the lower it comes."""
    found = planned(tall)
    low, little = of(found, "shock", "spacers").stand, of(found, "preload").stand
    assert low.side_stand_lean_now_deg == 11.0
    assert low.side_stand_lean_uncut_deg is not None
    assert little.side_stand_lean_uncut_deg is not None
    assert low.side_stand_lean_uncut_deg < little.side_stand_lean_uncut_deg < 11.0
    assert low.side_stand_lean_uncut_deg < 8.0
    assert low.side_stand_tips
    assert little.side_stand_tips == (little.side_stand_lean_uncut_deg < 8.0)


def test_what_is_missing_of_the_side_stand_is_named(tall: Bike) -> None:
    assert tall.stands is not None
    found = planned(replace(tall, stands=replace(tall.stands, side_stand_lean_deg=None)))
    assert of(found, "preload").stand.side_stand_mm is None
    assert of(found, "preload").stand.centre_stand_mm is not None
    assert "Not told: side stand: measure side_stand_lean_deg too." in found.cautions
    long = planned(replace(tall, stands=replace(tall.stands, side_stand_length_mm=200.0)))
    assert any("Not told: side stand: a leg of 200 mm does not fit" in text for text in long.cautions)


def test_refused_options_keep_their_reasons_and_the_list_stays(tall: Bike) -> None:
    assert tall.rear is not None
    assert tall.front is not None
    plain = replace(
        tall,
        front=replace(tall.front, full_bump_room_mm=None),
        rear=replace(tall.rear, kind="direct", plates=(), full_bump_room_mm=12.0),
    )
    found = planned(plain)
    assert {one.kind for one in found.options} == KINDS
    for one in found.options:
        if one.kind == "plates":
            assert not one.allowed
            assert any("no linkage (direct)" in text for text in one.because)
        if "fork tubes" in one.name:
            assert not one.allowed
            assert any("strap the front down" in text for text in one.because)
        if "same stroke" in one.name:
            assert any("12 mm of room" in text for text in one.because)
    assert of(found, "rear only").name == "shorter shock alone, front left high"
    assert of(found, "shock", "spacers").allowed


def test_too_much_is_refused(tall: Bike) -> None:
    assert tall.rear is not None
    found = planned(replace(tall, rear=replace(tall.rear, plates=())), 200.0)
    for one in found.options:
        assert one.allowed is (one.kind in ("preload", "springs")), one.name
    assert any("less than half" in text for text in of(found, "shock", "spacers").because)


def test_a_spring_at_hand_that_binds_is_refused(tall: Bike) -> None:
    bound = {End.REAR: SpringAtHand(rate_n_mm=80.0, free_length_mm=195.0, solid_length_mm=110.0)}
    option = of(planned(tall, springs=bound), "springs")
    assert not option.allowed
    assert any("rear: " in text and "coils touch" in text for text in option.because)
    good = {End.REAR: SpringAtHand(rate_n_mm=80.0, free_length_mm=230.0, solid_length_mm=95.0)}
    assert of(planned(tall, springs=good), "springs").allowed


def test_a_spring_that_binds_as_it_is_rules_out_what_keeps_it(tall: Bike) -> None:
    assert tall.rear is not None
    bound = replace(tall, rear=replace(tall.rear, spring_free_length_mm=200.0, spring_solid_length_mm=105.0))
    found = planned(bound)
    for one in (of(found, "plates"), of(found, "rear only"), of(found, "preload"), of(found, "seat")):
        assert not one.allowed
        assert any("coils touch before full bump" in text for text in one.because), one.name
    assert of(found, "shock").allowed  # a shorter shock comes with a spring of its own


def test_nothing_left_for_parts(tall: Bike) -> None:
    found = planned(tall, 15.0)
    assert found.hardware_lowering_mm == 0.0
    assert {one.kind for one in found.options} == KINDS
    for one in found.options:
        if one.kind in ("preload", "springs"):
            assert one.allowed
            assert one.serves
        else:
            assert one.because[0].startswith("correct sag alone gives what is wanted")
            assert not one.allowed


@pytest.mark.parametrize("known", [{}, {End.FRONT: SAGS[End.FRONT]}])
def test_unknown_sag_gives_a_list_of_what_to_measure(tall: Bike, known: dict[End, SagNow]) -> None:
    found = plan(PlanRequest(bike=tall, wanted=from_stack(40.0), sags=known))
    assert (found.wanted_lowering_mm, found.hardware_lowering_mm, found.from_correct_sag_mm) == (
        40.0,
        None,
        None,
    )
    assert found.warnings[0].startswith("Measure sag first")
    assert {one.kind for one in found.options} == KINDS
    assert not any(one.allowed for one in found.options)


@pytest.mark.parametrize(
    ("room", "asked", "allowed"), [(5.0, 5.0, False), (35.0, 20.0, True), (35.0, 26.0, False)]
)
def test_one_question_about_the_fork_tubes(bike: Bike, room: float, asked: float, allowed: bool) -> None:
    """Common practice, no source: 5 mm of room at full bump allow no raise; 35 mm do, less the margin."""
    request = PlanRequest(bike=bike, fork_tubes_raised_mm=asked, front_room_mm=room)
    (option,) = plan(request).options
    assert option.name == f"fork tubes raised {asked:g} mm"
    assert option.allowed is allowed
    exact = geometry_change(bike, fork_axis_mm=asked)
    assert option.rake_deg == pytest.approx(exact.rake_deg)
    assert option.trail_mm == pytest.approx(exact.trail_mm)
    assert option.wheelbase_mm == pytest.approx(exact.wheelbase_mm)
    assert option.front.full_bump_room_mm == pytest.approx(room - asked)
    with_boards = plan(replace(request, wanted=from_stack(40.0), sags=SAGS))
    tubes = [one for one in with_boards.options if "fork tubes" in one.name]
    assert tubes[0].name == option.name
    assert (not allowed) == (not any(one.allowed for one in tubes))


def test_a_raise_has_to_be_one(bike: Bike) -> None:
    for asked in (-1.0, 500.0, math.nan):
        with pytest.raises(UsageError, match="0 to 150 mm is allowed"):
            plan(PlanRequest(bike=bike, fork_tubes_raised_mm=asked))


def test_missing_geometry_leaves_the_options(bike: Bike) -> None:
    bare = Bike(name="bare", front=bike.front, rear=bike.rear, use="adventure")
    found = plan(PlanRequest(bike=bare, wanted=from_stack(50.0), sags=SAGS))
    assert found.hardware_lowering_mm is not None
    assert {one.kind for one in found.options} == KINDS
    assert all(one.rake_deg is None and one.trail_mm is None for one in found.options)
    assert any(
        "the bike file lacks rake_deg, fork_offset_mm, wheelbase_mm" in text for text in found.warnings
    )
    assert of(found, "shock", "spacers").allowed
    nothing = plan(PlanRequest(bike=Bike(name="x"), wanted=from_stack(50.0)))
    assert {one.kind for one in nothing.options} == KINDS


def test_an_a_arm_front_gets_a_strut(tall: Bike) -> None:
    assert tall.front is not None
    assert tall.rear is not None
    arm = replace(tall.front, kind="A-arm, single shock", leverage=tall.rear.leverage, travel_mm=215.0)
    found = planned(replace(tall, front=arm))
    option = of(found, "shock", "shorter strut")
    assert option.allowed
    assert option.serves
    assert "strut" in option.front.means
    assert abs(option.rake_from_parts_deg or 9.9) < 0.05
    assert not any("fork tubes" in one.name for one in found.options)
    asked = plan(PlanRequest(bike=replace(tall, front=arm), fork_tubes_raised_mm=10.0)).options[0]
    assert "no telescopic fork" in asked.because[0]


def test_any_bike_gets_a_plan(tall: Bike) -> None:
    """Whatever is missing, there is an answer: each time some of what was measured is taken away."""
    random = np.random.default_rng(9)
    assert tall.front is not None
    assert tall.rear is not None
    for _ in range(25):
        drop = {
            key: None
            for key in ("rake_deg", "wheelbase_mm", "stands", "lean", "chain", "belly_height_mm", "use")
            if random.random() < 0.3
        }
        ends = {
            str(end): replace(
                suspension,
                **{
                    key: None
                    for key in ("spring_rate_n_mm", "preload_mm", "leverage", "full_bump_room_mm")
                    if random.random() < 0.3
                },
            )
            for end, suspension in ((End.FRONT, tall.front), (End.REAR, tall.rear))
            if random.random() < 0.9
        }
        bike = replace(tall, **{"front": None, "rear": None, **ends, **drop})
        sags = {end: now for end, now in SAGS.items() if random.random() < 0.8}
        found = plan(PlanRequest(bike=bike, wanted=from_stack(float(random.uniform(5, 120))), sags=sags))
        assert {one.kind for one in found.options} == KINDS


def test_what_costs_too_much_is_said_or_refused(tall: Bike) -> None:
    """Common practice, no source: lean under 30° and belly under 150 mm are said, 20° and 100 mm refused."""
    assert tall.lean is not None
    option = of(planned(tall), "shock", "spacers")
    assert (option.allowed, option.serves, option.mind) == (True, True, ())
    belly = option.clearance.belly_mm
    assert belly is not None
    for height, allowed in ((260.0 - belly + 120.0, True), (260.0 - belly + 80.0, False)):
        low = of(planned(replace(tall, belly_height_mm=height)), "shock", "spacers")
        assert low.allowed is allowed
        assert any("ground clearance at rider sag" in text for text in low.mind or low.because)
    for height, allowed in ((245.0, True), (165.0, False)):
        peg = replace(tall.lean, touch=(replace(tall.lean.touch[0], height_mm=height),))
        low = of(planned(replace(tall, lean=peg)), "shock", "spacers")
        assert low.allowed is allowed, low.clearance
        assert any("the peg touches" in text for text in low.mind or low.because), low.clearance
    under = of(planned(replace(tall, belly_height_mm=180.0)), "plates", "tubes")
    assert "before full bump" in under.because[0]


def test_bottoming_that_would_be_the_rule_is_refused(tall: Bike) -> None:
    """Deepest moment carried over: from 0.98 of the travel it is said, beyond 1.2 times refused."""
    option = of(planned(tall), "shock", "spacers")
    for share, minds, allowed in ((0.8, False, True), (1.1, True, True), (1.25, False, False)):
        travel = option.rear.travel_mm or 0.0
        rear = replace(
            option.rear,
            deepest_expected_mm=share * travel,
            bottoming_word="expected" if share > 0.98 else "not expected",
        )
        judged = replace(option, rear=rear)
        assert (not too_much(judged)) is allowed
        assert bool(mind(judged)) is (minds or not allowed)
    assert "asks for about" in too_much(judged)[0]


def test_an_end_that_takes_no_such_part_says_no_numbers(tall: Bike) -> None:
    assert tall.rear is not None
    direct = replace(tall, rear=replace(tall.rear, kind="direct", plates=()))
    option = of(planned(direct), "plates", "tubes")
    assert "no linkage" in option.because[0]
    assert (option.seat_drop_mm, option.rake_deg, option.rear.drop_mm) == (None, None, None)
    assert of(planned(direct), "shock", "spacers").rake_deg is not None


def test_sag_of_one_end_tells_no_rake(tall: Bike) -> None:
    for asked in (None, 20.0):
        request = PlanRequest(bike=tall, sags={End.FRONT: SAGS[End.FRONT]}, fork_tubes_raised_mm=asked)
        for option in plan(replace(request, wanted=from_stack(40.0))).options:
            assert (option.seat_drop_mm, option.rake_deg, option.trail_mm) == (None, None, None)


def test_smaller_tyres_take_lean(tall: Bike) -> None:
    """Both radii 10 mm less bring the peg 10 mm down: as much lean as for a peg that sits 10 mm lower."""
    assert tall.lean is not None
    found = planned(tall, 34.0)
    tyres = of(found, "tyres")
    down = tyres.front.amount_mm
    assert down is not None
    assert down > 5.0
    lower = replace(tall.lean, touch=(replace(tall.lean.touch[0], height_mm=365.0 - down),))
    alike = of(planned(replace(tall, lean=lower), 34.0), "preload")
    assert tyres.clearance.lean_deg == pytest.approx(alike.clearance.lean_deg, abs=0.02)


def test_parts_far_beyond_what_is_wanted_do_not_serve(tall: Bike) -> None:
    assert tall.rear is not None
    coarse = replace(tall, rear=replace(tall.rear, plates=(Plates(name="low", drop_mm=50.0),)))
    option = of(planned(coarse), "plates", "tubes")
    assert option.allowed
    assert option.falls_short_mm is not None
    assert option.falls_short_mm < -10.0
    assert not option.serves
    assert any("further than is wanted" in text for text in option.because)


def test_geometry_of_no_stated_state_is_taken_topped_out(tall: Bike) -> None:
    unsaid, said = (
        of(planned(replace(tall, measured_state=state)), "preload") for state in (None, "topped out")
    )
    assert unsaid.rake_deg == said.rake_deg
    cautions = planned(replace(tall, measured_state=None)).cautions
    assert any("taken for the bike topped out" in text for text in cautions)
