"""A recording while it grows: a folder with the bytes as they came, and what bytes cannot hold.

======================  ================================================================================
``capture.bin``         every byte from the port, in order, nothing added
``start.toml``          what was known at the start (`StartNotes`)
``journal.jsonl``       marks, breaks, host clock, the end: checked lines (`ingest.checked_lines`), each
                        with the byte offset in ``capture.bin`` at which it happened
``recording.lock``      held by whoever writes or seals the folder; falls free when that program dies
======================  ================================================================================
"""

from __future__ import annotations

import contextlib
import shutil
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from pathlib import Path

import tomlkit

from ingest.checked_lines import decode_lines, encode_line
from ingest.durable import AppendFile, DiskFile, sync_folder, try_lock, write_whole
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.log import Kind
from ingest.records import End
from ingest.run_notes import NOTHING_SAID, RunNotes, corrected, known

CAPTURE_FORMAT = 1
BYTES_FILE = "capture.bin"
START_FILE = "start.toml"
JOURNAL_FILE = "journal.jsonl"
LOCK_FILE = "recording.lock"
SEALED_SUFFIX = ".sealed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StartNotes:
    """What was known when the recording began. Texts are the exact files in force; zeros are in counts."""

    log_id: str
    kind: Kind
    bike_text: str
    setup_text: str | None = None
    job_text: str | None = None
    load_case: str | None = None
    notes: str | None = None
    run: RunNotes = NOTHING_SAID
    zeros: Mapping[End, float]
    port: str
    baud: int
    started: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Capture:
    """A capture folder as it is on the disk, finished or not.

    ``entries`` are the good journal lines. ``damaged_lines`` counts those that cannot be trusted, the torn
    last one of a killed recording apart.
    """

    folder: Path
    notes: StartNotes
    data: bytes
    entries: tuple[dict[str, object], ...]
    damaged_lines: int


class CaptureWriter:
    """Writes one capture folder, which must not exist yet, and keeps others from writing it too.

    Not for more than one thread at a time. Raises `StorageError` when the disk does not take what it is
    given; what was written before stays readable.
    """

    def __init__(
        self, folder: Path, notes: StartNotes, *, opener: Callable[[Path], AppendFile] = DiskFile
    ) -> None:
        self.folder = folder
        try:
            folder.mkdir(parents=True)
            self._lock = (folder / LOCK_FILE).open("ab")
        except FileExistsError as error:
            raise UsageError(f"{folder} exists already: a recording needs a folder of its own") from error
        except OSError as error:
            raise StorageError(f"cannot make the folder {folder}: {error.strerror or error}") from error
        with contextlib.ExitStack() as opened:
            opened.callback(self._lock.close)
            if not try_lock(self._lock):
                raise StorageError(f"{folder} is being written by another recording")
            try:
                self._bytes = opener(folder / BYTES_FILE)
                opened.callback(self._bytes.close)
                self._journal = opener(folder / JOURNAL_FILE)
                opened.callback(self._journal.close)
                write_whole(folder / START_FILE, _notes_text(notes).encode())
                sync_folder(folder.parent)
            except OSError as error:
                opened.close()
                shutil.rmtree(folder, ignore_errors=True)  # nothing was recorded yet
                raise StorageError(
                    f"cannot begin a recording in {folder} ({error.strerror or error}): free some space, "
                    "or use another disk"
                ) from error
            self._close = opened.pop_all().close

    def append(self, data: bytes) -> None:
        """Write bytes that came from the port."""
        try:
            self._bytes.write(data)
        except OSError as error:
            raise self._storage_error(error) from error

    def note(self, entry: Mapping[str, object]) -> None:
        """Write one journal entry."""
        try:
            self._journal.write(encode_line(entry))
        except OSError as error:
            raise self._storage_error(error) from error

    def sync(self) -> None:
        """Force everything written so far onto the disk; bytes first, for the journal points into them."""
        try:
            self._bytes.sync()
            self._journal.sync()
        except OSError as error:
            raise self._storage_error(error) from error

    def close(self) -> None:
        """Close the files and let go of the folder, whatever happens; what is unsynced is the system's."""
        try:
            self._close()
        except OSError as error:
            raise self._storage_error(error) from error

    def discard(self) -> None:
        """Close and remove the folder: nothing that can be read was recorded."""
        self.close()
        try:
            shutil.rmtree(self.folder)
        except OSError as error:
            raise StorageError(
                f"{self.folder} holds nothing, but cannot be removed ({error.strerror or error}): "
                "delete it by hand"
            ) from error

    def _storage_error(self, error: OSError) -> StorageError:
        return StorageError(
            f"recording stopped, the disk does not take more ({error.strerror or error}): what came before "
            f"is kept in {self.folder}; free some space, then finish the recording from there"
        )


def read_capture(folder: Path) -> Capture:
    """Read a capture folder, however it ended. Raises `FileProblem` if it is not one."""
    try:
        text = (folder / START_FILE).read_bytes().decode()
        data = (folder / BYTES_FILE).read_bytes()
        journal = (folder / JOURNAL_FILE).read_bytes()
    except FileNotFoundError as error:
        raise FileProblem(f"{folder} is not a recording: it has no {Path(error.filename).name}") from error
    except (OSError, UnicodeDecodeError) as error:
        raise FileProblem(f"{folder} cannot be read: {error}") from error
    lines = decode_lines(journal)
    return Capture(
        folder=folder,
        notes=_read_notes(text, folder / START_FILE),
        data=data,
        entries=lines.entries,
        damaged_lines=len(lines.damaged),
    )


def find_unfinished(folder: Path) -> list[Path]:
    """Find the captures in a folder that nobody is writing now: killed, cut off or never sealed."""
    return sorted(
        start.parent
        for start in folder.glob(f"*/{START_FILE}")
        if not start.parent.name.endswith(SEALED_SUFFIX) and not is_being_written(start.parent)
    )


def is_being_written(capture: Path) -> bool:
    """Say whether a recorder, or a sealing, holds this capture at the moment."""
    try:
        with (capture / LOCK_FILE).open("rb+") as lock:
            return not try_lock(lock)
    except FileNotFoundError:
        return False


def _notes_text(notes: StartNotes) -> str:
    values = {field.name: getattr(notes, field.name) for field in fields(notes)}
    said = {key: value for key, value in values.items() if value is not None}
    said["kind"] = str(notes.kind)
    said["zeros"] = {str(end): float(count) for end, count in notes.zeros.items()}
    said["run"] = known(notes.run)
    return tomlkit.dumps({"format": CAPTURE_FORMAT, **said})


def _read_notes(text: str, source: Path) -> StartNotes:
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileProblem(f"{source} is damaged: {error}") from error
    written = values.pop("format", None)
    if written != CAPTURE_FORMAT:
        raise FileProblem(
            f"{source} has format {written}, this flatfoot reads format {CAPTURE_FORMAT}: "
            "finish the recording with the flatfoot that made it"
        )
    try:
        zeros = {End(end): float(count) for end, count in values.pop("zeros").items()}
        said = values.pop("run", {})
        run = corrected(NOTHING_SAID, said) if said else NOTHING_SAID
        return StartNotes(kind=Kind(values.pop("kind")), zeros=zeros, run=run, **values)
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise FileProblem(f"{source} is damaged: {error}") from error
