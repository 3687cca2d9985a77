"""The recorder against boards that misbehave, written out byte by byte behind a real pseudo-terminal."""

from __future__ import annotations

import errno
import os
import threading
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from ingest.bike_file import bike_text
from ingest.capture import BYTES_FILE, StartNotes, find_unfinished, read_capture
from ingest.decode import Dialect
from ingest.durable import DiskFile
from ingest.errors import BoardSilent, LinkError, PortNotFound, StorageError, UsageError
from ingest.frames import FIRST, START, STOP, description_frame, sample_frame, sealed
from ingest.lines import sample_line
from ingest.link import Description
from ingest.log import Kind, Log
from ingest.port import Port, open_port
from ingest.recorder import Recorder
from ingest.records import Bike, End
from ingest.sealing import salvage

ROWS = 20
PERIOD_US = 1000
ABOUT = Description(
    name="scripted", channels=2, period_us=PERIOD_US, bits=10, skew_us=(0, 112), samples_per_frame=ROWS
)


def counts(first: int, rows: int = ROWS) -> np.ndarray:
    """Counts that say which row they are."""
    row = np.arange(first, first + rows)
    return np.column_stack([row % 1000, row // 1000]).astype(np.uint16)


def frames(first: int, how_many: int, *, t0_us: int = 0) -> bytes:
    return b"".join(
        sample_frame(
            counts(ROWS * n),
            seq=n,
            t_us=t0_us + ROWS * n * PERIOD_US,
            period_us=PERIOD_US,
            flags=0 if n else FIRST,
        )
        for n in range(first, first + how_many)
    )


class ScriptedBoard:
    """The board's end of a pseudo-terminal: ``script`` is called whenever the host says start."""

    def __init__(self, script: Callable[[ScriptedBoard], None]) -> None:
        self.master, slave = os.openpty()
        tty.setraw(slave)
        self.url = os.ttyname(slave)
        os.close(slave)
        self.said = b""
        self.starts = 0
        self._script = script
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def send(self, data: bytes) -> None:
        while data:
            data = data[os.write(self.master, data) :]

    def pull(self) -> None:
        master, self.master = self.master, -1
        if master >= 0:
            os.close(master)

    def _serve(self) -> None:
        seen = 0
        while self.master >= 0:
            try:
                self.said += os.read(self.master, 100)
            except OSError as error:
                if error.errno != errno.EIO:  # EIO: nobody has opened the other end yet
                    return
                time.sleep(0.01)
                continue
            while (found := self.said.find(START, seen)) >= 0:
                seen = found + len(START)
                self.starts += 1
                try:
                    self._script(self)
                except OSError:
                    return


@pytest.fixture
def board() -> Iterator[Callable[[Callable[[ScriptedBoard], None]], ScriptedBoard]]:
    made: list[ScriptedBoard] = []

    def make(script: Callable[[ScriptedBoard], None]) -> ScriptedBoard:
        made.append(ScriptedBoard(script))
        return made[-1]

    yield make
    for one in made:
        one.pull()


@pytest.fixture
def notes(bike: Bike) -> StartNotes:
    return StartNotes(
        log_id="ride-1",
        kind=Kind.RIDE,
        bike_text=bike_text(bike),
        zeros={End.FRONT: 101.5},
        port="the port",
        baud=115200,
        started="2026-05-04T09:00:00+02:00",
    )


def until(true: Callable[[], bool], timeout_s: float = 10.0) -> None:
    end = time.monotonic() + timeout_s
    while not true():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.01)


def rows_of(log: Log) -> np.ndarray:
    return np.concatenate([segment.values for segment in log.segments])


def talks(board: ScriptedBoard) -> None:
    board.send(description_frame(ABOUT) + frames(0, 50))


# A recording as it should be.


def test_every_byte_is_kept_and_every_row_comes_back(board, notes, tmp_path) -> None:
    one = board(talks)
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes)
    recorder.start()
    until(lambda: recorder.live().samples == 1000)
    recorder.mark("rider, from above")
    live = recorder.live()
    assert (live.status, live.lost_samples, live.damaged, live.message) == ("recording", 0, 0, None)
    assert live.counts == (999, 0)
    assert live.rate_hz == 1000
    assert live.duration_s == pytest.approx(0.999)
    assert 95 <= len(live.recent) <= 102
    assert all(count == round(t_s * 1000) % 1000 for t_s, (count, _) in live.recent)
    assert recorder.description == ABOUT
    assert not recorder.wait(0.01)
    assert recorder.stop("done") == tmp_path / "run"
    assert recorder.stop("again") == tmp_path / "run"  # asking twice is no mistake
    assert recorder.wait(0)
    assert recorder.live().status == "ended"
    assert one.said.endswith(STOP)

    assert (tmp_path / "run" / BYTES_FILE).read_bytes() == description_frame(ABOUT) + frames(0, 50)
    log = salvage(tmp_path / "run")
    np.testing.assert_array_equal(rows_of(log), counts(0, 1000))
    assert [(mark.t_s, mark.text) for mark in log.marks] == [(pytest.approx(0.999), "rider, from above")]
    assert (log.ending.status, log.ending.reason) == ("complete", "done")
    assert [(c.name, c.skew_s, c.bits) for c in log.channels] == [("ch0", 0, 10), ("ch1", 1.12e-4, 10)]
    assert log.zeros == {End.FRONT: 101.5}
    assert log.texts["bike"] == notes.bike_text


