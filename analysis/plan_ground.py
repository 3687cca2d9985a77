"""What an option does to the whole bike on the ground: rake, trail, clearances, stands, chain, headlight."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analysis.means import EndNow
from analysis.plan_clearance import (
    Ends,
    Fitting,
    chain_slack_mm,
    clearance,
    headlight_drop_mm,
    standing,
    stands,
    swingarm_pivot,
)
from analysis.plan_ends import as_now
from analysis.plan_results import Option
from analysis.rigid_bike import Place, PlaneBike, matching_front_mm
from analysis.spring_statics import FORK
from ingest.chassis import Stands
from ingest.errors import UsageError
from ingest.records import Bike, End

GEOMETRY = (
    "rake_deg",
    "fork_offset_mm",
    "wheelbase_mm",
    "front_wheel_radius_mm",
    "rear_wheel_radius_mm",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The bike in the plane, as far as it was measured. ``missing`` says what was not."""

    bike: Bike
    plane: PlaneBike | None
    missing: tuple[str, ...]
    cautions: tuple[str, ...]


def ground_of(bike: Bike, ends: Ends) -> Ground:
    """Put the bike on the ground in the state that its geometry was measured in."""
    lacks = [name for name in GEOMETRY if getattr(bike, name) is None]
    missing, cautions = [], []
    plane = None
    if lacks:
        missing.append(
            f"Rake, trail and wheelbase are not told: the bike file lacks {', '.join(lacks)}. Without them "
            "clearances and stands are not told either."
        )
    else:
        base = {end: _measured_at(bike, now) for end, now in ends.items()}
        front = bike.suspension(End.FRONT)
        plane = PlaneBike(
            rake_deg=bike.rake_deg or 0.0,
            fork_offset_mm=bike.fork_offset_mm or 0.0,
            wheelbase_mm=bike.wheelbase_mm or 0.0,
            front_wheel_radius_mm=bike.front_wheel_radius_mm or 0.0,
            rear_wheel_radius_mm=bike.rear_wheel_radius_mm or 0.0,
            front_travel_mm=base[End.FRONT],
            rear_travel_mm=base[End.REAR],
            telescopic=front is None or front.kind == FORK,
            swingarm_pivot_mm=None if bike.chain is None else swingarm_pivot(bike.chain),
        )
        if bike.measured_state is None:
            cautions.append(
                "The bike file does not say in which state rake, wheelbase and heights were measured "
                "(measured_state): they were taken for the bike topped out."
            )
        elif bike.measured_state == "unladen" and any(now.unladen is None for now in ends.values()):
            cautions.append(
                "Rake and wheelbase were measured unladen, but unladen sag is not known: they were taken for "
                "the bike with the rider aboard."
            )
    return Ground(bike=bike, plane=plane, missing=tuple(missing), cautions=(*cautions, *_unmeasured(bike)))


def consequences(ground: Ground, ends: Ends, fitting: Fitting, option: Option) -> Option:
    """Fill in what an option does to the bike on the ground; what cannot be told stays ``None``.

    An option with which no bike stands on its wheels comes back refused.
    """
    if ground.plane is None:
        return option
    try:
        return _on_the_ground(ground.bike, ground.plane, ends, fitting, option)
    except UsageError as problem:
        return replace(option, allowed=False, because=(str(problem),))


def _on_the_ground(bike: Bike, plane: PlaneBike, ends: Ends, fitting: Fitting, option: Option) -> Option:
    before = {end: as_now(now) for end, now in ends.items()}
    level = {end: replace(as_now(now), sag_mm=now.goal_mm) for end, now in ends.items()}
    now, then = standing(plane, ends, before), standing(plane, ends, fitting)
    sag_only = standing(plane, ends, level)
    room, no_room = clearance(bike, plane, ends, fitting, option)
    stand, no_stand = stands(bike, plane, ends, fitting)
    slack_now, slack, no_slack = chain_slack_mm(bike, plane, ends, fitting)
    return replace(
        option,
        rake_now_deg=now.rake_deg,
        rake_deg=then.rake_deg,
        trail_now_mm=now.trail_mm,
        trail_mm=then.trail_mm,
        wheelbase_now_mm=now.wheelbase_mm,
        wheelbase_mm=then.wheelbase_mm,
        pitch_deg=then.pitch_deg - now.pitch_deg + 0.0,
        rake_from_parts_deg=then.rake_deg - sag_only.rake_deg,
        trail_from_parts_mm=then.trail_mm - sag_only.trail_mm,
        matching_front_mm=matching_front_mm(plane, now, fitting[End.REAR].parts_up_mm(ends[End.REAR])),
        clearance=room,
        stand=stand,
        headlight_drop_at_wall_mm=headlight_drop_mm(bike, now, then),
        chain_slack_now_mm=slack_now,
        chain_slack_mm=slack,
        not_told=(*no_room, *no_stand, *no_slack),
    )


def seat_place(bike: Bike) -> Place | None:
    """Give where the rider sits; the height matters little for how far it comes down."""
    if bike.seat_ahead_of_rear_axle_mm is None:
        return None
    return bike.seat_ahead_of_rear_axle_mm, bike.seat_height_mm or USUAL_SEAT_MM


USUAL_SEAT_MM = 870.0
"""Only where the seat's height was not measured. Common practice, no source."""


def _measured_at(bike: Bike, now: EndNow) -> float:
    """Give the wheel travel in the state the geometry was measured in: topped out where that is not told.

    Unladen without unladen sag is taken for rider aboard.
    """
    if bike.measured_state in (None, "topped out"):
        return 0.0
    if bike.measured_state == "unladen" and now.unladen is not None:
        return now.unladen.value
    return 0.0 if now.rider is None else now.rider.value


def _unmeasured(bike: Bike) -> tuple[str, ...]:
    """Say which consequences are not told because nobody measured them."""
    lacks = []
    if bike.belly_height_mm is None:
        lacks.append("ground clearance (belly_height_mm)")
    lean = bike.lean
    crowns = lean is not None and None not in (lean.front_crown_radius_mm, lean.rear_crown_radius_mm)
    if lean is None or not lean.touch or not crowns:
        lacks.append("lean ([lean] with touch points and crown radii)")
    if bike.stands is None:
        lacks.append("stand lengths ([stands])")
    if bike.chain is None:
        lacks.append("chain run ([chain])")
    if bike.headlight is None:
        lacks.append("headlight ([headlight])")
    said = [f"Not told, because it was not measured: {', '.join(lacks)}."] if lacks else []
    midway = _taken_midway(bike)
    if midway:
        said.append(f"Taken to lie midway between the axles, because not measured: {', '.join(midway)}.")
    return tuple(said)


def _taken_midway(bike: Bike) -> list[str]:
    """Name the places along the bike that were guessed."""
    stands = bike.stands or Stands()
    places = (
        ("belly", bike.belly_height_mm, bike.belly_ahead_of_rear_axle_mm),
        ("side_stand_pivot", stands.side_stand_length_mm, stands.side_stand_pivot_ahead_of_rear_axle_mm),
        (
            "centre_stand_pivot",
            stands.centre_stand_length_mm,
            stands.centre_stand_pivot_ahead_of_rear_axle_mm,
        ),
    )
    guessed = [name for name, known, place in places if known is not None and place is None]
    return [f"{name}_ahead_of_rear_axle_mm" for name in guessed]
