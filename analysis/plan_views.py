"""The bike of a plan from the side, rider aboard: as it is, and as one option leaves it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from analysis.how_much import SagNow, vertical_share
from analysis.means import EndNow
from analysis.plan_ground import ground_of
from analysis.plan_results import EndPlan, Option
from analysis.rigid_bike import Place, PlaneBike, stand
from analysis.side_geometry import SideView, side_geometry
from ingest.errors import CannotAnswer
from ingest.records import Bike, End

NO_GEOMETRY = "a side view needs rake, fork offset, wheelbase and both wheel radii in the bike file"
TUBES = "fork tubes raised"


def plan_views(bike: Bike, sags: Mapping[End, SagNow], option: Option) -> tuple[SideView, SideView]:
    """Lay out one option of a plan.

    Parameters
    ----------
    bike : Bike
        The bike of the plan, under its setup.
    sags : mapping
        What the plan was asked with.
    option : Option

    Raises
    ------
    CannotAnswer
        The bike file lacks its geometry, rider sag is not known, or the option has no amount.
    """
    ends = {end: _end(bike, end, sags.get(end, SagNow())) for end in End}
    plane = ground_of(bike, ends).plane
    if plane is None:
        raise CannotAnswer(f"bike {bike.name!r}: {NO_GEOMETRY}")
    now = {}
    up = {}
    for end, told in ((End.FRONT, option.front), (End.REAR, option.rear)):
        rider = ends[end].rider
        if rider is None or told.axle_up_mm is None:
            raise CannotAnswer(f"{end}: a side view needs rider sag and an option that moves by some amount")
        now[end], up[end] = rider.value, told.axle_up_mm
    front, rear = End.FRONT, End.REAR
    before = stand(plane, now[front], now[rear])
    after = stand(
        plane,
        now[front] + up[front],
        now[rear] + up[rear],
        front_radius_change_mm=_smaller_tyre_mm(option.front, ends[front].vertical),
        rear_radius_change_mm=_smaller_tyre_mm(option.rear, ends[rear].vertical),
    )
    belly = _belly(bike)
    seat = _seat(bike, plane, ends)
    was = side_geometry(plane, before, seat_mm=seat, belly_mm=belly)
    raised = option.front.amount_mm if TUBES in option.front.means else None
    then = side_geometry(plane, after, seat_mm=seat, belly_mm=belly, tubes_up_mm=raised or 0.0)
    if was.seat_mm is None or then.seat_mm is None or option.seat_drop_mm is None:
        return was, then
    # What was taken off the seat itself is in no axle: the plan's own drop counts.
    return was, replace(then, seat_mm=(then.seat_mm[0], was.seat_mm[1] - option.seat_drop_mm.value))


def view_now(bike: Bike, sags: Mapping[End, SagNow]) -> tuple[SideView, str]:
    """Lay out the bike as it is, and say in which state: rider aboard, else as its geometry was measured.

    Raises
    ------
    CannotAnswer
        The bike file lacks its geometry.
    """
    ends = {end: _end(bike, end, sags.get(end, SagNow())) for end in End}
    plane = ground_of(bike, ends).plane
    if plane is None:
        raise CannotAnswer(f"bike {bike.name!r}: {NO_GEOMETRY}")
    riders = [ends[end].rider for end in End]
    if riders[0] is not None and riders[1] is not None:
        state, standing = "rider aboard", stand(plane, riders[0].value, riders[1].value)
    else:
        state = bike.measured_state or "as measured"
        standing = stand(plane, plane.front_travel_mm, plane.rear_travel_mm)
    seat = _seat(bike, plane, ends)
    return side_geometry(plane, standing, seat_mm=seat, belly_mm=_belly(bike)), state


def _end(bike: Bike, end: End, sag: SagNow) -> EndNow:
    suspension = bike.suspension(end)
    return EndNow(
        end=end,
        suspension=suspension,
        vertical=vertical_share(bike, end).value,
        rider=sag.rider,
        unladen=sag.unladen,
        target_mm=sag.target_mm,
    )


def _smaller_tyre_mm(told: EndPlan, vertical: float) -> float:
    """Give the change of a wheel's radius: the part of the drop that the axle does not make."""
    if told.drop_mm is None or told.axle_up_mm is None:
        return 0.0
    return vertical * told.axle_up_mm - told.drop_mm


def _belly(bike: Bike) -> Place | None:
    if bike.belly_height_mm is None or bike.wheelbase_mm is None:
        return None
    ahead = bike.belly_ahead_of_rear_axle_mm
    return (bike.wheelbase_mm / 2 if ahead is None else ahead, bike.belly_height_mm)


def _seat(bike: Bike, plane: PlaneBike, ends: Mapping[End, EndNow]) -> Place | None:
    """Give the seat in the state the geometry was measured in, its height brought over from its own.

    ``None`` where the sag of its own state is not known: how high it is now cannot be told.
    """
    ahead, height = bike.seat_ahead_of_rear_axle_mm, bike.seat_height_mm
    if ahead is None or height is None:
        return None
    travels = [_travel_in(bike.seat_height_state, ends[end]) for end in End]
    if bike.seat_height_state is None or bike.seat_height_state == bike.measured_state:
        return ahead, height
    if travels[0] is None or travels[1] is None:
        return None
    then = stand(plane, travels[0], travels[1])
    tilt = math.cos(math.radians(then.pitch_deg))
    return ahead, height + (height - then.height_mm(ahead, height)) / tilt


def _travel_in(state: str | None, now: EndNow) -> float | None:
    """Give the wheel travel in a state; ``None`` where that is not known."""
    if state == "topped out":
        return 0.0
    sag = now.unladen if state == "unladen" else now.rider if state == "rider aboard" else None
    return None if sag is None else sag.value