def test_lines_are_made_out_too(board, notes, tmp_path) -> None:
    text = b"t_us,a0,a1\n" + b"".join(
        sample_line(n * PERIOD_US, [int(v) for v in row]) for n, row in enumerate(counts(0, 500))
    )
    one = board(lambda board: board.send(text))
    with Recorder(lambda: open_port(one.url), tmp_path / "run", notes) as recorder:
        until(lambda: recorder.live().samples >= 490)
    log = salvage(tmp_path / "run")
    assert log.link.dialect == "lines"
    np.testing.assert_array_equal(rows_of(log), counts(0, 500))


def test_noise_before_the_first_frame_does_not_decide(board, notes, tmp_path) -> None:
    """A board that boots often speaks gibberish first, at the speed of its boot loader."""
    noise = np.random.default_rng(3).integers(0, 256, 700, dtype=np.uint8).tobytes()

    def boots(board: ScriptedBoard) -> None:
        board.send(noise)
        time.sleep(0.3)
        talks(board)

    one = board(boots)
    with Recorder(lambda: open_port(one.url), tmp_path / "run", notes) as recorder:
        until(lambda: recorder.live().samples == 1000)
    np.testing.assert_array_equal(rows_of(salvage(tmp_path / "run")), counts(0, 1000))


def test_a_board_that_boots_slowly_is_asked_again(board, notes, tmp_path) -> None:
    one = board(lambda board: talks(board) if board.starts == 2 else None)
    with Recorder(lambda: open_port(one.url), tmp_path / "run", notes) as recorder:
        until(lambda: recorder.live().samples == 1000)
    assert salvage(tmp_path / "run").gaps == ()


# Boards and ports that are not right.


def test_no_port_leaves_nothing(notes, tmp_path) -> None:
    recorder = Recorder(lambda: open_port("/dev/tty-not-here"), tmp_path / "run", notes)
    with pytest.raises(PortNotFound):
        recorder.start()
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(UsageError, match="was not started"):
        recorder.stop()


def test_a_folder_that_is_taken_lets_go_of_the_port(board, notes, tmp_path) -> None:
    one = board(talks)
    with pytest.raises(UsageError, match="exists already"):
        Recorder(lambda: open_port(one.url), tmp_path, notes).start()
    open_port(one.url).close()


@pytest.mark.parametrize(
    ("script", "says"),
    [
        (lambda _: None, "nothing came from the port within 0.5 s"),
        (
            lambda board: board.send(bytes(range(1, 256)) * 3),
            "765 bytes came from the port at 115200 baud, but they make no sense: set the baud rate",
        ),
        (lambda board: board.send(description_frame(ABOUT)), "answers but sends no samples"),
    ],
    ids=["silent", "wrong baud", "only a description"],
)
def test_a_board_that_says_nothing_useful(board, notes, tmp_path, script, says) -> None:
    one = board(script)
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes, silence_s=0.5)
    with pytest.raises(BoardSilent, match=says):
        recorder.start()
    assert list(tmp_path.iterdir()) == []
    open_port(one.url).close()  # the port is free again
    with pytest.raises(BoardSilent):
        recorder.stop()


