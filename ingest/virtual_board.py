"""A board that is not there: plays rows of counts in the real protocol on a real port, with faults if wanted.

It speaks as firmware_notes/link.md says and is opened like any other board. A pseudo-terminal needs Linux or
macOS; `VirtualBoard.serve_tcp` works everywhere.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from pathlib import Path
from queue import Empty, SimpleQueue
from types import TracebackType

import numpy as np
import numpy.typing as npt

from ingest.link import Description, Dialect
from ingest.virtual_faults import Faults, NoisyLine
from ingest.virtual_firmware import Firmware, rows_per_frame
from ingest.virtual_wire import PtyWire, TcpWire, Wire

__all__ = ["Faults", "VirtualBoard"]

# The board looks up from its work at least this often.
ATTENTION_S = 0.02
BATCH_BYTES = 4096


class VirtualBoard:
    """Plays counts as a board would, from the first start command on; a context manager.

    Parameters
    ----------
    counts
        Shape (rows, channels).
    rate_hz
        Rows a second by the board's clock.
    bits, skew_us, name
        What the board says about itself.
    dialect
        How it speaks.
    speed
        Board seconds a second: 1 is real time. ``None``: as fast as the host takes it.
    faults
        What goes wrong; nothing does if ``None``.
    marks
        Rows at which the rider presses the button.

    With a ``speed`` the board is as ruthless as a real one: what comes while nobody has the port open is
    lost. A host that is merely slow is waited for. Without a ``speed`` it waits for a host as well.
    """

    def __init__(
        self,
        counts: npt.NDArray[np.uint16],
        *,
        rate_hz: float,
        bits: int = 10,
        skew_us: Sequence[int] = (),
        name: str = "virtual board",
        dialect: Dialect = Dialect.FRAMED,
        speed: float | None = 1.0,
        faults: Faults | None = None,
        marks: Sequence[int] = (),
    ) -> None:
        channels = counts.shape[-1]
        self._faults = faults or Faults()
        self._rate_hz = rate_hz
        self._speed = speed
        self._firmware = Firmware(
            counts,
            rate_hz=rate_hz,
            description=Description(
                name=name,
                channels=channels,
                period_us=round(1e6 / rate_hz),
                bits=bits,
                skew_us=tuple(skew_us) or (0,) * channels,
                samples_per_frame=rows_per_frame(rate_hz) if dialect is Dialect.FRAMED else 1,
            ),
            dialect=dialect,
            faults=self._faults,
            marks=marks,
        )
        self.finished = threading.Event()
        self.unplugged = threading.Event()
        self._noise = NoisyLine(self._faults)
        self._pull_at = self._faults.pull_cable_at
        self._wire: Wire | None = None
        self._plug: Callable[[], Wire] | None = None
        self._waiting = b""
        self._requests: SimpleQueue[tuple[Callable[[], None], Future[None]]] = SimpleQueue()
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        # Where the board's time is tied to the computer's: (monotonic s, row).
        self._anchor = (0.0, 0)
        self._paused_since_s = time.monotonic()
        self._plug_in_at_s: float | None = None

    def serve_pty(self, link: Path | None = None) -> str:
        """Hang the board on a pseudo-terminal; give the port to open, which is ``link`` if that is given."""
        return self._serve(lambda: PtyWire(link))

    def serve_tcp(self) -> str:
        """Hang the board on a TCP port of this machine; give the address to open."""
        number = 0

        def plug() -> Wire:
            nonlocal number
            wire = TcpWire(number)
            number = wire.number
            return wire

        return self._serve(plug)

    @property
    def sent(self) -> int:
        """Count the rows played so far, heard or not."""
        return self._firmware.row

    def pull_cable(self) -> None:
        """Pull the cable: the port vanishes, the board goes on."""
        self._ask(self._unplug)

    def reconnect(self) -> str:
        """Plug the cable in again; give the port to open: the same one, if it was a TCP port or a link."""
        self._ask(self._plug_in)
        assert self._wire is not None
        return self._wire.address

    def __enter__(self) -> VirtualBoard:
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="virtual board", daemon=True)
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Switch the board off."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join()
        if self._wire is not None:
            self._wire.close()
            self._wire = None

    def _serve(self, plug: Callable[[], Wire]) -> str:
        if self._plug is not None:
            raise ValueError("this board hangs on a line already: use another board")
        self._plug = plug
        try:
            return self.reconnect()
        except BaseException:
            self._plug = None
            raise

    def _ask(self, what: Callable[[], None]) -> None:
        """Have something done between two steps of the board, and wait for it."""
        if self._thread is None or self._closing.is_set():
            raise ValueError("this board is switched off: use it in a `with` block")
        answer: Future[None] = Future()
        self._requests.put((what, answer))
        answer.result()

    # From here on everything happens on the board's own thread.

    def _run(self) -> None:
        while not self._closing.is_set():
            try:
                what, answer = self._requests.get_nowait()
            except Empty:
                self._step()
                continue
            try:
                answer.set_result(what())
            except OSError as error:
                answer.set_exception(error)
        while not self._requests.empty():
            self._requests.get_nowait()[1].cancel()

    def _step(self) -> None:
        now_s = time.monotonic()
        if self._wire is None:
            self._miss(now_s)
            if self._plug_in_at_s is not None and now_s >= self._plug_in_at_s:
                self._plug_in()
            else:
                time.sleep(ATTENTION_S / 4)
            return
        self._hear(self._wire.commands(), now_s)
        heard = self._wire.heard_by_host()
        if heard and self._waiting:
            self._waiting = self._waiting[self._wire.send(self._waiting, ATTENTION_S) :]
        elif heard:
            self._play(now_s)
        else:
            self._waiting = b""
            if self._speed is not None:
                self._miss(now_s)
            self._wire.wait(ATTENTION_S / 4)
        if self._firmware.finished and not self._waiting:
            self._firmware.running = False
            self.finished.set()

    def _hear(self, said: bytes, now_s: float) -> None:
        if not said:
            return
        was_running = self._firmware.running
        self._waiting += self._firmware.hear(said)
        if self._firmware.running and not was_running:
            if self._firmware.row:
                self._firmware.pause((now_s - self._paused_since_s) * (self._speed or 1.0))
            self._anchor = (now_s, self._firmware.row)
        elif was_running and not self._firmware.running:
            self._paused_since_s = now_s

    def _due_row(self, now_s: float, speed: float) -> int:
        since_s, row = self._anchor
        return row + int((now_s - since_s) * speed * self._rate_hz)

    def _play(self, now_s: float) -> None:
        """Put on the line what is due."""
        assert self._wire is not None
        firmware = self._firmware
        if not firmware.running:
            self._wire.wait(ATTENTION_S)
            return
        due = None if self._speed is None else self._due_row(now_s, self._speed)
        batch = bytearray()
        while not firmware.finished and len(batch) < BATCH_BYTES:
            if due is not None and firmware.next_row > due:
                break
            pulls = self._pull_at is not None and firmware.next_row > self._pull_at
            message = self._noise.carry(firmware.message())
            if pulls:
                self._torn(bytes(batch) + message[: len(message) // 2])
                return
            batch += message
        self._waiting = bytes(batch)
        if not batch and due is not None:
            missing = firmware.next_row - due
            self._wire.wait(min(ATTENTION_S, max(0.0, missing / (self._rate_hz * (self._speed or 1.0)))))

    def _miss(self, now_s: float) -> None:
        """Let the rows go by that come while nobody listens."""
        if self._firmware.running:
            self._firmware.skip_to(self._due_row(now_s, self._speed or 1.0))
            if self._firmware.finished:
                self._firmware.running = False
                self.finished.set()

    def _torn(self, half: bytes) -> None:
        """Pull the cable after the first half of a frame."""
        assert self._wire is not None
        self._pull_at = None
        self._wire.send(half, ATTENTION_S)
        self._unplug()

    def _unplug(self) -> None:
        if self._wire is None:
            return
        self._wire.close()
        self._wire, self._waiting = None, b""
        now_s = time.monotonic()
        if self._speed is None:
            self._anchor = (now_s, self._firmware.row)
        if self._faults.plug_in_after_s is not None:
            self._plug_in_at_s = now_s + self._faults.plug_in_after_s
        self.unplugged.set()

    def _plug_in(self) -> None:
        self._plug_in_at_s = None
        if self._wire is None and self._plug is not None:
            self._wire = self._plug()
            self.unplugged.clear()
