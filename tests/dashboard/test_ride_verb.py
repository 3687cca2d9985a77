"""``flatfoot ride``: one ride in full; many in one line each, as CSV and as JSON; what goes wrong."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.ride_results import RideSummary
from dashboard import cli
from dashboard.ride_csv import RideTable, safe
from dashboard.ride_list_words import list_head, list_line
from dashboard.units import Units
from ingest.log import Kind, Log
from ingest.log_file import write_log
from ingest.records import Setup

CONTRACT = {
    "duration_s", "samples", "lost_samples", "travel_mm", "travel_used_mm", "travel_used_percent", "mean_mm",
    "p50_mm", "p95_mm", "p99_mm", "bottoming", "topping", "compression_speed_mm_s", "rebound_speed_mm_s",
    "bandwidth_hz",
}  # fmt: skip


@pytest.fixture
def ride_file(make_log: Callable[..., Log], tmp_path: Path) -> Callable[..., Path]:
    """Write a ride of 20 s into a folder, told apart by its mean."""

    def write(name: str, mean_mm: float = 80.0, **changes: object) -> Path:
        at_s = np.arange(4000) / 200.0
        waves = 20 * np.sin(2 * np.pi * 1.7 * at_s) + 5 * np.sin(2 * np.pi * 6.1 * at_s)
        log = make_log(mean_mm + waves, mean_mm - 5 + waves, rate_hz=200.0, **changes)
        path = tmp_path / "logs" / f"{name}.parquet"
        path.parent.mkdir(exist_ok=True)
        write_log(replace(log, id=name), path)
        return path

    return write


def run(capsys, *argv: object) -> tuple[int, str, str]:
    status = cli.main(["ride", *map(str, argv)])
    said = capsys.readouterr()
    return status, said.out, said.err


# -------------------------------------------------------------------------------------------- one ride


def test_one_ride_in_json_keeps_the_contract(capsys, ride_file) -> None:
    status, out, err = run(capsys, ride_file("a"), "--json")
    said = json.loads(out)
    assert (status, err) == (0, "")
    for end in ("front", "rear"):
        assert set(said[end]) >= CONTRACT
        assert set(said[end]["bottoming"]) == {"count", "per_10_min", "events"}
        assert set(said[end]["compression_speed_mm_s"]) == {"p50", "p95", "p99", "max"}
    assert "sections" not in said


def test_one_ride_says_the_answer_first_and_fits_a_terminal(capsys, ride_file) -> None:
    path = ride_file("a", marks=[(0.0, "tarmac"), (8.0, "woods, very rough, with a long name")])
    status, out, _ = run(capsys, path, "--all")
    lines = out.splitlines()
    assert status == 0
    assert max(map(len, lines)) <= 80
    answer = next(i for i, line in enumerate(lines) if line.startswith("Front uses 105 of 230 mm"))
    assert answer < lines.index("section by section:")
    for wanted in ("rides at", "travel left from there", "2 woods, very rough", "at the wheel, mm/s",
                   "strokes of, mm", "how far to trust this on a real bike:"):  # fmt: skip
        assert any(line.startswith(wanted) for line in lines), wanted


def test_what_was_not_asked_for_is_not_printed(capsys, ride_file) -> None:
    path = ride_file("a")
    short = run(capsys, path)[1]
    assert "strokes of" not in short
    assert "section by section" not in short
    assert "came in at" in run(capsys, path, "--events")[1]
    assert "strokes of" in run(capsys, path, "--strokes")[1]
    assert "nobody marked a section" in run(capsys, path, "--sections")[1]


def test_sections_are_in_the_json_where_they_were_asked_for(capsys, ride_file) -> None:
    path = ride_file("a", marks=[(0.0, "tarmac"), (8.0, "woods")])
    said = json.loads(run(capsys, path, "--json", "--sections")[1])
    assert [part["name"] for part in said["sections"]] == ["tarmac", "woods"]
    assert said["sections"][1]["ride"]["front"]["duration_s"] <= 12.0
    assert set(said["front"]) >= CONTRACT


def test_a_ride_of_the_book_is_held_against_its_sag(capsys, shop) -> None:
    said = json.loads(run(capsys, "--book", shop.book.path, shop.rides[0], "--json")[1])
    sag = json.loads(_sag(capsys, shop))
    height = said["front"]["height"]
    if height["against_sag_mm"] is not None:  # a ride of a minute may be too short for an interval
        expected = said["front"]["mean_mm"] - sag["front"]["rider_sag_mm"]["value"]
        assert height["against_sag_mm"]["value"] == pytest.approx(expected)


def _sag(capsys, shop) -> str:
    assert cli.main(["sag", "--book", str(shop.book.path), shop.sag[0], "--json"]) == 0
    return capsys.readouterr().out


# ------------------------------------------------------------------------------------------ many rides


def test_many_rides_take_one_line_each_and_tell_how_far_they_are(capsys, ride_file) -> None:
    paths = [ride_file(name, mean) for name, mean in (("a", 60.0), ("b", 90.0))]
    status, out, err = run(capsys, *paths)
    head, first, second = out.splitlines()
    assert status == 0
    assert head == list_head()
    assert first.split()[0] == "a"
    assert "60 · 55" in first
    assert "90 · 85" in second
    assert max(map(len, (head, first, second))) <= 80
    assert [line.split()[0] for line in err.splitlines()] == ["[1/2]", "[2/2]"]
    assert max(map(len, err.splitlines())) <= 80


def test_a_long_name_keeps_its_end_and_the_line_its_width(rich_ride: RideSummary) -> None:
    name = "a-very-long-name-of-a-log-2026-11-25-0311-ride-12"
    line = list_line(name, rich_ride, Units.IN)
    assert "…" in line
    assert "ride-12" in line
    assert len(line) <= 80


def test_csv_has_a_row_a_log_and_end(capsys, ride_file) -> None:
    paths = [ride_file("a", 60.0), ride_file("b", 90.0)]
    status, out, err = run(capsys, *paths, "--csv", "-")
    assert status == 0
    assert len(err.splitlines()) == 2
    rows = list(csv.DictReader(io.StringIO(out, newline="")))
    assert [(row["log"], row["end"]) for row in rows] == [
        ("a", "front"), ("a", "rear"), ("b", "front"), ("b", "rear"),
    ]  # fmt: skip
    assert [float(row["mean_mm"]) for row in rows] == pytest.approx([60.0, 55.0, 90.0, 85.0], abs=0.3)
    one = json.loads(run(capsys, paths[0], "--json")[1])["front"]
    assert float(rows[0]["p95_mm"]) == pytest.approx(one["p95_mm"], abs=0.005)
    assert float(rows[0]["compression_p99_mm_s"]) == pytest.approx(
        one["compression_speed_mm_s"]["p99"], abs=0.005
    )


def test_a_csv_file_is_written_and_never_overwrites(capsys, ride_file, tmp_path: Path) -> None:
    paths, out_file = [ride_file("a"), ride_file("b")], tmp_path / "rides.csv"
    assert run(capsys, *paths, "--csv", out_file)[0] == 0
    data = out_file.read_bytes()
    assert data.count(b"\r\n") == 5
    assert data.count(b"\n") == 5  # RFC 4180: every line ends with both, and no line is empty
    status, out, err = run(capsys, *paths, "--csv", out_file)
    assert (status, out) == (2, "")
    assert "exists already" in err
    assert out_file.read_bytes() == data
    status, _, err = run(capsys, *paths, "--csv", tmp_path / "no" / "rides.csv")
    assert status == 2
    assert "cannot be written" in err


def test_texts_that_look_like_formulas_are_made_harmless(make_log, rich_ride: RideSummary) -> None:
    log = make_log([1.0, 2.0], [1.0, 2.0])
    log = replace(log, setup=Setup(name='=cmd|"/c"!A1'), load_case='@two, "up"')
    out = io.StringIO(newline="")
    RideTable(out).add("+ride\n", log, rich_ride)
    row = next(csv.DictReader(io.StringIO(out.getvalue(), newline="")))
    assert row["setup"] == '\'=cmd|"/c"!A1'
    assert row["load_case"] == '\'@two, "up"'
    assert row["log"] == "'+ride\n"
    assert safe("-5") == "'-5"
    assert safe(-5.0) == -5.0
    assert safe("\t=1") == "'\t=1"


def test_json_of_many_is_a_list_that_names_its_logs(capsys, ride_file) -> None:
    paths = [ride_file("a"), ride_file("b")]
    said = json.loads(run(capsys, *paths, "--json")[1])
    assert [one["log"] for one in said] == ["a", "b"]
    alone = json.loads(run(capsys, paths[0], "--json")[1])
    assert {name: value for name, value in said[0].items() if name != "log"} == alone


def test_a_folder_stands_for_the_rides_in_it(capsys, ride_file, tmp_path: Path) -> None:
    ride_file("b")
    ride_file("a")
    ride_file("sag", kind=Kind.SAG)
    (tmp_path / "logs" / ".half.parquet").write_bytes(b"x")
    status, out, err = run(capsys, tmp_path / "logs")
    assert status == 0
    assert [line.split()[0] for line in out.splitlines()[1:]] == ["a", "b"]
    assert "a sag check, left out" in err
    (tmp_path / "empty").mkdir()
    status, _, err = run(capsys, tmp_path / "empty")
    assert status == 2
    assert "holds no log" in err


def test_a_bad_log_never_stops_the_others(capsys, ride_file, make_log, tmp_path: Path) -> None:
    good = ride_file("good")
    torn = tmp_path / "torn.parquet"
    torn.write_bytes(good.read_bytes()[:500])
    status, out, err = run(capsys, torn, good, tmp_path / "none.parquet")
    assert status == 2
    assert [line.split()[0] for line in out.splitlines()[1:]] == ["good"]
    first, second, third = err.splitlines()
    assert "torn.parquet" in first
    assert second == "[2/3] good"
    assert "there is no file" in third
    assert "Traceback" not in err


def test_a_log_that_cannot_be_answered_gives_status_1(capsys, ride_file, make_log, tmp_path: Path) -> None:
    nothing = np.full(400, np.nan)
    empty = tmp_path / "empty.parquet"
    write_log(replace(make_log(nothing, nothing, rate_hz=200.0), id="empty"), empty)
    status, out, err = run(capsys, empty, ride_file("good"), "--json")
    assert status == 1
    assert [one["log"] for one in json.loads(out)] == ["good"]
    assert "tells nothing of either end" in err


def test_ctrl_c_keeps_what_was_done(capsys, ride_file, monkeypatch, tmp_path: Path) -> None:
    import ingest.log_file

    paths, read = [ride_file("a"), ride_file("b")], ingest.log_file.read_log

    def interrupted(path: Path) -> Log:
        if path.stem == "b":
            raise KeyboardInterrupt
        return read(path)

    monkeypatch.setattr(ingest.log_file, "read_log", interrupted)
    out_file = tmp_path / "rides.csv"
    status, out, err = run(capsys, *paths, "--csv", out_file, "--json")
    assert status == cli.INTERRUPTED
    assert [one["log"] for one in json.loads(out)] == ["a"]
    assert out_file.read_text(encoding="utf-8").count("\n") == 3
    assert "interrupted" in err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--events"], "are for one log"),
        (["--all"], "are for one log"),
        (["--json", "--csv", "-"], "both want the terminal"),
    ],
)
def test_what_cannot_be_asked_together_is_said(capsys, ride_file, options: Sequence[str], said: str) -> None:
    status, _, err = run(capsys, ride_file("a"), ride_file("b"), *options)
    assert status == 2
    assert said in err
