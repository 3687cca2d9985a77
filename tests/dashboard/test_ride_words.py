"""A ride in words: what it says with every record there, and that it stands without any of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.mounting_doubt import mounting_doubt
from analysis.results import Quantity
from analysis.ride_results import RideSpeed, RideSummary, TravelEvent
from dashboard import attitude_words, fault_words, height_words, ride_words, speed_words, trust_words
from dashboard.ride_events import numbered_events
from dashboard.units import Units
from dashboard.wording import Table
from ingest.records import Bike, End


def rows(table: Table) -> dict[str, tuple[str, ...]]:
    return {row[0]: row[1:] for row in table.rows}


def test_the_answer_says_travel_used_and_whether_it_ran_out(rich_ride: RideSummary) -> None:
    front, rear = ride_words.answer_lines(rich_ride)
    assert front == "Front uses 209 of 230 mm, 91 %, never bottomed, topped out once."
    assert rear == "Rear uses 212 of 220 mm, 96 %, bottomed twice (1 on the hard stop)."
    assert ride_words.answer_lines(rich_ride, Units.IN)[0].startswith("Front uses 8.2 of 9.1 in")


def test_touching_the_rubber_is_said_and_not_counted(rich_ride: RideSummary) -> None:
    rubber = replace(rich_ride.rear.bottoming, count=0, events=rich_ride.rear.bottoming.events[2:])
    touched = replace(rich_ride, rear=replace(rich_ride.rear, bottoming=rubber))
    assert "touched the rubber once, never bottomed" in ride_words.answer_lines(touched)[1]


def test_events_say_drop_and_dwell_and_how_the_stop_was_recognised(rich_ride: RideSummary) -> None:
    assert [item.number for item in numbered_events(rich_ride)] == [1, 2, 3, 4]
    hard = numbered_events(rich_ride)[2].event
    assert ride_words.event_words(hard) == "hit the hard stop"
    assert ride_words.event_second_line(hard) == "for 0.04 s, the stop felt in the motion"
    # v² / 2g of 1534 mm/s is 120 mm
    assert ("rear", "bottoming", "50.50 s", "212.0 mm", "1534 mm/s", "12 cm", "0.04 s", "hard stop") in (
        ride_words.event_table(rich_ride).rows
    )
    unknown = TravelEvent(t_s=1.0, peak_mm=1.0, entry_speed_mm_s=None, grade="topped out")
    assert ride_words.event_row(unknown)[2:4] == ("–", "–")
    assert ride_words.event_second_line(unknown) == ""


def test_where_it_rides_and_what_is_left(rich_ride: RideSummary) -> None:
    said = rows(height_words.height_table(rich_ride))
    assert said["rides at"] == ("79 ± 3 mm (34 %)", "75 ± 3 mm (34 %)")
    assert said["against rider sag at rest"][0] == "+8.0 ± 3.4 mm"
    assert said["travel left from there"] == ("151 mm", "145 mm")
    assert said["travel left at the deepest"] == ("21 mm", "8 mm")
    assert said["where it is rough"] == ("packs down", "packs down")
    lines = height_words.rough_lines(rich_ride)
    assert "9.1 ± 3.6 mm deeper in the roughest third" in lines[0]
    assert "less rebound damping" in lines[0]


@pytest.mark.parametrize(
    ("word", "change", "said"),
    [
        ("jacks up", -9.1, "9.1 ± 3.6 mm higher"),
        ("holds its height", 0.4, "holds its height"),
        ("cannot tell", None, "a longer ride"),
    ],
)
def test_what_the_rough_does(rich_ride: RideSummary, word: str, change: float | None, said: str) -> None:
    quantity = None if change is None else Quantity(value=change, expanded_uncertainty=3.6, coverage_factor=2)
    height = replace(rich_ride.front.height, rough_word=word, rough_change_mm=quantity)
    ride = replace(rich_ride, front=replace(rich_ride.front, height=height), rear=None)
    (line,) = height_words.rough_lines(ride)
    assert said in line
    assert "−" not in line


def test_a_doubt_under_a_millimetre_is_written_as_one(rich_ride: RideSummary) -> None:
    height = replace(rich_ride.front.height, interval_mm=(78.8, 79.2))
    assert height_words.ride_position(replace(rich_ride.front, height=height)) == "79 ± 1"
    assert height_words.ride_position(replace(rich_ride.front, height=height), Units.IN) == "3.1 ± 0.1"


def test_into_the_stop_nothing_is_left(rich_ride: RideSummary) -> None:
    height = replace(rich_ride.front.height, left_at_deepest_mm=-1.2)
    ride = replace(rich_ride, front=replace(rich_ride.front, height=height))
    assert (
        rows(height_words.height_table(ride))["travel left at the deepest"][0] == "none: 1.2 mm into the stop"
    )


def test_front_against_rear_says_what_it_rests_on(rich_ride: RideSummary) -> None:
    assert attitude_words.level_line(rich_ride.attitude) == (
        "Front and rear ride level: front at 34 %, rear at 34 % of the travel."
    )
    said = rows(attitude_words.attitude_table(rich_ride))
    assert said["pitch"][0] == "nose 0.6° down"
    assert said["pitch"][1].endswith("topped out")
    assert said["nine tenths of the time"][0] == "−1.2° to +2.5°"
    assert said["rake"][0] == "25.4°"
    assert said["trail"][0] == "114 mm"
    assert said["ride speed"][0] == "45 ± 4 km/h"
    assert "22 of 30 pieces" in said["ride speed"][1]
    assert rows(attitude_words.attitude_table(rich_ride, Units.IN))["ride speed"][0] == "28 ± 2 mph"


def test_an_unknown_speed_says_why(rich_ride: RideSummary) -> None:
    why = RideSpeed(
        speed_m_s=None, slowest_m_s=None, fastest_m_s=None, pieces=1, pieces_tried=30,
        unknown_because="front and rear do not follow each other",
    )  # fmt: skip
    said = rows(attitude_words.attitude_table(replace(rich_ride, speed=why)))
    assert said["ride speed"] == ("unknown", "front and rear do not follow each other")


def test_without_geometry_pitch_is_not_known(rich_ride: RideSummary) -> None:
    without = replace(
        rich_ride.attitude,
        pitch_deg=None,
        rake_deg=None,
        trail_mm=None,
        measured_state="wheelbase_mm is missing",
    )
    said = rows(attitude_words.attitude_table(replace(rich_ride, attitude=without, speed=None)))
    assert said == {"pitch, rake, trail": ("not known", "wheelbase_mm is missing")}


def test_time_in_the_air_dives_and_squats_are_counted_and_timed(rich_ride: RideSummary) -> None:
    lines = attitude_words.span_lines(rich_ride)
    assert lines[0] == "Front wheel off the ground once, for 0.4 s."
    assert "Tail squatted 2 times, 2.4 s in all, 1.2 s at the longest." in lines


def test_faults_come_with_how_much_and_what_to_look_at(rich_ride: RideSummary) -> None:
    made = fault_words.fault_table(rich_ride)
    assert [row[0] for row in made.rows] == ["front: spike", "front: contact lost"]
    assert made.rows[0][1] == "2 times, 2 readings, first at 0:08"
    assert "loose contact" in made.rows[1][2]
    assert fault_words.fault_lines(rich_ride) == (
        "Front sensor: 2.0 % of the readings are faulty and left out (spike, contact lost).",
    )
    (drift,) = fault_words.drift_lines(rich_ride)
    assert "moved by +1.4 ± 0.5 mm" in drift
    assert "clamps" in drift


def test_a_zero_that_held_asks_for_nothing(rich_ride: RideSummary) -> None:
    small = replace(rich_ride.front.zero_drift.drift_mm, value=0.2)
    drift = replace(rich_ride.front.zero_drift, drift_mm=small, seen="standing")
    (line,) = fault_words.drift_lines(replace(rich_ride, front=replace(rich_ride.front, zero_drift=drift)))
    assert "the zero held" in line
    assert "clamps" not in line


def test_wheel_and_shaft_are_told_apart(rich_ride: RideSummary) -> None:
    wheel, shaft = speed_words.wheel_speeds(rich_ride), speed_words.shaft_speeds(rich_ride)
    assert wheel.head[0] == "at the wheel, mm/s"
    assert rows(wheel)["front, compression"] == ("90", "640", "1210", "2210")
    assert shaft is not None
    assert rows(shaft) == {
        "rear, compression": ("39", "277", "524", "957"),
        "rear, rebound": ("not known",) * 4,
    }
    assert speed_words.shaft_lines(rich_ride) == (
        "Front: the damper moves as the wheel does.",
        "Rear: where it rides, the wheel moves 2.31 times as far as the shock.",
    )
    assert "Under 18 mm/s (front), 18 mm/s (rear)" in speed_words.dead_band_line(rich_ride)


def test_strokes_of_each_size_in_ten_minutes(rich_ride: RideSummary) -> None:
    said = rows(speed_words.stroke_table(rich_ride))
    assert said == {"5 to 10": ("4120", "4120"), "160 and more": ("5.0", "5.0")}


def test_every_part_stands_without_its_record(bare_ride: RideSummary) -> None:
    assert fault_words.fault_table(bare_ride).rows == ()
    assert fault_words.fault_lines(bare_ride) == ()
    assert fault_words.drift_lines(bare_ride) == ()
    assert speed_words.stroke_table(bare_ride).rows == ()
    assert speed_words.shaft_speeds(bare_ride) is None
    assert speed_words.shaft_lines(bare_ride) == ()
    assert speed_words.dead_band_line(bare_ride) is None
    assert rows(speed_words.wheel_speeds(bare_ride))["rear, rebound"] == ("not known",) * 4
    assert attitude_words.attitude_table(bare_ride).rows == ()
    assert attitude_words.span_lines(bare_ride) == ()
    assert height_words.rough_lines(bare_ride) == ()
    said = rows(height_words.height_table(bare_ride))
    assert said["rides at"][0] == "79 mm (34 %)"
    assert said["against rider sag at rest"] == (height_words.NO_SAG,) * 2
    assert said["travel left from there"] == ("–", "–")
    one_end = replace(bare_ride, rear=None)
    assert rows(height_words.height_table(one_end))["rides at"][1] == "–"


def test_what_mounting_adds_is_worked_for_this_bike(bike: Bike) -> None:
    doubts = [mounting_doubt(bike, end) for end in End]
    made = rows(trust_words.trust_table(doubts))
    # 0.5 % of 230 and of 220 mm; the shock sensor's 0.5 mm counts 220/92 times at the wheel
    assert made["the sensor is not quite straight"] == ("0.5 % of its range", "±1.2", "±1.1")
    assert made["a worn or dirty sensor reads late"] == ("0.5 mm there", "±0.5", "±1.2")
    assert made["rubber in the shock's eyes"][1] == "–"
    # ± at the wheel: 2/√3 of the root of the sum of squares of 1.15, 0.5, 0.3 mm
    assert made["together, 95 times in 100"][1] == "±1.5"
    assert "common practice" in trust_words.BASIS
    lines = trust_words.trust_lines(doubts)
    assert lines[0] == "Front: mounting adds about ±1.5 mm."


def test_an_end_without_suspension_adds_nothing(bike: Bike) -> None:
    assert mounting_doubt(replace(bike, front=None), End.FRONT) is None
