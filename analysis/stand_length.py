"""Side stand and centre stand once the bike sits lower.

Seen from behind: the side stand turns about a pivot at height H, a distance y0 out from the middle, and its
leg points outward by an angle γ, in the frame. The bike leans on it by φ, on tyres with a crown of radius c.
The pivot is then c + (H − c) cos φ − y0 sin φ above the ground, and the leg, turned with the bike, reaches
down by L cos(γ − φ). The two are the same: that gives the length L for a lean, the lean for a length, and
the angle from both, in closed form. Lengths are along the leg as seen from behind; a leg that also points
forward is longer by 1 / cos of that angle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ingest.errors import CannotAnswer, UsageError

USUAL_LEAN_DEG = (8.0, 15.0)
"""Lean on the side stand within which a parked bike stands safely. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideStand:
    """A side stand as measured, the bike upright: pivot height and distance out, the leg's angle outward."""

    pivot_height_mm: float
    pivot_out_mm: float
    angle_deg: float
    crown_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StandFit:
    """The stand after the work: how much shorter for the lean it had, and the lean if nobody shortens it.

    ``lean_unshortened_deg`` at or below zero: the bike stands upright or leans over to the other side;
    ``too_upright`` where that lean is below the least of `USUAL_LEAN_DEG`: it can tip over.
    """

    length_before_mm: float
    length_after_mm: float
    shorter_mm: float
    lean_before_deg: float
    lean_unshortened_deg: float
    too_upright: bool


def side_stand_length_mm(stand: SideStand, lean_deg: float) -> float:
    """Give the length of the leg, pivot to ground, with which the bike leans by ``lean_deg``.

    >>> one = SideStand(pivot_height_mm=300.0, pivot_out_mm=120.0, angle_deg=20.0)
    >>> round(side_stand_length_mm(one, 11.0), 3)
    274.976
    """
    reach = _reach_mm(stand.pivot_height_mm, stand.pivot_out_mm, stand.crown_mm, lean_deg)
    length = reach / math.cos(math.radians(stand.angle_deg - lean_deg))
    if not length > 0:
        raise UsageError(
            f"side stand: pivot {stand.pivot_height_mm:g} mm up and {stand.pivot_out_mm:g} mm out leaves no "
            f"leg at a lean of {lean_deg:g}°; check pivot and lean"
        )
    return length


def side_stand_angle_deg(
    pivot_height_mm: float, pivot_out_mm: float, length_mm: float, lean_deg: float, *, crown_mm: float = 0.0
) -> float:
    """Give the angle of the leg, outward in the frame, from its length and the lean of the parked bike.

    Raises
    ------
    CannotAnswer
        A leg of that length does not reach the ground at that lean.

    Examples
    --------
    >>> round(side_stand_angle_deg(300.0, 120.0, 274.97649250923, 11.0), 6)
    20.0
    """
    reach = _reach_mm(pivot_height_mm, pivot_out_mm, crown_mm, lean_deg)
    if not 0.0 < reach <= length_mm:
        raise CannotAnswer(
            f"side stand: a leg of {length_mm:g} mm does not fit a pivot {pivot_height_mm:g} mm up and "
            f"{pivot_out_mm:g} mm out with the bike leaning {lean_deg:g}°: straight down it is {reach:.0f} "
            "mm to the ground; measure length, pivot and lean again"
        )
    return lean_deg + math.degrees(math.acos(reach / length_mm))


def lean_on_stand_deg(stand: SideStand, length_mm: float) -> float:
    """Give the lean of the bike on a leg of this length; negative: over to the other side.

    >>> one = SideStand(pivot_height_mm=300.0, pivot_out_mm=120.0, angle_deg=20.0)
    >>> round(lean_on_stand_deg(one, 274.97649250923), 6)
    11.0
    """
    angle = math.radians(stand.angle_deg)
    out = stand.pivot_out_mm + length_mm * math.sin(angle)
    above_crown = stand.pivot_height_mm - length_mm * math.cos(angle) - stand.crown_mm
    # Height of the foot over the ground, crown + above_crown cos φ − out sin φ, is zero.
    far = math.hypot(above_crown, out)
    if not far > stand.crown_mm:
        raise UsageError(
            f"side stand: a foot {out:g} mm out lies within tyres of crown {stand.crown_mm:g} mm; check the "
            "pivot's place and the leg"
        )
    return math.degrees(math.acos(-stand.crown_mm / far) - math.atan2(out, above_crown))


def side_stand_fit(stand: SideStand, lean_deg: float, drop_at_pivot_mm: float) -> StandFit:
    """Fit the side stand to a parked bike that sits lower at the stand's pivot by ``drop_at_pivot_mm``.

    The drop is the one of the parked bike, nobody aboard.
    """
    lower = SideStand(
        pivot_height_mm=stand.pivot_height_mm - drop_at_pivot_mm,
        pivot_out_mm=stand.pivot_out_mm,
        angle_deg=stand.angle_deg,
        crown_mm=stand.crown_mm,
    )
    before = side_stand_length_mm(stand, lean_deg)
    after = side_stand_length_mm(lower, lean_deg)
    unshortened = lean_on_stand_deg(lower, before)
    return StandFit(
        length_before_mm=before,
        length_after_mm=after,
        shorter_mm=before - after,
        lean_before_deg=lean_deg,
        lean_unshortened_deg=unshortened,
        too_upright=unshortened < USUAL_LEAN_DEG[0],
    )


def centre_stand_shorter_mm(drop_at_pivot_mm: float) -> float:
    """Give how much shorter the centre stand gets: as much as its pivot comes down on the standing bike.

    Then both wheels stand as far off the ground, or on it, as they did.
    """
    return max(drop_at_pivot_mm, 0.0)


def _reach_mm(pivot_height_mm: float, pivot_out_mm: float, crown_mm: float, lean_deg: float) -> float:
    """Give the height of the pivot over the ground with the bike leaning: L cos(γ − φ) has to be this."""
    lean = math.radians(lean_deg)
    return crown_mm + (pivot_height_mm - crown_mm) * math.cos(lean) - pivot_out_mm * math.sin(lean)
