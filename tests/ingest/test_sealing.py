"""Sealing and salvage: every cut gives a prefix, and the capture goes only when the log is safely there."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ingest import parquet_log, sealing
from ingest.bike_file import bike_text
from ingest.capture import BYTES_FILE, JOURNAL_FILE, CaptureWriter, StartNotes, find_unfinished, read_capture
from ingest.errors import FileProblem, StorageError
from ingest.frames import FIRST, description_frame, sample_frame
from ingest.lines import sample_line
from ingest.link import Description
from ingest.log import Kind, Log
from ingest.log_file import read_log
from ingest.records import Bike, End
from ingest.sealing import salvage, seal

JOB = """[job]
id = "job-7"
bike = "tall-twin"

[rider]
name = "Ada"
mass_kg = 61
"""
SETUP = '[setup]\nname = "lowered"\n\n[rear]\ntravel_mm = 190\n'


def counts(rows: int) -> np.ndarray:
    row = np.arange(rows)
    return np.column_stack([row % 1000, 1023 - row % 7]).astype(np.uint16)


def framed(rows: int, per_frame: int = 5) -> bytes:
    about = Description(
        name="test", channels=2, period_us=1000, bits=10, skew_us=(0, 112), samples_per_frame=5
    )
    all_rows = counts(rows)
    return description_frame(about) + b"".join(
        sample_frame(
            all_rows[n : n + per_frame],
            seq=n // per_frame,
            t_us=7000 + 1000 * n,
            period_us=1000,
            flags=0 if n else FIRST,
        )
        for n in range(0, rows, per_frame)
    )


def lined(rows: int) -> bytes:
    return b"".join(sample_line(9000 + 1000 * n, [int(v) for v in row]) for n, row in enumerate(counts(rows)))


@pytest.fixture
def notes(bike: Bike) -> StartNotes:
    return StartNotes(
        log_id="ride-1",
        kind=Kind.RIDE,
        bike_text=bike_text(bike),
        setup_text=SETUP,
        job_text=JOB,
        load_case="rider only",
        zeros={End.FRONT: 101.5},
        port="/dev/ttyUSB0",
        baud=115200,
        started="2026-05-04T09:00:00+02:00",
    )


def capture(folder: Path, notes: StartNotes, data: bytes, entries: Sequence[dict[str, object]] = ()) -> Path:
    writer = CaptureWriter(folder, notes)
    writer.append(data)
    for entry in entries:
        writer.note(entry)
    writer.close()
    return folder


def rows_of(log: Log) -> np.ndarray:
    return np.concatenate([segment.values for segment in log.segments])


END = {"what": "end", "offset": 0, "host_s": 1.0, "reason": "time is up"}


def test_sealed_whole(tmp_path: Path, notes: StartNotes) -> None:
    data = framed(100)
    mark = {"what": "mark", "offset": len(data) // 2, "host_s": 0.05, "text": "rider"}
    folder = capture(tmp_path / "run", notes, data, [mark, END])
    assert seal(folder, tmp_path / "run.parquet") == tmp_path / "run.parquet"
    assert [path.name for path in tmp_path.iterdir()] == ["run.parquet"]
    log = read_log(tmp_path / "run.parquet")
    np.testing.assert_array_equal(rows_of(log), counts(100))
    assert (log.id, log.kind, log.started) == (notes.log_id, notes.kind, notes.started)
    assert (log.job, log.load_case, log.zeros) == ("job-7", "rider only", {End.FRONT: 101.5})
    assert log.rider is not None
    assert (log.rider.name, log.rider.mass_kg) == ("Ada", 61)
    assert log.setup is not None
    assert log.setup.rear.travel_mm == 190
    assert dict(log.texts) == {"bike": notes.bike_text, "setup": SETUP, "job": JOB}
    assert (log.ending.status, log.ending.reason) == ("complete", "time is up")
    assert log.channels[1].skew_s == pytest.approx(112e-6)
    assert log.link.bytes == len(data)
    assert [mark.text for mark in log.marks] == ["rider"]
    assert 0.03 < log.marks[0].t_s < 0.07


def test_the_two_clocks_are_compared(tmp_path: Path, notes: StartNotes) -> None:
    """A board whose clock runs 2 % fast by the computer's, noted every 5 s with up to 20 ms of delay."""
    frame = len(framed(10, 10)) - len(framed(0))
    head = len(framed(0))
    jitter = np.random.default_rng(1).uniform(0, 0.02, 20)

    def clock(n: int) -> dict[str, object]:
        board_s = 5.0 * n * 1.02
        return {"what": "clock", "offset": head + frame * int(board_s * 100), "host_s": 5.0 * n + jitter[n]}

    data = framed(50_000, 10)
    folder = capture(tmp_path / "long", notes, data, [clock(n) for n in range(1, 10)])
    assert salvage(folder).link.clock_ratio == pytest.approx(1.02, abs=0.002)
    folder = capture(tmp_path / "short", notes, data, [clock(n) for n in range(1, 6)])
    assert salvage(folder).link.clock_ratio is None
    broken = {"what": "break", "offset": len(data) // 2, "host_s": 25.0, "reason": "cable", "host_gap_s": 1.0}
    folder = capture(tmp_path / "broken", notes, data, [*[clock(n) for n in range(1, 10)], broken])
    assert salvage(folder).link.clock_ratio is None


# Cut at every byte.


@pytest.mark.parametrize(("data", "step"), [(framed(60), 5), (lined(60), 1)], ids=["framed", "lines"])
def test_a_capture_cut_at_every_byte_gives_all_that_came_whole(
    tmp_path: Path, notes: StartNotes, data: bytes, step: int
) -> None:
    folder = capture(tmp_path / "run", notes, data, [END])
    found = []
    for length in range(len(data) + 1):
        (folder / BYTES_FILE).write_bytes(data[:length])
        try:
            rows = rows_of(salvage(folder))
        except FileProblem:
            rows = counts(0)
        np.testing.assert_array_equal(rows, counts(60)[: len(rows)])
        found.append(len(rows))
    assert found == sorted(found)
    assert found[-1] == 60
    assert set(range(10, 61, step)) <= set(found)  # each whole frame or line counts as soon as it is there


def test_a_journal_cut_at_every_byte_keeps_the_marks_before(tmp_path: Path, notes: StartNotes) -> None:
    marks = [{"what": "mark", "offset": 300 * n, "host_s": 0.1, "text": f"mark {n}"} for n in range(1, 4)]
    folder = capture(tmp_path / "run", notes, framed(60), [*marks, END])
    journal = (folder / JOURNAL_FILE).read_bytes()
    for length in range(len(journal)):
        (folder / JOURNAL_FILE).write_bytes(journal[:length])
        log = salvage(folder)
        assert [m.text for m in log.marks] == [f"mark {n}" for n in (1, 2, 3)][: len(log.marks)]
        assert log.ending.status == "cut off"
        assert log.rows == 60


def test_a_damaged_journal_line_is_left_out_and_told(tmp_path: Path, notes: StartNotes) -> None:
    folder = capture(tmp_path / "run", notes, framed(60), [{**END, "what": "mark", "text": "x"}, END])
    journal = (folder / JOURNAL_FILE).read_bytes()
    (folder / JOURNAL_FILE).write_bytes(b"#" + journal[1:])
    log = salvage(folder)
    assert log.marks == ()
    assert log.ending.reason == "time is up; 1 damaged line of the journal left out"


def test_a_journal_that_knows_more_than_the_bytes(tmp_path: Path, notes: StartNotes) -> None:
    """After a power cut the end of the bytes may be gone and the journal's still there."""
    late = {"what": "mark", "offset": 10**6, "host_s": 0.1, "text": "late"}
    gone = {
        "what": "break",
        "offset": 10**6,
        "host_s": 0.1,
        "reason": "cable or port lost",
        "host_gap_s": 2.0,
    }
    log = salvage(capture(tmp_path / "run", notes, framed(60), [late, gone]))
    assert log.marks[0].t_s == pytest.approx(0.059)
    assert log.rows == 60


@pytest.mark.parametrize(
    ("data", "says"),
    [(b"", "0 bytes"), (bytes(range(1, 200)), "199 bytes"), (framed(0), "no readable sample")],
    ids=["nothing", "noise", "only a description"],
)
def test_nothing_readable_is_told_and_kept(tmp_path: Path, notes: StartNotes, data: bytes, says: str) -> None:
    folder = capture(tmp_path / "run", notes, data)
    with pytest.raises(FileProblem, match=says):
        seal(folder, tmp_path / "run.parquet")
    assert find_unfinished(tmp_path) == [folder]
    assert not (tmp_path / "run.parquet").exists()


def test_there_must_be_a_capture(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="there is no recording"):
        seal(tmp_path / "run", tmp_path / "run.parquet")


# One at a time, and never over something else.


def test_a_folder_that_is_not_there_is_told(tmp_path: Path, notes: StartNotes) -> None:
    folder = capture(tmp_path / "run", notes, framed(60))
    with pytest.raises(StorageError, match="is the folder there"):
        seal(folder, tmp_path / "missing" / "run.parquet")
    assert find_unfinished(tmp_path) == [folder]


def test_a_running_recording_is_not_sealed(tmp_path: Path, notes: StartNotes) -> None:
    writer = CaptureWriter(tmp_path / "run", notes)
    writer.append(framed(60))
    with pytest.raises(StorageError, match="is still being recorded"):
        seal(tmp_path / "run", tmp_path / "run.parquet")
    writer.close()
    seal(tmp_path / "run", tmp_path / "run.parquet")


def test_another_log_is_never_overwritten(tmp_path: Path, notes: StartNotes) -> None:
    out = tmp_path / "run.parquet"
    seal(capture(tmp_path / "one", notes, framed(60)), out)
    before = out.read_bytes()
    other = capture(tmp_path / "two", replace(notes, log_id="ride-2"), framed(30))
    with pytest.raises(FileProblem, match=r"exists already and is another log \(ride-1\)"):
        seal(other, out)
    assert out.read_bytes() == before
    assert find_unfinished(tmp_path) == [other]


def test_sealing_that_stopped_before_the_end_is_finished(tmp_path: Path, notes: StartNotes) -> None:
    folder = capture(tmp_path / "run", notes, framed(60), [END])
    shutil.copytree(folder, tmp_path / "kept")
    out = tmp_path / "run.parquet"
    seal(folder, out)
    before = out.read_bytes()
    (tmp_path / "kept").rename(folder)  # as if the power had gone before the capture was dropped
    seal(folder, out)
    assert out.read_bytes() == before
    assert not folder.exists()


def test_the_log_is_safe_before_the_capture_goes(
    tmp_path: Path, notes: StartNotes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The order of things on the disk: write, sync, read back, move, sync the folder, drop."""
    folder = capture(tmp_path / "run", notes, framed(60))
    steps: list[str] = []
    real_sync, real_compare = os.fsync, parquet_log._compare
    real_replace, real_remove = Path.replace, shutil.rmtree
    names = {tmp_path.stat().st_ino: "sync folder"}

    def sync(number: int) -> None:
        steps.append(names.get(os.fstat(number).st_ino, "sync file"))
        real_sync(number)

    def compare(*args: object) -> None:
        steps.append("read back")
        real_compare(*args)

    def move(self: Path, target: Path) -> Path:
        steps.append(f"move to {Path(target).name}")
        return real_replace(self, target)

    def remove(path: Path) -> None:
        steps.append("drop")
        real_remove(path)

    monkeypatch.setattr(os, "fsync", sync)
    monkeypatch.setattr(parquet_log, "_compare", compare)
    monkeypatch.setattr(Path, "replace", move)
    monkeypatch.setattr(sealing.shutil, "rmtree", remove)
    seal(folder, tmp_path / "run.parquet")
    assert steps == [
        "sync file",
        "read back",
        "move to run.parquet",
        "sync folder",
        "move to run.sealed",
        "sync folder",
        "drop",
    ]


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_the_capture_stays_when_the_log_cannot_be_written(
    tmp_path: Path, notes: StartNotes, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    folder = capture(tmp_path / "run", notes, framed(60), [END])

    def fails(_: int) -> None:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", fails)
        with pytest.raises(StorageError, match=os.strerror(number)):
            seal(folder, tmp_path / "run.parquet")
    assert [path.name for path in tmp_path.iterdir()] == ["run"]
    assert read_capture(folder).data == framed(60)
    seal(folder, tmp_path / "run.parquet")
    assert read_log(tmp_path / "run.parquet").rows == 60


def test_a_bike_text_that_cannot_be_read_keeps_the_capture(tmp_path: Path, notes: StartNotes) -> None:
    folder = capture(tmp_path / "run", replace(notes, bike_text="[bike\n"), framed(60))
    with pytest.raises(FileProblem, match="the bike file kept at the start"):
        seal(folder, tmp_path / "run.parquet")
    assert find_unfinished(tmp_path) == [folder]
