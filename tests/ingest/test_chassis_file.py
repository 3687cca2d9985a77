"""Seat, belly, stands, lean, chain, headlight and linkage in the bike file."""

from __future__ import annotations

import pytest

from ingest.bike_file import bike_text, parse_bike
from ingest.chassis import Plates, TouchPoint
from ingest.errors import FileProblem
from ingest.setup_file import parse_setup, setup_text

BIKE = """
[bike]
name = "Workshop tall twin"
seat_height_mm = 905
seat_height_state = "unladen"
belly_height_mm = 265
belly_ahead_of_rear_axle_mm = 720

[front]
suspension = "telescopic fork"
travel_mm = 230
full_bump_room_mm = 38
clamp_parallel_mm = 45
fork_spacer_mm = 0

[rear]
suspension = "linkage"
travel_mm = 220
full_bump_room_mm = 31
shock_length_mm = 390
shock_stroke_mm = 92
plates = [{ name = "long", drop_mm = 25 }, { name = "longer", longer_mm = 6 }]
plates_fitted = "stock"

[rear.linkage]
rear_axle = [-600, -80]
rocker_pivot = [-10, -100]
plate_at_rocker = [-60, -120]
plate_at_other_end = [-200, -40]
shock_at_rocker = [10, -60]
shock_at_frame = [-20, 200]

[stands]
side_stand_length_mm = 330
side_stand_lean_deg = 11

[lean]
front_crown_radius_mm = 48
touch = [{ name = "peg", out_mm = 330, height_mm = 345, ahead_of_rear_axle_mm = 560 }]

[chain]
front_teeth = 16
rear_teeth = 45
pitch_mm = 15.875
sprocket_height_mm = 390
sprocket_ahead_of_rear_axle_mm = 690
pivot_height_mm = 410
pivot_ahead_of_rear_axle_mm = 610

[headlight]
height_mm = 980
ahead_of_rear_axle_mm = 1330
wall_distance_mm = 10000
"""


def test_what_a_plan_needs_reads_and_reads_back() -> None:
    bike = parse_bike(BIKE)
    assert bike.rear is not None
    assert bike.front is not None
    assert bike.lean is not None
    assert bike.chain is not None
    assert bike.rear.plates == (Plates(name="long", drop_mm=25), Plates(name="longer", longer_mm=6))
    assert bike.rear.linkage is not None
    assert bike.rear.linkage.rocker_on == "frame"
    assert bike.rear.linkage.shock_at_frame == (-20, 200)
    assert (bike.front.full_bump_room_mm, bike.front.clamp_parallel_mm) == (38, 45)
    assert bike.lean.touch == (TouchPoint(name="peg", out_mm=330, height_mm=345, ahead_of_rear_axle_mm=560),)
    assert bike.chain.front_teeth == 16
    assert bike.seat_height_state == "unladen"
    assert parse_bike(bike_text(bike)) == bike


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"unladen"', '"on the stand"', 'bike.seat_height_state is "on the stand"; allowed: "topped out"'),
        ("plates = [{", "plates = [3, {", "rear.plates is [3, {"),
        ("drop_mm = 25", "drop = 25", "rear.plates 1.drop is not a known key; did you mean drop_mm?"),
        ("[-600, -80]", "[-600]", "rear.linkage.rear_axle has 1 numbers: it has to be two, [ahead, up]"),
        ("shock_at_frame = [-20, 200]", "", "[rear.linkage] needs shock_at_frame, [ahead, up] in mm"),
        ("out_mm = 330, ", "", "[lean.touch 1] needs out_mm"),
        ("side_stand_lean_deg = 11", "side_stand_lean_deg = 90", "1 to 30 is allowed"),
        ("rear_teeth = 45", "rear_teeth = 45.5", "chain.rear_teeth is 45.5: it has to be a whole number"),
        ("wall_distance_mm = 10000", "", "[headlight] needs wall_distance_mm"),
    ],
)
def test_each_slip_has_its_line(old: str, new: str, said: str) -> None:
    assert BIKE.count(old) == 1
    with pytest.raises(FileProblem) as caught:
        parse_bike(BIKE.replace(old, new), "twin.toml")
    assert said in str(caught.value)
    assert str(caught.value).startswith("twin.toml: ")


def test_a_setup_says_what_the_work_changed() -> None:
    text = '[setup]\nname = "low"\nseat_lowering_mm = 15\nside_stand_length_mm = 300\n'
    text += '\n[rear]\nshock_length_mm = 378\nplates_fitted = "long"\n\n[front]\nfork_spacer_mm = 25\n'
    setup = parse_setup(text)
    assert (setup.seat_lowering_mm, setup.side_stand_length_mm) == (15, 300)
    assert (setup.rear.plates_fitted, setup.rear.shock_length_mm) == ("long", 378)
    assert setup.front.fork_spacer_mm == 25
    assert parse_setup(setup_text(setup)) == setup
