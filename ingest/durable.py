"""Putting bytes on the disk so that they stay there: append, replace whole, one writer at a time."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Protocol

from ingest.errors import StorageError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

# Windows locks bytes, not files, and keeps others from reading them: lock one far beyond any content.
_LOCK_BYTE = 1 << 30
LOCK_TRIES = 10


class AppendFile(Protocol):
    """What a recording is written to. After `sync` returns, everything written before it outlives a crash."""

    def write(self, data: bytes) -> None:
        """Append all of ``data``; ``OSError`` if the disk does not take it."""

    def sync(self) -> None:
        """Force what was written onto the disk."""

    def close(self) -> None:
        """Close without a last sync."""


class DiskFile:
    """An `AppendFile` on the disk, unbuffered: what was written survives the end of this program at once."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("ab", buffering=0)

    def write(self, data: bytes) -> None:
        """Append all of ``data``, in as many pieces as the system takes."""
        rest = memoryview(data)
        while len(rest):
            rest = rest[self._file.write(rest) or 0 :]

    def sync(self) -> None:
        """Force what was written onto the disk."""
        os.fsync(self._file.fileno())

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable: a new or replaced file is only safe once its folder is."""
    if sys.platform == "win32":
        return  # NTFS keeps its own journal of names, and a folder cannot be opened there
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_whole(path: Path, data: bytes) -> None:
    """Write a small file whole or not at all: beside it, synced, then moved into place."""
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise StorageError(f"cannot write {path}: {error.strerror or error}") from error


def try_lock(file: IO[bytes]) -> bool:
    """Lock an open file for this process until it is closed; ``False`` if somebody holds it.

    The system lets go of the lock when the holder dies, however it dies.
    """
    try:
        if sys.platform == "win32":
            file.seek(_LOCK_BYTE)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


@contextlib.contextmanager
def locked(path: Path, taken: str) -> Iterator[None]:
    """Hold the lock file ``path``; `StorageError` with the sentence ``taken`` if somebody else does."""
    try:
        file = path.open("ab")
    except OSError as error:
        raise StorageError(f"cannot open {path}: {error.strerror or error}") from error
    with file:
        # Somebody who only looks whether it is taken holds it for a moment: try again before giving up.
        for _ in range(LOCK_TRIES):
            if try_lock(file):
                yield
                return
            time.sleep(0.02)
        raise StorageError(taken)
