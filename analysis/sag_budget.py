"""The doubt of a sag reading: one small function for each cause, put together after the GUM.

Each contribution is a standard uncertainty in wheel mm with its degrees of freedom; `analysis.gum` combines
them. What rests on judgement and not on this log's readings says so beside its number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.gum import Contribution, combined, rectangular, type_a, with_uncertainty
from analysis.monte_carlo import cause_of, propagate
from analysis.position import Converter
from analysis.results import Budget, BudgetLine
from analysis.sensor import LINEARITY_SHARE
from ingest.records import End

Floats = npt.NDArray[np.float64]

# Repeats of one careful reading scatter by about this much (judgement); it counts as four readings do
# until the repeats taken outweigh it.
ASSUMED_REPEAT_SD_MM = 0.4
ASSUMED_REPEAT_DOF = 3.0
# Each time the rider sits down the bike settles to within this, half width (judgement). Readings from above
# and from below of one sitting share it, so only getting off and on again shows it.
SITTING_MM = 0.6
# The middle between from above and from below is the true sag only if friction holds alike both ways; it may
# be off by this share of half the difference (judgement).
FRICTION_ASYMMETRY = 0.15
# Half the difference between from above and from below on a healthy bike, upper end.
# Common practice, no source.
USUAL_FRICTION_MM = {End.FRONT: 5.0, End.REAR: 4.0}
# How well a hanging wheel finds the same topped-out place, half width (judgement).
SEATING_MM = 0.3
# Topped out was not read in this mounting: a sensor's clamp sits to within this, half width (judgement).
UNZEROED_MM = 3.0
ONE_SIDE = "settled from one side only"

# What would shrink each cause, in a few words that fit a table.
REMEDIES = {
    "resolution": "a converter of more bits",
    "noise and movement": "hold still for longer",
    "repeatability": "repeat the readings",
    "how the rider sits": "get off and on, read again",
    "friction": "less friction: clean, grease, align",
    "calibration": "more calibration points, gauge blocks",
    "sensor's line": "measure the three lengths finer",
    "topped-out reading": "let it hang free twice",
}
ONE_SIDE_REMEDY = "read from above and from below"


def budget_of(value_mm: float, parts: Sequence[Contribution]) -> Budget:
    """Lay a budget out as a table, the largest cause first, with Monte Carlo beside it."""
    quantity = with_uncertainty(value_mm, parts)
    u, dof = combined(parts)
    variance = u**2 or 1.0
    lines = [
        BudgetLine(
            cause=part.cause,
            standard_uncertainty_mm=part.standard_uncertainty_mm,
            dof=part.dof,
            share_percent=100 * part.standard_uncertainty_mm**2 / variance,
            basis=part.basis,
            remedy=ONE_SIDE_REMEDY if ONE_SIDE in part.basis else REMEDIES[part.cause],
        )
        for part in sorted(parts, key=lambda part: -part.standard_uncertainty_mm)
    ]
    return Budget(
        lines=tuple(lines),
        standard_uncertainty_mm=u,
        dof=dof,
        coverage_factor=quantity.coverage_factor,
        expanded_uncertainty_mm=quantity.expanded_uncertainty,
        monte_carlo=propagate(value_mm, [cause_of(part) for part in parts]),
    )


def resolution(step_mm: float, readings: int, zeros: int) -> Contribution:
    """One count of the converter, for the sag readings and for the topped-out readings they start from."""
    u = rectangular(step_mm / 2) * math.sqrt(1 / readings + 1 / max(zeros, 1))
    return Contribution(
        cause="resolution", standard_uncertainty_mm=u, dof=math.inf, basis=f"one count is {step_mm:.2f} mm"
    )


def restlessness(seconds_mm: Sequence[Floats]) -> Contribution:
    """Noise and the rider's fidgeting, from how the one-second means of each reading scatter."""
    usable = [type_a(means) for means in seconds_mm if means.size >= 2]
    if not usable:
        basis = "readings too short to see it; their steadiness bounds it (judgement)"
        return Contribution(
            cause="noise and movement", standard_uncertainty_mm=rectangular(0.5), dof=math.inf, basis=basis
        )
    variance = sum(one.sd_of_mean**2 for one in usable) / len(usable) ** 2
    seconds = sum(one.dof + 1 for one in usable)
    return Contribution(
        cause="noise and movement",
        standard_uncertainty_mm=math.sqrt(variance),
        dof=float(sum(one.dof for one in usable)),
        basis=f"scatter of {seconds} one-second means",
    )


