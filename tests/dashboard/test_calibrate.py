"""``flatfoot calibrate`` from a file and from a live board."""

from __future__ import annotations

import io
import json
import os
import re
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from analysis.sensor_calibration import Way
from dashboard.cli import main
from dashboard.commands import calibrate_live
from dashboard.commands.calibrate_live import plan
from ingest.bike_file import read_bike
from ingest.capture import StartNotes
from ingest.log import Kind
from ingest.port import port_source
from ingest.recorder import Recorder
from ingest.records import End
from ingest.virtual_board import VirtualBoard

BIKE = """\
# the tall one
[bike]
name = "Workshop tall twin"
[front]
suspension = "telescopic fork"
travel_mm = 230
[sensors.front]
channel = 0                            # blue plug
calibration = [[102, 0], [921, 230]]
zero_count = 104
"""
POINTS = """\
counts,mm,direction
102.2,0,up
280.1,50,up
458.0,100,up
637.3,150,up
814.1,200,up
635.0,150,down
456.6,100,down
278.0,50,down
100.9,0,down
"""

needs_pty = pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")


@pytest.fixture
def bike_file(tmp_path: Path) -> Path:
    path = tmp_path / "bike.toml"
    path.write_text(BIKE, encoding="utf-8")
    return path


@pytest.fixture
def points_file(tmp_path: Path) -> Path:
    path = tmp_path / "points.csv"
    path.write_text(POINTS, encoding="utf-8")
    return path


def test_points_from_a_file_into_the_bike_file(
    bike_file: Path, points_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["calibrate", "--from", str(points_file), "--bike", str(bike_file)]) == 0
    said = capsys.readouterr().out
    assert max(len(line) for line in said.splitlines() if str(bike_file.parent) not in line) <= 80
    for words in (
        "front sensor: 9 points at 5 positions, both ways",
        "0.2806 mm per count",
        "linearity error  0.10 mm (0.05 % of the range)",
        "hysteresis       0.65 mm between up and down",
        "converted by     a straight line",
        "zero_count of the bike file belonged to the calibration before",
    ):
        assert words in said
    sensor = read_bike(bike_file).sensors[End.FRONT]
    assert len(sensor.calibration) == 9
    assert sensor.calibration[1] == (280.1, 50)
    assert sensor.zero_count is None
    text = bike_file.read_text(encoding="utf-8")
    assert "# the tall one" in text
    assert "# blue plug" in text
    assert bike_file.with_name("bike.earlier-1.toml").read_text(encoding="utf-8") == BIKE


def test_residuals_are_drawn_to_both_sides(
    bike_file: Path, points_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["calibrate", "--from", str(points_file), "--bike", str(bike_file), "--no-write"])
    drawn = [line for line in capsys.readouterr().out.splitlines() if line.endswith("|")]
    assert len(drawn) == 9
    for line in drawn:
        plot = line[line.index("|") :]
        assert len(plot) == 33
        if "−" in line:
            assert plot.index("*") <= 16
        elif "+0.0" not in line:
            assert plot.index("*") > 16
    assert bike_file.read_text(encoding="utf-8") == BIKE
    assert len(list(bike_file.parent.iterdir())) == 2


