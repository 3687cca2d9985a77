"""Side stand and centre stand once the bike sits lower.

Seen from behind: the side stand turns about a pivot at height H, a distance out from the middle of the bike,
and its leg points outward by the stand's angle γ, in the frame. The bike leans on it by φ, on tyres with a
crown of radius c. The foot touches the ground where

    (H − L cos γ + c (1/cos φ − 1)) cos φ = (y0 + L sin γ) sin φ.

That gives the length L for a lean, and the lean for a length, in closed form. Lengths are along the leg as
seen from behind; a leg that also points forward is longer by 1 / cos of that angle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ingest.errors import UsageError

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
    lean, angle = math.radians(lean_deg), math.radians(stand.angle_deg)
    rise = stand.crown_mm * (1.0 / math.cos(lean) - 1.0)
    length = (stand.pivot_height_mm + rise - stand.pivot_out_mm * math.tan(lean)) / (
        math.cos(angle) + math.sin(angle) * math.tan(lean)
    )
    if not length > 0:
        raise UsageError(
            f"side stand: pivot {stand.pivot_height_mm:g} mm up and {stand.pivot_out_mm:g} mm out leaves no "
            f"leg at a lean of {lean_deg:g}°; check pivot and lean"
        )
    return length


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
