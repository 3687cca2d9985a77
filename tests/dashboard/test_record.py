"""`flatfoot record` on a board that speaks over a real port: marks, zeros, Ctrl-C, a pulled cable."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from dashboard.cli import main
from ingest.book import Book
from ingest.log import Kind, Log
from ingest.log_file import read_log
from ingest.records import End
from ingest.run_notes import RunNotes
from ingest.virtual_board import VirtualBoard

BIKE = """\
[bike]
name = "Workshop tall twin"
[front]
suspension = "telescopic fork"
travel_mm = 230
[rear]
suspension = "direct"
travel_mm = 220
[sensors.front]
channel = 0
calibration = [[102, 0], [921, 230]]
[sensors.rear]
channel = 1
calibration = [[88, 0], [902, 220]]
"""
MARKS = ("topped out", "unladen, from above", "unladen, from below", "rider, from above", "rider, from below")
STILL = ((112, 98), (230, 160), (250, 170), (330, 250), (350, 262))

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")


def sag_counts() -> np.ndarray:
    """Five still spans of 4 s at 200 samples a second, 1 s of moving between them."""
    pieces = []
    for before, here in zip((STILL[0], *STILL), STILL, strict=False):
        pieces.append(np.linspace(before, here, 200))
        pieces.append(np.tile(here, (800, 1)))
    return np.concatenate(pieces).round().astype(np.uint16)


@pytest.fixture
def bike_file(tmp_path: Path) -> Path:
    path = tmp_path / "bike.toml"
    path.write_text(BIKE, encoding="utf-8")
    return path


class Recording:
    """The verb as a process of its own, with somebody at the keyboard."""

    def __init__(self, *argv: object) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "dashboard", "record", *map(str, argv)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )

    def type(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def ctrl_c(self) -> tuple[int, str, str]:
        self.process.send_signal(signal.SIGINT)
        out, err = self.process.communicate(timeout=30)
        return self.process.returncode, out, err


@pytest.fixture
def board() -> Iterator[VirtualBoard]:
    with VirtualBoard(sag_counts(), rate_hz=200, speed=5.0) as board:
        yield board


def sent(board: VirtualBoard, samples: int) -> None:
    end_s = time.monotonic() + 30
    while board.sent < samples:
        assert time.monotonic() < end_s
        time.sleep(0.005)


def record_sag(board: VirtualBoard, *place: object) -> tuple[int, str, str]:
    recording = Recording("--port", board.serve_pty(), "--kind", "sag", *place)
    for index in range(len(MARKS)):
        sent(board, index * 1000 + 600)
        recording.type("" if index != 3 else MARKS[3])
    assert board.finished.wait(30)
    return recording.ctrl_c()


def test_a_sag_check_without_a_book(board: VirtualBoard, bike_file: Path) -> None:
    out_file = bike_file.with_name("sag.parquet")
    status, out, err = record_sag(board, "--bike", bike_file, "--out", out_file)
    assert (status, err) == (0, "")
    assert "5 marks, no sample lost" in out
    assert not out_file.with_suffix(".capture").exists()
    log = read_log(out_file)
    assert [mark.text for mark in log.marks] == list(MARKS)
    assert log.ending.status == "complete"
    assert np.array_equal(np.concatenate([one.values for one in log.segments]), sag_counts())
    assert main(["sag", str(out_file), "--json"]) == 0


def test_a_ride_takes_its_zeros_from_the_sag_check(
    board: VirtualBoard, bike_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = bike_file.with_name("book")
    new = ["job", "new", "--bike", str(bike_file), "--rider", "Mara L.", "--book", str(folder)]
    assert main(new) == 0
    place = ("--job", "0001", "--setup", "stock", "--book", folder)
    status, _, err = record_sag(board, *place)
    assert (status, err) == (0, "")
    capsys.readouterr()
    wave = 300 + 100 * np.sin(np.arange(1000) / 20)
    with VirtualBoard(np.column_stack([wave, wave]).astype(np.uint16), rate_hz=200, speed=5.0) as riding:
        argv = ["record", "--port", riding.serve_pty(), "--kind", "ride", "--seconds", 3, *place]
        assert main([str(arg) for arg in argv]) == 0
    said = capsys.readouterr().out
    assert "topped-out counts from" in said
    (ride,) = [log for log in Book.open(folder).logs("0001") if log.kind is Kind.RIDE]
    assert ride.zeros == pytest.approx({End.FRONT: 112, End.REAR: 98}, abs=0.5)
    assert ride.ending.reason == "time is up"
    assert f"flatfoot ride {ride.id}" in said


def test_zeros_and_notes_can_be_typed(board: VirtualBoard, bike_file: Path) -> None:
    out = bike_file.with_name("ride.parquet")
    argv = ["record", "--port", board.serve_pty(), "--kind", "ride", "--seconds", 2, "--bike", bike_file]
    argv += ["--route", "forest loop", "--tyres-kpa", "220,250", "--warm", "yes"]
    assert (
        main([str(arg) for arg in [*argv, "--out", out, "--zero", "front=112", "--zero", "rear=98.5"]]) == 0
    )
    log: Log = read_log(out)
    assert log.zeros == {End.FRONT: 112, End.REAR: 98.5}
    assert log.run == RunNotes(route="forest loop", front_tyre_kpa=220.0, rear_tyre_kpa=250.0, warmed_up=True)


@pytest.mark.parametrize("zero", ["front", "front=", "middle=3", "front=high"])
def test_a_zero_that_is_none(zero: str, bike_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["record", "--port", "loop://", "--kind", "ride", "--bike", bike_file, "--zero", zero]
    assert main([str(arg) for arg in [*argv, "--out", bike_file.with_name("x.parquet")]]) == 2
    assert "--zero" in capsys.readouterr().err
