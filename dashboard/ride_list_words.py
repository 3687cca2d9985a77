"""Many rides, one line each, as wide as a plain terminal."""

from __future__ import annotations

from collections.abc import Callable

from analysis.ride_results import EndRide, RideSummary
from dashboard import units as show
from dashboard.units import NOTHING, Units

NAME_CHARS = 27


def list_head(units: Units = Units.MM) -> str:
    """Write the heading of the lines; numbers are front · rear."""
    return _line("front · rear", "min:s", f"rides at {units}", "deepest %", "bottomed", "topped")


def list_line(name: str, ride: RideSummary, units: Units = Units.MM) -> str:
    """Write one ride in one line of at most 80 columns."""
    lasts = max((end.duration_s for end in (ride.front, ride.rear) if end is not None), default=0.0)
    return _line(
        shortened(name, NAME_CHARS),
        show.duration(lasts),
        _pair(ride, lambda end: show.length_number(end.mean_mm, units, 0)),
        _pair(ride, lambda end: show.number(end.travel_used_percent, 0)),
        _pair(ride, lambda end: str(end.bottoming.count)),
        _pair(ride, lambda end: str(end.topping.count)),
    )


def _line(name: str, lasts: str, rides: str, deepest: str, bottomed: str, topped: str) -> str:
    return f"{name:<{NAME_CHARS}} {lasts:>7} {rides:>11} {deepest:>10} {bottomed:>9} {topped:>9}"


def _pair(ride: RideSummary, text: Callable[[EndRide], str]) -> str:
    return " · ".join(NOTHING if end is None else text(end) for end in (ride.front, ride.rear))


def shortened(name: str, chars: int) -> str:
    """Cut a name at its beginning: what tells logs of one day apart stands at the end.

    >>> shortened("2026-11-25-0311-ride-1", 12)
    '…0311-ride-1'
    """
    return name if len(name) <= chars else f"…{name[-(chars - 1) :]}"
