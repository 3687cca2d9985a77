"""The command line: quick to start, one line for whatever goes wrong, the JSON of the contract."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dashboard import cli
from dashboard.commands import VERBS, common
from ingest.errors import CannotAnswer, FlatfootError, PortBusy, UsageError
from ingest.log import Kind, Log
from ingest.log_file import write_log
from ingest.version import VERSION

HEAVY = (
    "numpy",
    "pandas",
    "scipy",
    "pyarrow",
    "serial",
    "dash",
    "plotly",
    "flask",
    "arch",
    "tomlkit",
    "waitress",
)

BIKE = """\
[bike]
name = "Workshop tall twin"
id = "frame 0001"
use = "adventure"
wheelbase_mm = 1560
rake_deg = 26.0
fork_offset_mm = 45
front_wheel_radius_mm = 345
rear_wheel_radius_mm = 325
[front]
suspension = "telescopic fork"
travel_mm = 230
[rear]
suspension = "linkage"
travel_mm = 220
leverage = [[0, 0], [55, 21], [110, 43.5], [165, 67.3], [220, 92]]
[sensors.front]
channel = 0
calibration = [[102, 0], [921, 230]]
[sensors.rear]
channel = 1
measures = "shock stroke"
calibration = [[88, 0], [902, 92]]
"""


def still(*spans: tuple[float, float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Front and rear travel that rests at each pair of positions for so many seconds, moving between."""
    front, rear = [], []
    for seconds, front_mm, rear_mm in spans:
        rest = round(seconds * 200)
        for track, target in ((front, front_mm), (rear, rear_mm)):
            if track:
                track += list(np.linspace(track[-1], target, 200))
            track += [target] * rest
    return np.array(front), np.array(rear)


@pytest.fixture
def sag_log(make_log: Callable[..., Log], tmp_path: Path) -> Path:
    front, rear = still((4, 0, 0), (4, 30, 18), (4, 36, 22), (4, 60, 50), (4, 66, 54))
    marks = [
        (2.0, "topped out"),
        (7.0, "unladen, from above"),
        (12.0, "unladen, from below"),
        (17.0, "rider, from above"),
        (22.0, "rider, from below"),
    ]
    path = tmp_path / "sag.parquet"
    write_log(make_log(front, rear, rate_hz=200.0, kind=Kind.SAG, marks=marks), path)
    return path


def ride_file(make_log: Callable[..., Log], path: Path, mean_mm: float, seed: int, seconds: int = 60) -> Path:
    """A ride that wanders smoothly about a mean; different seeds, different roads."""
    random = np.random.default_rng(seed)
    n = seconds * 500
    t = np.arange(n) / 500
    tracks = []
    for centre in (mean_mm, mean_mm - 5):
        phases = random.uniform(0, 2 * np.pi, 40)
        hertz = random.uniform(0.3, 4.0, 40)
        wander = np.sin(2 * np.pi * hertz[:, None] * t + phases[:, None]).sum(axis=0) * 3.0
        tracks.append(centre + wander)
    write_log(make_log(*tracks, rate_hz=500.0), path)
    return path


# ---------------------------------------------------------------------------------------------- starting


