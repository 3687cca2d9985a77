"""Serial ports: list them, open them, read them. The only module that knows `pyserial`.

A port is named by a device (``/dev/ttyUSB0``, ``COM3``) or by any `pyserial` address
(``socket://127.0.0.1:4000``, ``rfc2217://…``, ``loop://``).
"""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Any
from urllib.parse import urlsplit

import serial
from serial.tools import list_ports as system_ports

from ingest.errors import LinkError, PortBusy, PortNotFound

DEFAULT_BAUD = 115200
WRITE_TIMEOUT_S = 1.0
MOST_BYTES = 1 << 16
_MISSING = {errno.ENOENT, errno.ENXIO, errno.ENODEV, errno.ENOTDIR}
_HELD = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}


@dataclass(frozen=True, slots=True, kw_only=True)
class PortInfo:
    """One port of this computer: how to open it, what to show, and what tells its adapter from others."""

    url: str
    label: str
    vid: int | None = None
    pid: int | None = None
    serial_number: str | None = None

    def is_same_device(self, other: PortInfo) -> bool:
        """Say whether both are one USB adapter, whatever name the system gave it this time."""
        mine = (self.vid, self.pid, self.serial_number)
        return self.vid is not None and mine == (other.vid, other.pid, other.serial_number)


def list_ports() -> list[PortInfo]:
    """List the serial ports this computer has, USB adapters first."""
    ports = [
        PortInfo(
            url=port.device,
            label=_label(port.device, port.description),
            vid=port.vid,
            pid=port.pid,
            serial_number=port.serial_number,
        )
        for port in system_ports.comports()
    ]
    return sorted(ports, key=lambda port: (port.vid is None, port.url))


def _label(device: str, description: str | None) -> str:
    return f"{device} ({description})" if description and description not in ("n/a", device) else device


class Port:
    """An open port. Trouble on the line, a pulled cable for one, is an ``OSError``."""

    def __init__(self, url: str, device: Any) -> None:
        self.url = url
        self._device = device
        # A socket cannot say how much is waiting, but changing its timeout costs nothing; the other way
        # round for a real port, where a new timeout reconfigures the hardware.
        self._counts_waiting = not url.lower().startswith("socket://")

    def read(self, timeout: float) -> bytes:
        """Give what has arrived as soon as there is something; ``b""`` if nothing came for ``timeout`` s."""
        if self._device.timeout != timeout:
            self._device.timeout = timeout
        first: bytes = self._device.read(1)
        if not first:
            return b""
        if self._counts_waiting:
            return first + bytes(self._device.read(self._device.in_waiting))
        self._device.timeout = 0
        return first + bytes(self._device.read(MOST_BYTES))

    def write(self, data: bytes) -> None:
        """Send all of ``data``."""
        self._device.write(data)

    def close(self) -> None:
        """Close the port; closing twice, or after the cable was pulled, does no harm."""
        # An adapter that has gone cannot be closed any more, and need not be.
        with contextlib.suppress(OSError):
            self._device.close()

    def __enter__(self) -> Port:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_port(url: str, baud: int = DEFAULT_BAUD) -> Port:
    """Open a port for this program alone.

    Raises `PortNotFound` (naming the ports there are), `PortBusy`, or `LinkError` for anything else.
    """
    try:
        device = serial.serial_for_url(
            url, baudrate=baud, timeout=0.1, write_timeout=WRITE_TIMEOUT_S, exclusive=True
        )
    except (OSError, ValueError) as error:
        raise _reason(url, baud, error) from error
    return Port(url, device)


def _reason(url: str, baud: int, error: Exception) -> LinkError:
    number, text = getattr(error, "errno", None), str(error)
    if "://" in url:
        if isinstance(error, ValueError) or _lacks_number(url):
            return PortNotFound(f"{url!r} is not an address of a port: write it like socket://HOST:NUMBER")
        return PortNotFound(f"nothing answers at {url}: is the board switched on, is the address right?")
    if number in _MISSING or "FileNotFoundError" in text:
        return PortNotFound(f"there is no port {url!r}: {_which_exist()}")
    # Windows keeps a port to one program by refusing access; elsewhere refused access is a missing right.
    if number in _HELD or "PermissionError" in text:
        return PortBusy(f"port {url} is in use by another program: close that program and try again")
    if number == errno.EACCES:
        return LinkError(
            f"no right to open {url}: add your user to the group of serial ports "
            "(dialout or uucp) and log in again"
        )
    if isinstance(error, ValueError):
        return LinkError(f"port {url} cannot run at {baud} baud: the usual one is {DEFAULT_BAUD}")
    return LinkError(f"port {url} cannot be opened as a serial port ({text}): {_which_exist()}")


def _lacks_number(url: str) -> bool:
    """Whether the address of a socket says no port number, or something else in its place."""
    try:
        return urlsplit(url).port is None
    except ValueError:
        return True


def _which_exist() -> str:
    names = [port.label for port in list_ports()]
    return (
        f"ports here are {', '.join(names)}"
        if names
        else "no serial port found here, is the board plugged in?"
    )


def port_source(
    url: str, baud: int = DEFAULT_BAUD, *, listed: Callable[[], list[PortInfo]] = list_ports
) -> Callable[[], Port]:
    """Give a function that opens the port, and after a pulled cable the same adapter under its new name.

    A USB adapter that comes back may be called ``ttyUSB1`` where it was ``ttyUSB0``: it is known again by
    vendor, product and serial number. Where these are unknown the same ``url`` is tried.
    """
    adapter: PortInfo | None = None

    def open_again() -> Port:
        nonlocal adapter
        present = listed()
        if adapter is None:
            adapter = next((port for port in present if port.url == url), None)
        known = adapter
        same = [port.url for port in present if known is not None and known.is_same_device(port)]
        return open_port(url if url in same or not same else same[0], baud)

    return open_again
