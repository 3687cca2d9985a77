"""The one line that lives while something is recorded, and the marks typed below it."""

from __future__ import annotations

from collections.abc import Mapping
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

from dashboard import units as show
from dashboard.commands.screen import WIDTH, Screen
from ingest.records import Bike, End, Setup

if TYPE_CHECKING:
    from analysis.position import Converter
    from ingest.live_view import Live

# What a sag check goes through, in order: each still span is marked with its name.
SAG_MARKS = (
    "topped out",
    "unladen, from above",
    "unladen, from below",
    "rider, from above",
    "rider, from below",
)


class Console:
    """The screen of a recording: its live line, and the lines typed as marks."""

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
        self._screen = Screen(source, out)
        self._said: str | None = None

    def __enter__(self) -> Console:
        self._screen.listen()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._screen.leave()

    def marks(self) -> list[str]:
        """Give the marks typed since the last call, and suggest the next."""
        typed = []
        for line in self._screen.lines():
            text = line or (self._suggested[0] if self._suggested else "mark")
            if text in self._suggested:
                del self._suggested[: self._suggested.index(text) + 1]
            typed.append(text)
            self._screen.say(f"marked: {text}")
        return typed

    def draw(self, live: Live) -> None:
        """Show how the recording stands."""
        if live.message is not None and live.message != self._said:
            self._screen.say(live.message)
        self._said = live.message
        self._screen.prompt = f"mark (Enter = {self._suggested[0]}): " if self._suggested else "mark: "
        self._screen.show(live_line(live, self._wheels))


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
