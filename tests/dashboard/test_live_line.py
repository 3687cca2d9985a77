"""The line that lives while something is recorded, and the marks typed below it."""

from __future__ import annotations

import io
import time
from dataclasses import replace

import pytest

from dashboard.commands.live_line import SAG_MARKS, Console, live_line, wheels
from dashboard.commands.screen import RESTORE, SAVE
from ingest.live_view import Live
from ingest.records import Bike, End

LIVE = Live(
    status="recording",
    duration_s=72.4,
    samples=72_400,
    lost_samples=0,
    damaged=0,
    rate_hz=1000.0,
    counts=(921, 902),
    recent=(),
    message=None,
)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_line_says_where_the_wheels_are(bike: Bike) -> None:
    ends = wheels(bike, None, {})
    line = live_line(LIVE, ends)
    assert line == "1:12  72400 samples  front 230.0 mm  rear 220.0 mm  nothing lost"
    busy = replace(
        LIVE,
        duration_s=36_000,
        samples=36_000_000,
        lost_samples=123_456,
        damaged=4_321,
        status="reconnecting",
    )
    assert len(live_line(busy, ends)) <= 79
    assert "123456 lost" in live_line(busy, ends)
    assert live_line(replace(LIVE, counts=None, status="waiting"), ends) == "waiting …"


def test_a_zero_of_the_job_moves_the_wheels(bike: Bike) -> None:
    line = live_line(replace(LIVE, counts=(112, 88)), wheels(bike, None, {End.FRONT: 112.0}))
    assert "front   0.0 mm" in line


def typed(console: Console, count: int) -> list[str]:
    """Wait for the reading thread, which has a life of its own."""
    found: list[str] = []
    end_s = time.monotonic() + 5
    while len(found) < count and time.monotonic() < end_s:
        found += console.marks()
    return found


def test_enter_takes_the_mark_suggested(bike: Bike) -> None:
    out = Terminal()
    source = io.StringIO("\n\nrider, from above\n\nchain slapped\n")
    with Console(bike, None, {}, sag=True, source=source, out=out) as console:
        marks = typed(console, 5)
    assert marks == [SAG_MARKS[0], SAG_MARKS[1], "rider, from above", "rider, from below", "chain slapped"]
    assert "marked: topped out" in out.getvalue()


def test_a_ride_suggests_nothing(bike: Bike) -> None:
    with Console(bike, None, {}, sag=False, source=io.StringIO("\n"), out=io.StringIO()) as console:
        assert typed(console, 1) == ["mark"]


def test_a_terminal_is_drawn_over_and_a_file_is_not(bike: Bike, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WT_SESSION", "1")
    monkeypatch.setenv("TERM", "xterm")
    out = Terminal()
    with Console(bike, None, {}, sag=True, source=io.StringIO(), out=out) as console:
        console.draw(LIVE)
        console.draw(LIVE)
    assert "mark (Enter = topped out): " in out.getvalue()
    assert out.getvalue().count(SAVE) == out.getvalue().count(RESTORE) == 1

    quiet = io.StringIO()
    with Console(bike, None, {}, sag=True, source=io.StringIO(), out=quiet) as console:
        console.draw(LIVE)
        console.draw(replace(LIVE, message="the port is gone"))
        console.draw(replace(LIVE, message="the port is gone"))
    assert quiet.getvalue() == "the port is gone\n"


def test_a_simple_terminal_is_written_over_in_one_line(bike: Bike, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "dumb")
    monkeypatch.delenv("WT_SESSION", raising=False)
    out = Terminal()
    with Console(bike, None, {}, sag=False, source=io.StringIO(), out=out) as console:
        console.draw(LIVE)
        console.draw(LIVE)
    lines = out.getvalue().split("\r")[1:]
    assert len(lines) == 2
    assert all(len(line.rstrip("\n")) <= 79 for line in lines)
