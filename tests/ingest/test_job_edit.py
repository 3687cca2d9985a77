"""Changing a job file: what people wrote around it stays, what was agreed on reads back, slips fail."""

from __future__ import annotations

import pytest

from ingest.bike_edit import with_measures
from ingest.errors import FileProblem, FlatfootError, UsageError
from ingest.job_edit import with_kept_plan, with_wanted
from ingest.job_file import job_text, parse_job, parse_job_file
from ingest.records import Bike, Job, KeptPlan, Rider

JOB = """# two visits
[job]
id = "0001"   # ours
bike = "twin.toml"
wanted_lowering_mm = 45

[rider]
name = "Mara L."
"""
BIKE = """# as weighed
[bike]
name = "Workshop tall twin"
rake_deg = 26

[front]
suspension = "telescopic fork"   # upside down
travel_mm = 230
"""
KEPT = KeptPlan(
    option="shorter shock, spacers in the fork",
    kept="2026-11-25 10:00",
    hardware_mm=16.5,
    setup="stock",
    seat_drop_mm=(40.4, 2.8),
    front_rider_sag_mm=(62.1, 3.1),
    rear_rider_sag_mm=(59.9, 3.7),
    front_travel_mm=203.6,
    rear_travel_mm=196.3,
)


def test_boards_take_the_place_of_the_total_and_comments_stay() -> None:
    text = with_wanted(JOB, None, boards=3.0, board_mm=12.5)
    assert "# two visits" in text
    assert "# ours" in text
    assert "wanted_lowering_mm" not in text
    read = parse_job_file(text)
    assert (read.boards, read.board_mm, read.wanted_lowering_mm) == (3.0, 12.5, 37.5)
    assert parse_job_file(with_wanted(text, 40.0)).boards is None


def test_a_kept_plan_reads_back_and_takes_the_place_of_an_earlier_one() -> None:
    once = with_kept_plan(JOB, KEPT)
    assert once.startswith("# two visits")
    assert parse_job_file(once).kept == KEPT
    other = KeptPlan(option="lower seat", kept="2026-11-26 09:00")
    twice = with_kept_plan(once, other)
    assert parse_job_file(twice).kept == other
    assert twice.count("[plan]") == 1


def test_a_job_with_boards_and_a_kept_plan_is_written_whole() -> None:
    bike = Bike(name="Workshop tall twin")
    job = Job(id="0001", bike=bike, rider=Rider(name="Mara L."), boards=3.0, board_mm=15.0, kept=KEPT,
              wanted_lowering_mm=45.0)  # fmt: skip
    assert parse_job(job_text(job), bike) == job


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("boards = 3", "go together"),
        ("boards = 2\nboard_mm = 15", "make 30"),
        ("boards = 0\nboard_mm = 15", "out of range"),
    ],
)
def test_boards_that_make_no_sense_are_refused(lines: str, says: str) -> None:
    with pytest.raises(FileProblem, match=says):
        parse_job_file(JOB.replace("wanted_lowering_mm = 45", f"wanted_lowering_mm = 45\n{lines}"))


@pytest.mark.parametrize(
    "line", ["seat_drop_mm = [40]", "seat_drop_mm = [40, -1]", "hardware_mm = 900", "more = 1"]
)
def test_a_kept_plan_that_was_spoilt_is_refused(line: str) -> None:
    spoilt = f'{JOB}\n[plan]\noption = "lower seat"\nkept = "today"\n{line}\n'
    with pytest.raises(FileProblem, match=line.partition(" ")[0]):
        parse_job_file(spoilt)


def test_measures_go_into_their_tables_and_comments_stay() -> None:
    text = with_measures(
        BIKE,
        {"front.full_bump_room_mm": 44.0, "stands.side_stand_lean_deg": 11.0, "bike.rake_deg": 26.5},
    )
    for wanted in ("# as weighed", "# upside down", "full_bump_room_mm = 44", "[stands]", "rake_deg = 26.5"):
        assert wanted in text


@pytest.mark.parametrize(
    "values", [{"rear.full_bump_room_mm": 40.0}, {"front.full_bump_room_mm": 9e9}, {"bike.rake_deg": -4.0}]
)
def test_measures_that_cannot_be_are_refused(values: dict[str, float]) -> None:
    with pytest.raises(FlatfootError):
        with_measures(BIKE, values)


def test_neither_boards_nor_a_total_is_refused() -> None:
    with pytest.raises(UsageError, match="go together"):
        with_wanted(JOB, None, boards=3.0)
