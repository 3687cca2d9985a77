"""The line to the board, kept alive: asks it to start, asks again after silence, reopens a lost port."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from ingest.errors import LinkError
from ingest.frames import DESCRIBE, START, STOP
from ingest.port import Port

READ_S = 0.1
SILENCE_S = 1.0
BACK_OFF_S = (0.2, 2.0)
DRAIN_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """Bytes from the board. ``broke`` says why they do not follow on from the bytes before, if so."""

    data: bytes
    at_s: float
    broke: str | None = None
    gap_s: float = 0.0


class Connection:
    """One board behind a port that may come and go. For one thread; ``trouble`` may be read from any.

    ``stop`` ends every wait at once when it is set.
    """

    def __init__(self, source: Callable[[], Port], stop: threading.Event) -> None:
        self._source = source
        self._stop = stop
        self._port: Port | None = None
        self._broke: str | None = None
        self._last_byte_s = self._asked_s = time.monotonic()
        self.trouble: str | None = None

    def open(self) -> None:
        """Open the port for the first time; whatever is wrong with it is raised."""
        self._port = self._source()

    def ask(self) -> None:
        """Ask the board what it is, and to send; a board that knows neither just goes on sending."""
        self._asked_s = time.monotonic()
        if self._port is not None:
            self._port.write(DESCRIBE)
            self._port.write(START)

    def read(self) -> Received | None:
        """Give what came within a tenth of a second, ``None`` if nothing did; mends the line if it can."""
        if self._port is None:
            self._reopen()
            return None
        try:
            data = self._port.read(READ_S)
            now = time.monotonic()
            if not data:
                self._ask_again(now)
                return None
        except OSError:
            self._lost()
            return None
        received = Received(data=data, at_s=now, broke=self._broke, gap_s=now - self._last_byte_s)
        self._last_byte_s, self._broke, self.trouble = now, None, None
        return received

    def _ask_again(self, now: float) -> None:
        """After a second of silence the board may have been reset, and waits to be started."""
        if now - max(self._last_byte_s, self._asked_s) < SILENCE_S:
            return
        self._broke = self._broke or "board silent, or reset"
        self.trouble = self.trouble or "nothing comes from the board: asking it to start again"
        self.ask()

    def _lost(self) -> None:
        self.close()
        self._broke = "cable or port lost"
        self.trouble = "the port is gone, cable pulled? Waiting for it to come back"

    def _reopen(self) -> None:
        """Try to open the port until it is back or the recording is stopped."""
        wait_s, longest_s = BACK_OFF_S
        while not self._stop.wait(wait_s):
            try:
                self._port = self._source()
                self.ask()
            except OSError:
                self.close()
                wait_s = min(2 * wait_s, longest_s)
            else:
                return

    def finish(self) -> bytes:
        """Ask the board to stop, and give what was still on its way."""
        rest = bytearray()
        end_s = time.monotonic() + DRAIN_S
        try:
            if self._port is not None:
                self._port.write(STOP)
                while time.monotonic() < end_s and (data := self._port.read(READ_S)):
                    rest += data
        except OSError:
            pass  # it went away while it was being stopped: what came is all there is
        self.close()
        return bytes(rest)

    def close(self) -> None:
        """Close the port."""
        port, self._port = self._port, None
        if port is not None:
            with contextlib.suppress(LinkError, OSError):
                port.close()
