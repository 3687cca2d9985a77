"""The virtual board over a real pseudo-terminal and over TCP, opened by pyserial."""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from ingest.decode import Break, Decoded, Dialect, decode
from ingest.errors import PortNotFound
from ingest.frames import DESCRIBE, START, STOP
from ingest.port import Port, open_port
from ingest.virtual_board import Faults, VirtualBoard

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")
BOTH = pytest.mark.parametrize("dialect", list(Dialect))


def counts(rows: int, channels: int = 2) -> np.ndarray:
    made = np.random.default_rng(8).integers(0, 1024, (rows, channels)).astype(np.uint16)
    made[:, 0] = np.arange(rows)
    return made


def listen(port: Port, board: VirtualBoard, timeout_s: float = 20.0) -> bytes:
    """Read until the board has sent everything or the cable is out."""
    heard, end_s = b"", time.monotonic() + timeout_s
    while time.monotonic() < end_s:
        try:
            data = port.read(0.05)
        except OSError:
            return heard
        heard += data
        if not data and board.finished.is_set():
            return heard
    pytest.fail(f"the board did not finish: {len(heard)} bytes, {board.sent} rows")


def run(board: VirtualBoard, dialect: Dialect, *, tcp: bool = False) -> Decoded:
    with board, open_port(board.serve_tcp() if tcp else board.serve_pty()) as port:
        port.write(DESCRIBE)
        port.write(START)
        return decode(listen(port, board), dialect)


def rows_of(decoded: Decoded) -> list[int]:
    return [int(row) for segment in decoded.segments for row in segment.values[:, 0]]


@BOTH
@pytest.mark.parametrize("tcp", [False, True])
@pytest.mark.parametrize("speed", [None, 40.0])
def test_every_row_arrives(dialect: Dialect, tcp: bool, speed: float | None) -> None:
    sent = counts(12_007)
    board = VirtualBoard(
        sent, rate_hz=1000, bits=12, skew_us=(0, 25), dialect=dialect, speed=speed, marks=(5000,)
    )
    began_s = time.monotonic()
    decoded = run(board, dialect, tcp=tcp)
    assert len(decoded.segments) == 1
    assert np.array_equal(decoded.segments[0].values, sent)
    assert decoded.segments[0].dt_s == pytest.approx(0.001)
    assert decoded.link.damaged == 0
    assert decoded.description is not None
    assert (decoded.description.bits, decoded.description.skew_us) == (12, (0, 25))
    assert [mark.t_s for mark in decoded.button_marks] == [pytest.approx(5.0, abs=0.02)]
    assert board.sent == len(sent)
    if speed is not None:
        assert time.monotonic() - began_s >= len(sent) / 1000 / speed


def test_real_time_is_real_time() -> None:
    board = VirtualBoard(counts(600), rate_hz=1000)
    began_s = time.monotonic()
    decoded = run(board, Dialect.FRAMED)
    assert decoded.link.frames == 30
    assert time.monotonic() - began_s >= 0.6


@BOTH
def test_silent_until_started_and_after_a_stop(dialect: Dialect) -> None:
    sent = counts(4000)
    with (
        VirtualBoard(sent, rate_hz=1000, dialect=dialect, speed=10) as board,
        open_port(board.serve_pty()) as port,
    ):
        assert port.read(0.15) == b""
        assert board.sent == 0
        port.write(START)
        heard = port.read(1.0)
        port.write(START)  # a second start disturbs nothing
        while board.sent < 1000:
            heard += port.read(0.2)
        port.write(STOP)
        while data := port.read(0.3):
            heard += data
        stopped = board.sent
        assert port.read(0.15) == b""
        assert board.sent == stopped < len(sent)
        port.write(
            b"hello? d\n"
        )  # only the letter d means anything in it, and h, which stops what is stopped
        assert b"board" in port.read(1.0)
        port.write(START)
        heard += listen(port, board)
    decoded = decode(heard, dialect)
    assert rows_of(decoded) == list(range(len(sent)))
    assert len(decoded.segments) == 2
    # The clock went on while the board was stopped.
    assert decoded.gaps[0].duration_s > 0.3 * 10 * 0.5


def test_frame_faults() -> None:
    faults = Faults(drop_frame_at=(10, 11), repeat_frame_at=(20,), swap_frame_at=(30,))
    decoded = run(VirtualBoard(counts(2000), rate_hz=1000, speed=None, faults=faults), Dialect.FRAMED)
    assert decoded.link.lost_samples == 60
    assert decoded.link.repeated == 1
    assert decoded.link.out_of_order == 1
    missing = {*range(200, 240), *range(600, 620)}
    assert rows_of(decoded) == [row for row in range(2000) if row not in missing]


def test_line_faults() -> None:
    faults = Faults(drop_frame_at=(100, 101), repeat_frame_at=(200,), swap_frame_at=(300,))
    board = VirtualBoard(counts(500), rate_hz=500, speed=None, dialect=Dialect.LINES, faults=faults)
    decoded = run(board, Dialect.LINES)
    assert decoded.link.repeated == 1
    # Lines have no number: of a swapped pair the one that came too early is taken for a torn one.
    assert decoded.link.damaged == 1
    assert set(range(500)) - set(rows_of(decoded)) == {100, 101, 301}