def test_the_wrong_dialect_makes_no_sense(board, notes, tmp_path) -> None:
    one = board(talks)
    recorder = Recorder(
        lambda: open_port(one.url), tmp_path / "run", notes, dialect=Dialect.LINES, silence_s=0.5
    )
    with pytest.raises(BoardSilent, match="make no sense"):
        recorder.start()


def test_a_board_of_the_future_is_named(board, notes, tmp_path) -> None:
    one = board(lambda board: board.send(sealed(bytes([9, 1]) + b"something else") * 3))
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes)
    with pytest.raises(LinkError, match="version 9 of the link"):
        recorder.start()
    assert list(tmp_path.iterdir()) == []


# Trouble on the way.


def test_a_board_that_was_reset_is_started_again(board, notes, tmp_path) -> None:
    def script(board: ScriptedBoard) -> None:
        if board.starts == 1:
            board.send(frames(0, 10))
        else:
            time.sleep(0.2)
            board.send(frames(0, 20, t0_us=5000))

    one = board(script)
    seen = set()
    with Recorder(lambda: open_port(one.url), tmp_path / "run", notes) as recorder:
        until(lambda: (seen.add(recorder.live().status), recorder.live().samples == 600)[1])
        assert recorder.live().status == "recording"
    assert seen == {"recording", "reconnecting"}
    log = salvage(tmp_path / "run")
    np.testing.assert_array_equal(rows_of(log), np.concatenate([counts(0, 200), counts(0, 400)]))
    (gap,) = log.gaps
    assert not gap.exact
    assert 0.9 < gap.duration_s < 1.5
    assert log.link.board_resets == 1
    assert log.link.reconnects == 0


def test_a_pulled_cable_is_mended_in_the_same_recording(board, notes, tmp_path) -> None:
    first = board(lambda board: board.send(frames(0, 10)))
    urls = [first.url]

    def source() -> Port:
        return open_port(urls[-1])

    recorder = Recorder(source, tmp_path / "run", notes)
    recorder.start()
    until(lambda: recorder.live().samples == 200)
    first.pull()
    until(lambda: recorder.live().status == "reconnecting")
    assert "cable" in (recorder.live().message or "")
    recorder.mark("while it was out")
    time.sleep(0.5)
    second = board(lambda board: board.send(frames(0, 20, t0_us=5000)))
    urls.append(second.url)
    until(lambda: recorder.live().samples == 600)
    assert recorder.live().status == "recording"
    assert recorder.live().duration_s > 1.0
    recorder.stop()
    log = salvage(tmp_path / "run")
    np.testing.assert_array_equal(rows_of(log), np.concatenate([counts(0, 200), counts(0, 400)]))
    assert log.link.reconnects == 1
    (gap,) = log.gaps
    assert 0.5 < gap.duration_s < 4
    assert [mark.text for mark in log.marks] == ["while it was out"]


def test_stopping_while_the_cable_is_out_is_immediate(board, notes, tmp_path) -> None:
    one = board(talks)
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes)
    recorder.start()
    one.pull()
    until(lambda: recorder.live().status == "reconnecting")
    time.sleep(1.0)
    began = time.monotonic()
    recorder.stop()
    assert time.monotonic() - began < 1.0
    assert salvage(tmp_path / "run").ending.status == "complete"


def test_marks_need_a_recording(board, notes, tmp_path) -> None:
    one = board(talks)
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes)
    with pytest.raises(UsageError, match="nothing is being recorded"):
        recorder.mark("too early")
    recorder.start()
    recorder.stop()
    with pytest.raises(UsageError, match="cannot mark 'too late'"):
        recorder.mark("too late")


def test_leaving_by_an_exception_still_ends_the_recording(board, notes, tmp_path) -> None:
    one = board(talks)

    def interrupted() -> None:
        with Recorder(lambda: open_port(one.url), tmp_path / "run", notes) as recorder:
            until(lambda: recorder.live().samples == 1000)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert salvage(tmp_path / "run").ending.status == "complete"


