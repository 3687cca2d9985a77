"""How much lower the seat has to come, and how much of that is left for parts once sag is right.

Sag comes first: a bike that stands above correct sag gives a part of the wanted lowering, often all of it,
without any part; one that stands below takes some away. A part that is built for the rider's weight brings
correct sag with it, so whoever orders one for all that is wanted gets the sag error on top.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from analysis.gum import rectangular
from analysis.plan_results import EndSagPlan, HowMuch
from analysis.propagation import Input, measured, propagate
from analysis.results import Quantity
from analysis.seat_drop import seat_share
from analysis.spring_statics import FORK
from analysis.targets import target_sag
from ingest.records import Bike, End

WORTH_A_PART_MM = 3.0
"""Less than this is no reason to fit a part: a tape does not read sag as well (judgement)."""
USUAL_RAKE_DEG, USUAL_RAKE_HALF_DEG = 27.0, 4.0
"""Where the file has no rake. Common practice, no source."""
HOW_TO_MEASURE = (
    "rider aboard in gear, feet on the pegs, settled from above and from below "
    "(`flatfoot check`, or a tape and a helper)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SagNow:
    """What is known of one end. ``at_boards`` is rider sag when the boards were measured, if it was another.

    ``target_mm`` replaces the middle of the band that the bike file's use or own target gives.
    """

    unladen: Quantity | None = None
    rider: Quantity | None = None
    at_boards: Quantity | None = None
    target_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Lowering wanted at the seat, rider aboard, and what it comes from."""

    amount_mm: Quantity
    source: str


def how_much(bike: Bike, wanted: Wanted | None, sags: Mapping[End, SagNow]) -> HowMuch:
    """Work out what correct sag gives at the seat and what is left for parts.

    Parameters
    ----------
    bike : Bike
        As it is under its setup; rake, wheelbase and seat position are used where known.
    wanted : Wanted or None
    sags : mapping
        What is known of each end.

    Returns
    -------
    HowMuch
        With ``None`` for what cannot be told; ``warnings`` then say what to measure.
    """
    ends = {end: _target(bike, end, sags.get(end, SagNow())) for end in End}
    inputs = {"seat": seat_share(bike)} | {f"{end} vertical": vertical_share(bike, end) for end in End}
    inputs |= {
        f"{end} sag": measured(plan.at_boards_mm, "measured")
        for end, plan in ends.items()
        if plan.at_boards_mm is not None
    }

    def seat_mm(values: Mapping[str, float], only: End | None = None) -> float:
        shares = {End.FRONT: values["seat"], End.REAR: 1.0 - values["seat"]}
        return sum(
            shares[end] * values[f"{end} vertical"] * ((plan.target_mm or 0.0) - values[f"{end} sag"])
            for end, plan in ends.items()
            if only in (None, end)
        )

    told = {end: plan.target_mm is not None and plan.at_boards_mm is not None for end, plan in ends.items()}
    values = {name: one.value for name, one in inputs.items()}
    with_seat = {
        end: replace(plan, seat_mm=seat_mm(values, end) if told[end] else None) for end, plan in ends.items()
    }
    from_sag = left = None
    if all(told.values()):
        from_sag = propagate(seat_mm, inputs)[0]
        if wanted is not None:
            asked = {"wanted": measured(wanted.amount_mm, wanted.source)}
            left = propagate(lambda values: values["wanted"] - seat_mm(values), inputs | asked)[0]
    hardware = None if left is None else (0.0 if left.value < WORTH_A_PART_MM else left.value)
    trap = None if wanted is None or from_sag is None else wanted.amount_mm.value + from_sag.value
    return HowMuch(
        wanted_mm=None if wanted is None else wanted.amount_mm,
        wanted_from=None if wanted is None else wanted.source,
        seat_share=inputs["seat"].value,
        seat_share_basis=inputs["seat"].basis,
        front=with_seat[End.FRONT],
        rear=with_seat[End.REAR],
        from_correct_sag_mm=from_sag,
        left_over_mm=left,
        hardware_mm=hardware,
        trap_mm=trap,
        warnings=(*_missing(bike, ends), *_said(wanted, from_sag, left, hardware, trap), *_moved(ends)),
    )


def vertical_share(bike: Bike, end: End) -> Input:
    """Give how much of a millimetre along the wheel's travel is vertical: cos(rake) for a telescopic fork.

    Without a rake in the file, that of a usual one, with its doubt.
    """
    suspension = bike.suspension(end)
    if end is End.REAR or (suspension is not None and suspension.kind != FORK):
        return Input(value=1.0, u=0.0, basis="vertical")
    if bike.rake_deg is not None:
        return Input(value=math.cos(math.radians(bike.rake_deg)), u=0.0, basis="from the bike file")
    steep, flat = (
        math.cos(math.radians(USUAL_RAKE_DEG + side * USUAL_RAKE_HALF_DEG)) for side in (-1.0, 1.0)
    )
    return Input(
        value=math.cos(math.radians(USUAL_RAKE_DEG)),
        u=rectangular((steep - flat) / 2),
        basis="usual rake (common practice, no source)",
    )