@BOTH
def test_noise_on_the_line_is_repeatable_and_counted(dialect: Dialect) -> None:
    faults = Faults(bit_flip_rate=2e-5, drop_byte_rate=1e-4, seed=4)
    sent = counts(20_000)
    first, second = (
        run(VirtualBoard(sent, rate_hz=1000, speed=None, dialect=dialect, faults=faults), dialect)
        for _ in range(2)
    )
    assert first.link == second.link
    assert first.link.damaged > 5
    assert first.link.lost_samples > 0
    if dialect is Dialect.FRAMED:
        rows = rows_of(first)
        assert all(np.array_equal(s.values, sent[s.values[:, 0].astype(int)]) for s in first.segments)
        assert first.link.lost_samples == rows[-1] - rows[0] + 1 - len(rows)


@BOTH
def test_reset(dialect: Dialect) -> None:
    board = VirtualBoard(
        counts(9000), rate_hz=1000, speed=None, dialect=dialect, faults=Faults(reset_at=5010)
    )
    decoded = run(board, dialect)
    assert decoded.link.board_resets == 1
    assert len(decoded.segments) == 2
    rows = rows_of(decoded)
    missing = set(range(9000)) - set(rows)
    # What had been gathered for the frame is gone, and a quarter of a second of starting up.
    assert missing == set(range(5000 if dialect is Dialect.FRAMED else 5010, 5260))


@BOTH
def test_the_clock_wraps_on_the_way(dialect: Dialect) -> None:
    faults = Faults(wrap_start_us=(1 << 32) - 1_000_000)
    decoded = run(
        VirtualBoard(counts(3000), rate_hz=1000, speed=None, dialect=dialect, faults=faults), dialect
    )
    assert len(decoded.segments) == 1
    assert rows_of(decoded) == list(range(3000))


@BOTH
@pytest.mark.parametrize("tcp", [False, True])
def test_pulled_cable_and_back(dialect: Dialect, tcp: bool, tmp_path: Path) -> None:
    faults = Faults(pull_cable_at=2010)
    link = tmp_path / "board"
    with VirtualBoard(counts(6000), rate_hz=1000, dialect=dialect, speed=4, faults=faults) as board:
        url = board.serve_tcp() if tcp else board.serve_pty(link)
        with open_port(url) as port:
            port.write(START)
            heard = listen(port, board)
        assert board.unplugged.wait(1.0)
        with pytest.raises(PortNotFound):
            open_port(url)
        time.sleep(0.2)
        assert board.reconnect() == url
        with open_port(url) as port:
            port.write(START)
            broke = Break(offset=len(heard), reason="cable lost", host_gap_s=None)
            heard += listen(port, board)
    decoded = decode(heard, dialect, [broke])
    rows = rows_of(decoded)
    assert len(decoded.segments) == 2
    assert rows[-1] == 5999
    # The board went on counting: about 0.2 s at four times real time are missing.
    assert 600 <= decoded.link.lost_samples == rows[-1] + 1 - len(rows) < 3900
    assert decoded.gaps[0].exact is (dialect is Dialect.FRAMED)
    assert not link.exists()


def test_the_cable_comes_back_by_itself() -> None:
    faults = Faults(pull_cable_at=1000, plug_in_after_s=0.1)
    with VirtualBoard(counts(4000), rate_hz=1000, speed=5, faults=faults) as board:
        board.serve_pty()
        board.pull_cable()
        end_s = time.monotonic() + 5
        while board.unplugged.is_set() and time.monotonic() < end_s:
            time.sleep(0.01)
        assert not board.unplugged.is_set()


def test_what_nobody_listens_to_is_lost() -> None:
    with VirtualBoard(counts(3000), rate_hz=1000, speed=10) as board:
        url = board.serve_pty()
        with open_port(url) as port:
            port.write(START)
            assert port.read(1.0)
        assert board.finished.wait(5.0)
        with open_port(url) as port:
            assert port.read(0.1) == b""
    assert board.sent == 3000


def test_a_board_as_fast_as_its_host_waits_for_it() -> None:
    with VirtualBoard(counts(60_000), rate_hz=1000, speed=None) as board:
        url = board.serve_pty()
        with open_port(url) as port:
            port.write(START)
            port.read(1.0)
        time.sleep(0.1)
        waiting_at = board.sent
        time.sleep(0.1)
        assert board.sent == waiting_at < 60_000


def test_nothing_is_left_behind() -> None:
    def descriptors() -> int:
        return len(list(Path("/proc/self/fd").iterdir())) if Path("/proc/self/fd").exists() else 0

    before, threads = descriptors(), threading.active_count()
    for tcp in (False, True):
        with VirtualBoard(counts(100), rate_hz=1000, speed=None) as board:
            url = board.serve_tcp() if tcp else board.serve_pty()
            board.pull_cable()
            assert board.reconnect() == url or not tcp
    assert descriptors() == before
    assert threading.active_count() == threads


def test_wrong_use_says_so() -> None:
    with pytest.raises(ValueError, match="a board has rows of 1 to 8 channels"):
        VirtualBoard(np.zeros((5, 9), np.uint16), rate_hz=100)
    board = VirtualBoard(counts(10), rate_hz=100)
    with pytest.raises(ValueError, match="switched off: use it in a `with` block"):
        board.serve_pty()
    with board:
        board.serve_tcp()
        with pytest.raises(ValueError, match="hangs on a line already"):
            board.serve_pty()


def test_a_raw_reader_needs_no_pyserial() -> None:
    sent = counts(500)
    with VirtualBoard(sent, rate_hz=1000, speed=None) as board:
        port = os.open(board.serve_pty(), os.O_RDWR | os.O_NOCTTY)
        try:
            os.write(port, START)
            board.finished.wait(5.0)
            heard = os.read(port, 100_000)
        finally:
            os.close(port)
    assert rows_of(decode(heard, Dialect.FRAMED)) == list(range(500))
