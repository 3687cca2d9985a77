"""Steering geometry in the plane: rake, trail, wheelbase, and what moving an axle does to them.

The picture: x forward, y up, level ground at y = 0, rigid wheels standing on it, steering straight ahead.
The rake is the tilt of the steering axis from the vertical, positive with its upper end to the rear; the
fork offset is the distance of the front axle ahead of that axis, square to it. Trail and normal trail are
after V. Cossalter, Motorcycle Dynamics, 2nd ed. (2006), chapter 1, from memory, not checked against the
text; the exact change of attitude is plain plane geometry.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ingest.errors import CannotAnswer, UsageError
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


def normal_trail_mm(rake_deg: float, fork_offset_mm: float, front_wheel_radius_mm: float) -> float:
    """Distance of the front contact point behind the steering axis, square to the axis, mm.

    >>> round(normal_trail_mm(26.0, 45.0, 345.0), 2)
    106.24
    """
    return front_wheel_radius_mm * math.sin(math.radians(rake_deg)) - fork_offset_mm


def trail_mm(rake_deg: float, fork_offset_mm: float, front_wheel_radius_mm: float) -> float:
    """Distance on the ground from where the steering axis meets it back to the contact point, mm.

    >>> round(trail_mm(26.0, 45.0, 345.0), 2)
    118.2
    """
    return normal_trail_mm(rake_deg, fork_offset_mm, front_wheel_radius_mm) / math.cos(math.radians(rake_deg))


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
    rake_deg, offset, wheelbase, front_radius, rear_radius = _measures(bike)
    rake = math.radians(rake_deg)
    ahead = wheelbase - fork_axis_mm * math.sin(rake)
    above = (front_radius + fork_axis_mm * math.cos(rake) + front_axle_up_mm) - (
        rear_radius + rear_axle_up_mm
    )
    apart = math.hypot(ahead, above)
    stands = math.isfinite(apart) and ahead > abs(front_radius - rear_radius)
    if not stands or abs(above - (front_radius - rear_radius)) >= ahead:  # turned by more than about 45°
        raise UsageError(
            f"geometry: fork {fork_axis_mm:g}, front axle {front_axle_up_mm:g}, rear axle {rear_axle_up_mm:g}"
            " mm leave no bike that stands on two wheels; give each in mm, some tens at the most"
        )
    # On the ground the line from axle to axle climbs by the difference of the radii: the frame turns to that.
    climb = math.asin((front_radius - rear_radius) / apart)
    nose_up = climb - math.atan2(above, ahead)
    new_rake = rake_deg + math.degrees(nose_up)
    return SteeringGeometry(
        rake_deg=new_rake,
        trail_mm=trail_mm(new_rake, offset, front_radius),
        normal_trail_mm=normal_trail_mm(new_rake, offset, front_radius),
        wheelbase_mm=apart * math.cos(climb),
        # Adding zero keeps a bike that did not turn from printing −0.
        pitch_deg=-math.degrees(nose_up) + 0.0,
    )


def _measures(bike: Bike) -> tuple[float, float, float, float, float]:
    """Give rake, offset, wheelbase, front and rear radius, or say which of them is missing."""
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
    return rake, offset, wheelbase, front, rear
