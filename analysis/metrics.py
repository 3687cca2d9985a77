"""The numbers two rides are compared by, in the order they are shown. One entry adds one number an end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from analysis.ride_results import EndRide, Events, Speeds


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One number of an end: its name without the end, its unit, what it is called, how to take it.

    ``grows`` is what a rougher road adds to it, in its own unit for each natural logarithm of roughness, in
    a bike that answers in proportion: 1 % rougher adds a hundredth of this. ``maximum``: one moment of a
    ride, so chance cannot be put a number on. ``events`` gives what an event rate counts.
    """

    name: str
    unit: str
    words: str
    take: Callable[[EndRide], float | None]
    grows: Callable[[EndRide], float] | None = None
    maximum: bool = False
    events: Callable[[EndRide], Events] | None = None


MIDDLE_GROWS = 0.15
"""The ride position itself moves little with the road: a suspension pushed in comes out as far. What is left,
as a share of how far the depth passed 5 % of the time lies beyond the mean, is that of the virtual bike."""


def _middle_grows(ride: EndRide) -> float:
    return MIDDLE_GROWS * (ride.p95_mm - ride.mean_mm)


def _p95(speeds: Speeds | None) -> float | None:
    return None if speeds is None else speeds.p95


KINDS = (
    Kind(
        name="mean_mm",
        unit="mm",
        words="mean ride position",
        take=lambda ride: ride.mean_mm,
        grows=_middle_grows,
    ),
    Kind(
        name="p50_mm",
        unit="mm",
        words="depth passed half of the time",
        take=lambda ride: ride.p50_mm,
        grows=_middle_grows,
    ),
    Kind(
        name="p95_mm",
        unit="mm",
        words="depth passed 5 % of the time",
        take=lambda ride: ride.p95_mm,
        grows=lambda ride: ride.p95_mm - ride.mean_mm,
    ),
    Kind(
        name="p99_mm",
        unit="mm",
        words="depth passed 1 % of the time",
        take=lambda ride: ride.p99_mm,
        grows=lambda ride: ride.p99_mm - ride.mean_mm,
    ),
    Kind(
        name="travel_used_mm",
        unit="mm",
        words="deepest travel",
        take=lambda ride: ride.travel_used_mm,
        maximum=True,
    ),
    Kind(
        name="travel_used_percent",
        unit="%",
        words="share of travel used",
        take=lambda ride: ride.travel_used_percent,
        maximum=True,
    ),
    Kind(
        name="bottoming_per_10_min",
        unit="per 10 min",
        words="bottoming",
        take=lambda ride: ride.bottoming.per_10_min,
        events=lambda ride: ride.bottoming,
    ),
    Kind(
        name="topping_per_10_min",
        unit="per 10 min",
        words="topping",
        take=lambda ride: ride.topping.per_10_min,
        events=lambda ride: ride.topping,
    ),
    Kind(
        name="compression_p95_mm_s",
        unit="mm/s",
        words="compression speed",
        take=lambda ride: _p95(ride.compression_speed_mm_s),
        grows=lambda ride: _p95(ride.compression_speed_mm_s) or 0.0,
    ),
    Kind(
        name="rebound_p95_mm_s",
        unit="mm/s",
        words="rebound speed",
        take=lambda ride: _p95(ride.rebound_speed_mm_s),
        grows=lambda ride: _p95(ride.rebound_speed_mm_s) or 0.0,
    ),
)


def in_words(metric: str) -> str:
    """Name a metric in a sentence.

    >>> in_words("front_mean_mm")
    'front mean ride position'
    """
    end, name = metric.split("_", 1)
    return f"{end} {next(kind.words for kind in KINDS if kind.name == name)}"