def _target(bike: Bike, end: End, now: SagNow) -> EndSagPlan:
    suspension = bike.suspension(end)
    travel = None if suspension is None else suspension.travel_mm
    target, origin = now.target_mm, "as given"
    if target is None and travel is not None and (band := target_sag(bike, end)) is not None:
        target, origin = sum(band.in_mm(travel)) / 2, band.origin
    at_boards = now.at_boards or now.rider
    return EndSagPlan(
        rider_sag_mm=now.rider or now.at_boards,
        at_boards_mm=at_boards,
        target_mm=target,
        target_percent=None if target is None or travel is None else 100.0 * target / travel,
        target_origin=None if target is None else origin,
        change_mm=None if target is None or at_boards is None else target - at_boards.value,
        seat_mm=None,
    )


def _missing(bike: Bike, ends: Mapping[End, EndSagPlan]) -> list[str]:
    """Say what has to be measured before a figure for parts can be given, and what had to be assumed."""
    said = []
    unknown = " and ".join(str(end) for end, plan in ends.items() if plan.rider_sag_mm is None)
    if unknown:
        said.append(
            f"Measure sag first: rider sag is not known {unknown}. Take it with the {HOW_TO_MEASURE}. "
            "Until then there is no figure for lowering parts: a part ordered now comes out wrong by the "
            "whole sag error."
        )
    aimless = " and ".join(str(end) for end, plan in ends.items() if plan.target_mm is None)
    if aimless:
        said.append(
            f'No target sag is known {aimless}: write use = "adventure" or another use in the bike file, or '
            "give --front-target-sag-mm and --rear-target-sag-mm."
        )
    if not unknown and bike.rake_deg is None and vertical_share(bike, End.FRONT).u > 0:
        said.append(f"The bike file has no rake_deg: {USUAL_RAKE_DEG:g}° was taken for the fork.")
    if bike.seat_ahead_of_rear_axle_mm is None or bike.wheelbase_mm is None:
        said.append(
            f"Where the rider sits between the axles was not measured: {100 * seat_share(bike).value:.0f} % "
            "of the wheelbase ahead of the rear axle was taken. Measure seat_ahead_of_rear_axle_mm and "
            "wheelbase_mm."
        )
    return said


def _said(
    wanted: Wanted | None,
    from_sag: Quantity | None,
    left: Quantity | None,
    hardware: float | None,
    trap: float | None,
) -> list[str]:
    """Say what correct sag means for what is to be ordered, and the trap in numbers."""
    if from_sag is None or wanted is None or left is None or hardware is None or trap is None:
        return []
    stack, given = wanted.amount_mm.value, from_sag.value
    said = []
    if given <= -WORTH_A_PART_MM:
        said.append(
            f"The bike sits too low now: correct sag brings the seat up by {-given:.0f} mm, so parts have to "
            f"give {hardware:.0f} mm, more than the {stack:.0f} mm that are wanted."
        )
    if hardware == 0.0 and left.value > -WORTH_A_PART_MM:
        said.append(
            "Correct sag alone gives what is wanted: no lowering part. "
            f"({max(left.value, 0.0):.1f} mm would be left; under {WORTH_A_PART_MM:g} mm is not worth "
            "a part.)"
        )
    elif hardware == 0.0:
        said.append(
            f"Correct sag alone lowers the seat by {given:.0f} mm, {-left.value:.0f} mm more than is wanted: "
            "no lowering part."
        )
    elif left.expanded_uncertainty > max(hardware / 2, 2 * WORTH_A_PART_MM):
        said.append(
            f"What is left for parts is known to ± {left.expanded_uncertainty:.0f} mm only: read rider sag "
            "three times from above and from below before ordering."
        )
    if abs(given) >= WORTH_A_PART_MM:
        said.append(
            f"Ordered without this: a part for {stack:.0f} mm, built for the rider's weight, and the seat "
            f"{'drops' if trap >= 0 else 'rises'} {abs(trap):.0f} mm where {stack:.0f} mm was wanted."
        )
    if hardware > 0.0:
        said.append(
            "The smallest lowering that serves is the right one: try with one board less before ordering. "
            "Every millimetre costs travel, ground clearance or lean."
        )
    return said


def _moved(ends: Mapping[End, EndSagPlan]) -> list[str]:
    """Say where sag was another when the boards were measured."""
    said = []
    for end, plan in ends.items():
        now, then = plan.rider_sag_mm, plan.at_boards_mm
        if now is not None and then is not None and abs(now.value - then.value) >= WORTH_A_PART_MM:
            said.append(
                f"{str(end).capitalize()}: rider sag was {then.value:.0f} mm when the boards were measured "
                f"and is {now.value:.0f} mm now; the lowering counts from the moment of the boards."
            )
    return said
