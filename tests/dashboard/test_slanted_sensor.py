"""A sensor aslant to the shock, from the command line: calibrate, import, ride, leverage survey."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from dashboard.cli import main
from ingest.bike_file import read_bike
from ingest.records import End

BIKE = """\
[bike]
name = "Workshop tall twin"
[rear]
suspension = "linkage"
travel_mm = 200
ratio = 2.5
[sensors.rear]
channel = 0
measures = "shock stroke"
calibration = [[100, 0], [1000, 90]]     # along the sensor
line = { fixed_ends_apart_mm = 70, stroke_line_mm = 340, sensor_mm = 325, give_or_take_mm = 1 }
"""
WITHOUT = "\n".join(row for row in BIKE.splitlines() if not row.startswith("line")) + "\n"
COS_AT_FIXED_END = (70**2 + 340**2 - 325**2) / (2 * 70 * 340)


def counts_at(stroke_mm: float) -> float:
    """Ten counts a mm along the sensor; the law of cosines gives its length."""
    left = 340 - stroke_mm
    length = math.sqrt(70**2 + left**2 - 2 * 70 * left * COS_AT_FIXED_END)
    return 100 + 10 * (325 - length)


@pytest.fixture
def bike_file(tmp_path: Path) -> Path:
    path = tmp_path / "bike.toml"
    path.write_text(BIKE, encoding="utf-8")
    return path


def deepest(tmp_path: Path, bike: Path, name: str, capsys: pytest.CaptureFixture[str]) -> float:
    """Import a slow ride that goes to 72 mm of stroke, and ask the ride for its deepest travel."""
    strokes = [36 - 36 * math.cos(i / 4000 * 8 * math.pi) for i in range(4001)]
    rows = [f"{i * 1000},{round(counts_at(stroke))}" for i, stroke in enumerate(strokes)]
    csv, log = tmp_path / f"{name}.csv", tmp_path / f"{name}.parquet"
    csv.write_text("t_us,ch0\n" + "\n".join(rows) + "\n", encoding="utf-8")
    argv = ["import", csv, "--bike", bike, "--kind", "ride", "--out", log]
    assert main([str(arg) for arg in argv]) == 0
    capsys.readouterr()
    assert main(["ride", str(log), "--json"]) == 0
    return float(json.loads(capsys.readouterr().out)["rear"]["travel_used_mm"])


def test_import_then_ride_gives_the_true_travel(
    tmp_path: Path, bike_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert deepest(tmp_path, bike_file, "with", capsys) == pytest.approx(2.5 * 72, abs=0.2)
    bike_file.write_text(WITHOUT, encoding="utf-8")
    assert deepest(tmp_path, bike_file, "without", capsys) < 2.5 * 72 - 4


def calibrated(tmp_path: Path, bike_file: Path, *options: str) -> int:
    points = tmp_path / "points.csv"
    rows = [f"{100 + 10 * mm},{mm}" for mm in (0, 20, 40, 60, 80)]
    points.write_text("counts,mm\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return main(["calibrate", "--from", str(points), "--bike", str(bike_file), *options])


def test_calibrate_says_what_the_angle_costs(
    tmp_path: Path, bike_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    off = 80 - (counts_at(80) - 100) / 10
    assert calibrated(tmp_path, bike_file) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"would be off by up to {off:.1f} mm over 80.0 mm" in said
    assert "cosine error: the rear sensor stands at 12° to the stroke" in said
    assert "these positions have to be along the rear sensor itself" in said
    assert "these mm are of the stroke" not in said
    line = read_bike(bike_file).sensors[End.REAR].line
    assert line is not None
    assert (line.fixed_ends_apart_mm, line.give_or_take_mm) == (70, 1)  # kept while the points are replaced
    assert calibrated(tmp_path, bike_file, "--no-write", "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["line"]["largest_off_mm"] == pytest.approx(off, abs=1e-9)
    assert 0 < answer["line"]["doubt_mm"] < 0.5


def test_without_three_lengths_there_is_no_word_of_an_angle(
    tmp_path: Path, bike_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bike_file.write_text(WITHOUT, encoding="utf-8")
    assert calibrated(tmp_path, bike_file, "--json") == 0
    assert json.loads(capsys.readouterr().out)["line"] is None
    assert calibrated(tmp_path, bike_file, "--no-write") == 0
    assert "cosine" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("lengths", "status", "words"),
    [
        ("fixed_ends_apart_mm = 10, stroke_line_mm = 340, sensor_mm = 325", 2, "make no triangle"),
        ("fixed_ends_apart_mm = 310, stroke_line_mm = 340, sensor_mm = 95", 1, "passes its nearest point"),
    ],
)
def test_lengths_that_cannot_be_get_one_line(
    tmp_path: Path,
    bike_file: Path,
    capsys: pytest.CaptureFixture[str],
    lengths: str,
    status: int,
    words: str,
) -> None:
    bike_file.write_text(WITHOUT + f"line = {{ {lengths} }}\n", encoding="utf-8")
    assert calibrated(tmp_path, bike_file) == status
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "sensors.rear" in said
    assert words in said


@pytest.mark.parametrize("zero", [None, 100.0])
def test_a_leverage_survey_is_of_the_true_stroke(
    tmp_path: Path, bike_file: Path, capsys: pytest.CaptureFixture[str], zero: float | None
) -> None:
    if zero is not None:
        bike_file.write_text(f"{BIKE}zero_count = {zero}\n", encoding="utf-8")
    survey = tmp_path / "survey.csv"
    rows = [f"{counts_at(stroke):.3f},{300 + 2.5 * stroke},up" for stroke in range(0, 81, 8)]
    survey.write_text("counts,axle_mm,direction\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert main(["calibrate", "--leverage", str(survey), "--bike", str(bike_file), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["stroke_mm"] == pytest.approx(80, abs=0.01)
    assert [row["leverage"]["value"] for row in answer["leverage"]] == pytest.approx(
        [2.5] * len(answer["leverage"]), abs=0.01
    )


def test_a_survey_past_what_the_sensor_can_do_is_named(
    tmp_path: Path, bike_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    survey = tmp_path / "survey.csv"
    survey.write_text("counts,axle_mm\n100,300\n300,350\n500,400\n2900,500\n", encoding="utf-8")
    assert main(["calibrate", "--leverage", str(survey), "--bike", str(bike_file)]) == 1
    assert "2900 counts: a sensor with the three lengths of [sensors.rear] line" in capsys.readouterr().err
