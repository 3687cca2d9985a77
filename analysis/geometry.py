"""Steering geometry of a bike file: rake, trail, wheelbase, and what moving an axle does to them.

The arithmetic is `analysis.rigid_bike`'s; here a bike file is laid on it.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.rigid_bike import PlaneBike, stand
from ingest.bike_file import FORK
from ingest.errors import CannotAnswer
from ingest.records import Bike


@dataclass(frozen=True, slots=True, kw_only=True)
class SteeringGeometry:
    """How the bike stands, both wheels on the ground.

    ``pitch_deg`` is the turn of the frame against the bike as it was: positive nose down (ISO 8855).
    """

    rake_deg: float
    trail_mm: float
    normal_trail_mm: float
    wheelbase_mm: float
    pitch_deg: float


def geometry_of(bike: Bike) -> SteeringGeometry:
    """Give the geometry of the bike as its file has it; raise `CannotAnswer` naming what is missing."""
    return geometry_change(bike)


def geometry_change(
    bike: Bike,
    *,
    rear_axle_up_mm: float = 0.0,
    fork_axis_mm: float = 0.0,
    front_axle_up_mm: float = 0.0,
) -> SteeringGeometry:
    """Move the axles in the frame and stand the bike on both wheels again; exact, for any size of change.

    Parameters
    ----------
    bike : Bike
        With rake, fork offset, wheelbase and both wheel radii, all of one state of the bike.
    rear_axle_up_mm : float
        The rear axle moves up in the frame by this much, square to the ground as the bike stood.
    fork_axis_mm : float
        The front axle moves up the fork by this much, along the steering axis: tubes raised, fork shortened
        or compressed.
    front_axle_up_mm : float
        For an A-arm front: the front axle moves up in the frame, square to the ground as the bike stood; the
        steering axis keeps its direction in the frame.

    Raises
    ------
    CannotAnswer
        When the bike file lacks one of the five measures.
    UsageError
        When no such bike can stand on the ground.
    """
    found = stand(
        plane_bike(bike),
        0.0,
        0.0,
        fork_raised_mm=fork_axis_mm,
        rear_axle_up_mm=rear_axle_up_mm,
        front_axle_up_mm=front_axle_up_mm,
    )
    return SteeringGeometry(
        rake_deg=found.rake_deg,
        trail_mm=found.trail_mm,
        normal_trail_mm=found.normal_trail_mm,
        wheelbase_mm=found.wheelbase_mm,
        pitch_deg=found.pitch_deg,
    )


def plane_bike(bike: Bike) -> PlaneBike:
    """Give the five measures of a bike file as a plane bike, its travels counted from the state it is in.

    Raises
    ------
    CannotAnswer
        One of the five is missing; the message names it.
    """
    rake, offset, wheelbase = bike.rake_deg, bike.fork_offset_mm, bike.wheelbase_mm
    front, rear = bike.front_wheel_radius_mm, bike.rear_wheel_radius_mm
    if rake is None or offset is None or wheelbase is None or front is None or rear is None:
        named = {
            "rake_deg": rake,
            "fork_offset_mm": offset,
            "wheelbase_mm": wheelbase,
            "front_wheel_radius_mm": front,
            "rear_wheel_radius_mm": rear,
        }
        missing = ", ".join(name for name, value in named.items() if value is None)
        raise CannotAnswer(f"bike {bike.name!r}: the geometry needs {missing}; add it to the bike file")
    return PlaneBike(
        rake_deg=rake,
        fork_offset_mm=offset,
        wheelbase_mm=wheelbase,
        front_wheel_radius_mm=front,
        rear_wheel_radius_mm=rear,
        telescopic=bike.front is None or bike.front.kind == FORK,
    )