# The disk.


class SlowFile(DiskFile):
    """A disk that takes its time for every sync."""

    def sync(self) -> None:
        time.sleep(0.7)
        super().sync()


def steadily(board: ScriptedBoard) -> None:
    for n in range(200):
        board.send(frames(n, 1))
        time.sleep(0.01)


def test_the_reader_never_waits_for_the_disk(board, notes, tmp_path) -> None:
    one = board(steadily)
    waits, last, samples = [], time.monotonic(), 0
    with Recorder(lambda: open_port(one.url), tmp_path / "run", notes, opener=SlowFile) as recorder:
        while samples < 4000:
            if recorder.live().samples > samples:
                waits.append(time.monotonic() - last)
                last, samples = time.monotonic(), recorder.live().samples
            time.sleep(0.002)
    # The pseudo-terminal holds 4 kB; a reader that waited 1.4 s for two syncs would show.
    assert max(waits[1:]) < 0.6
    np.testing.assert_array_equal(rows_of(salvage(tmp_path / "run")), counts(0, 4000))


class LossyFile:
    """A disk that forgets everything since the last sync when the power goes."""

    def __init__(self, path: Path) -> None:
        self.path, self.unsynced = path, b""
        path.touch()

    def write(self, data: bytes) -> None:
        self.unsynced += data

    def sync(self) -> None:
        with self.path.open("ab") as file:
            file.write(self.unsynced)
        self.unsynced = b""

    def close(self) -> None:
        pass


def test_power_lost_costs_no_more_than_the_last_second(board, notes, tmp_path) -> None:
    one = board(lambda board: [steadily(board), None][1])
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes, opener=LossyFile)
    recorder.start()
    seen: list[tuple[float, int]] = []
    for _ in range(180):
        seen.append((time.monotonic(), recorder.live().samples))
        time.sleep(0.01)
    # The power goes now: what is on the disk is all there is.
    cut_s, kept = time.monotonic(), read_capture(tmp_path / "run").data
    older = max(samples for when, samples in seen if when < cut_s - 1.2)
    recorder.stop()
    (tmp_path / "cut").mkdir()
    for file in (tmp_path / "run").iterdir():
        (tmp_path / "cut" / file.name).write_bytes(file.read_bytes())
    (tmp_path / "cut" / BYTES_FILE).write_bytes(kept)
    rows = rows_of(salvage(tmp_path / "cut"))
    assert 0 < older <= len(rows) < 4000
    np.testing.assert_array_equal(rows, counts(0, len(rows)))


class FullFile(DiskFile):
    """A disk with room for so many bytes."""

    room = 3000

    def write(self, data: bytes) -> None:
        super().write(data[: self.room])
        self.room -= len(data)
        if self.room < 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_full_disk_ends_the_recording_and_keeps_what_fitted(board, notes, tmp_path) -> None:
    one = board(steadily)
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes, opener=FullFile)
    recorder.start()
    assert recorder.wait(10)
    assert recorder.live().status == "ended"
    with pytest.raises(StorageError, match="No space left on device") as error:
        recorder.stop()
    assert "\n" not in str(error.value)
    assert recorder.live().message == str(error.value)
    assert find_unfinished(tmp_path) == [tmp_path / "run"]
    log = salvage(tmp_path / "run")
    rows = rows_of(log)
    assert len(rows) >= 3000 // 105 * ROWS - ROWS
    np.testing.assert_array_equal(rows, counts(0, len(rows)))
    assert log.ending.status == "cut off"
    open_port(one.url).close()


class FailsToClose(DiskFile):
    """A disk behind a network that says only at the end that it did not take everything."""

    def close(self) -> None:
        super().close()
        raise OSError(errno.EIO, os.strerror(errno.EIO))


def test_a_disk_that_fails_at_the_end_does_not_leave_the_recording_running(board, notes, tmp_path) -> None:
    one = board(steadily)
    recorder = Recorder(lambda: open_port(one.url), tmp_path / "run", notes, opener=FailsToClose)
    recorder.start()
    with pytest.raises(StorageError, match="Input/output error"):
        recorder.stop()
    assert recorder.wait(0)
    assert find_unfinished(tmp_path) == [tmp_path / "run"]
