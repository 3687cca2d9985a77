"""The one line that lives while something is recorded, and the marks typed below it."""

from __future__ import annotations

import os
import queue
import sys
import threading
from collections.abc import Mapping
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

from dashboard import units as show
from ingest.records import Bike, End, Setup

if TYPE_CHECKING:
    from analysis.position import Converter
    from ingest.live_view import Live

WIDTH = 79

# What a sag check goes through, in order: each still span is marked with its name.
SAG_MARKS = (
    "topped out",
    "unladen, from above",
    "unladen, from below",
    "rider, from above",
    "rider, from below",
)

SAVE, RESTORE, UP, CLEAR = "\x1b7", "\x1b8", "\x1b[1A", "\x1b[2K"


class Console:
    """Shows the live line where somebody can see it, and collects the lines typed as marks.

    On a terminal that can move its cursor the live line stays above the line being typed; elsewhere it is
    written over and over in one place; into a file or pipe it is not written at all.
    """

    def __init__(
        self,
        bike: Bike,
        setup: Setup | None,
        zeros: Mapping[End, float],
        *,
        sag: bool,
        source: TextIO | None = None,
        out: TextIO | None = None,
    ) -> None:
        self._wheels = wheels(bike, setup, zeros)
        self._suggested = list(SAG_MARKS) if sag else []
        self._source = source if source is not None else sys.stdin
        self._out = out if out is not None else sys.stdout
        self._typed: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._on_screen = self._out.isatty()
        self._moves_cursor = self._on_screen and can_move_cursor()
        self._said: str | None = None
        self._begun = False

    def __enter__(self) -> Console:
        # Reading a line blocks, so it has a thread of its own; it ends with the program.
        threading.Thread(target=self._read, name="marks", daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._begun:
            self._write("\n")

    def marks(self) -> list[str]:
        """Give the marks typed since the last call, and suggest the next."""
        typed = []
        while not self._typed.empty():
            text = self._typed.get().strip() or (self._suggested[0] if self._suggested else "mark")
            if text in self._suggested:
                del self._suggested[: self._suggested.index(text) + 1]
            typed.append(text)
            self._say(f"marked: {text}")
        return typed

    def draw(self, live: Live) -> None:
        """Show how the recording stands."""
        if live.message is not None and live.message != self._said:
            self._say(live.message)
        self._said = live.message
        if not self._on_screen:
            return
        line = live_line(live, self._wheels)
        if not self._moves_cursor:
            self._begun = True
            self._write("\r" + line.ljust(WIDTH))
        elif not self._begun:
            self._begun = True
            self._write(f"{line}\n{self._prompt()}")
        else:
            self._write(f"{SAVE}{UP}\r{CLEAR}{line}{RESTORE}")

    def _prompt(self) -> str:
        if not self._suggested:
            return "mark: "
        return f"mark (Enter = {self._suggested[0]}): "

    def _say(self, text: str) -> None:
        """Print a line of its own; the live line is drawn anew below it."""
        if self._begun and self._moves_cursor:
            self._write(f"\r{CLEAR}")
        elif self._begun:
            self._write("\r" + " " * WIDTH + "\r")
        self._begun = False
        self._write(text + "\n")

    def _write(self, text: str) -> None:
        self._out.write(text)
        self._out.flush()

    def _read(self) -> None:
        try:
            for line in self._source:
                self._typed.put(line)
        except (OSError, ValueError):
            return  # nothing to type on: the recording goes on without


def can_move_cursor() -> bool:
    """Say whether the terminal understands ECMA-48 control sequences; the old Windows one does not."""
    if os.name == "nt":
        return "WT_SESSION" in os.environ
    return os.environ.get("TERM", "dumb") != "dumb"


def wheels(
    bike: Bike, setup: Setup | None, zeros: Mapping[End, float]
) -> tuple[tuple[End, int, Converter], ...]:
    """Say how to turn each sensor's counts into wheel travel: end, channel, conversion."""
    from analysis.effective import effective_bike
    from analysis.position import converter

    as_it_is = effective_bike(bike, setup)
    return tuple(
        (end, sensor.channel, converter(as_it_is, end, zeros.get(end)))
        for end, sensor in sorted(as_it_is.sensors.items())
    )


def live_line(live: Live, ends: tuple[tuple[End, int, Converter], ...]) -> str:
    """Say in at most 79 columns: how long, how many samples, where the wheels are, what was lost."""
    if live.counts is None:
        return f"{live.status} …"[:WIDTH]
    parts = [show.duration(live.duration_s), f"{live.samples} samples"]
    parts += [f"{end} {_travel(live.counts, channel, tool)}" for end, channel, tool in ends]
    parts.append("nothing lost" if not live.lost_samples else f"{live.lost_samples} lost")
    if live.damaged:
        parts.append(f"{live.damaged} damaged")
    if live.status != "recording":
        parts.append(live.status)
    return "  ".join(parts)[:WIDTH]


def _travel(counts: tuple[int, ...], channel: int, tool: Converter) -> str:
    import numpy as np

    if channel >= len(counts):
        return show.NOTHING
    (travel_mm,) = tool.positions(np.array([counts[channel]], float)).travel_mm
    return f"{show.number(float(travel_mm)):>5} mm"
