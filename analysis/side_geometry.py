"""The bike seen from the left, in mm on the ground: what a drawing to scale is made of, from geometry only.

Every place is (ahead of the rear axle, above the ground) as the bike stands now. How long a fork is and where
its clamps sit is in no bike file: both are drawn at usual shares of the wheel's radius, and say nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.rigid_bike import Place, PlaneBike, Standing

LOWER_CLAMP, UPPER_CLAMP, TUBE_ABOVE = 1.30, 1.85, 0.06
"""Along the fork from the axle as measured, in radii of the front wheel: for the drawing only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideView:
    """One state of the bike, rider aboard or not as the caller chose.

    The fork's leg runs from ``front_axle_mm`` to ``tube_top_mm`` through both ``clamps_mm``, the steering
    axis from ``axis_top_mm`` to ``axis_foot_mm`` on the ground. ``None`` is what was not measured.
    """

    rear_radius_mm: float
    front_radius_mm: float
    front_axle_mm: Place
    axis_top_mm: Place
    axis_foot_mm: Place
    tube_top_mm: Place
    clamps_mm: tuple[Place, Place]
    pivot_mm: Place | None
    seat_mm: Place | None
    belly_mm: Place | None
    rake_deg: float
    trail_mm: float

    @property
    def wheelbase_mm(self) -> float:
        """From axle to axle, along the ground."""
        return self.front_axle_mm[0]

    @property
    def rear_axle_mm(self) -> Place:
        """The rear axle, over the zero of all places."""
        return (0.0, self.rear_radius_mm)


def side_geometry(
    bike: PlaneBike,
    now: Standing,
    *,
    seat_mm: Place | None = None,
    belly_mm: Place | None = None,
    pivot_mm: Place | None = None,
    tubes_up_mm: float = 0.0,
) -> SideView:
    """Lay out a standing bike.

    Parameters
    ----------
    bike : PlaneBike
    now : Standing
        What `stand` gave for it.
    seat_mm, belly_mm, pivot_mm : tuple of float, optional
        Places on the frame as measured: seat, lowest part under the bike, swingarm pivot (else the one of
        ``bike``).
    tubes_up_mm : float
        How far the tubes were raised in the clamps.
    """
    rake = math.radians(bike.rake_deg)
    along = (-math.sin(rake), math.cos(rake))
    radius = bike.front_wheel_radius_mm
    axle = (bike.wheelbase_mm, radius)

    def up_the_fork(mm: float, back: float = 0.0) -> Place:
        """Give where a place of the measured frame is now: up along the axis, and back square to it."""
        return now.place_mm(
            axle[0] + mm * along[0] - back * along[1], axle[1] + mm * along[1] + back * along[0]
        )

    pivot = pivot_mm or bike.swingarm_pivot_mm
    front_axle = now.place_mm(*now.front_axle_in_frame_mm)
    return SideView(
        rear_radius_mm=now.rear_wheel_radius_mm,
        front_radius_mm=front_axle[1],
        front_axle_mm=front_axle,
        axis_top_mm=up_the_fork(UPPER_CLAMP * radius, bike.fork_offset_mm),
        axis_foot_mm=(front_axle[0] + now.trail_mm, 0.0),
        tube_top_mm=up_the_fork((UPPER_CLAMP + TUBE_ABOVE) * radius + tubes_up_mm),
        clamps_mm=(up_the_fork(LOWER_CLAMP * radius), up_the_fork(UPPER_CLAMP * radius)),
        pivot_mm=None if pivot is None else now.place_mm(*pivot),
        seat_mm=None if seat_mm is None else now.place_mm(*seat_mm),
        belly_mm=None if belly_mm is None else now.place_mm(*belly_mm),
        rake_deg=now.rake_deg,
        trail_mm=now.trail_mm,
    )
