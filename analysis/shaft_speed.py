"""Speeds at the damper shaft: what a damper is built and set for, where the wheel's speed is what is felt.

Shaft speed is wheel speed times d(stroke)/d(wheel travel) at the travel of that moment.
"""

from __future__ import annotations

import numpy as np

from analysis.calibration import Floats, Samples
from analysis.distribution import BLOCK
from analysis.kinematics import WheelTravel
from analysis.motion import EndMotion, MotionSegment
from ingest.records import Leverage

GRID_MM = 0.5
"""The motion ratio is looked up on a grid of wheel travel; no linkage changes between two of its points."""

BEYOND_SHARE = 0.05

LOOKED_AT_S = 0.002
"""Speeds hold nothing much above 75 Hz, so looking at them 500 times a second tells their percentiles."""


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


def shaft_speeds(motion: EndMotion, ratios: Floats) -> tuple[Samples, ...]:
    """Give the shaft speed of each stretch every `LOOKED_AT_S`, mm/s, NaN where that of the wheel is."""
    return tuple(_shaft_speed(part, ratios) for part in motion.segments)


def _shaft_speed(part: MotionSegment, ratios: Floats) -> Samples:
    step = max(1, round(LOOKED_AT_S / part.dt_s))
    travel, speed = part.travel_mm[::step], part.speed_mm_s[::step]
    shaft = np.empty_like(speed)
    for first in range(0, speed.size, BLOCK):
        some = slice(first, first + BLOCK)
        with np.errstate(invalid="ignore"):
            # Where travel is masked there is no speed either: any ratio will do.
            at = (travel[some] * (1.0 / GRID_MM)).astype(np.intp)
        np.multiply(speed[some], ratios.take(at, mode="clip"), out=shaft[some])
    return shaft
