"""The capture folder: exact, held by one writer, and honest about what the disk took."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from ingest.capture import (
    BYTES_FILE,
    JOURNAL_FILE,
    START_FILE,
    CaptureWriter,
    StartNotes,
    find_unfinished,
    is_being_written,
    read_capture,
)
from ingest.checked_lines import encode_line
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.log import Kind
from ingest.records import End


def notes(**changes: object) -> StartNotes:
    values: dict[str, object] = {
        "log_id": "ride-1",
        "kind": Kind.RIDE,
        "bike_text": '[bike]\nname = "Tall twin"\n',
        "zeros": {End.FRONT: 101.25},
        "port": "/dev/ttyUSB0",
        "baud": 115200,
        "started": "2026-05-04T09:00:00+02:00",
    }
    return StartNotes(**{**values, **changes})  # type: ignore[arg-type]


class LossyFile:
    """A disk that forgets everything since the last sync when the power goes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.path.touch()
        self.unsynced = b""

    def write(self, data: bytes) -> None:
        self.unsynced += data

    def sync(self) -> None:
        with self.path.open("ab") as file:
            file.write(self.unsynced)
        self.unsynced = b""

    def close(self) -> None:
        self.unsynced = b""


class FullFile(LossyFile):
    """A disk with room for so many bytes."""

    room = 10

    def write(self, data: bytes) -> None:
        if len(data) > self.room:
            self.unsynced += data[: self.room]
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        self.room -= len(data)
        super().write(data)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {
            "bike_text": 'a "quoted" \\ text\r\nwith\ttabs, ümläuts, \x7f\x01 and 😀 \'\'\' """\n\n',
            "setup_text": "[setup]\n",
            "job_text": "[job]\n",
            "load_case": "rider, passenger",
            "notes": "two\nlines",
            "zeros": {},
            "kind": Kind.SAG,
        },
    ],
)
def test_bytes_notes_and_journal_come_back(tmp_path: Path, changes: dict[str, object]) -> None:
    writer = CaptureWriter(tmp_path / "one", notes(**changes))
    writer.append(b"\x00\x01\xff")
    writer.note({"what": "mark", "offset": 3, "text": "rider"})
    writer.append(b"more")
    writer.sync()
    writer.close()
    capture = read_capture(tmp_path / "one")
    assert capture.notes == notes(**changes)
    assert capture.data == b"\x00\x01\xffmore"
    assert capture.entries == ({"what": "mark", "offset": 3, "text": "rider"},)
    assert capture.damaged_lines == 0


def test_a_folder_that_exists_is_never_written(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="exists already"):
        CaptureWriter(tmp_path, notes())
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="cannot make the folder"):
        CaptureWriter(tmp_path / "file" / "one", notes())


def test_one_writer_at_a_time_and_free_again_afterwards(tmp_path: Path) -> None:
    writer = CaptureWriter(tmp_path / "one", notes())
    assert is_being_written(tmp_path / "one")
    assert find_unfinished(tmp_path) == []
    writer.close()
    assert not is_being_written(tmp_path / "one")
    assert find_unfinished(tmp_path) == [tmp_path / "one"]


HOLD = """
import sys, time
sys.path.insert(0, {tests!r})
from pathlib import Path
from test_capture import notes
from ingest.capture import CaptureWriter
writer = CaptureWriter(Path(sys.argv[1]), notes())
writer.append(b"abc")
print("held", flush=True)
time.sleep(60)
"""


def test_another_program_holds_it_until_it_is_killed(tmp_path: Path) -> None:
    code = HOLD.format(tests=str(Path(__file__).parent))
    other = subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "one")], stdout=subprocess.PIPE)
    with other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"held\n"
        assert find_unfinished(tmp_path) == []
        other.kill()
    assert find_unfinished(tmp_path) == [tmp_path / "one"]
    assert read_capture(tmp_path / "one").data == b"abc"


