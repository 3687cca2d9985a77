"""A linkage rear from measured places: swingarm, rocker, link plates, shock.

Seven places are measured once, in one state, from the side: x forward, y up, mm, from any zero. Swingarm,
rocker, plates and frame are a four-bar linkage; each position is solved in closed form, by where two circles
cross: the one the rocker's plate hole runs on and the one a plate's length draws. Which of the two crossings
holds is the one that was measured. The usual layout has the rocker on the frame and the plates on the
swingarm; in the other the rocker rides on the swingarm and the plates are held by the frame.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from scipy.optimize import brentq

from analysis.rigid_bike import Place
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Leverage

ROWS = 12
STEP_RAD = 0.004
WIDEST_RAD = 1.2
SLOPE_RAD = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class RearLinkage:
    """The seven places as measured, and the plates that were in then.

    ``rocker_plate_mm`` and ``rocker_shock_mm`` are the holes of the rocker for plates and shock,
    ``plate_end_mm`` the other end of the plates, ``shock_mount_mm`` the shock's place on the frame.
    ``plate_change_mm`` makes the plates longer (positive) or shorter than measured, hole to hole.
    """

    swingarm_pivot_mm: Place
    axle_mm: Place
    rocker_pivot_mm: Place
    rocker_plate_mm: Place
    rocker_shock_mm: Place
    plate_end_mm: Place
    shock_mount_mm: Place
    rocker_on_swingarm: bool = False
    plate_change_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkagePosition:
    """Where everything is, the swingarm turned axle upward by ``turn_rad`` from where it was measured."""

    turn_rad: float
    axle_mm: Place
    rocker_pivot_mm: Place
    rocker_plate_mm: Place
    rocker_shock_mm: Place
    plate_end_mm: Place
    shock_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkageTravel:
    """The whole travel. ``leverage`` counts vertical wheel travel and stroke from topped out."""

    leverage: Leverage
    travel_mm: float
    stroke_mm: float
    topped_out: LinkagePosition
    full_bump: LinkagePosition


def position(linkage: RearLinkage, turn_rad: float) -> LinkagePosition:
    """Solve the linkage with the swingarm turned from where it was measured.

    Raises
    ------
    CannotAnswer
        The plates do not reach: the linkage cannot close there. Or the rocker's plate hole lies on its pivot.

    Examples
    --------
    >>> usual = RearLinkage(swingarm_pivot_mm=(0, 0), axle_mm=(-560, -150), rocker_pivot_mm=(-84, -135),
    ...     rocker_plate_mm=(-149, -163), rocker_shock_mm=(-169, -138), plate_end_mm=(-188, -44),
    ...     shock_mount_mm=(-93, 154))
    >>> round(position(usual, 0.0).shock_mm, 2)
    301.73
    """
    pivot, rocker = complex(*linkage.swingarm_pivot_mm), complex(*linkage.rocker_pivot_mm)
    hole, end = complex(*linkage.rocker_plate_mm), complex(*linkage.plate_end_mm)
    if hole == rocker:
        raise CannotAnswer(
            "linkage: rocker pivot and plate hole are one and the same place; the hole lies apart from the "
            "pivot it turns about: measure both again"
        )
    plate = abs(hole - end) + linkage.plate_change_mm
    side = math.copysign(1.0, ((hole - rocker) * (end - rocker).conjugate()).imag)
    turned = cmath.exp(-1j * turn_rad)  # forward is to the right: the axle, behind, goes up clockwise
    new_rocker, new_end = rocker, end
    if linkage.rocker_on_swingarm:
        new_rocker = pivot + turned * (rocker - pivot)
    else:
        new_end = pivot + turned * (end - pivot)
    new_hole = _crossing(new_rocker, abs(hole - rocker), new_end, plate, side)
    if new_hole is None:
        raise CannotAnswer(
            f"linkage: with plates of {plate:.1f} mm it cannot close {math.degrees(turn_rad):+.1f}° of "
            "swingarm from where it was measured; check the seven places, or take plates nearer the old ones"
        )
    new_shock = new_rocker + (new_hole - new_rocker) / (hole - rocker) * (
        complex(*linkage.rocker_shock_mm) - rocker
    )
    axle = pivot + turned * (complex(*linkage.axle_mm) - pivot)
    return LinkagePosition(
        turn_rad=turn_rad,
        axle_mm=_place(axle),
        rocker_pivot_mm=_place(new_rocker),
        rocker_plate_mm=_place(new_hole),
        rocker_shock_mm=_place(new_shock),
        plate_end_mm=_place(new_end),
        shock_mm=abs(new_shock - complex(*linkage.shock_mount_mm)),
    )


def at_shock_length(linkage: RearLinkage, shock_mm: float) -> LinkagePosition:
    """Turn the swingarm until the shock has a length, eye to eye, mm.

    Raises
    ------
    CannotAnswer
        The linkage does not get there, or only past the place where the shock turns back.
    """
    now = position(linkage, 0.0).shock_mm
    step = STEP_RAD if shock_mm < now else -STEP_RAD
    turn, length = 0.0, now
    while (length - shock_mm) * step > 0:
        try:
            longer = position(linkage, turn + step).shock_mm
        except CannotAnswer:
            longer = length
        # A shock that no longer follows the wheel has passed its turning point.
        if (longer - length) * step >= 0 or abs(turn) > WIDEST_RAD:
            raise CannotAnswer(
                f"linkage: a shock {shock_mm:.1f} mm long cannot be reached; from {now:.1f} mm as measured "
                f"it goes to {length:.1f} mm; check the seven places and the shock's length, eye to eye"
            )
        turn, length = turn + step, longer
    if turn == 0.0:
        return position(linkage, 0.0)
    found = brentq(lambda angle: position(linkage, angle).shock_mm - shock_mm, turn - step, turn, xtol=1e-12)
    return position(linkage, float(found))


def whole_travel(
    linkage: RearLinkage, extended_mm: float, stroke_mm: float, *, rows: int = ROWS
) -> LinkageTravel:
    """Take the linkage from topped out, the shock ``extended_mm`` long, through the whole stroke.

    Raises
    ------
    CannotAnswer
        The linkage cannot close over the whole stroke, or the shock does not shorten steadily.
    UsageError
        The stroke is not above 0 and shorter than the shock.
    """
    if not (0.0 < stroke_mm < extended_mm):
        raise UsageError(
            f"shock: a stroke of {stroke_mm:g} mm in a length of {extended_mm:g} mm; give the length eye to "
            "eye, extended, and the stroke, which is shorter"
        )
    topped_out = at_shock_length(linkage, extended_mm)
    full_bump = at_shock_length(linkage, extended_mm - stroke_mm)
    turns = [
        topped_out.turn_rad + (full_bump.turn_rad - topped_out.turn_rad) * row / (rows - 1)
        for row in range(rows)
    ]
    table = tuple(
        (where.axle_mm[1] - topped_out.axle_mm[1], topped_out.shock_mm - where.shock_mm)
        for where in (position(linkage, turn) for turn in turns)
    )
    if any(later[0] <= row[0] or later[1] <= row[1] for row, later in pairwise(table)):
        raise CannotAnswer(
            "linkage: wheel and shock do not move together over the whole stroke; check the seven places"
        )
    return LinkageTravel(
        leverage=Leverage(table=((0.0, 0.0), *table[1:])),
        travel_mm=table[-1][0],
        stroke_mm=stroke_mm,
        topped_out=topped_out,
        full_bump=full_bump,
    )


def ratio_at(linkage: RearLinkage, turn_rad: float) -> tuple[float, float]:
    """Give d(stroke)/d(wheel travel) and its change per mm of wheel, by differences of exact positions."""

    def of(quantity: Callable[[LinkagePosition], float]) -> tuple[float, float]:
        low, here, high = (quantity(position(linkage, turn_rad + k * SLOPE_RAD)) for k in (-1, 0, 1))
        return (high - low) / (2 * SLOPE_RAD), (high - 2 * here + low) / SLOPE_RAD**2

    wheel, wheel_bend = of(lambda where: where.axle_mm[1])
    shock, shock_bend = of(lambda where: -where.shock_mm)
    return shock / wheel, (shock_bend - shock / wheel * wheel_bend) / wheel**2


def _crossing(
    first: complex, radius: float, second: complex, other_radius: float, side: float
) -> complex | None:
    """Give where a circle about each of two places cross, on one side of the line between them."""
    apart = abs(second - first)
    if apart == 0.0:
        return None
    along = (radius**2 - other_radius**2 + apart**2) / (2 * apart)
    square = radius**2 - along**2
    if not square >= 0.0:
        return None
    return first + (second - first) / apart * complex(along, side * math.sqrt(square))


def _place(value: complex) -> Place:
    return (value.real, value.imag)
