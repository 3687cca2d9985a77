"""Clearances, stands, chain and headlight of a bike with parts fitted; what was not measured is ``None``."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

import numpy as np

from analysis.chain_run import ChainLayout, chain_run
from analysis.cornering import (
    LEAN_STEP_DEG,
    STEEPEST_DEG,
    TouchPoint,
    TravelUnderLoad,
    WorkDone,
    lean_at_contact,
)
from analysis.headlight import beam_change
from analysis.means import EndNow, Fitted
from analysis.plan_ends import as_now, foretold_unladen_mm, under_load
from analysis.plan_results import Clearance, Option, StandPlan
from analysis.rigid_bike import Place, PlaneBike, Standing, stand
from analysis.stand_length import SideStand, centre_stand_shorter_mm, side_stand_angle_deg, side_stand_fit
from ingest.chassis import Chain, Stands
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Bike, End

TIMES = np.linspace(1.0, 1.0 / math.cos(math.radians(STEEPEST_DEG + 2 * LEAN_STEP_DEG)), 30)
"""Loads, in times that at rider sag, up to those of the steepest lean that is looked for."""

SIDE_STAND = (
    "side_stand_length_mm",
    "side_stand_pivot_height_mm",
    "side_stand_pivot_offset_mm",
    "side_stand_lean_deg",
)

Ends = Mapping[End, EndNow]
Fitting = Mapping[End, Fitted]


def standing(
    plane: PlaneBike, ends: Ends, fitting: Fitting, travel: Mapping[End, float] | None = None
) -> Standing:
    """Stand the bike up with parts fitted, at rider sag or at another travel; unknown sag stays as it was."""
    base = {End.FRONT: plane.front_travel_mm, End.REAR: plane.rear_travel_mm}
    at = travel or {
        end: base[end] if ends[end].rider is None or one.sag_mm is None else one.sag_mm
        for end, one in fitting.items()
    }
    front, rear = fitting[End.FRONT], fitting[End.REAR]
    return stand(
        plane,
        at[End.FRONT],
        at[End.REAR],
        fork_raised_mm=front.topped_up_mm if plane.telescopic else 0.0,
        front_axle_up_mm=0.0 if plane.telescopic else front.topped_up_mm,
        rear_axle_up_mm=rear.topped_up_mm,
        front_radius_change_mm=front.radius_mm,
        rear_radius_change_mm=rear.radius_mm,
    )


def clearance(
    bike: Bike, plane: PlaneBike, ends: Ends, fitting: Fitting, option: Option
) -> tuple[Clearance, tuple[str, ...]]:
    """Give belly, lean and full-bump room, now and with parts fitted, and what is not told and why."""
    before = {end: as_now(now) for end, now in ends.items()}
    belly = _belly_place(bike)
    lean_now, lean_then = (_lean(bike, plane, ends, state) for state in (before, fitting))
    told = Clearance(
        belly_now_mm=_height(standing(plane, ends, before), belly),
        belly_mm=_height(standing(plane, ends, fitting), belly),
        belly_at_full_bump_now_mm=_at_full_bump(plane, ends, before, belly),
        belly_at_full_bump_mm=_at_full_bump(plane, ends, fitting, belly),
        lean_now_deg=lean_now[0],
        lean_deg=lean_then[0],
        lean_by=lean_then[1],
        front_full_bump_room_mm=option.front.full_bump_room_mm,
        rear_full_bump_room_mm=option.rear.full_bump_room_mm,
    )
    return told, lean_now[2] or lean_then[2]


def _belly_place(bike: Bike) -> Place | None:
    """Give where the belly is: midway between the axles unless measured."""
    if bike.belly_height_mm is None or bike.wheelbase_mm is None:
        return None
    ahead = bike.belly_ahead_of_rear_axle_mm
    return (bike.wheelbase_mm / 2 if ahead is None else ahead), bike.belly_height_mm


def _height(how: Standing, place: Place | None) -> float | None:
    return None if place is None else how.height_mm(*place)


def _at_full_bump(plane: PlaneBike, ends: Ends, fitting: Fitting, place: Place | None) -> float | None:
    travel = {end: one.suspension.travel_mm for end, one in fitting.items() if one.suspension is not None}
    if place is None or len(travel) < len(fitting):
        return None
    return standing(plane, ends, fitting, travel).height_mm(*place)


def _lean(
    bike: Bike, plane: PlaneBike, ends: Ends, fitting: Fitting
) -> tuple[float | None, str | None, tuple[str, ...]]:
    """Give the smallest lean at which something touches, what touches, and why it is not given.

    A touch point that cannot be worked out may be the first to touch: then no lean is given.
    """
    lean = bike.lean
    if lean is None or not lean.touch:
        return None, None, ()
    if lean.front_crown_radius_mm is None or lean.rear_crown_radius_mm is None:
        return None, None, ()
    if any(one.sag_mm is None or one.suspension is None for one in fitting.values()):
        return None, None, ("lean to the first contact: rider sag is not known; measure it",)
    moved = WorkDone(
        fork_raised_mm=fitting[End.FRONT].topped_up_mm if plane.telescopic else 0.0,
        front_axle_up_mm=0.0 if plane.telescopic else fitting[End.FRONT].topped_up_mm,
        rear_axle_up_mm=fitting[End.REAR].topped_up_mm,
        front_radius_change_mm=fitting[End.FRONT].radius_mm,
        rear_radius_change_mm=fitting[End.REAR].radius_mm,
    )
    travel = {end: _loaded(now, fitting[end]) for end, now in ends.items()}
    found, failed = [], []
    for touch in lean.touch:
        try:
            at = lean_at_contact(
                plane,
                TouchPoint(
                    name=touch.name,
                    x_ahead_of_rear_axle_mm=touch.ahead_of_rear_axle_mm,
                    y_mm=touch.height_mm,
                    half_width_mm=touch.out_mm,
                ),
                front_crown_mm=lean.front_crown_radius_mm,
                rear_crown_mm=lean.rear_crown_radius_mm,
                front_travel=travel[End.FRONT],
                rear_travel=travel[End.REAR],
                moved=moved,
            )
        except (CannotAnswer, UsageError) as problem:
            failed.append(f"lean to the first contact: {problem}")
            continue
        if at.lean_deg is not None:
            found.append((at.lean_deg, at.name))
    if failed:
        return None, None, tuple(failed)
    if not found:
        return None, None, (f"lean to the first contact: nothing measured touches up to {STEEPEST_DEG:g}°",)
    return *min(found), ()


@lru_cache(maxsize=64)  # the bike as it is comes with every option, and many share what is done to one end
def _loaded(now: EndNow, fitted: Fitted) -> TravelUnderLoad:
    """Lay out the travel under the loads that leaning brings: a lean asks for it a hundred times."""
    travel = np.array([under_load(now, fitted, float(times)) or 0.0 for times in TIMES])
    return lambda times: float(np.interp(times, TIMES, travel))


def stands(bike: Bike, plane: PlaneBike, ends: Ends, fitting: Fitting) -> tuple[StandPlan, tuple[str, ...]]:
    """Fit both stands to the parked bike, nobody aboard, and say what is not told and why."""
    known = bike.stands
    if known is None:
        return StandPlan(), ()
    kept = StandPlan(
        side_stand_now_mm=known.side_stand_length_mm, centre_stand_now_mm=known.centre_stand_length_mm
    )
    before = {end: as_now(now) for end, now in ends.items()}
    parked_now, parked_then = _parked(ends, before), _parked(ends, fitting)
    if parked_now is None or parked_then is None:
        lacks = [str(end) for end, now in ends.items() if now.unladen is None] or [str(end) for end in End]
        return kept, (
            "stands: they are fitted to the parked bike, nobody aboard, and its unladen sag "
            f"({' and '.join(lacks)}) is not known; measure it",
        )
    now, then = standing(plane, ends, before, parked_now), standing(plane, ends, fitting, parked_then)
    if known.centre_stand_length_mm is not None:
        drop = _drop(
            now,
            then,
            plane,
            known.centre_stand_pivot_ahead_of_rear_axle_mm,
            known.centre_stand_pivot_height_mm,
        )
        kept = replace(kept, centre_stand_mm=known.centre_stand_length_mm - centre_stand_shorter_mm(drop))
    return _with_side_stand(kept, bike, known, plane, now, then)


def _with_side_stand(
    kept: StandPlan, bike: Bike, stands: Stands, plane: PlaneBike, now: Standing, then: Standing
) -> tuple[StandPlan, tuple[str, ...]]:
    height, out = stands.side_stand_pivot_height_mm, stands.side_stand_pivot_offset_mm
    length, lean = stands.side_stand_length_mm, stands.side_stand_lean_deg
    if height is None or out is None or length is None or lean is None:
        lacks = [name for name in SIDE_STAND if getattr(stands, name) is None]
        return kept, (f"side stand: measure {', '.join(lacks)} too",)
    ahead = stands.side_stand_pivot_ahead_of_rear_axle_mm
    drop = _drop(now, then, plane, ahead, height)
    parked = _at(now, plane, ahead, height)
    crown = 0.0 if bike.lean is None else bike.lean.rear_crown_radius_mm or 0.0
    try:
        angle = side_stand_angle_deg(parked, out, length, lean, crown_mm=crown)
        leg = SideStand(pivot_height_mm=parked, pivot_out_mm=out, angle_deg=angle, crown_mm=crown)
        fit = side_stand_fit(leg, lean, drop)
    except (CannotAnswer, UsageError) as problem:
        text = str(problem)
        return kept, (text if text.startswith("side stand") else f"side stand: {text}",)
    return (
        replace(
            kept,
            side_stand_mm=fit.length_after_mm,
            side_stand_lean_now_deg=lean,
            side_stand_lean_uncut_deg=fit.lean_unshortened_deg,
            side_stand_tips=fit.too_upright and fit.lean_unshortened_deg < lean,
        ),
        (),
    )


def _parked(ends: Ends, fitting: Fitting) -> Mapping[End, float] | None:
    """Give the travels with nobody aboard; ``None`` where unladen sag is not known."""
    found = {end: foretold_unladen_mm(now, fitting[end]) for end, now in ends.items()}
    known = {end: unladen for end, unladen in found.items() if unladen is not None}
    return known if len(known) == len(found) else None


def _at(how: Standing, plane: PlaneBike, ahead: float | None, height: float) -> float:
    return how.height_mm(plane.wheelbase_mm / 2 if ahead is None else ahead, height)


def _drop(
    now: Standing, then: Standing, plane: PlaneBike, ahead: float | None, height: float | None
) -> float:
    """Give how far a place comes down; a height that was not measured matters little to it."""
    place = plane.rear_wheel_radius_mm if height is None else height
    return _at(now, plane, ahead, place) - _at(then, plane, ahead, place)


def headlight_drop_mm(bike: Bike, now: Standing, then: Standing) -> float | None:
    """Give how much lower the beam meets the wall."""
    lamp = bike.headlight
    if lamp is None:
        return None
    return beam_change(
        now, then, (lamp.ahead_of_rear_axle_mm, lamp.height_mm), distance_mm=lamp.wall_distance_mm
    ).lower_mm


def chain_slack_mm(
    bike: Bike, plane: PlaneBike, ends: Ends, fitting: Fitting
) -> tuple[float | None, float | None, tuple[str, ...]]:
    """Give the slack to set on the parked bike, now and then, and why it is not told."""
    chain = bike.chain
    now, then = ends[End.REAR].suspension, fitting[End.REAR].suspension
    unladen = ends[End.REAR].unladen
    parked = foretold_unladen_mm(ends[End.REAR], fitting[End.REAR])
    if chain is None:
        return None, None, ()
    if now is None or then is None or unladen is None or parked is None:
        why = "chain slack: it is set on the parked bike, and its unladen sag (rear) is not known; measure it"
        return None, None, (why,)
    layout = ChainLayout(
        sprocket_mm=(chain.sprocket_ahead_of_rear_axle_mm, chain.sprocket_height_mm),
        swingarm_pivot_mm=swingarm_pivot(chain),
        axle_mm=(0.0, plane.rear_wheel_radius_mm),
        at_travel_mm=plane.rear_travel_mm,
        front_teeth=chain.front_teeth,
        rear_teeth=chain.rear_teeth,
        pitch_mm=chain.pitch_mm,
    )
    try:
        before = chain_run(layout, parked_travel_mm=unladen.value, full_travel_mm=now.travel_mm)
        after = chain_run(
            layout,
            parked_travel_mm=parked,
            full_travel_mm=then.travel_mm,
            rear_axle_up_mm=fitting[End.REAR].topped_up_mm,
        )
    except (CannotAnswer, UsageError) as problem:
        text = str(problem).removeprefix("chain: ")
        return None, None, (f"chain slack: {text}",)
    return before.slack_to_set_mm, after.slack_to_set_mm, ()


def swingarm_pivot(chain: Chain) -> Place:
    """Give where the swingarm turns."""
    return chain.pivot_ahead_of_rear_axle_mm, chain.pivot_height_mm