def test_json(bike_file: Path, points_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", "--from", str(points_file), "--bike", str(bike_file), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["end"] == "front"
    assert answer["bike_file"] == str(bike_file)
    assert answer["scale_mm_per_count"] == pytest.approx(0.2806, abs=1e-4)
    assert answer["hysteresis_mm"] == pytest.approx(0.645, abs=0.01)
    first, *_, last = answer["later"]
    assert first["position_mm"]["value"] == pytest.approx(0, abs=0.3)
    assert last["position_mm"]["value"] == pytest.approx(200, abs=0.3)
    assert 0.3 < last["position_mm"]["expanded_uncertainty"] < 1.5
    assert {part["cause"] for part in first["contributions"]} == {
        "reference points",
        "linearity",
        "resolution",
        "hysteresis",
    }


def test_two_points_say_what_they_cannot_show(
    bike_file: Path, points_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    points_file.write_text("counts,mm\n102,0\n921,230\n", encoding="utf-8")
    assert main(["calibrate", "--from", str(points_file), "--bike", str(bike_file)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "two positions cannot show it" in said
    assert "two positions cannot show whether the sensor is linear" in said


def test_points_out_of_order_leave_the_bike_file_alone(
    bike_file: Path, points_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    points_file.write_text(POINTS.replace("458.0,100,up", "58.0,100,up").replace("456.6", "56.6"))
    assert main(["calibrate", "--from", str(points_file), "--bike", str(bike_file)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "a point was read or typed wrongly" in said
    assert "was left as it is: take the points again" in said
    assert bike_file.read_text(encoding="utf-8") == BIKE


def test_a_bent_sensor_gets_its_curve_written(
    bike_file: Path, points_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from analysis.sensor import loaded_ratio

    mm = np.linspace(0, 230, 11)
    counts = 1000 * loaded_ratio(mm / 230, 1.0, 5.0)
    rows = "\n".join(f"{c:.1f},{p:g}" for c, p in zip(counts, mm, strict=True))
    points_file.write_text(f"counts,mm\n{rows}\n", encoding="utf-8")
    assert main(["calibrate", "--from", str(points_file), "--bike", str(bike_file)]) == 0
    assert "a cubic curve" in capsys.readouterr().out
    assert read_bike(bike_file).sensors[End.FRONT].curve == "cubic"


@pytest.mark.parametrize(
    ("options", "status", "words"),
    [
        (["--from", "none.csv"], 2, "there is no CSV file none.csv"),
        (["--from", "points.csv", "--end", "rear"], 2, "has no [sensors.rear]"),
        (["--from", "points.csv", "--u-ref-mm", "-1"], 2, "it has to be above 0"),
        (["--from", "points.csv", "--port", "COM3"], 2, "not allowed with argument"),
        ([], 2, "one of the arguments --port --from --leverage is required"),
        (["--port", "no-such-port"], 2, "--points 0,50,100,150,200"),
        (["--port", "no-such-port", "--points", "0,fifty"], 2, "fifty"),
        (["--port", "no-such-port", "--points", "50,50"], 2, "two or more different positions"),
        (["--port", "no-such-port", "--points", "0,50"], 2, "no-such-port"),
    ],
)
def test_bad_input_is_one_line(
    options: list[str],
    status: int,
    words: str,
    bike_file: Path,
    points_file: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(bike_file.parent)
    assert main(["calibrate", *options, "--bike", str(bike_file)]) == status
    said = capsys.readouterr().err
    assert said.count("\n") == 1, said
    assert words in said
    assert bike_file.read_text(encoding="utf-8") == BIKE


# ----------------------------------------------------------------------------------------------- live


def steps(places: list[float], rate_hz: float = 200.0, rest_s: float = 4.0) -> np.ndarray:
    """Counts that rest at each place in turn and move between, with a count of noise; one still channel."""
    track: list[float] = []
    for place in places:
        if track:
            track += list(np.linspace(track[-1], place, round(1.5 * rate_hz)))
        track += [place] * round(rest_s * rate_hz)
    noise = np.random.default_rng(2).normal(0, 0.5, len(track))
    sensor = np.rint(np.array(track) + noise)
    return np.column_stack([sensor, np.full(len(track), 300)]).astype(np.uint16)


@pytest.fixture
def types(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    return lambda text: monkeypatch.setattr("sys.stdin", io.StringIO(text))


@needs_pty
def test_a_walk_through_the_positions(
    bike_file: Path, types: Callable[[str], None], capsys: pytest.CaptureFixture[str]
) -> None:
    places = [100.0, 300.0, 500.0, 303.0, 103.0]
    types("\n" * 20)
    with VirtualBoard(steps(places), rate_hz=200, speed=4.0) as board:
        argv = ["calibrate", "--port", board.serve_pty(), "--bike", str(bike_file), "--end", "front"]
        assert main([*argv, "--points", "0,50,100", "--both-ways"]) == 0
    said = capsys.readouterr().out
    assert "set 50 mm down, then Enter" in said
    assert said.count("steady: taken") == 5
    calibration = read_bike(bike_file).sensors[End.FRONT].calibration
    assert [mm for _, mm in calibration] == [0, 50, 100, 50, 0]
    assert [counts for counts, _ in calibration] == pytest.approx(places, abs=0.7)
    found = re.search(r"hysteresis +(\d\.\d+) mm", said)
    assert found is not None
    assert float(found[1]) == pytest.approx(0.75, abs=0.2)


@needs_pty
def test_hands_free_and_json(bike_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with VirtualBoard(steps([100.0, 400.0]), rate_hz=200, speed=3.0) as board:
        argv = ["calibrate", "--port", board.serve_pty(), "--bike", str(bike_file), "--points", "0,100"]
        assert main([*argv, "--hands-free", "--json", "--no-write"]) == 0
    captured = capsys.readouterr()
    assert json.loads(captured.out)["scale_mm_per_count"] == pytest.approx(1 / 3, rel=0.005)
    assert "taken" in captured.err


@needs_pty
def test_again_and_skip(
    bike_file: Path, types: Callable[[str], None], capsys: pytest.CaptureFixture[str]
) -> None:
    types("\n\nagain\n\nskip\n\n")
    with VirtualBoard(steps([100.0, 300.0, 340.0, 500.0]), rate_hz=200, speed=4.0) as board:
        argv = ["calibrate", "--port", board.serve_pty(), "--bike", str(bike_file)]
        assert main([*argv, "--points", "0,60,80,100"]) == 0
    calibration = read_bike(bike_file).sensors[End.FRONT].calibration
    assert [mm for _, mm in calibration] == [0, 60, 100]
    assert calibration[1][0] in (pytest.approx(300, abs=1), pytest.approx(340, abs=1))


@needs_pty
def test_nobody_at_the_keyboard(
    bike_file: Path, types: Callable[[str], None], capsys: pytest.CaptureFixture[str]
) -> None:
    types("")
    with VirtualBoard(steps([100.0, 300.0]), rate_hz=200) as board:
        argv = ["calibrate", "--port", board.serve_pty(), "--bike", str(bike_file)]
        assert main([*argv, "--points", "0,50"]) == 2
    assert "--hands-free" in capsys.readouterr().err
    assert bike_file.read_text(encoding="utf-8") == BIKE


@needs_pty
def test_the_wrong_channel(bike_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bike_file.write_text(BIKE.replace("channel = 0", "channel = 5"), encoding="utf-8")
    with VirtualBoard(steps([100.0, 300.0]), rate_hz=200) as board:
        argv = ["calibrate", "--port", board.serve_pty(), "--bike", str(bike_file), "--hands-free"]
        assert main([*argv, "--points", "0,50"]) == 1
    assert "the sensor is on channel 5, but the board sends 2" in capsys.readouterr().err


@needs_pty
def test_a_board_that_falls_silent_changes_nothing(
    bike_file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calibrate_live, "Watch", partial(calibrate_live.Watch, patience_s=1.0))
    with VirtualBoard(steps([100.0]), rate_hz=200, speed=4.0) as board:
        argv = ["calibrate", "--port", board.serve_pty(), "--bike", str(bike_file), "--hands-free"]
        assert main([*argv, "--points", "0,50"]) == 1
    captured = capsys.readouterr()
    assert "the board has sent nothing for 1 s" in captured.err
    assert "taken" in captured.out
    assert bike_file.read_text(encoding="utf-8") == BIKE


@needs_pty
def test_a_terminal_shows_one_living_line(bike_file: Path, types: Callable[[str], None]) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    out = Terminal()
    with VirtualBoard(steps([100.0, 400.0]), rate_hz=200, speed=4.0) as board:
        source = port_source(board.serve_pty(), 115200)
        notes = StartNotes(
            log_id="c", kind=Kind.SAG, bike_text="", zeros={}, port="p", baud=115200, started=""
        )
        with Recorder(source, bike_file.with_name("capture"), notes) as recorder:
            walk = calibrate_live.Walk(calibrate_live.Watch(recorder, 0), None, out)
            points = walk.through(plan([0, 50], both_ways=False))
    assert [round(point.counts, -1) for point in points] == [100, 400]
    lines = [part for part in out.getvalue().replace("\n", "\r").split("\r") if part.strip()]
    assert max(map(len, lines)) <= 80
    words = {line.rsplit(",", 1)[-1].strip() for line in lines if "counts, spread" in line}
    assert {"moving", "listening"} <= words


def test_the_way_there_and_back() -> None:
    assert plan([0, 50, 100], both_ways=True) == [
        (0, Way.UP),
        (50, Way.UP),
        (100, Way.UP),
        (50, Way.DOWN),
        (0, Way.DOWN),
    ]
    assert plan([100, 0], both_ways=True) == [(100, Way.DOWN), (0, Way.DOWN), (100, Way.UP)]
    assert plan([0, 50], both_ways=False) == [(0, None), (50, None)]


# ------------------------------------------------------------------------------------------- leverage

REAR = """\
[rear]
suspension = "linkage"
travel_mm = 220
ratio = 2.4
[sensors.rear]
channel = 1
measures = "shock stroke"
calibration = [[88, 0], [495, 46], [902, 92]]
"""
TABLE = ((0, 0), (55, 21), (110, 43.5), (165, 67.3), (220, 92))


@pytest.fixture
def rear_bike(bike_file: Path) -> Path:
    bike_file.write_text(BIKE + REAR, encoding="utf-8")
    return bike_file


def survey_csv(path: Path, steps: int) -> Path:
    from scipy.interpolate import PchipInterpolator

    random = np.random.default_rng(1)
    stroke = PchipInterpolator(*np.array(TABLE, float).T)
    lines = ["counts,axle_mm,direction"]
    for way, lead in (("up", 0.6), ("down", -0.6)):
        for wheel in np.linspace(0, 220, steps):
            counts = 88 + float(stroke(wheel)) * 814 / 92
            lines.append(f"{counts:.1f},{310 + wheel + lead + random.normal(0, 0.4):.1f},{way}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_survey_gives_the_bike_file_its_leverage(
    rear_bike: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    csv = survey_csv(tmp_path / "survey.csv", 9)
    assert main(["calibrate", "--leverage", str(csv), "--bike", str(rear_bike)]) == 0
    said = capsys.readouterr().out
    assert max(len(line) for line in said.splitlines() if str(rear_bike.parent) not in line) <= 80
    assert "rear linkage: 18 readings at 9 positions, both ways" in said
    assert "play" in said
    assert "motion ratio" in said
    rear = read_bike(rear_bike).rear
    assert rear is not None
    assert rear.leverage is not None
    assert rear.leverage.table is not None
    wheel, stroke = rear.leverage.table[-1]
    assert (wheel, stroke) == (pytest.approx(220, abs=1.5), pytest.approx(92, abs=0.2))
    assert "blue plug" in rear_bike.read_text(encoding="utf-8")


def test_three_positions_change_nothing_and_say_why(
    rear_bike: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    csv = survey_csv(tmp_path / "survey.csv", 3)
    assert main(["calibrate", "--leverage", str(csv), "--bike", str(rear_bike)]) == 1
    assert "3 positions do not support a wheel rate" in " ".join(capsys.readouterr().out.split())
    assert rear_bike.read_text(encoding="utf-8") == BIKE + REAR


def test_survey_json(rear_bike: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    csv = survey_csv(tmp_path / "survey.csv", 9)
    argv = ["calibrate", "--leverage", str(csv), "--bike", str(rear_bike), "--json", "--no-write"]
    assert main(argv) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["supports_wheel_rate"] is True
    assert answer["travel_mm"]["value"] == pytest.approx(220, abs=answer["travel_mm"]["expanded_uncertainty"])
    assert answer["play_mm"]["value"] == pytest.approx(1.2, abs=answer["play_mm"]["expanded_uncertainty"])
    assert answer["bike_file"] is None


def test_a_fork_has_no_leverage(rear_bike: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    csv = survey_csv(tmp_path / "survey.csv", 9)
    argv = ["calibrate", "--leverage", str(csv), "--bike", str(rear_bike), "--end", "front"]
    assert main(argv) == 2
    assert "the front sensor follows the wheel" in capsys.readouterr().err