def test_help_brings_nothing_heavy_along() -> None:
    code = (
        "import sys; from dashboard import cli; assert cli.main(['--help']) == 0; "
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stderr.strip() == "[]"


@pytest.mark.parametrize("verb", VERBS, ids=lambda verb: verb.NAME)
def test_every_verb_helps_with_an_example_at_80_columns(
    verb: object, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert cli.main([verb.NAME, "--help"]) == 0
    said = capsys.readouterr().out
    assert f"example:\n  flatfoot {verb.NAME}" in said
    assert max(map(len, said.splitlines())) <= 80


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--version"]) == 0
    assert capsys.readouterr().out == f"flatfoot {VERSION}\n"


# -------------------------------------------------------------------------------------- what goes wrong


def said_on(capsys: pytest.CaptureFixture[str]) -> str:
    captured = capsys.readouterr()
    assert captured.err.count("\n") == 1, captured.err
    assert captured.err.startswith("flatfoot: ")
    assert "Traceback" not in captured.err + captured.out
    return captured.err


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        ([], "required: VERB"),
        (["fly"], "invalid choice: 'fly'"),
        (["sag"], "required: LOG"),
        (["ride", "x", "--units", "cubits"], "invalid choice: 'cubits'"),
        (["compare", "only.parquet"], "needs a ride after the work"),
    ],
)
def test_wrong_use_is_one_line_and_2(argv: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(argv) == 2
    assert words in said_on(capsys)


@pytest.mark.parametrize(
    ("problem", "status"),
    [(UsageError("no\nsuch thing"), 2), (PortBusy("busy"), 2), (CannotAnswer("too short"), 1)],
)
def test_problems_on_purpose(
    problem: FlatfootError,
    status: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def refuses(args: object) -> int:
        raise problem

    monkeypatch.setattr(VERBS[0], "run", refuses)
    assert cli.main(["ports"]) == status
    assert said_on(capsys) == f"flatfoot: {' '.join(str(problem).split())}\n"


def test_what_should_not_happen_keeps_its_details_in_a_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    def broken(args: object) -> int:
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(VERBS[0], "run", broken)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert cli.main(["ports"]) == 2
    assert "ZeroDivisionError: a fault of ours" in said_on(capsys)
    (notes,) = tmp_path.glob("flatfoot-trouble-*.txt")
    assert "Traceback" in notes.read_text(encoding="utf-8")


def test_ctrl_c_is_one_line(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted(args: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(VERBS[0], "run", interrupted)
    assert cli.main(["ports"]) == 128 + signal.SIGINT
    assert "interrupted" in said_on(capsys)


@pytest.mark.skipif(os.name == "nt", reason="Windows reports a closed pipe differently")
def test_a_reader_that_goes_away_is_no_trouble(sag_log: Path) -> None:
    command = f'"{sys.executable}" -m dashboard sag "{sag_log}" --json | true; exit ${{PIPESTATUS[0]}}'
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=60)
    assert done.stderr == ""
    assert done.returncode == 0


# ------------------------------------------------------------------------------------------ the contract


def answer(capsys: pytest.CaptureFixture[str], *argv: str | Path) -> dict[str, object]:
    assert cli.main([str(arg) for arg in argv]) == 0
    return json.loads(capsys.readouterr().out)


def test_sag_json(sag_log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(capsys, "sag", sag_log, "--json")
    for end, unladen, rider in (("front", 33, 63), ("rear", 20, 52)):
        one = said[end]
        assert set(one["rider_sag_mm"]) == {"value", "expanded_uncertainty", "coverage_factor"}
        assert one["unladen_sag_mm"]["value"] == pytest.approx(unladen, abs=0.1)
        assert one["rider_sag_mm"]["value"] == pytest.approx(rider, abs=0.1)
        assert one["rider_sag_percent"] == pytest.approx(100 * rider / one["travel_mm"], abs=0.1)
    assert said["front"]["friction_band_mm"] == pytest.approx(3.0, abs=0.1)
    assert isinstance(said["advice"], list)


def test_sag_in_words_fits_80_columns(sag_log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for units in ("mm", "in"):
        assert cli.main(["sag", str(sag_log), "--units", units]) == 0
        said = capsys.readouterr().out
        assert max(map(len, said.splitlines())) <= 80
        assert "rider sag" in said


def test_ride_json(make_log: Callable[..., Log], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = ride_file(make_log, tmp_path / "ride.parquet", 90, 1)
    said = answer(capsys, "ride", path, "--json")
    one = said["front"]
    for name in (
        "duration_s",
        "samples",
        "lost_samples",
        "travel_mm",
        "travel_used_mm",
        "travel_used_percent",
        "mean_mm",
        "p50_mm",
        "p95_mm",
        "p99_mm",
        "bandwidth_hz",
    ):
        assert isinstance(one[name], int | float), name
    assert set(one["bottoming"]) >= {"count", "per_10_min", "events"}
    assert set(one["topping"]) >= {"count", "per_10_min", "events"}
    assert set(one["compression_speed_mm_s"]) == {"p50", "p95", "p99", "max"}
    assert one["mean_mm"] == pytest.approx(90, abs=1)
    assert cli.main(["ride", str(path), "--events"]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80


METRICS = [
    f"{end}_{name}"
    for end in ("front", "rear")
    for name in (
        "mean_mm",
        "p50_mm",
        "p95_mm",
        "p99_mm",
        "travel_used_mm",
        "travel_used_percent",
        "bottoming_per_10_min",
        "topping_per_10_min",
        "compression_p95_mm_s",
        "rebound_p95_mm_s",
    )
]


def test_compare_json(
    make_log: Callable[..., Log], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = ride_file(make_log, tmp_path / "before.parquet", 70, 1)
    after = ride_file(make_log, tmp_path / "after.parquet", 110, 2)
    said = answer(capsys, "compare", before, after, "--json")
    assert [metric["name"] for metric in said["metrics"]] == METRICS
    for metric in said["metrics"]:
        assert set(metric) >= {"name", "unit", "before", "after", "change", "ci95", "changed"}
    assert said["answer"]["verdict"] == "changed"
    assert said["answer"]["uses_its_travel"] in ("yes", "no", "cannot tell")
    assert said["answer"]["because"]
    for extra in ([], ["--all"], ["--units", "in"]):
        assert cli.main(["compare", str(before), str(after), *extra]) == 0
        assert max(map(len, capsys.readouterr().out.splitlines())) <= 80


def test_geometry_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bike = tmp_path / "bike.toml"
    bike.write_text(BIKE, encoding="utf-8")
    said = answer(
        capsys, "geometry", "--bike", bike, "--rear-axle-up-mm", "0", "--fork-axis-mm", "0", "--json"
    )
    assert said["rake_deg"] == pytest.approx(26.0)
    # (345 sin 26° − 45) / cos 26°
    assert said["trail_mm"] == pytest.approx(118.20, abs=0.01)
    assert said["pitch_deg"] == pytest.approx(0.0, abs=1e-9)
    assert cli.main(["geometry", "--bike", str(bike), "--rear-axle-up-mm", "30"]) == 0
    assert "wheelbase" in capsys.readouterr().out


def test_import_then_ride(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bike, csv, out = tmp_path / "bike.toml", tmp_path / "ride.csv", tmp_path / "ride.parquet"
    bike.write_text(BIKE, encoding="utf-8")
    rows = [f"{i * 1000},{300 + i % 7},{250 + i % 5}," for i in range(5000)]
    csv.write_text("t_us,ch0,ch1,mark\n" + "\n".join(rows) + "\n", encoding="utf-8")
    argv = ["import", csv, "--bike", bike, "--kind", "ride", "--out", out]
    assert cli.main([str(arg) for arg in argv]) == 0
    assert "5000 samples" in capsys.readouterr().out
    said = answer(capsys, "ride", out, "--json")
    assert said["front"]["samples"] == 5000
    assert cli.main([str(arg) for arg in argv]) == 2
    assert "never written over" in said_on(capsys)


def test_amend_says_so_in_every_answer(sag_log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = answer(capsys, "sag", sag_log, "--json")
    assert before["amendments"] == []
    assert cli.main(["amend", str(sag_log), "--move-mark", "22.1=22.5", "--by", "Jo"]) == 0
    capsys.readouterr()
    assert answer(capsys, "sag", sag_log, "--json")["amendments"]
    assert cli.main(["amend", str(sag_log), "--remove-mark", "99"]) == 2
    assert "no mark within 0.5 s of 99 s" in said_on(capsys)
    assert cli.main(["amend", str(sag_log), "--zero", "front"]) == 2
    assert "write it like --zero front=112" in said_on(capsys)


# ----------------------------------------------------------------------------------------------- the book


def test_the_book_is_where_it_was_said_to_be(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    args = cli.build_parser().parse_args(["serve", "--book", str(tmp_path / "a")])
    assert common.book_folder(args) == tmp_path / "a"
    args = cli.build_parser().parse_args(["serve"])
    monkeypatch.setenv("FLATFOOT_BOOK", str(tmp_path / "b"))
    assert common.book_folder(args) == tmp_path / "b"
    monkeypatch.delenv("FLATFOOT_BOOK")
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    assert common.book_folder(args) == tmp_path / "Documents" / "flatfoot"


def test_a_job_from_the_first_day(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bike, lowered, book = tmp_path / "bike.toml", tmp_path / "lowered.toml", tmp_path / "book"
    bike.write_text(BIKE, encoding="utf-8")
    lowered.write_text('[setup]\nname = "lowered"\n[front]\ntravel_mm = 205\n', encoding="utf-8")
    assert cli.main(["job", "list", "--book", str(book)]) == 2
    assert "`flatfoot job new` starts one" in said_on(capsys)
    new = ["job", "new", "--bike", str(bike), "--rider", "Mara L.", "--rider-kg", "58", "--book", str(book)]
    assert cli.main(new) == 0
    assert "started a new book" in capsys.readouterr().out
    (job,) = answer(capsys, "job", "list", "--book", book, "--json")
    assert cli.main(["job", "setup", job["id"], str(lowered), "--book", str(book)]) == 0
    capsys.readouterr()
    (job,) = answer(capsys, "job", "list", "--book", book, "--json")
    assert [setup["name"] for setup in job["setups"]] == ["stock", "lowered"]
    assert cli.main(["salvage", "--book", str(book)]) == 0
    assert "nothing to salvage" in capsys.readouterr().out


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a device that is always full")
def test_no_room_for_the_answer_is_one_plain_line() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "dashboard", "ports", "--json"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == "flatfoot: no room left to write the answer: free some space\n"


@pytest.mark.skipif(os.name == "nt", reason="needs a POSIX shell")
def test_a_closed_standard_output_is_no_trouble() -> None:
    command = f"{sys.executable} -m dashboard ports >&-"
    done = subprocess.run(["sh", "-c", command], stderr=subprocess.PIPE, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