def repeatability(groups: Sequence[Sequence[float]]) -> Contribution:
    """Scatter from one reading to the next of its kind; ``groups`` are from above and from below, or all."""
    taken = [np.asarray(group, dtype=float) for group in groups if len(group)]
    squares = sum(float(((group - group.mean()) ** 2).sum()) for group in taken)
    dof = sum(group.size - 1 for group in taken)
    variance = (ASSUMED_REPEAT_DOF * ASSUMED_REPEAT_SD_MM**2 + squares) / (ASSUMED_REPEAT_DOF + dof)
    # The sag is the mean of the group means.
    u = math.sqrt(variance * sum(1 / group.size for group in taken)) / len(taken)
    basis = f"assumed {ASSUMED_REPEAT_SD_MM} mm" + (f" and {dof} repeats" if dof else ", no repeats taken")
    return Contribution(
        cause="repeatability", standard_uncertainty_mm=u, dof=ASSUMED_REPEAT_DOF + dof, basis=basis
    )


def sitting(times: int) -> Contribution:
    """How differently the rider may sit each time; ``times`` is how often somebody sat down."""
    return Contribution(
        cause="how the rider sits",
        standard_uncertainty_mm=rectangular(SITTING_MM) / math.sqrt(max(times, 1)),
        dof=math.inf,
        basis=f"to ±{SITTING_MM} mm each time (judgement), sat down {max(times, 1)}×",
    )


def friction(end: End, half_band_mm: float | None, *, both_sides: bool) -> Contribution:
    """What friction hides: little where both sides were read, up to the whole half band where one was.

    ``half_band_mm`` is half the difference of from above and from below, ``None`` where this end shows none.
    """
    if both_sides and half_band_mm is not None:
        half_width = FRICTION_ASYMMETRY * abs(half_band_mm)
        basis = f"may hold unlike by {FRICTION_ASYMMETRY:.0%} of ±{abs(half_band_mm):.1f} mm (judgement)"
    else:
        half_width = max(abs(half_band_mm or 0.0), USUAL_FRICTION_MM[end])
        basis = f"{ONE_SIDE}: up to {half_width:.1f} mm (common practice, no source)"
    return Contribution(
        cause="friction", standard_uncertainty_mm=rectangular(half_width), dof=math.inf, basis=basis
    )


def calibration(sag_mm: float, slope_share: float | None, dof: int, range_mm: float) -> Contribution:
    """Doubt of the sensor's scale: its standard error, or the linearity that two points cannot show.

    ``slope_share`` is the standard error of the slope over the slope, ``None`` for two points;
    ``range_mm`` is the calibrated range in wheel mm.
    """
    if slope_share is not None:
        return Contribution(
            cause="calibration",
            standard_uncertainty_mm=abs(sag_mm) * slope_share,
            dof=float(dof),
            basis=f"line through {dof + 2} points",
        )
    return Contribution(
        cause="calibration",
        standard_uncertainty_mm=rectangular(LINEARITY_SHARE * range_mm),
        dof=math.inf,
        basis=f"two points show no linearity: {LINEARITY_SHARE:.1%} of range (common practice, no source)",
    )


def topped_out(readings_mm: Sequence[float], *, measured: bool) -> Contribution:
    """Doubt of the topped-out reading that every sag starts from."""
    if not measured:
        half_width, basis = UNZEROED_MM, "topped out not read in this mounting (judgement)"
    else:
        apart = max(readings_mm) - min(readings_mm) if readings_mm else 0.0
        half_width = max(SEATING_MM, apart / 2)
        basis = (
            f"{len(readings_mm)} readings up to {apart:.1f} mm apart"
            if len(readings_mm) > 1
            else (f"seats to ±{SEATING_MM} mm (judgement)")
        )
    return Contribution(
        cause="topped-out reading", standard_uncertainty_mm=rectangular(half_width), dof=math.inf, basis=basis
    )


def aslant(tool: Converter | None, travel_mm: float) -> tuple[Contribution, ...]:
    """Doubt that the three lengths of a sensor aslant leave at a travel; none where it runs along."""
    if tool is None or tool.slant is None:
        return ()
    stroke, leverage = travel_mm, 1.0
    if tool.linkage is not None:
        stroke = float(tool.linkage.stroke_mm(travel_mm))
        leverage = float(tool.linkage.leverage(stroke))
    known = tool.slant.correction
    u = leverage * float(np.interp(stroke, known.stroke_mm, known.standard_uncertainty_mm))
    basis = f"three lengths, each with a standard uncertainty of {known.triangle.u_mm:.2f} mm"
    return (Contribution(cause="sensor's line", standard_uncertainty_mm=u, dof=math.inf, basis=basis),)
