"""How far the bike may lean before something touches, at the height it is loaded to in that lean.

The bike leans about round tyres: with a crown of radius c, the middle plane of a wheel leaned by φ meets the
ground c·(1/cos φ − 1) below where it stood, as if the wheel were larger by that much. In a steady turn the
force along the bike's middle plane is its weight over cos(lean), so both ends sit deeper; how much deeper is
what their springs say. Steering, the tyre's own give, and the little by which wide tyres make the bike lean
beyond the line of its forces are left out; the last means that the load is, if anything, put too high, and
the lean too small.

tan(lean) = v² / (g r) and the extra lean of wide tyres: V. Cossalter, Motorcycle Dynamics, 2nd ed. (2006),
chapter 4, from memory, not checked against the text; both are plain statics.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from scipy.optimize import brentq

from analysis.rigid_bike import PlaneBike, Standing, stand
from analysis.spring_statics import STANDARD_GRAVITY_M_S2
from ingest.errors import CannotAnswer, UsageError

STEEPEST_DEG = 65.0
"""Nobody leans further with a tyre on the ground: beyond it nothing is looked for (judgement)."""
LEAN_STEP_DEG = 1.0

TravelUnderLoad = Callable[[float], float]
"""From times the load at rider sag to wheel travel, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchPoint:
    """What touches the ground first on one side: a peg, a stand, a silencer. Places as in `PlaneBike`.

    ``half_width_mm`` is how far out from the middle plane of the bike it is.
    """

    name: str
    x_ahead_of_rear_axle_mm: float
    y_mm: float
    half_width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDone:
    """What the work moved, as `stand` takes it."""

    fork_raised_mm: float = 0.0
    rear_axle_up_mm: float = 0.0
    front_axle_up_mm: float = 0.0
    front_radius_change_mm: float = 0.0
    rear_radius_change_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanAtContact:
    """Lean at which a point touches, ``None`` if not before the tyres run out (`STEEPEST_DEG`).

    The travels are those the load of that lean takes; ``height_mm`` is the point's height with the bike
    upright at rider sag.
    """

    name: str
    lean_deg: float | None
    height_mm: float
    front_travel_mm: float
    rear_travel_mm: float


def lean_at_contact(
    bike: PlaneBike,
    point: TouchPoint,
    *,
    front_crown_mm: float,
    rear_crown_mm: float,
    front_travel: TravelUnderLoad,
    rear_travel: TravelUnderLoad,
    moved: WorkDone | None = None,
) -> LeanAtContact:
    """Find the lean at which a point first touches the ground, in a steady turn.

    Parameters
    ----------
    bike : PlaneBike
    point : TouchPoint
        Height and place in the state the bike was measured in.
    front_crown_mm, rear_crown_mm : float
        Radius of the round of the tread, across; near half the tyre's width.
    front_travel, rear_travel : callable
        Wheel travel under a number of times the load at rider sag.
    moved : Moved, optional
        What the work changes.

    Raises
    ------
    UsageError
        The point has no height or width, or a crown is not a radius.
    """
    if not (point.half_width_mm > 0 and front_crown_mm >= 0 and rear_crown_mm >= 0):
        raise UsageError(
            f"{point.name}: half width {point.half_width_mm:g} mm, tyre crowns {front_crown_mm:g} and "
            f"{rear_crown_mm:g} mm; the width counts from the middle of the bike and is above 0, crowns "
            "are 0 or more"
        )

    def standing(lean: float) -> Standing:
        deeper = 1.0 / math.cos(lean)
        work = moved or WorkDone()
        return stand(
            bike,
            front_travel(deeper),
            rear_travel(deeper),
            fork_raised_mm=work.fork_raised_mm,
            rear_axle_up_mm=work.rear_axle_up_mm,
            front_axle_up_mm=work.front_axle_up_mm,
            front_radius_change_mm=work.front_radius_change_mm + front_crown_mm * (deeper - 1.0),
            rear_radius_change_mm=work.rear_radius_change_mm + rear_crown_mm * (deeper - 1.0),
        )

    def above_ground(lean: float) -> float:
        up_the_plane = standing(lean).height_mm(point.x_ahead_of_rear_axle_mm, point.y_mm)
        return up_the_plane * math.cos(lean) - point.half_width_mm * math.sin(lean)

    upright = above_ground(0.0)
    if upright <= 0.0:
        raise CannotAnswer(
            f"{point.name}: it is {-upright:.0f} mm below the ground with the bike upright at rider sag; "
            "check its height and the state it was measured in"
        )
    lean = _first_zero(above_ground)
    deeper = 1.0 / math.cos(math.radians(STEEPEST_DEG) if lean is None else lean)
    return LeanAtContact(
        name=point.name,
        lean_deg=None if lean is None else math.degrees(lean),
        height_mm=upright,
        front_travel_mm=front_travel(deeper),
        rear_travel_mm=rear_travel(deeper),
    )


def _first_zero(height: Callable[[float], float]) -> float | None:
    """Give the first lean, in radians, at which a height comes down to nothing."""
    step = math.radians(LEAN_STEP_DEG)
    lean = 0.0
    while lean < math.radians(STEEPEST_DEG):
        if height(lean + step) <= 0.0:
            return float(brentq(height, lean, lean + step, xtol=1e-10))
        lean += step
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanInTurn:
    """Lean of a steady turn: of the line of the forces, and of a bike on wide tyres, which leans further."""

    ideal_deg: float
    with_tyres_deg: float


def lean_in_turn(
    speed_m_s: float, radius_m: float, *, crown_mm: float = 0.0, mass_height_mm: float | None = None
) -> LeanInTurn:
    """Give the lean of a steady turn on level ground: tan(lean) = v² / (g r).

    With tyre crowns of radius c and the mass at height h, the bike leans further by the angle whose sine is
    c sin(lean) / (h − c). A plan does not need it: it is what published figures of lean can be checked with
    (`tests/published/test_lean_angle.py`).

    >>> round(lean_in_turn(15.0, 30.0).ideal_deg, 2)
    37.41
    """
    if not (radius_m > 0 and math.isfinite(speed_m_s)):
        raise UsageError(f"turn of {radius_m:g} m at {speed_m_s:g} m/s: give a radius above 0 m, and a speed")
    ideal = math.atan(speed_m_s**2 / (STANDARD_GRAVITY_M_S2 * radius_m))
    more = 0.0
    if mass_height_mm is not None:
        if not mass_height_mm > 2 * crown_mm:
            raise UsageError(
                f"mass at {mass_height_mm:g} mm over tyres of crown {crown_mm:g} mm: it lies well above them"
            )
        more = math.asin(crown_mm * math.sin(ideal) / (mass_height_mm - crown_mm))
    return LeanInTurn(ideal_deg=math.degrees(ideal), with_tyres_deg=math.degrees(ideal + more))
