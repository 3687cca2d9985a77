"""Serial ports: found, missing, busy, pulled. Pseudo-terminals, sockets and loop:// are real ports here."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from ingest import port as port_module
from ingest.errors import LinkError, PortBusy, PortNotFound
from ingest.port import PortInfo, list_ports, open_port, port_source


@contextmanager
def pty() -> Iterator[tuple[int, str]]:
    """The board's end of a pseudo-terminal, and the name a host opens."""
    master, slave = os.openpty()
    try:
        yield master, os.ttyname(slave)
    finally:
        os.close(slave)
        os.close(master)


def test_reads_what_is_there_at_once() -> None:
    with pty() as (master, name), open_port(name) as port:
        os.write(master, b"abc")
        began = time.monotonic()
        assert port.read(5.0)[:1] == b"a"
        assert time.monotonic() - began < 1.0
        assert port.read(0.05) == b""
        port.write(b"hello")
        assert os.read(master, 10) == b"hello"


def test_a_loop_is_a_port() -> None:
    with open_port("loop://") as port:
        port.write(b"\x00\xff" * 500)
        got = b""
        while len(got) < 1000:
            got += port.read(1.0)
        assert got == b"\x00\xff" * 500


def test_a_socket_gives_all_that_waits_in_one_go_and_tells_when_it_is_closed() -> None:
    server = socket.create_server(("127.0.0.1", 0))
    with server, open_port(f"socket://127.0.0.1:{server.getsockname()[1]}") as port:
        peer, _ = server.accept()
        with peer:
            peer.sendall(b"x" * 5000)
            time.sleep(0.1)
            assert port.read(1.0) == b"x" * 5000
            assert port.read(0.05) == b""
            port.write(b"go")
            assert peer.recv(10) == b"go"
        with pytest.raises(OSError, match="disconnected"):
            port.read(1.0)


def test_no_such_port_names_those_there_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        port_module, "list_ports", lambda: [PortInfo(url="/dev/ttyUSB7", label="/dev/ttyUSB7 (UART)")]
    )
    with pytest.raises(PortNotFound) as error:
        open_port("/dev/tty-not-here")
    assert str(error.value) == "there is no port '/dev/tty-not-here': ports here are /dev/ttyUSB7 (UART)"


def test_no_port_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port_module, "list_ports", list)
    with pytest.raises(PortNotFound, match="is the board plugged in"):
        open_port("/dev/tty-not-here")


def test_busy() -> None:
    with (
        pty() as (_, name),
        open_port(name),
        pytest.raises(PortBusy, match=f"{name} is in use by another program"),
    ):
        open_port(name)


def test_an_address_nobody_answers() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        number = server.getsockname()[1]
    with pytest.raises(PortNotFound, match=f"nothing answers at socket://127.0.0.1:{number}"):
        open_port(f"socket://127.0.0.1:{number}")


@pytest.mark.parametrize("url", ["carrier-pigeon://loft", "socket://127.0.0.1", "socket://127.0.0.1:port"])
def test_not_an_address(url: str) -> None:
    with pytest.raises(PortNotFound, match="is not an address of a port"):
        open_port(url)


def test_a_file_is_no_port(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("")
    with pytest.raises(LinkError, match="cannot be opened as a serial port") as error:
        open_port(str(file))
    assert "\n" not in str(error.value)


def test_a_pulled_cable_is_an_oserror_and_closing_is_harmless() -> None:
    master, slave = os.openpty()
    port = open_port(os.ttyname(slave))
    os.close(slave)
    os.close(master)
    with pytest.raises(OSError, match=r"read failed|no data|Input/output"):
        port.read(0.1)
    port.close()
    port.close()


def test_listing_gives_ports_that_can_be_named() -> None:
    assert all(port.url and port.url in port.label for port in list_ports())


# The adapter that comes back under another name.


def adapter(url: str, number: str | None = "A1") -> PortInfo:
    return PortInfo(url=url, label=url, vid=0x1A86, pid=0x7523, serial_number=number)


def test_the_same_adapter_is_found_under_its_new_name() -> None:
    with pty() as (_, first), pty() as (_, second):
        present = [adapter(first), adapter("/dev/other", "B2")]
        source = port_source(first, listed=lambda: present)
        source().close()
        present[:] = [adapter("/dev/other", "B2"), adapter(second)]
        with source() as port:
            assert port.url == second


def test_the_same_name_is_preferred_when_two_adapters_look_alike() -> None:
    with pty() as (_, first), pty() as (_, second):
        present = [adapter(second, None), adapter(first, None)]
        source = port_source(first, listed=lambda: present)
        source().close()
        with source() as port:
            assert port.url == first


def test_another_adapter_under_the_old_name_is_not_taken_when_ours_is_there() -> None:
    with pty() as (_, first), pty() as (_, second):
        present = [adapter(first)]
        source = port_source(first, listed=lambda: present)
        source().close()
        present[:] = [adapter(first, "B2"), adapter(second)]
        with source() as port:
            assert port.url == second


def test_a_port_without_usb_numbers_is_opened_by_its_name_again() -> None:
    with pty() as (_, name):
        source = port_source(name, listed=list)
        source().close()
        with source() as port:
            assert port.url == name