def test_other_folders_are_no_captures(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    CaptureWriter(tmp_path / "done.sealed", notes()).close()
    assert find_unfinished(tmp_path) == []
    assert find_unfinished(tmp_path / "not there") == []


def test_what_is_synced_outlives_the_power_and_nothing_else_does(tmp_path: Path) -> None:
    writer = CaptureWriter(tmp_path / "one", notes(), opener=LossyFile)
    writer.append(b"first second")
    writer.note({"what": "mark", "offset": 5, "text": "kept"})
    writer.sync()
    writer.append(b"second second")
    writer.note({"what": "mark", "offset": 20, "text": "lost"})
    capture = read_capture(tmp_path / "one")  # as it is on the disk now
    assert capture.data == b"first second"
    assert [entry["text"] for entry in capture.entries] == ["kept"]
    writer.close()


def test_a_real_sync_reaches_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[int] = []
    monkeypatch.setattr(os, "fsync", lambda number: synced.append(os.fstat(number).st_ino))
    writer = CaptureWriter(tmp_path / "one", notes())
    inode = {path: path.stat().st_ino for path in (tmp_path, *tmp_path.rglob("*"))}
    assert inode[tmp_path] in synced  # the name of the folder
    assert inode[tmp_path / "one"] in synced  # the names of its files
    synced.clear()
    writer.append(b"abc")
    writer.sync()
    writer.close()
    assert synced == [inode[tmp_path / "one" / name] for name in (BYTES_FILE, JOURNAL_FILE)]


def test_a_full_disk_is_one_clear_line_and_what_fitted_stays(tmp_path: Path) -> None:
    writer = CaptureWriter(tmp_path / "one", notes(), opener=FullFile)
    writer.append(b"12345")
    with pytest.raises(StorageError, match="No space left on device") as error:
        writer.append(b"6789012345")
    assert "\n" not in str(error.value)
    assert str(tmp_path / "one") in str(error.value)
    writer.sync()
    writer.close()
    assert read_capture(tmp_path / "one").data == b"1234567890"


class NoRoom(LossyFile):
    """A disk that cannot take even one more file of its name."""

    def __init__(self, path: Path) -> None:
        if path.name == JOURNAL_FILE:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        super().__init__(path)


def test_a_recording_that_cannot_begin_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"cannot begin a recording in .*one \(No space left on device\)"):
        CaptureWriter(tmp_path / "one", notes(), opener=NoRoom)
    assert list(tmp_path.iterdir()) == []


class FailsToClose(LossyFile):
    """A disk behind a network that says only at the end that it did not take everything."""

    def close(self) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))


def test_closing_in_vain_is_one_clear_line_and_frees_the_folder(tmp_path: Path) -> None:
    writer = CaptureWriter(tmp_path / "one", notes(), opener=FailsToClose)
    with pytest.raises(StorageError, match="Input/output error"):
        writer.close()
    assert not is_being_written(tmp_path / "one")


def test_a_torn_journal_keeps_its_good_lines(tmp_path: Path) -> None:
    CaptureWriter(tmp_path / "one", notes()).close()
    lines = [encode_line({"what": "mark", "offset": n, "text": str(n)}) for n in range(3)]
    journal = tmp_path / "one" / JOURNAL_FILE
    journal.write_bytes(lines[0] + lines[1].replace(b"1", b"7", 1) + lines[2] + lines[0][:9])
    capture = read_capture(tmp_path / "one")
    assert [entry["offset"] for entry in capture.entries] == [0, 2]
    assert capture.damaged_lines == 1


@pytest.mark.parametrize("missing", [START_FILE, BYTES_FILE, JOURNAL_FILE])
def test_a_missing_file_is_named(tmp_path: Path, missing: str) -> None:
    CaptureWriter(tmp_path / "one", notes()).close()
    (tmp_path / "one" / missing).unlink()
    with pytest.raises(FileProblem, match=f"is not a recording: it has no {missing}"):
        read_capture(tmp_path / "one")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("format = 1", "format = 2"), "has format 2, this flatfoot reads format 1"),
        (("format = 1", "format = "), "is damaged"),
        (('kind = "ride"', 'kind = "walk"'), "is damaged"),
        (("baud = 115200", ""), "is damaged"),
        (("[zeros]", "[others]"), "is damaged"),
    ],
)
def test_damaged_notes_are_told(tmp_path: Path, change: tuple[str, str], says: str) -> None:
    CaptureWriter(tmp_path / "one", notes()).close()
    start = tmp_path / "one" / START_FILE
    text = start.read_text()
    assert change[0] in text
    start.write_text(text.replace(*change))
    with pytest.raises(FileProblem, match=says):
        read_capture(tmp_path / "one")


def test_discarding_leaves_nothing(tmp_path: Path) -> None:
    writer = CaptureWriter(tmp_path / "one", notes())
    writer.append(b"noise")
    writer.discard()
    assert list(tmp_path.iterdir()) == []
