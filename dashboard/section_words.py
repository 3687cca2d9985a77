"""The sections of a ride side by side, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analysis.ride_results import EndRide, RideSummary
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import Table, shortened

WHOLE = "whole ride"
TITLE_CHARS = 24  # so that a row fits a terminal of 80 columns


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One section of a ride, or the whole: its name, its time, what it says, how rough it was.

    ``number`` counts from 1, 0 is the whole ride. ``ride`` is ``None`` where nothing was measured. ``road``
    says how rough it was against the whole ride, which takes its length.
    """

    number: int
    name: str
    start_s: float
    duration_s: float
    ride: RideSummary | None
    road: str

    @property
    def title(self) -> str:
        """Name a section with its number, as the figure does."""
        return f"{self.number} {self.name}" if self.number else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The whole ride and its sections, none where nobody marked any; and what was too short for one."""

    parts: tuple[Part, ...] = ()
    left_out: tuple[str, ...] = ()

    def part(self, number: int) -> Part | None:
        """Give a part by its number."""
        return next((part for part in self.parts if part.number == number), None)


def section_table(parts: Sequence[Part], units: Units = Units.MM) -> Table:
    """Write one row a section: front · rear in pairs."""
    rows = [
        (
            shortened(part.title, TITLE_CHARS),
            show.duration(part.duration_s),
            _pair(part.ride, lambda end: show.length_number(end.mean_mm, units, 0)),
            _pair(part.ride, lambda end: show.number(end.travel_used_percent, 0)),
            _pair(part.ride, lambda end: str(end.bottoming.count)),
            part.road,
        )
        for part in parts
    ]
    head = ("front · rear", "min:s", f"rides at, {units}", "deepest, %", "bottomed", "road")
    return Table(head=head, rows=tuple(rows))


def _pair(ride: RideSummary | None, text: Callable[[EndRide], str]) -> str:
    ends = (ride.front, ride.rear) if ride else (None, None)
    return " · ".join(NOTHING if end is None else text(end) for end in ends)


def section_names(parts: Parts) -> dict[float, str]:
    """Give the titles of the sections by the time each begins, for the uprights of the figure."""
    return {part.start_s: part.title for part in parts.parts if part.number}
