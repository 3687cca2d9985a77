"""What was measured on the virtual bike beside what is true of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.results import EndSag, Quantity, SagCheck
from analysis.ride_results import EndRide, RideSummary
from analysis.virtual_scene import EndTruth, Truth
from ingest.records import End

BOTTOMED = 0.98
"""Share of the travel from which an excursion counts as bottoming (design of the ride summary)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One number of one end: measured, true, and their difference. Lengths in mm, counts in times."""

    end: End
    name: str
    unit: str
    measured: float
    true: float

    @property
    def error(self) -> float:
        """Give measured minus true."""
        return self.measured - self.true


def compare_sag(check: SagCheck, truth: Truth) -> tuple[Compared, ...]:
    """Set a sag check beside the equilibria without friction."""
    rows: list[Compared] = []
    for end, sag in ((End.FRONT, check.front), (End.REAR, check.rear)):
        if sag is not None:
            rows += _sag(end, sag, truth)
    return tuple(rows)


def _sag(end: End, sag: EndSag, truth: Truth) -> list[Compared]:
    pairs: tuple[tuple[str, Quantity | None, float], ...] = (
        ("unladen sag", sag.unladen_sag_mm, truth.unladen_sag_mm[end]),
        ("rider sag", sag.rider_sag_mm, truth.rider_sag_mm[end]),
    )
    return [
        Compared(end=end, name=name, unit="mm", measured=measured.value, true=true)
        for name, measured, true in pairs
        if measured is not None
    ]


def compare_ride(ride: RideSummary, truth: Truth) -> tuple[Compared, ...]:
    """Set a ride beside the true motion of the wheels."""
    rows: list[Compared] = []
    for end, measured in ((End.FRONT, ride.front), (End.REAR, ride.rear)):
        if measured is not None:
            rows += _ride(end, measured, truth)
    return tuple(rows)


def _ride(end: End, ride: EndRide, truth: Truth) -> list[Compared]:
    travel, extremes = truth.travel_mm(end), truth.ends[end]
    lengths = (
        ("mean ride position", ride.mean_mm, float(np.mean(travel))),
        ("5 % of the time past", ride.p95_mm, float(np.percentile(travel, 95))),
        ("deepest", ride.travel_used_mm, extremes.max_mm),
    )
    counts = (
        ("bottoming", ride.bottoming.count, _bottomings(extremes, ride.travel_mm)),
        ("topping", ride.topping.count, len(extremes.toppings)),
    )
    return [
        *(Compared(end=end, name=name, unit="mm", measured=m, true=t) for name, m, t in lengths),
        *(Compared(end=end, name=name, unit="times", measured=m, true=t) for name, m, t in counts),
    ]


def _bottomings(extremes: EndTruth, travel_mm: float) -> int:
    return sum(event.peak_mm >= BOTTOMED * travel_mm for event in extremes.above_95_percent)
