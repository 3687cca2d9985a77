"""Other link plates on a linkage rear: the drop at the axle, leverage, wheel rate, and room at full bump.

Plates move the whole travel range and leave the shock as it is: at the same length of the shock the axle sits
higher in the frame, so the bike sits lower, topped out, at sag and at full bump.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from scipy.optimize import brentq

from analysis.four_bar import LinkageTravel, RearLinkage, at_shock_length, ratio_at, whole_travel
from analysis.propagation import Input, propagate
from analysis.results import Quantity
from analysis.rigid_bike import Place
from analysis.wheel_rate import wheel_rate
from ingest.errors import CannotAnswer

PLACE_U_MM = 1.0
"""Standard uncertainty of each coordinate of a place measured from the side with a rule (judgement)."""
MOST_MM = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateEffect:
    """What other plates do, at the same length of the shock.

    ``axle_up_mm`` is how much higher the axle sits in the frame at the stroke asked for: the drop of the rear
    axle, with its doubt from the measured places; ``axle_up_per_plate_mm`` that for each millimetre.
    ``axle_up_at_full_bump_mm`` is room the tyre loses at full bump. Leverages are d(wheel) / d(stroke) at
    that stroke. ``wheel_rate_percent`` is the change of wheel rate there, both terms, of any one spring;
    ``None`` where its preload was not given.
    """

    axle_up_mm: Quantity
    axle_up_per_plate_mm: float
    axle_up_topped_out_mm: float
    axle_up_at_full_bump_mm: float
    leverage_before: float
    leverage_after: float
    wheel_rate_percent: float | None
    before: LinkageTravel
    after: LinkageTravel


def plate_effect(
    linkage: RearLinkage,
    change_mm: float,
    *,
    extended_mm: float,
    stroke_mm: float,
    at_stroke_mm: float = 0.0,
    preload_mm: float | None = None,
    place_u_mm: float = PLACE_U_MM,
) -> PlateEffect:
    """Say what plates longer or shorter by ``change_mm``, hole to hole, do to a linkage rear.

    Parameters
    ----------
    linkage : RearLinkage
        As measured, with the plates that were in.
    change_mm : float
        Longer is positive.
    extended_mm, stroke_mm : float
        Shock: length eye to eye with the wheel hanging, and its stroke.
    at_stroke_mm : float
        Stroke from extended at which drop, leverage and wheel rate are wanted: rider sag at the shock.
    preload_mm : float, optional
        Of the shock spring, for the wheel rate.
    place_u_mm : float
        Standard uncertainty of each measured coordinate.

    Raises
    ------
    CannotAnswer
        The linkage cannot close over the whole stroke with one or the other plates.
    """
    other = replace(linkage, plate_change_mm=linkage.plate_change_mm + change_mm)
    before = whole_travel(linkage, extended_mm, stroke_mm)
    after = whole_travel(other, extended_mm, stroke_mm)
    length = extended_mm - at_stroke_mm
    was, now = at_shock_length(linkage, length), at_shock_length(other, length)
    rate_percent = None
    if preload_mm is not None:
        force = preload_mm + at_stroke_mm  # of a spring of 1 N/mm: its rate cancels
        rates = [
            wheel_rate(1.0, force, *ratio_at(one, where.turn_rad)).total_n_mm
            for one, where in ((linkage, was), (other, now))
        ]
        rate_percent = 100.0 * (rates[1] / rates[0] - 1.0)
    drop = _drop(linkage, change_mm, length, place_u_mm)
    return PlateEffect(
        axle_up_mm=drop,
        axle_up_per_plate_mm=drop.value / change_mm if change_mm else 0.0,
        axle_up_topped_out_mm=after.topped_out.axle_mm[1] - before.topped_out.axle_mm[1],
        axle_up_at_full_bump_mm=after.full_bump.axle_mm[1] - before.full_bump.axle_mm[1],
        leverage_before=1.0 / ratio_at(linkage, was.turn_rad)[0],
        leverage_after=1.0 / ratio_at(other, now.turn_rad)[0],
        wheel_rate_percent=rate_percent,
        before=before,
        after=after,
    )


def plates_for_drop_mm(
    linkage: RearLinkage,
    axle_up_mm: float,
    *,
    extended_mm: float,
    at_stroke_mm: float,
    most_mm: float = MOST_MM,
) -> float:
    """Give the change of plate length that lifts the axle in the frame by ``axle_up_mm`` at a stroke.

    Raises
    ------
    CannotAnswer
        No plates within ± ``most_mm`` do.
    """
    length = extended_mm - at_stroke_mm
    was = at_shock_length(linkage, length).axle_mm[1]

    def short_of(change_mm: float) -> float:
        other = replace(linkage, plate_change_mm=linkage.plate_change_mm + change_mm)
        return at_shock_length(other, length).axle_mm[1] - was - axle_up_mm

    sign = 1.0 if short_of(0.5) > short_of(-0.5) else -1.0
    way = math.copysign(1.0, axle_up_mm) * sign
    change = 0.0
    while short_of(change) * axle_up_mm < 0:
        change += way
        if abs(change) > most_mm:
            raise CannotAnswer(
                f"plates: none within ± {most_mm:g} mm move the axle by {axle_up_mm:g} mm; check the places"
            )
    return float(brentq(short_of, change - way, change, xtol=1e-9)) if change else 0.0


def _drop(linkage: RearLinkage, change_mm: float, length_mm: float, place_u_mm: float) -> Quantity:
    """Give the lift of the axle at one length of the shock, each coordinate moved by its own doubt."""

    def lift(values: Mapping[str, float]) -> float:
        def place(name: str) -> Place:
            return (values[f"{name} x"], values[f"{name} y"])

        moved = replace(
            linkage,
            swingarm_pivot_mm=place("swingarm pivot"),
            axle_mm=place("axle"),
            rocker_pivot_mm=place("rocker pivot"),
            rocker_plate_mm=place("rocker plate"),
            rocker_shock_mm=place("rocker shock"),
            plate_end_mm=place("plate end"),
            shock_mount_mm=place("shock mount"),
        )
        other = replace(moved, plate_change_mm=moved.plate_change_mm + change_mm)
        return at_shock_length(other, length_mm).axle_mm[1] - at_shock_length(moved, length_mm).axle_mm[1]

    places = {
        "swingarm pivot": linkage.swingarm_pivot_mm,
        "axle": linkage.axle_mm,
        "rocker pivot": linkage.rocker_pivot_mm,
        "rocker plate": linkage.rocker_plate_mm,
        "rocker shock": linkage.rocker_shock_mm,
        "plate end": linkage.plate_end_mm,
        "shock mount": linkage.shock_mount_mm,
    }
    inputs = {
        f"{name} {axis}": Input(value=value, u=place_u_mm, basis="measured from the side")
        for name, measured in places.items()
        for axis, value in zip("xy", measured, strict=True)
    }
    return propagate(lift, inputs)[0]
