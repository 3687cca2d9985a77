"""What a lowering plan may know of a bike beyond its suspension: seat, belly, stands, what touches in a lean.

Plain records, no files and no arithmetic. Every place on the frame is given as it is measured beside the
bike: height over the ground and distance ahead of the rear axle, the bike upright in the state that its
geometry was measured in. What is not known is ``None``.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Plates:
    """A set of linkage plates, by one of two figures or both.

    ``drop_mm`` is how much lower its maker says the bike stands, at the axle; ``longer_mm`` how much longer
    than the plates in the bike, hole to hole, which tells the drop where the linkage was measured.
    """

    name: str
    drop_mm: float | None = None
    longer_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkagePoints:
    """A rear linkage measured from its pivots, each ``(ahead, up)`` of the swingarm pivot in mm, topped out.

    The plates join a point of the swingarm to the rocker, which turns on the frame (``rocker_on`` is
    ``frame``), or a point of the frame to a rocker that turns on the swingarm (``swingarm``). Everything
    else is measured from them. The shock stands between the rocker and the frame.
    """

    rocker_on: str
    rear_axle: tuple[float, float]
    rocker_pivot: tuple[float, float]
    plate_at_rocker: tuple[float, float]
    plate_at_other_end: tuple[float, float]
    shock_at_rocker: tuple[float, float]
    shock_at_frame: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stands:
    """Side stand and centre stand. A length is from the middle of the pivot to the ground side of the foot.

    ``side_stand_pivot_offset_mm`` is how far out from the middle of the bike the pivot lies, and
    ``side_stand_lean_deg`` how far the bike leans on it.
    """

    side_stand_length_mm: float | None = None
    side_stand_pivot_height_mm: float | None = None
    side_stand_pivot_offset_mm: float | None = None
    side_stand_pivot_ahead_of_rear_axle_mm: float | None = None
    side_stand_lean_deg: float | None = None
    centre_stand_length_mm: float | None = None
    centre_stand_pivot_height_mm: float | None = None
    centre_stand_pivot_ahead_of_rear_axle_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchPoint:
    """What may touch the ground in a lean: a peg, a silencer, a stand; ``out_mm`` from the middle."""

    name: str
    out_mm: float
    height_mm: float
    ahead_of_rear_axle_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """What limits the lean. The crown radius is that of the tyre's tread across, bead to bead."""

    touch: tuple[TouchPoint, ...] = ()
    front_crown_radius_mm: float | None = None
    rear_crown_radius_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Sprockets and chain, and where the front sprocket and the swingarm pivot sit."""

    front_teeth: int
    rear_teeth: int
    pitch_mm: float
    sprocket_height_mm: float
    sprocket_ahead_of_rear_axle_mm: float
    pivot_height_mm: float
    pivot_ahead_of_rear_axle_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Headlight:
    """The lamp, and how far away the wall is on which its aim is marked."""

    height_mm: float
    ahead_of_rear_axle_mm: float
    wall_distance_mm: float
