"""What the work did, against arithmetic by hand: seat, room, clearances, and when nothing can be told."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.as_done import Done, State, as_done
from analysis.moved_wheel import ROOM_HALF_MM
from analysis.results import EndSag, Quantity, SagCheck
from ingest.chassis import Plates, Stands
from ingest.records import Bike, End, EndSetup, Setup, Suspension

RAKE = 26.0
SEAT_AHEAD, WHEELBASE = 570.0, 1560.0
BIKE = Bike(
    name="Workshop tall twin",
    wheelbase_mm=WHEELBASE,
    rake_deg=RAKE,
    fork_offset_mm=45,
    front_wheel_radius_mm=345,
    rear_wheel_radius_mm=325,
    measured_state="rider aboard",
    seat_ahead_of_rear_axle_mm=SEAT_AHEAD,
    belly_height_mm=270,
    belly_ahead_of_rear_axle_mm=780,
    front=Suspension(kind="telescopic fork", travel_mm=230, full_bump_room_mm=44),
    rear=Suspension(
        kind="linkage",
        travel_mm=220,
        full_bump_room_mm=38,
        plates=(Plates(name="25 lower", drop_mm=25.0), Plates(name="unknown")),
    ),
)


def sag(rider_mm: float | None, travel_mm: float) -> EndSag:
    rider = None
    if rider_mm is not None:
        rider = Quantity(value=rider_mm, expanded_uncertainty=1.5, coverage_factor=1.96)
    return EndSag(
        travel_mm=travel_mm, unladen_sag_mm=None, rider_sag_mm=rider, unladen_sag_percent=None,
        rider_sag_percent=None, friction_band_mm=None, target_sag_mm=None, word="right", zero_reading=None,
        readings=(),
    )  # fmt: skip


def state(setup: Setup, front_mm: float | None, rear_mm: float | None, bike: Bike = BIKE) -> State:
    check = SagCheck(log_id=setup.name, front=sag(front_mm, 230.0), rear=sag(rear_mm, 220.0), advice=())
    return State(bike=bike, setup=setup, sag=check)


BEFORE = state(Setup(name="stock"), 45.0, 43.0)


def done(front: EndSetup, rear: EndSetup, front_mm: float = 63.0, rear_mm: float = 59.0) -> Done:
    return as_done(BEFORE, state(Setup(name="lowered", front=front, rear=rear), front_mm, rear_mm))


def seat_mm(front_up: float, rear_up: float) -> float:
    """Both axles' vertical drops shared by where the seat lies between them, by hand."""
    share = SEAT_AHEAD / WHEELBASE
    return share * math.cos(math.radians(RAKE)) * front_up + (1 - share) * rear_up


def test_springs_alone_lower_the_seat_by_what_sag_says() -> None:
    found = done(EndSetup(spring_rate_n_mm=10.5), EndSetup(spring_rate_n_mm=85.0))
    assert found.seat_drop_mm is not None
    assert found.seat_drop_mm.value == pytest.approx(seat_mm(18.0, 16.0))
    assert not found.moved_by_parts
    assert found.full_bump_stayed == (End.FRONT, End.REAR)
    assert found.missing == ()
    assert found.option.reversible
    assert found.option.way_back == "with the old parts"


def test_the_room_at_full_bump_shows_what_the_parts_did() -> None:
    # 25 mm of travel less; 1 mm of room less in front, 9 mm behind: the wheels hang 26 and 34 mm further up.
    found = done(EndSetup(travel_mm=205, full_bump_room_mm=43), EndSetup(travel_mm=195, full_bump_room_mm=29))
    assert found.seat_drop_mm is not None
    assert found.seat_drop_mm.value == pytest.approx(seat_mm(26.0 + 18.0, 34.0 + 16.0))
    assert found.full_bump_stayed == (End.FRONT,)
    assert found.option.front.full_bump_up_mm == pytest.approx(1.0)
    assert found.option.rear.full_bump_room_mm == pytest.approx(29.0)
    # The doubt by hand: four sags of ±1.5, two pairs of rooms within ±2 (rectangular), the seat's place.
    share, u_room = SEAT_AHEAD / WHEELBASE, ROOM_HALF_MM / math.sqrt(3.0) * math.sqrt(2.0)
    u_sag = 1.5 / 1.96 * math.sqrt(2.0)
    cos = math.cos(math.radians(RAKE))
    u_seat = 50.0 / WHEELBASE / math.sqrt(3.0) * abs(cos * 44.0 - 50.0)
    u = math.sqrt(((share * cos) ** 2 + (1 - share) ** 2) * (u_room**2 + u_sag**2) + u_seat**2)
    assert found.seat_drop_mm.expanded_uncertainty == pytest.approx(1.96 * u, rel=0.01)


