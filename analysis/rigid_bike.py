"""The bike as a rigid frame on two wheels, in the plane: exact for any size of change.

The picture: x forward, y up, level ground at y = 0, rigid wheels standing on it, steering straight ahead.
A bike is measured once, in a stated state; places on its frame (seat, belly, stand pivot, peg) are written
as they were then: mm ahead of the rear axle and mm above the ground. `stand` moves the axles in the frame and
puts both wheels back on the ground.

The rake is the tilt of the steering axis from the vertical, positive with its upper end to the rear; the fork
offset is the distance of the front axle ahead of that axis, square to it. Trail and normal trail are after
V. Cossalter, Motorcycle Dynamics, 2nd ed. (2006), chapter 1, from memory, not checked against the text; the
rest is plain plane geometry.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ingest.errors import UsageError

Place = tuple[float, float]
"""A place in mm: ahead of the rear axle, above the ground."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneBike:
    """One bike in the state it was measured in, both wheels on the ground.

    ``front_travel_mm`` and ``rear_travel_mm`` are the wheel travels in that state: along the fork axis for a
    telescopic fork, vertical in the frame for everything else. The rear axle moves straight up in the frame,
    or on its arc about ``swingarm_pivot_mm`` where that place was measured.
    """

    rake_deg: float
    fork_offset_mm: float
    wheelbase_mm: float
    front_wheel_radius_mm: float
    rear_wheel_radius_mm: float
    front_travel_mm: float = 0.0
    rear_travel_mm: float = 0.0
    telescopic: bool = True
    swingarm_pivot_mm: Place | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How the bike stands.

    ``pitch_deg`` is the turn of the frame against the state it was measured in, nose down positive
    (ISO 8855). The axles are given in the frame, as the frame stood when it was measured.
    """

    rake_deg: float
    trail_mm: float
    normal_trail_mm: float
    wheelbase_mm: float
    pitch_deg: float
    rear_axle_in_frame_mm: Place
    front_axle_in_frame_mm: Place
    rear_wheel_radius_mm: float

    def place_mm(self, x_ahead_of_rear_axle_mm: float, y_mm: float) -> Place:
        """Give where a place on the frame is now: mm ahead of the rear axle, mm above the ground."""
        nose_up = -math.radians(self.pitch_deg)
        ahead = x_ahead_of_rear_axle_mm - self.rear_axle_in_frame_mm[0]
        above = y_mm - self.rear_axle_in_frame_mm[1]
        return (
            math.cos(nose_up) * ahead - math.sin(nose_up) * above,
            self.rear_wheel_radius_mm + math.sin(nose_up) * ahead + math.cos(nose_up) * above,
        )

    def height_mm(self, x_ahead_of_rear_axle_mm: float, y_mm: float) -> float:
        """Give the height above the ground of a place on the frame, mm."""
        return self.place_mm(x_ahead_of_rear_axle_mm, y_mm)[1]


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


def stand(
    bike: PlaneBike,
    front_travel_mm: float,
    rear_travel_mm: float,
    *,
    fork_raised_mm: float = 0.0,
    rear_axle_up_mm: float = 0.0,
    front_axle_up_mm: float = 0.0,
    front_radius_change_mm: float = 0.0,
    rear_radius_change_mm: float = 0.0,
) -> Standing:
    """Put the bike on its wheels with these wheel travels and these changes to it.

    Parameters
    ----------
    bike : PlaneBike
    front_travel_mm, rear_travel_mm : float
        Wheel travel now, in the same sense as in ``bike``.
    fork_raised_mm : float
        The front axle moves up the fork by this much, along the steering axis: tubes raised in the clamps, or
        the fork made shorter.
    rear_axle_up_mm : float
        The rear axle moves up in the frame by this much at the same travel: linkage plates, shorter shock.
    front_axle_up_mm : float
        The front axle moves up in the frame by this much, square to the ground the bike was measured on: the
        shorter strut of an A-arm front. The steering axis keeps its direction in the frame.
    front_radius_change_mm, rear_radius_change_mm : float
        Another tyre: change of the radius from axle to ground.

    Raises
    ------
    UsageError
        No such bike can stand on the ground.

    Examples
    --------
    >>> tall = PlaneBike(rake_deg=26.0, fork_offset_mm=45.0, wheelbase_mm=1560.0,
    ...                  front_wheel_radius_mm=345.0, rear_wheel_radius_mm=325.0)
    >>> lower = stand(tall, 0.0, 0.0, rear_axle_up_mm=40.0)
    >>> round(lower.rake_deg, 2), round(lower.trail_mm, 1), round(lower.height_mm(550.0, 880.0), 1)
    (27.47, 128.6, 853.9)
    """
    front_axle = _front_axle(bike, front_travel_mm - bike.front_travel_mm, fork_raised_mm, front_axle_up_mm)
    rear_axle = _rear_axle(bike, rear_travel_mm - bike.rear_travel_mm + rear_axle_up_mm)
    front_radius = bike.front_wheel_radius_mm + front_radius_change_mm
    rear_radius = bike.rear_wheel_radius_mm + rear_radius_change_mm
    ahead, above = front_axle[0] - rear_axle[0], front_axle[1] - rear_axle[1]
    apart = math.hypot(ahead, above)
    stands = math.isfinite(apart) and ahead > abs(front_radius - rear_radius)
    if not stands or abs(above - (front_radius - rear_radius)) >= ahead:  # turned by more than about 45°
        raise UsageError(
            f"geometry: travel {front_travel_mm:g} front, {rear_travel_mm:g} rear, fork {fork_raised_mm:g}, "
            f"front axle {front_axle_up_mm:g}, rear axle {rear_axle_up_mm:g} mm leave no bike that stands on "
            "two wheels; give each in mm, some tens at the most"
        )
    # On the ground the line from axle to axle climbs by the difference of the radii: the frame turns to that.
    climb = math.asin((front_radius - rear_radius) / apart)
    nose_up = climb - math.atan2(above, ahead)
    rake = bike.rake_deg + math.degrees(nose_up)
    return Standing(
        rake_deg=rake,
        trail_mm=trail_mm(rake, bike.fork_offset_mm, front_radius),
        normal_trail_mm=normal_trail_mm(rake, bike.fork_offset_mm, front_radius),
        wheelbase_mm=apart * math.cos(climb),
        # Adding zero keeps a bike that did not turn from printing −0.
        pitch_deg=-math.degrees(nose_up) + 0.0,
        rear_axle_in_frame_mm=rear_axle,
        front_axle_in_frame_mm=front_axle,
        rear_wheel_radius_mm=rear_radius,
    )


def matching_front_mm(bike: PlaneBike, now: Standing, rear_axle_up_mm: float) -> float:
    """Give the front drop that leaves rake and trail as they are when the rear axle moves up in the frame.

    Along the fork axis for a telescopic fork: the vertical drop over cos(rake). Vertical in the frame for an
    A-arm.

    >>> tall = PlaneBike(rake_deg=26.0, fork_offset_mm=45.0, wheelbase_mm=1560.0,
    ...                  front_wheel_radius_mm=345.0, rear_wheel_radius_mm=325.0)
    >>> round(matching_front_mm(tall, stand(tall, 0.0, 0.0), 40.0), 2)
    44.5
    """
    nose_up = -math.radians(now.pitch_deg)
    was = now.rear_axle_in_frame_mm
    moved = _rear_axle(bike, was[1] - bike.rear_wheel_radius_mm + rear_axle_up_mm)
    vertical = math.sin(nose_up) * (moved[0] - was[0]) + math.cos(nose_up) * (moved[1] - was[1])
    return vertical / math.cos(math.radians(now.rake_deg) if bike.telescopic else nose_up)


def _front_axle(bike: PlaneBike, travel_mm: float, fork_raised_mm: float, front_axle_up_mm: float) -> Place:
    along = fork_raised_mm + (travel_mm if bike.telescopic else 0.0)
    up = front_axle_up_mm + (0.0 if bike.telescopic else travel_mm)
    rake = math.radians(bike.rake_deg)
    return (
        bike.wheelbase_mm - along * math.sin(rake),
        bike.front_wheel_radius_mm + along * math.cos(rake) + up,
    )


def _rear_axle(bike: PlaneBike, up_mm: float) -> Place:
    """Move the rear axle up in the frame: straight, or on the arc of its swingarm."""
    height = bike.rear_wheel_radius_mm + up_mm
    if bike.swingarm_pivot_mm is None:
        return (0.0, height)
    pivot_x, pivot_y = bike.swingarm_pivot_mm
    length = math.hypot(pivot_x, pivot_y - bike.rear_wheel_radius_mm)
    if not abs(height - pivot_y) < length:
        raise UsageError(
            f"geometry: a swingarm of {length:.0f} mm cannot take its axle {height - pivot_y:g} mm above its "
            "pivot; check swingarm pivot and travel"
        )
    return (pivot_x - math.sqrt(length**2 - (height - pivot_y) ** 2), height)
