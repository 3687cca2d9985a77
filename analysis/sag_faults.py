"""Wrong procedures a sag log gives away: a wheel that hung further out elsewhere, readings past what was
calibrated, ends that move against each other, a rider whose feet carried part of the weight.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Protocol

import numpy as np

from analysis.phases import Named
from analysis.results import Quantity
from analysis.sag_readings import RawEnd
from analysis.spring_statics import (
    STANDARD_GRAVITY_M_S2,
    along_travel,
    spring_end,
    total_rate_n_mm,
)
from ingest.records import Bike, End, Rider

FURTHER_MM = 1.5
RANGE_SHARE = 0.01
OPPOSITE = -0.5
# What spring rates, air in the fork and the rider's scales may leave out of the sum, as a share (judgement).
UNKNOWN_SHARE = 0.10


class Worked(Protocol):
    """What `about_feet` needs of an end: both sags with their doubt, ``None`` where not measured."""

    @property
    def unladen_sag(self) -> Quantity | None:
        """Unladen sag."""

    @property
    def rider_sag(self) -> Quantity | None:
        """Rider sag."""


def about_further_out(raw: RawEnd, zeros: Sequence[float], kept: float | None) -> list[str]:
    """Say so when the wheel hung further out than where topped out was read, in this log or before.

    ``zeros`` are raw topped-out readings, ``kept`` the one kept for this mounting from before the log.
    """
    if not zeros:
        return []
    read_mm = float(np.mean(zeros)) * raw.mm_each
    said: list[str] = []
    steady = _steady(raw)
    if steady.size and read_mm - steady.min() > FURTHER_MM:
        said.append(
            f"{raw.end}: the wheel came {read_mm - steady.min():.1f} mm further out than where topped out "
            "was read; it did not hang free there"
        )
    if kept is not None and read_mm - kept * raw.mm_each > FURTHER_MM:
        said.append(
            f"{raw.end}: topped out reads {read_mm - kept * raw.mm_each:.1f} mm deeper than it did before in "
            "this mounting; it did not hang free, or the sensor has moved"
        )
    return said


def _steady(raw: RawEnd) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Give the medians of a fifth of a second or so: no spike and no bounce makes the least of them."""
    if raw.track.mm.size < 5:
        return np.empty(0)
    windows = np.lib.stride_tricks.sliding_window_view(raw.track.mm, 5)
    medians = np.median(windows, axis=1)
    return np.asarray(medians[np.isfinite(medians)], dtype=np.float64)


def about_range(raw: RawEnd, named: Named) -> list[str]:
    """Say which readings lie past the first or last calibration point."""
    if raw.tool is None:
        return []
    span = raw.tool.line.span
    slack = RANGE_SHARE * (span.high - span.low)
    past: dict[str, float] = {}
    for phase in named.phases:
        if phase.end is raw.end:
            counts = raw.raw(phase.span)
            beyond = max(counts - span.high, span.low - counts)
            if beyond > slack:
                past[phase.name] = max(past.get(phase.name, 0.0), beyond * abs(raw.mm_each))
    return [
        f"{raw.end}: {name} was read {beyond:.0f} mm past the calibrated range; "
        "take a calibration point there"
        for name, beyond in past.items()
    ]


def about_opposite(raws: Mapping[End, RawEnd]) -> list[str]:
    """Say so when front and rear move against each other: one of the calibrations has the wrong sign."""
    if len(raws) < 2:
        return []
    one, other = (raw.track for raw in raws.values())
    ok = np.isfinite(other.mm)
    if ok.sum() < 10:
        return []
    there = np.interp(one.t_s, other.t_s[ok], other.mm[ok])
    good = np.isfinite(one.mm)
    if one.mm[good].std() == 0 or there[good].std() == 0:
        return []
    if float(np.corrcoef(one.mm[good], there[good])[0, 1]) > OPPOSITE:
        return []
    return [
        "the two ends move against each other: the calibration of one of them runs the wrong way; "
        "check the signs of its points"
    ]


def about_feet(bike: Bike, rider: Rider | None, ends: Mapping[End, Worked]) -> list[str]:
    """Say so when the springs took on clearly less than the rider weighs.

    Needs the rider's mass, and spring rate, preload and both sags of both ends; says nothing otherwise.
    """
    if rider is None or rider.mass_kg is None or len(ends) < 2:
        return []
    taken_n, doubt_n2 = 0.0, 0.0
    for end, work in ends.items():
        suspension, unladen, sag = bike.suspension(end), work.unladen_sag, work.rider_sag
        if suspension is None or unladen is None or sag is None:
            return []
        rate, preload = total_rate_n_mm(suspension), suspension.preload_mm
        if rate is None or preload is None or (end is End.FRONT and bike.rake_deg is None):
            return []
        spring, along = spring_end(suspension, rate, preload), along_travel(bike, end)
        low, high = (spring.force_n(value) for value in (unladen.value, sag.value))
        taken_n += (high - low) / along
        per_mm = (high - low) / (sag.value - unladen.value) if sag.value > unladen.value + 1 else rate
        doubt = math.hypot(unladen.expanded_uncertainty, sag.expanded_uncertainty)
        doubt_n2 += (per_mm / along * doubt) ** 2
    weight_n = rider.mass_kg * STANDARD_GRAVITY_M_S2
    share = taken_n / weight_n
    if share + math.hypot(math.sqrt(doubt_n2) / weight_n, UNKNOWN_SHARE) >= 1.0:
        return []
    return [
        f"the springs took on {share:.0%} of the rider's {rider.mass_kg:.0f} kg: feet on the ground, hands "
        "holding the bike, or a spring that is not what the bike file says"
    ]
