"""The lines a virtual board can hang on: a pseudo-terminal, which is a real port, and a TCP connection."""

from __future__ import annotations

import contextlib
import os
import select
import socket
import tempfile
import time
from pathlib import Path
from typing import Protocol


class Wire(Protocol):
    """One line to a host. Nothing here waits longer than it is told to."""

    address: str

    def heard_by_host(self) -> bool:
        """Say whether a host has the port open."""

    def commands(self) -> bytes:
        """Give what the host said since the last time."""

    def send(self, data: bytes, timeout_s: float) -> int:
        """Send as much as the line takes within a time; give how many bytes that was."""

    def wait(self, timeout_s: float) -> None:
        """Wait, but no longer than until the host says something."""

    def close(self) -> None:
        """Pull the cable."""


class PtyWire:
    """A pseudo-terminal. ``link`` is a name of your own for it, which stays the same after a reconnect."""

    def __init__(self, link: Path | None = None) -> None:
        import tty  # there is none on Windows, where only TCP is served

        self._board, host = os.openpty()
        try:
            tty.setraw(host)
            self.address = os.ttyname(host)
        finally:
            # With the host's side closed here, the board can tell whether a host has it open.
            os.close(host)
        os.set_blocking(self._board, False)
        self._poll = select.poll()
        self._poll.register(self._board, select.POLLIN)
        self._link = link
        if link is not None:
            self._point(link)
            self.address = str(link)

    def _point(self, link: Path) -> None:
        with tempfile.TemporaryDirectory(dir=link.parent) as beside:
            new = Path(beside) / link.name
            new.symlink_to(self.address)
            new.replace(link)

    def heard_by_host(self) -> bool:
        """Say whether a host has the port open."""
        return not any(event & select.POLLHUP for _, event in self._poll.poll(0))

    def commands(self) -> bytes:
        """Give what the host said."""
        try:
            return os.read(self._board, 1024)
        except OSError:  # nothing said, or no host
            return b""

    def send(self, data: bytes, timeout_s: float) -> int:
        """Send what the line takes."""
        try:
            return os.write(self._board, data)
        except BlockingIOError:
            select.select([], [self._board], [], timeout_s)
            return 0
        except OSError:
            return 0

    def wait(self, timeout_s: float) -> None:
        """Wait for the host to speak."""
        if self.heard_by_host():
            self._poll.poll(max(0.0, timeout_s) * 1000)
        else:
            time.sleep(timeout_s)

    def close(self) -> None:
        """Pull the cable."""
        if self._link is not None:
            self._link.unlink(missing_ok=True)
        os.close(self._board)


class TcpWire:
    """A TCP server on this machine for one host at a time. ``number`` is the port to serve, 0 picks one."""

    def __init__(self, number: int = 0) -> None:
        self._server = socket.create_server(("127.0.0.1", number))
        self._server.setblocking(False)
        self.number: int = self._server.getsockname()[1]
        self.address = f"socket://127.0.0.1:{self.number}"
        self._host: socket.socket | None = None

    def heard_by_host(self) -> bool:
        """Say whether a host has the port open."""
        if self._host is None:
            with contextlib.suppress(BlockingIOError):
                self._host, _ = self._server.accept()
                self._host.setblocking(False)
                self._host.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return self._host is not None

    def commands(self) -> bytes:
        """Give what the host said."""
        if not self.heard_by_host() or self._host is None:
            return b""
        try:
            said = self._host.recv(1024)
        except BlockingIOError:
            return b""
        except OSError:
            said = b""
        if not said:
            self._hang_up()
        return said

    def send(self, data: bytes, timeout_s: float) -> int:
        """Send what the line takes."""
        if self._host is None:
            return 0
        try:
            return self._host.send(data)
        except BlockingIOError:
            select.select([], [self._host], [], timeout_s)
        except OSError:
            self._hang_up()
        return 0

    def wait(self, timeout_s: float) -> None:
        """Wait for the host to speak."""
        select.select([self._host or self._server], [], [], max(0.0, timeout_s))

    def close(self) -> None:
        """Pull the cable."""
        self._hang_up()
        self._server.close()

    def _hang_up(self) -> None:
        host, self._host = self._host, None
        if host is not None:
            host.close()
