"""What a mechanic should know about a set of reference points before trusting them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr

from analysis.calibration import Floats

GOOD_POSITIONS = 5
LOOSE_SHARE = 0.005
"""Hysteresis worth a word, share of the range (judgement)."""

COARSE_MM = 0.5
STRAY_CHANCE = 0.01
STRAY_SHARE = 0.005
"""A stray point is one where chance rarely puts it, and beyond this share of the range."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Findings:
    """What the fit found, one row for each reference position in the order of mm."""

    counts: Floats
    mm: Floats
    residuals_mm: Floats
    hat_values: Floats
    dof: int
    span_mm: float
    one_count_mm: float
    hysteresis_mm: float | None
    curve: str
    because: str
    u_ref_mm: float | None
    point_sd_mm: float | None
    too_much_scatter: bool

    @property
    def one_way(self) -> bool:
        """Whether the counts only rise or only fall while the mm rise."""
        steps = np.diff(self.counts)
        return bool((steps > 0).all() or (steps < 0).all())


def cautions(found: Findings) -> Iterator[str]:
    """Say what is doubtful about the points, the gravest first."""
    stray = _stray(found)
    if not found.one_way:
        yield "the counts do not go one way while the mm rise: a point was read or typed wrongly"
    if stray is not None:
        yield (
            f"the point at {found.mm[stray]:g} mm lies {abs(found.residuals_mm[stray]):.1f} mm off the "
            "others: take it again"
        )
    if found.mm.size == 2:
        yield (
            "two positions cannot show whether the sensor is linear: take "
            f"{GOOD_POSITIONS} or more, spread over the whole stroke"
        )
    elif found.mm.size < GOOD_POSITIONS:
        yield (
            f"{found.mm.size} positions show little of the sensor's linearity: take "
            f"{GOOD_POSITIONS} or more, spread over the whole stroke"
        )
    if found.curve != "straight":
        yield f"{found.because}; without the curve that much error stays in the middle of the stroke"
    if found.too_much_scatter and stray is None:
        yield (
            f"the points scatter by {found.point_sd_mm:.2f} mm, more than references good to "
            f"{found.u_ref_mm:g} mm explain: play in the mounts, or positions set by a worse rule"
        )
    if found.u_ref_mm is None and found.dof == 0:
        yield "no uncertainty of the reference positions was given, so their share of the doubt is missing"
    yield from _about_the_sensor(found)


def _about_the_sensor(found: Findings) -> Iterator[str]:
    if found.hysteresis_mm is None:
        yield "taken one way only: play in the sensor and its mounts does not show (go up and down again)"
    elif found.hysteresis_mm > max(LOOSE_SHARE * found.span_mm, found.one_count_mm):
        yield (
            f"up and down differ by {found.hysteresis_mm:.1f} mm at the same position: "
            "look for play in the sensor's mounts"
        )
    if found.one_count_mm > COARSE_MM:
        yield (
            f"one count is {found.one_count_mm:.2f} mm: the sensor uses little of the converter's range; "
            "a sensor of a fitting stroke, or a finer converter, reads finer"
        )


def _stray(found: Findings) -> int | None:
    """Find the one point that does not belong: its residual against a fit that leaves it out."""
    if found.dof < 2:
        return None
    left = 1.0 - found.hat_values
    total = float(found.residuals_mm @ found.residuals_mm)
    worst, chance = None, STRAY_CHANCE / found.mm.size
    for index, residual in enumerate(found.residuals_mm):
        if left[index] < 1e-9 or abs(residual) < STRAY_SHARE * found.span_mm:
            continue
        without = max(total - residual**2 / left[index], 0.0) / (found.dof - 1)
        t = abs(residual) / math.sqrt(without * left[index]) if without > 0 else math.inf
        beyond = 2 * float(stdtr(found.dof - 1, -t)) if math.isfinite(t) else 0.0
        if beyond < chance:
            worst, chance = index, beyond
    return worst
