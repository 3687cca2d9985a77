"""The chain over the travel: where it is tightest, and how much slack to set on the parked bike.

The sprocket sits ahead of the swingarm's pivot, so the distance between the sprockets grows until sprocket,
pivot and axle lie in one line, and shrinks beyond. Lowering moves the parked bike nearer to that line (or
past it): the slack that was right before is too much or too little after. Slack is how far the middle of the
lower run moves up and down together, the upper run taut.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.rigid_bike import Place
from ingest.errors import CannotAnswer, UsageError

PITCH_MM = 15.875
"""Five eighths of an inch: chains 520, 525 and 530 (ISO 10190 sizes, from memory)."""
LEAST_SLACK_MM = 10.0
"""Up and down at the tightest place. Common practice, no source; the manual's figure goes before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainLayout:
    """Gearbox sprocket, swingarm pivot and rear axle, mm from any zero, at one known wheel travel."""

    sprocket_mm: Place
    swingarm_pivot_mm: Place
    axle_mm: Place
    at_travel_mm: float
    front_teeth: int
    rear_teeth: int
    pitch_mm: float = PITCH_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainRun:
    """The chain of one state of the bike.

    ``tightest_travel_mm`` is the wheel travel at which the chain is tightest, within the travel;
    ``slack_to_set_mm``, parked, leaves the least slack there.
    """

    tightest_travel_mm: float
    slack_to_set_mm: float


def chain_run(
    layout: ChainLayout,
    *,
    parked_travel_mm: float,
    full_travel_mm: float,
    rear_axle_up_mm: float = 0.0,
    least_slack_mm: float = LEAST_SLACK_MM,
) -> ChainRun:
    """Follow the chain from topped out to full bump.

    Parameters
    ----------
    layout : ChainLayout
    parked_travel_mm, full_travel_mm : float
        Wheel travel where slack is set, and at full bump.
    rear_axle_up_mm : float
        How much higher the axle sits in the frame at the same travel: plates, a shorter shock.
    least_slack_mm : float
        Slack wanted where the chain is tightest.

    Raises
    ------
    UsageError
        Teeth, pitch or places make no chain drive.
    CannotAnswer
        The swingarm is too short for the travel.
    """
    _insist(layout, full_travel_mm)
    ends = (0.0, full_travel_mm)
    in_line = _in_line_travel_mm(layout) - rear_axle_up_mm
    tightest = min(max(in_line, ends[0]), ends[1])
    parked_apart = _apart_mm(layout, parked_travel_mm + rear_axle_up_mm)
    tight_apart = _apart_mm(layout, tightest + rear_axle_up_mm)
    chain = taut_length_mm(layout, tight_apart) + _spare_mm(layout, tight_apart, least_slack_mm)
    parked_spare = chain - taut_length_mm(layout, parked_apart)
    return ChainRun(
        tightest_travel_mm=tightest, slack_to_set_mm=_slack_mm(layout, parked_apart, parked_spare)
    )


def sprocket_radius_mm(teeth: int, pitch_mm: float = PITCH_MM) -> float:
    """Give the radius of the circle the pins of the chain run on.

    >>> round(sprocket_radius_mm(42), 2)
    106.22
    """
    return pitch_mm / (2.0 * math.sin(math.pi / teeth))


def taut_length_mm(layout: ChainLayout, apart_mm: float) -> float:
    """Give the length of a taut chain round both sprockets, their centres this far apart, mm."""
    small, large = _radii(layout)
    tilt = math.asin((large - small) / apart_mm)
    return 2.0 * apart_mm * math.cos(tilt) + math.pi * (small + large) + 2.0 * (large - small) * tilt


def _radii(layout: ChainLayout) -> tuple[float, float]:
    return (
        sprocket_radius_mm(layout.front_teeth, layout.pitch_mm),
        sprocket_radius_mm(layout.rear_teeth, layout.pitch_mm),
    )


def _run_mm(layout: ChainLayout, apart_mm: float) -> float:
    """Give the length of the straight run between the sprockets."""
    small, large = _radii(layout)
    return math.sqrt(apart_mm**2 - (large - small) ** 2)


def _spare_mm(layout: ChainLayout, apart_mm: float, slack_mm: float) -> float:
    """Give the spare length of a run whose middle moves up and down by ``slack_mm``, half each way."""
    run = _run_mm(layout, apart_mm)
    return 2.0 * math.hypot(run / 2.0, slack_mm / 2.0) - run


def _slack_mm(layout: ChainLayout, apart_mm: float, spare_mm: float) -> float:
    run = _run_mm(layout, apart_mm)
    return math.sqrt((run + spare_mm) ** 2 - run**2)


def _axle_mm(layout: ChainLayout, travel_mm: float) -> Place:
    """Give where the axle is on its arc with the wheel moved up, vertically, from where it was measured."""
    pivot, axle = layout.swingarm_pivot_mm, layout.axle_mm
    length = math.dist(pivot, axle)
    height = axle[1] + travel_mm - layout.at_travel_mm
    if not abs(height - pivot[1]) < length:
        raise CannotAnswer(
            f"chain: a swingarm of {length:.0f} mm cannot take its axle {height - pivot[1]:+.0f} mm above "
            "its pivot; check the places of pivot and axle and the travel they were measured at"
        )
    return (pivot[0] - math.sqrt(length**2 - (height - pivot[1]) ** 2), height)


def _apart_mm(layout: ChainLayout, travel_mm: float) -> float:
    return math.dist(_axle_mm(layout, travel_mm), layout.sprocket_mm)


def _in_line_travel_mm(layout: ChainLayout) -> float:
    """Give the wheel travel at which sprocket, pivot and axle lie in one line."""
    pivot, sprocket = layout.swingarm_pivot_mm, layout.sprocket_mm
    length, ahead = math.dist(pivot, layout.axle_mm), math.dist(pivot, sprocket)
    height = pivot[1] - length * (sprocket[1] - pivot[1]) / ahead
    return height - layout.axle_mm[1] + layout.at_travel_mm


def _insist(layout: ChainLayout, full_travel_mm: float) -> None:
    pivot, sprocket, axle = layout.swingarm_pivot_mm, layout.sprocket_mm, layout.axle_mm
    if not (min(layout.front_teeth, layout.rear_teeth) >= 6 and layout.pitch_mm > 0 and full_travel_mm > 0):
        raise UsageError(
            f"chain: {layout.front_teeth} and {layout.rear_teeth} teeth, pitch {layout.pitch_mm:g} mm, "
            f"travel {full_travel_mm:g} mm; sprockets have six teeth or more, pitch and travel are above 0"
        )
    if not axle[0] < pivot[0] < sprocket[0]:
        raise UsageError(
            f"chain: axle {axle[0]:g}, swingarm pivot {pivot[0]:g}, sprocket {sprocket[0]:g} mm forward; the "
            "axle lies behind the pivot and the sprocket ahead of it"
        )
