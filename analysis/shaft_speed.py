"""Speeds at the damper shaft: what a damper is built and set for, where the wheel's speed is what is felt.

Shaft speed is wheel speed times d(stroke)/d(wheel travel) at the travel of that moment.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.calibration import Floats
from analysis.distribution import BLOCK
from analysis.kinematics import WheelTravel
from analysis.motion import EndMotion, MotionSegment
from ingest.records import Leverage

GRID_MM = 0.5
"""The motion ratio is looked up on a grid of wheel travel; no linkage changes between two of its points."""

BEYOND_SHARE = 0.05


def motion_ratios(leverage: Leverage, travel_mm: float) -> Floats:
    """Give d(stroke)/d(wheel travel) every `GRID_MM` of wheel travel, from 0 to 5 % past full travel.

    Past the leverage table its end slope carries on.
    """
    wheel = np.arange(0.0, (1 + BEYOND_SHARE) * travel_mm + GRID_MM, GRID_MM)
    if leverage.table is None:
        return np.full(wheel.size, 1.0 / (leverage.ratio or 1.0))
    linkage = WheelTravel(leverage)
    inside = np.clip(wheel, leverage.table[0][0], leverage.table[-1][0])
    return np.asarray(1.0 / linkage.leverage(linkage.stroke_mm(inside)))


def motion_ratio_at(ratios: Floats, wheel_mm: float) -> float:
    """Look one wheel travel up in what `motion_ratios` gave."""
    return float(np.interp(wheel_mm / GRID_MM, np.arange(ratios.size), ratios))


def shaft_speeds(motion: EndMotion, ratios: Floats) -> tuple[Floats, ...]:
    """Give the shaft speed of each stretch, mm/s, NaN where that of the wheel is."""
    return tuple(_shaft_speed(part, ratios) for part in motion.segments)


def _shaft_speed(part: MotionSegment, ratios: Floats) -> Floats:
    speed = np.empty_like(part.speed_mm_s)
    for block in _blocks(speed.size):
        # Where travel is masked there is no speed either: any ratio will do.
        at = np.nan_to_num(part.travel_mm[block] * (1.0 / GRID_MM)).astype(np.intp)
        np.multiply(part.speed_mm_s[block], ratios.take(at, mode="clip"), out=speed[block])
    return speed


def _blocks(size: int) -> Iterator[slice]:
    for first in range(0, size, BLOCK):
        yield slice(first, first + BLOCK)
