"""From the virtual board over a real port to the sealed log: both dialects, both kinds of port, faults."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ingest.bike_file import bike_text
from ingest.capture import StartNotes
from ingest.decode import Dialect
from ingest.log import Kind, Log
from ingest.log_file import read_log
from ingest.port import port_source
from ingest.recorder import Recorder
from ingest.records import Bike, End
from ingest.sealing import seal
from ingest.virtual_board import Faults, VirtualBoard

RATE_HZ = 1000.0


@pytest.fixture
def notes(bike: Bike) -> StartNotes:
    return StartNotes(
        log_id="ride-1",
        kind=Kind.RIDE,
        bike_text=bike_text(bike),
        zeros={End.FRONT: 101.5},
        port="virtual",
        baud=115200,
        started="2026-05-04T09:00:00+02:00",
    )


def counts(rows: int) -> np.ndarray:
    return np.random.default_rng(4).integers(0, 1024, (rows, 2), dtype=np.uint16)


def until(true: Callable[[], bool], timeout_s: float = 20.0) -> None:
    end = time.monotonic() + timeout_s
    while not true():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.01)


def rows_of(log: Log) -> np.ndarray:
    return np.concatenate([segment.values for segment in log.segments])


def serve(board: VirtualBoard, how: str) -> str:
    return board.serve_pty() if how == "pty" else board.serve_tcp()


@pytest.mark.parametrize("how", ["pty", "tcp"])
@pytest.mark.parametrize("dialect", list(Dialect))
@pytest.mark.parametrize("speed", [2.0, None])
def test_every_row_comes_through(
    tmp_path: Path, notes: StartNotes, how: str, dialect: Dialect, speed: float | None
) -> None:
    true = counts(2500)
    with VirtualBoard(
        true, rate_hz=RATE_HZ, skew_us=(0, 112), dialect=dialect, speed=speed, marks=(700,)
    ) as board:
        recorder = Recorder(port_source(serve(board, how)), tmp_path / "run", notes)
        recorder.start()
        assert board.finished.wait(20)
        time.sleep(0.3)
        recorder.mark("rider")
        folder = recorder.stop()
    log = read_log(seal(folder, tmp_path / "run.parquet"))
    np.testing.assert_array_equal(rows_of(log), true)
    assert len(log.segments) == 1
    assert log.segments[0].dt_s == pytest.approx(1 / RATE_HZ, rel=1e-6)
    assert (log.link.dialect, log.link.lost_samples, log.link.damaged) == (str(dialect), 0, 0)
    assert log.channels[1].skew_s == pytest.approx(112e-6)
    assert log.ending.status == "complete"
    button, rider = log.marks
    assert button.text == "button"
    assert button.t_s == pytest.approx(0.7, abs=0.021)
    assert rider == type(rider)(t_s=pytest.approx(2.5, abs=0.002), text="rider")


@pytest.mark.parametrize("dialect", list(Dialect))
def test_a_cable_pulled_and_put_back(tmp_path: Path, notes: StartNotes, dialect: Dialect) -> None:
    """The board goes on meanwhile: what it sampled while the cable was out is missing, and nothing else."""
    true = counts(6000)
    faults = Faults(pull_cable_at=1510, plug_in_after_s=0.7)
    with VirtualBoard(true, rate_hz=RATE_HZ, dialect=dialect, faults=faults) as board:
        url = board.serve_pty(link=tmp_path / "port")
        recorder = Recorder(port_source(url), tmp_path / "run", notes)
        recorder.start()
        until(lambda: recorder.live().status == "reconnecting")
        until(lambda: recorder.live().status == "recording")
        assert board.finished.wait(20)
        time.sleep(0.3)
        folder = recorder.stop()
    log = read_log(seal(folder, tmp_path / "run.parquet"))
    assert log.link.reconnects == 1
    assert log.link.board_resets == 0
    assert len(log.segments) == 2
    (gap,) = log.gaps
    assert "cable" in gap.reason
    assert gap.exact == (dialect is Dialect.FRAMED)
    assert 0.6 < gap.duration_s < 4
    for segment in log.segments:
        first = round(segment.start_s * RATE_HZ)
        np.testing.assert_array_equal(segment.values, true[first : first + segment.rows])
    if gap.exact:
        assert gap.lost_samples == 6000 - log.rows


@pytest.mark.parametrize("how", ["pty", "tcp"])
def test_noise_costs_frames_and_never_gives_a_wrong_row(tmp_path: Path, notes: StartNotes, how: str) -> None:
    true = counts(8000)
    with VirtualBoard(true, rate_hz=RATE_HZ, speed=8.0, faults=Faults(bit_flip_rate=1e-4, seed=5)) as board:
        recorder = Recorder(port_source(serve(board, how)), tmp_path / "run", notes)
        recorder.start()
        assert board.finished.wait(20)
        time.sleep(0.3)
        live = recorder.live()
        folder = recorder.stop()
    log = read_log(seal(folder, tmp_path / "run.parquet"))
    assert log.link.damaged > 10
    assert log.link.lost_exact
    assert (live.samples, live.lost_samples) == (log.rows, log.link.lost_samples)
    # What was damaged before the first good frame shifts the origin and cannot be counted.
    origin = next(n for n in range(200) if np.array_equal(true[n], log.segments[0].values[0]))
    for segment in log.segments:
        first = origin + round(segment.start_s * RATE_HZ)
        np.testing.assert_array_equal(segment.values, true[first : first + segment.rows])
    assert 0 <= 8000 - origin - log.rows - log.link.lost_samples <= 200


def test_live_display_and_sealed_log_agree(tmp_path: Path, notes: StartNotes) -> None:
    true = counts(3000)
    with VirtualBoard(true, rate_hz=RATE_HZ) as board:
        recorder = Recorder(port_source(board.serve_pty()), tmp_path / "run", notes)
        recorder.start()
        until(lambda: recorder.live().duration_s > 1.5)
        live = recorder.live()
        recorder.mark("now")
        recorder.stop()
    log = read_log(seal(tmp_path / "run", tmp_path / "run.parquet"))
    assert live.rate_hz == pytest.approx(RATE_HZ)
    assert live.recent[0][0] == pytest.approx(0, abs=0.01)
    for t_s, row in live.recent:
        assert tuple(true[round(t_s * RATE_HZ)]) == row
    assert log.marks[0].t_s == pytest.approx(live.duration_s, abs=0.1)
    assert 1500 < log.rows < 2500
    np.testing.assert_array_equal(rows_of(log), true[: log.rows])
