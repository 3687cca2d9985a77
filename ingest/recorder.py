"""Records a board: one thread reads the port and never waits for the disk, another writes and syncs."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from queue import Empty, SimpleQueue
from types import TracebackType

from ingest.capture import CaptureWriter, StartNotes
from ingest.connection import Connection, Received
from ingest.decode import Description, Dialect
from ingest.durable import AppendFile, DiskFile
from ingest.errors import BoardSilent, FlatfootError, LinkError, StorageError, UsageError
from ingest.link import Break
from ingest.live_view import Live, LiveView, Status
from ingest.port import Port

SYNC_S = 1.0
CLOCK_S = 5.0


class Recorder:
    """One recording, from an open port to a finished capture folder.

    `start` returns once samples come, `stop` returns the folder. When something ends the recording before
    that, a full disk for one, `wait` returns and `stop` raises it; what was written stays.

    Parameters
    ----------
    source
        Opens the port, and opens it again after the cable was pulled (`ingest.port.port_source`).
    folder
        The capture folder to make; it must not exist.
    notes
        What is known at the start.
    dialect
        What the board speaks; made out from the first bytes if ``None``.
    silence_s
        How long the board may take to send its first readable sample.
    opener
        How the files of the capture are opened.

    """

    def __init__(
        self,
        source: Callable[[], Port],
        folder: Path,
        notes: StartNotes,
        *,
        dialect: Dialect | None = None,
        silence_s: float = 3.0,
        opener: Callable[[Path], AppendFile] = DiskFile,
    ) -> None:
        self.folder = folder
        self.error: FlatfootError | None = None
        self._notes = notes
        self._silence_s = silence_s
        self._opener = opener
        self._stop = threading.Event()
        self._settled = threading.Event()  # samples come, or they never will
        self._ended = threading.Event()
        self._reason = "stopped"
        self._connection = Connection(source, self._stop)
        self._view = LiveView(dialect)
        # Unbounded: a disk that stalls for a minute costs 300 kB of memory and no data.
        self._queue: SimpleQueue[bytes | Mapping[str, object] | None] = SimpleQueue()
        self._received_lock = threading.Lock()
        self._received = 0
        self._stop_lock = threading.Lock()
        self._threads: list[threading.Thread] = []
        self._began_s = 0.0

    def start(self) -> None:
        """Open the port and record; returns when samples come.

        Raises `PortNotFound`, `PortBusy` or `LinkError` from the port, `BoardSilent` if nothing readable
        comes within ``silence_s``, `StorageError` from the disk. Nothing is left on the disk then.
        """
        if self._threads:
            return
        self._connection.open()
        try:
            writer = CaptureWriter(self.folder, self._notes, opener=self._opener)
        except BaseException:
            self._connection.close()
            raise
        self._began_s = time.monotonic()
        self._threads = [
            threading.Thread(target=self._read, name="flatfoot reader", daemon=True),
            threading.Thread(target=self._write, args=(writer,), name="flatfoot writer", daemon=True),
        ]
        for thread in self._threads:
            thread.start()
        try:
            self._settled.wait()
        except BaseException:  # Ctrl-C while waiting for the board
            self._join("stopped")
            raise
        if self.error is not None:
            self._join("failed")
            raise self.error

    def mark(self, text: str) -> None:
        """Note that something was said at this moment."""
        if not self._threads or self._stop.is_set():
            raise UsageError(f"cannot mark {text!r}: nothing is being recorded")
        with self._received_lock:
            self._queue.put(self._entry("mark", text=text))

    def live(self) -> Live:
        """Give the state of the recording now."""
        trouble = self._connection.trouble
        status: Status = "recording"
        if self._ended.is_set():
            status = "ended"
        elif self._view.dialect is None:
            status = "waiting"
        elif trouble is not None:
            status = "reconnecting"
        return self._view.snapshot(status, str(self.error) if self.error else trouble)

    @property
    def description(self) -> Description | None:
        """What the board says about itself; ``None`` as long as it has not, or if it never does."""
        return self._view.description

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until the recording has ended; ``False`` if it goes on after ``timeout_s``."""
        return self._ended.wait(timeout_s)

    def stop(self, reason: str = "stopped") -> Path:
        """Stop the board, write what is still on its way, close; give the capture folder.

        Raises what ended the recording before this. Stopping again gives the same answer.
        """
        if not self._threads:
            raise UsageError("cannot stop a recording that was not started")
        self._join(reason)
        if self.error is not None:
            raise self.error
        return self.folder

    def _join(self, reason: str) -> None:
        with self._stop_lock:
            if not self._stop.is_set():
                self._reason = reason
                self._stop.set()
            for thread in self._threads:
                thread.join()

    def __enter__(self) -> Recorder:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self.stop()
        else:
            with contextlib.suppress(FlatfootError):
                self.stop()

    # The reader thread.

    def _read(self) -> None:
        try:
            self._read_until_stopped()
            self._receive(self._connection.finish())
        except FlatfootError as error:
            self._fail(error)
        except Exception as error:  # a fault of ours must not take the recording with it
            self._fail(LinkError(f"recording ended by a fault in flatfoot ({error!r}): what came is kept"))
        finally:
            self._connection.close()
            self._queue.put(None)

    def _read_until_stopped(self) -> None:
        with contextlib.suppress(OSError):  # a line that is dead already shows in the first read
            self._connection.ask()
        clock_s = self._began_s
        while not self._stop.is_set():
            received = self._connection.read()
            if received is not None:
                self._note_break(received)
                self._receive(received.data)
                if received.at_s >= clock_s:
                    self._queue.put(self._entry("clock", utc=datetime.now(UTC).isoformat()))
                    clock_s += CLOCK_S
            if not self._settled.is_set():
                self._check_start()

    def _receive(self, data: bytes) -> None:
        if not data:
            return
        with self._received_lock:
            self._queue.put(data)
            self._received += len(data)
        self._view.feed(data)

    def _note_break(self, received: Received) -> None:
        if received.broke is None or self._view.dialect is None:
            return
        self._queue.put(self._entry("break", reason=received.broke, host_gap_s=received.gap_s))
        self._view.note_break(Break(offset=self._received, reason=received.broke, host_gap_s=received.gap_s))

    def _check_start(self) -> None:
        if self._view.dialect is not None:
            self._queue.put(self._entry("dialect", dialect=str(self._view.dialect)))
            self._settled.set()
        elif time.monotonic() - self._began_s > self._silence_s:
            raise self._silent()

    def _silent(self) -> BoardSilent:
        port, baud = self._notes.port, self._notes.baud
        if not self._received:
            return BoardSilent(
                f"nothing came from {port} within {self._silence_s:g} s: "
                "is the board on, is it the right port?"
            )
        if self.description is not None:
            return BoardSilent(f"the board on {port} answers but sends no samples: reset it and try again")
        return BoardSilent(
            f"{self._received} bytes came from {port} at {baud} baud, but they make no sense: "
            "set the baud rate of the board, and check that it is a board flatfoot can read"
        )

    def _entry(self, what: str, **detail: object) -> Mapping[str, object]:
        host_s = round(time.monotonic() - self._began_s, 6)
        return {"what": what, "offset": self._received, "host_s": host_s, **detail}

    def _fail(self, error: FlatfootError) -> None:
        self.error = self.error or error
        self._stop.set()
        self._settled.set()

    # The writer thread.

    def _write(self, writer: CaptureWriter) -> None:
        try:
            self._write_until_ended(writer)
        except FlatfootError as error:
            self._fail(error)
        except Exception as error:  # likewise
            self._fail(LinkError(f"recording ended by a fault in flatfoot ({error!r}): what came is kept"))
        finally:
            self._put_away(writer)
            self._ended.set()

    def _put_away(self, writer: CaptureWriter) -> None:
        try:
            if self._view.dialect is None:  # not one sample could be read: there is nothing to keep
                writer.discard()
            else:
                writer.close()
        except StorageError as error:  # a disk behind a network may say only now that it is full
            self._fail(error)

    def _write_until_ended(self, writer: CaptureWriter) -> None:
        sync_s = time.monotonic() + SYNC_S
        while True:
            try:
                item = self._queue.get(timeout=max(0.0, sync_s - time.monotonic()))
            except Empty:
                item = b""
            if item is None:
                break
            if isinstance(item, bytes):
                writer.append(item)
            else:
                writer.note(item)
            if time.monotonic() >= sync_s:
                writer.sync()
                sync_s = time.monotonic() + SYNC_S
        if self.error is None:
            writer.note(self._entry("end", reason=self._reason))
        writer.sync()
