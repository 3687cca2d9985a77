"""What a job of the book says for a lowering plan: its newest sag check, its rider, and a ride."""

from __future__ import annotations

from dataclasses import fields, replace

from analysis.effective import effective_bike
from analysis.how_much import SagNow, Wanted, vertical_share
from analysis.plan import PlanRequest
from analysis.plan_ground import GEOMETRY
from analysis.results import EndSag, Quantity, SagCheck
from analysis.ride_results import RideSummary
from analysis.seat_drop import seat_share
from analysis.wanted import from_boards, from_inseam, from_stack
from ingest.errors import CannotAnswer
from ingest.log import Log
from ingest.records import Bike, End, Job, Suspension

PLACES = (
    *GEOMETRY,
    "measured_state",
    "seat_ahead_of_rear_axle_mm",
    "seat_height_mm",
    "seat_height_state",
    "belly_height_mm",
    "belly_ahead_of_rear_axle_mm",
    "stands",
    "lean",
    "chain",
    "headlight",
)
ROOM = ("full_bump_room_mm", "clamp_parallel_mm", "springs_available_n_mm", "plates", "linkage")
SEAT_HALF_MM = 8.0
"""A seat height by tape, within ± this (judgement)."""
TAPE_MM = 4.0
"""How well a tape reads sag, ±. Common practice, no source."""


def request_for(
    job: Job, log: Log | None, check: SagCheck | None, ride: RideSummary | None, software: str
) -> PlanRequest:
    """Put a request together from a job, its newest sag check with the log it is from, and a ride.

    Without a sag check the plan will say what to measure.
    """
    bike = job.bike if log is None else effective_bike(measured_since(log.bike, job.bike), log.setup)
    sags = {end: _of(job, end, check) for end in End}
    return PlanRequest(bike=bike, wanted=wanted_of(job, bike, sags), sags=sags, ride=ride, software=software)


def measured_since(then: Bike, now: Bike) -> Bike:
    """Give the bike of a log with what its file says by now of places and room, and of what was missing.

    What the suspension was when the log was recorded stays: travel, springs, preload, leverage.
    """
    if then.identity != now.identity:
        return then
    ends = {end: _end_since(then.suspension(end), now.suspension(end)) for end in End}
    newer = {key: value for key in PLACES if (value := getattr(now, key)) is not None}
    return replace(then, front=ends[End.FRONT], rear=ends[End.REAR], **newer)


def _end_since(then: Suspension | None, now: Suspension | None) -> Suspension | None:
    if then is None or now is None or then.kind != now.kind:
        return then
    missing = {one.name: getattr(now, one.name) for one in fields(then) if getattr(then, one.name) is None}
    newer = {key: value for key in ROOM if (value := getattr(now, key))}
    return replace(then, **missing, **{key: value for key, value in newer.items() if key not in missing})


def wanted_of(job: Job, bike: Bike, sags: dict[End, SagNow]) -> Wanted | None:
    """Take the lowering the job says, else that from the rider's inseam where seat and sag are known."""
    if job.boards is not None and job.board_mm is not None:
        return from_boards(job.boards, job.board_mm)
    if job.wanted_lowering_mm is not None:
        return from_stack(job.wanted_lowering_mm)
    if job.rider.inseam_mm is None:
        return None
    try:
        return from_inseam(seat_aboard_mm(bike, sags), job.rider.inseam_mm)
    except CannotAnswer:
        return None


def seat_aboard_mm(bike: Bike, sags: dict[End, SagNow]) -> Quantity:
    """Give the height of the seat with the rider aboard, from where it was measured.

    Raises
    ------
    CannotAnswer
        The seat's height, or the sag between the two states, is not known.
    """
    if bike.seat_height_mm is None or bike.seat_height_state is None:
        raise CannotAnswer(
            "the seat's height is not known: measure from the ground to where the rider sits, and write "
            'seat_height_mm and seat_height_state = "unladen", "topped out" or "rider aboard" under [bike]'
        )
    sinks = 0.0
    if bike.seat_height_state != "rider aboard":
        share = seat_share(bike).value
        sinks = share * _between(bike, End.FRONT, sags) + (1 - share) * _between(bike, End.REAR, sags)
    return Quantity(
        value=bike.seat_height_mm - sinks, expanded_uncertainty=SEAT_HALF_MM, coverage_factor=1.96
    )


def _between(bike: Bike, end: End, sags: dict[End, SagNow]) -> float:
    """Give how far this end sinks, vertically, from the state of the seat's height to the rider aboard."""
    now = sags.get(end, SagNow())
    start = (
        0.0 if bike.seat_height_state == "topped out" else None if now.unladen is None else now.unladen.value
    )
    if now.rider is None or start is None:
        raise CannotAnswer(
            f"the seat was measured {bike.seat_height_state}, and {end} sag from there to the rider aboard "
            "is not known: measure sag, or the seat with the rider aboard"
        )
    return vertical_share(bike, end).value * (now.rider.value - start)


def _of(job: Job, end: End, check: SagCheck | None) -> SagNow:
    found: EndSag | None = None if check is None else check.front if end is End.FRONT else check.rear
    boards = job.front_sag_at_boards_mm if end is End.FRONT else job.rear_sag_at_boards_mm
    return SagNow(
        unladen=None if found is None else found.unladen_sag_mm,
        rider=None if found is None else found.rider_sag_mm,
        at_boards=None
        if boards is None
        else Quantity(value=boards, expanded_uncertainty=TAPE_MM, coverage_factor=1.96),
    )
