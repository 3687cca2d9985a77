"""The bumps of a ride: its separate deepest moments, when each was and how deep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import maximum_filter1d

from analysis.motion import EndMotion, MotionSegment

Floats = npt.NDArray[np.float64]

APART_S = 0.25
"""A bump is the deepest moment within so long on either side; a wheel takes longer from one to the next."""

PIECE_S = 0.01


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Bumps:
    """Declustered peaks of compression: when, s (rides one after the other), and how deep, mm."""

    times_s: Floats
    peaks_mm: Floats
    valid_s: float


def bumps_of(motions: Sequence[EndMotion]) -> Bumps:
    """Find the bumps of one end on one ride or more: local peaks deeper than the mean of their stretch."""
    times, peaks, valid_s = [], [], 0.0
    for motion in motions:
        for part in motion.segments:
            at_s, deep_mm = _peaks(part)
            times.append(valid_s + at_s)
            peaks.append(deep_mm)
            valid_s += float(np.count_nonzero(np.isfinite(part.travel_mm))) * part.dt_s
    return Bumps(
        times_s=np.concatenate(times) if times else np.empty(0),
        peaks_mm=np.concatenate(peaks) if peaks else np.empty(0),
        valid_s=valid_s,
    )


def _peaks(part: MotionSegment) -> tuple[Floats, Floats]:
    """Local peaks of one gap-free stretch: s from its start, mm. What is masked is as if topped out."""
    per = max(1, round(PIECE_S / part.dt_s))
    rows = part.travel_mm.size // per
    if rows == 0:
        return np.empty(0), np.empty(0)
    deep = np.fmax.reduce(part.travel_mm[: rows * per].reshape(rows, per), axis=1)
    deep = np.where(np.isnan(deep), -np.inf, deep)
    apart = max(1, round(APART_S / (per * part.dt_s)))
    # A bike that rolls smoothly has peaks of noise at its ride position: only what goes deeper is a bump.
    above = deep > np.nanmean(part.travel_mm) if np.isfinite(deep).any() else np.zeros(rows, dtype=np.bool_)
    top = np.flatnonzero((deep == maximum_filter1d(deep, 2 * apart + 1)) & above)
    # Of equal depths within reach of each other the first one counts.
    top = top[np.concatenate([[True], np.diff(top) > apart])] if top.size else top
    return np.asarray(top * per * part.dt_s), np.asarray(deep[top], dtype=np.float64)
