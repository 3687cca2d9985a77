"""How much lower the seat is once sag is right at both ends, before any hardware.

Both axles' vertical drops are shared by where the seat lies between them; a telescopic fork's stroke counts
cos(rake) of itself.
"""

from __future__ import annotations

from collections.abc import Mapping

from analysis.gum import rectangular
from analysis.propagation import Input, measured, propagate
from analysis.results import EndSag, Quantity
from analysis.spring_statics import along_travel
from ingest.errors import CannotAnswer
from ingest.records import Bike, End

SEAT_SHARE, SEAT_SHARE_HALF = 0.35, 0.15
"""Where riders sit, as a share of the wheelbase ahead of the rear axle. Common practice, no source."""
SEAT_HALF_MM = 50.0
"""A rider has room to sit: the place given is good to this (judgement)."""


def seat_share(bike: Bike) -> Input:
    """Give how far ahead of the rear axle the rider sits, as a share of the wheelbase."""
    ahead, wheelbase = bike.seat_ahead_of_rear_axle_mm, bike.wheelbase_mm
    if ahead is None or wheelbase is None:
        return Input(
            value=SEAT_SHARE, u=rectangular(SEAT_SHARE_HALF), basis="usual (common practice, no source)"
        )
    return Input(value=ahead / wheelbase, u=rectangular(SEAT_HALF_MM / wheelbase), basis="from the bike file")


def seat_drop(bike: Bike, ends: Mapping[End, EndSag]) -> Quantity | None:
    """Give the drop of the seat when both ends go to the middle of their rider-sag targets, mm.

    ``None`` where an end, its rider sag or its target is missing, or the rake of a telescopic fork is.
    """
    goals: dict[End, float] = {}
    inputs = {"seat": seat_share(bike)}
    for end in End:
        found = ends.get(end)
        if found is None or found.rider_sag_mm is None or found.target_sag_mm is None:
            return None
        goals[end] = sum(found.target_sag_mm) / 2
        inputs[str(end)] = measured(found.rider_sag_mm, "measured")
    try:
        vertical = {end: along_travel(bike, end) for end in End}
    except CannotAnswer:
        return None

    def drop(values: Mapping[str, float]) -> float:
        front, rear = (vertical[end] * (goals[end] - values[str(end)]) for end in End)
        return values["seat"] * front + (1.0 - values["seat"]) * rear

    return propagate(drop, inputs)[0]