def test_a_room_that_was_not_measured_again_tells_nothing() -> None:
    found = done(EndSetup(), EndSetup(travel_mm=195))  # the 38 mm of the bike file were before the work
    assert found.seat_drop_mm is None
    assert len(found.missing) == 1
    assert found.missing[0].startswith(
        "how far the rear wheel was moved up in the bike is not known (measure"
    )
    assert found.option.rear.full_bump_room_mm is None
    assert found.option.clearance.belly_mm is None
    assert found.option.rear.travel_left_mm == pytest.approx(195 - 59)  # sag itself still tells that


@pytest.mark.parametrize(
    ("front", "up_mm"),
    [
        (EndSetup(raised_in_clamps_mm=18.0), 18.0),
        (EndSetup(fork_spacer_mm=25.0, travel_mm=205.0), 25.0),
        (EndSetup(fork_spacer_mm=25.0, travel_mm=205.0, raised_in_clamps_mm=10.0), 35.0),
    ],
)
def test_parts_of_the_fork_say_how_far_they_move_it(front: EndSetup, up_mm: float) -> None:
    found = done(front, EndSetup())
    assert found.seat_drop_mm is not None
    assert found.seat_drop_mm.value == pytest.approx(seat_mm(up_mm + 18.0, 16.0))
    assert found.moved_by_parts


def test_travel_that_the_parts_do_not_explain_is_no_answer() -> None:
    found = done(EndSetup(travel_mm=205.0, raised_in_clamps_mm=18.0), EndSetup())
    assert found.seat_drop_mm is None
    assert "25 mm of travel went, spacers explain 0" in found.missing[0]


def test_a_sensor_that_shows_where_the_travel_went_explains_it() -> None:
    after = state(Setup(name="lowered", front=EndSetup(travel_mm=205.0)), 63.0, 59.0)
    found = as_done(BEFORE, after, full_bump_stayed=[End.FRONT])
    assert found.seat_drop_mm is not None
    assert found.seat_drop_mm.value == pytest.approx(seat_mm(25.0 + 18.0, 16.0))


def test_plates_move_the_wheel_by_what_their_maker_says() -> None:
    known = done(EndSetup(), EndSetup(plates_fitted="25 lower"))
    assert known.seat_drop_mm is not None
    assert known.seat_drop_mm.value == pytest.approx(seat_mm(18.0, 25.0 + 16.0))
    assert done(EndSetup(), EndSetup(plates_fitted="unknown")).seat_drop_mm is None


def test_clearance_and_steering_follow_from_the_axles() -> None:
    # Both axles 30 mm up, vertically: the bike keeps its pitch, so the belly comes down by just that.
    cos = math.cos(math.radians(RAKE))
    found = done(EndSetup(), EndSetup(), front_mm=45.0 + 30.0 / cos, rear_mm=73.0)
    option = found.option
    assert option.clearance.belly_now_mm == pytest.approx(270.0, abs=0.01)
    assert option.clearance.belly_mm == pytest.approx(240.0, abs=0.01)
    assert option.rake_deg == pytest.approx(RAKE, abs=0.001)
    assert found.seat_drop_mm is not None
    assert found.seat_drop_mm.value == pytest.approx(30.0)
    assert any(text.startswith("ground clearance at rider sag 270 → 240") for text in option.gives_up)


def test_sag_that_was_not_measured_is_named() -> None:
    found = as_done(BEFORE, state(Setup(name="lowered"), 63.0, None))
    assert found.seat_drop_mm is None
    assert found.missing == ("rear rider sag was not measured after the work",)
    assert found.sag_change_mm[End.FRONT].value == pytest.approx(18.0)
    assert End.REAR not in found.sag_change_mm


def test_what_was_cut_does_not_go_back() -> None:
    bike = replace(BIKE, stands=Stands(side_stand_length_mm=340.0))
    setup = Setup(name="lowered", side_stand_length_mm=315.0, seat_lowering_mm=20.0)
    found = as_done(state(Setup(name="stock"), 45.0, 43.0, bike), state(setup, 45.0, 43.0, bike))
    assert not found.option.reversible
    assert found.option.way_back == "by turning it back, all but the stand and the seat"
    assert found.option.stand.side_stand_mm == 315.0
    assert found.seat_drop_mm is not None
    assert found.seat_drop_mm.value == pytest.approx(20.0)
