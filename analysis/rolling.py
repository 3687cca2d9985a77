"""Rolling sag: where the suspension comes to while the bike rolls slowly and straight over a smooth floor.

The small bumps of some 50 m of floor keep the wheels moving, and what moves is not held by friction: the
middle of that motion is the sag. The reading is the time mean of the stretch from the mark ``rolling`` on,
without what lies far from its median (setting off, braking). It ends at the next mark, at the still span of
that mark, or where the bike stands for 4 s. Friction catches the wheel for shorter moments on a good floor
too; they belong to the run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from analysis.gum import Contribution, rectangular
from analysis.phases import ROLLING, Named, Phase, read_mark, without_struck
from analysis.sag_budget import FRICTION_ASYMMETRY, USUAL_FRICTION_MM
from analysis.sag_readings import RawEnd
from analysis.stillness import StillSpan, Track
from ingest.log import Mark
from ingest.records import End

Floats = npt.NDArray[np.float64]

LEAST_ROLL_S = 5.0
STANDING_S = 4.0
# Less motion than this either way and the floor was too smooth to free the suspension (judgement).
LEAST_MOTION_MM = 0.5
# A damper that holds harder one way than the other pumps the wheel off its balance by up to this share of
# its motion: 0.2 to 0.3 on the virtual bike, whose rebound damping is twice its compression damping.
PUMPED_SHARE = 0.3
MOST_CORRELATION = 0.9


def with_rolling(named: Named, raws: Mapping[End, RawEnd], marks: Sequence[Mark]) -> Named:
    """Add the stretches marked ``rolling`` to the named spans; a stretch that gives none adds a caution."""
    phases, cautions = list(named.phases), list(named.cautions)
    kept = without_struck(marks)
    for raw in raws.values():
        for index, mark in enumerate(kept):
            words = read_mark(mark.text)
            if words is None or words.name != ROLLING or words.end not in (None, raw.end):
                continue
            later = kept[index + 1] if index + 1 < len(kept) else None
            start_s, stop_s = _stretch(raw, mark.t_s, None if later is None else later.t_s)
            if stop_s - start_s < LEAST_ROLL_S:
                cautions.append(
                    f"{raw.end}: moved for only {max(stop_s - start_s, 0.0):.0f} s after the mark "
                    f"“{mark.text}” ({mark.t_s:.1f} s), so there is no rolling sag; roll some 50 m slowly, "
                    f"straight, {LEAST_ROLL_S:.0f} s at least, on a floor that moves the suspension a little"
                )
                continue
            phases.append(_phase(raw, start_s, stop_s))
            moved = half_motion_mm(raw.track, phases[-1].span)
            if moved < LEAST_MOTION_MM:
                cautions.append(
                    f"{raw.end}: rolling moved the suspension by ±{moved:.1f} mm only, so friction may still "
                    "hold it; roll a little faster or over a rougher floor"
                )
    phases.sort(key=lambda phase: (phase.span.start_s, phase.end))
    return Named(phases=tuple(phases), cautions=tuple(cautions))


def half_motion_mm(track: Track, span: StillSpan) -> float:
    """Give half the distance between the 5 % and the 95 % level of a stretch, mm."""
    inside = track.within(span)
    if inside.size == 0:
        return 0.0
    low, high = np.percentile(inside, (5, 95))
    return float(high - low) / 2


def scatter(seconds_mm: Floats) -> Contribution:
    """Standard error of the time mean, from its one-second means.

    Neighbouring seconds may resemble each other: with their correlation r (lag one, 0 to 0.9), n seconds
    count as n (1 − r) / (1 + r), as for a first-order autoregression. Needs 2 means or more.
    """
    n = seconds_mm.size
    away = seconds_mm - seconds_mm.mean()
    squares = float(away @ away)
    r = float(np.clip(away[1:] @ away[:-1] / squares, 0.0, MOST_CORRELATION)) if squares > 0 else 0.0
    counted = max(n * (1 - r) / (1 + r), 2.0)
    return Contribution(
        cause="noise and movement",
        standard_uncertainty_mm=math.sqrt(squares / (n - 1) / counted),
        dof=counted - 1,
        basis=f"scatter of {n} one-second means that count as {counted:.0f}",
    )


def held_back(end: End, half_band_mm: float | None, moved_mm: float) -> Contribution:
    """What friction and uneven damping may leave in the mean of a motion of ± ``moved_mm`` (judgement).

    A motion wider than the friction band leaves the share by which friction holds unlike both ways, a
    smaller one leaves what it did not reach; uneven damping adds `PUMPED_SHARE` of the motion.
    """
    band = USUAL_FRICTION_MM[end] if half_band_mm is None else abs(half_band_mm)
    half_width = max(FRICTION_ASYMMETRY * band, band - moved_mm) + PUMPED_SHARE * moved_mm
    return Contribution(
        cause="friction",
        standard_uncertainty_mm=rectangular(half_width),
        dof=math.inf,
        basis=f"rolling moved it by ±{moved_mm:.1f} mm, friction ±{band:.1f} mm (judgement)",
    )


def _stretch(raw: RawEnd, mark_s: float, next_s: float | None) -> tuple[float, float]:
    """Say from when to when it rolled."""
    known = raw.track.t_s[np.isfinite(raw.track.mm)]
    stop_s = float(known[-1]) if known.size else mark_s
    standing = [span for span in raw.spans if span.end_s - span.start_s >= STANDING_S]
    start_s = max([mark_s, *(span.end_s for span in standing if span.start_s <= mark_s < span.end_s)])
    if next_s is not None:
        at_next = [span.start_s for span in raw.spans if span.start_s <= next_s <= span.end_s]
        stop_s = min([stop_s, next_s, *(t_s for t_s in at_next if t_s > start_s)])
    return start_s, min([stop_s, *(span.start_s for span in standing if span.start_s > start_s)])


def _phase(raw: RawEnd, start_s: float, stop_s: float) -> Phase:
    """Write a stretch down like a still span, to be read the same way; it has no creep and no side."""
    span = StillSpan(start_s=start_s, end_s=stop_s, level_mm=0.0, creep_mm=0.0, side=None)
    inside = raw.track.within(span)
    level = float(np.median(inside)) if inside.size else math.nan
    return Phase(end=raw.end, name=ROLLING, side=None, span=replace(span, level_mm=level))
