"""Whether the topped-out reading moved during a ride: a clamp that slips, a string that stretches, heat.

A wheel that hangs free rests on its top-out stop: each time it does, the ride shows where topped out reads
now. Where it never hangs, standing still several times says something too, but far less: friction holds a
suspension anywhere within its band, and not everybody gets off. Nothing is corrected by what is found here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from analysis.calibration import Floats
from analysis.excursions import runs
from analysis.gum import Contribution, rectangular, with_uncertainty
from analysis.motion import EndMotion, MotionSegment
from analysis.ride_results import ZeroDrift
from analysis.stillness import still_spans, thin

TOPPING, STANDING = "topping", "standing"

NEAR_MM, AWAY_MM = 8.0, 12.0
"""Where topped out can read, drift included; a visit there lasts until the wheel is well away again."""

FLAT_MM, FLAT_S = 0.8, 0.05
"""A wheel that hangs lies this still for this long; one that turns round above the stop does not: at 2 Hz
and 50 mm either way it is as near to its turning point for half of that."""

LOWEST = 20
"""The lowest of so many samples are noise."""

AT_REST_MM, AT_REST_S, SETTLING_S = 0.8, 3.0, 0.75
"""A bike at rest moves by less than this, in means over 50 ms, for at least this long, its beginning and its
end aside."""

LEAST_TOPPINGS, LEAST_STANDS = 6, 4
"""Fewer sightings show no trend: the first third of them is compared with the last."""

HANGING_U_MM = 0.3
"""Standard uncertainty of where a wheel hangs on its top-out stop from one time to the next (common practice,
no source)."""

FRICTION_HALF_BAND_MM = 8.0
"""How far friction may hold a standing suspension from its balance, either way (common practice, no
source)."""


def zero_drift(motion: EndMotion) -> ZeroDrift | None:
    """Say how far the topped-out reading moved from the first to the last third of its sightings.

    Parameters
    ----------
    motion : EndMotion
        One end of one ride.

    Returns
    -------
    ZeroDrift or None
        ``None`` where topped out was seen less than six times and the wheel stood still less than four times.
    """
    topped = [sight for part in motion.segments for sight in _toppings(part)]
    if len(topped) >= LEAST_TOPPINGS:
        return _drift(np.array(topped), TOPPING, HANGING_U_MM)
    stood = list(_stands(motion))
    if len(stood) >= LEAST_STANDS:
        return _drift(np.array(stood), STANDING, rectangular(FRICTION_HALF_BAND_MM))
    return None


def _stands(motion: EndMotion) -> Iterator[float]:
    """Give where the wheel stood each time the bike was at rest, mm; smooth tarmac is not rest."""
    track = thin((part.start_s, part.dt_s, part.travel_mm) for part in motion.segments)
    for span in still_spans(track):
        inside = (track.t_s >= span.start_s + SETTLING_S) & (track.t_s <= span.end_s - SETTLING_S)
        level = track.mm[inside]
        level = level[np.isfinite(level)]
        rests = level.size and float(np.ptp(level)) <= AT_REST_MM
        if rests and span.end_s - span.start_s >= AT_REST_S and span.level_mm > AWAY_MM:
            yield span.level_mm


def _toppings(part: MotionSegment) -> Iterator[float]:
    """Give where the wheel hung each time it came back from well away, mm."""
    flat = max(2, round(FLAT_S / part.dt_s))
    visits = runs(part.travel_mm < AWAY_MM)
    for first, end in visits.pairs():
        if end - first < flat:
            continue
        inside = np.sort(part.travel_mm[first:end])
        lying = inside[: np.searchsorted(inside, inside[inside.size // LOWEST] + FLAT_MM / 2, side="right")]
        if lying.size >= flat and lying[-1] < NEAR_MM:
            yield float(lying[lying.size // 2])


def _drift(sightings: Floats, seen: str, single_u_mm: float) -> ZeroDrift:
    """Compare the first third with the last; the scatter within both is the doubt, or the stated one."""
    third = max(2, sightings.size // 3)
    first, last = sightings[:third], sightings[-third:]
    spread = math.sqrt((first.var(ddof=1) + last.var(ddof=1)) / 2.0)
    parts = (
        Contribution(
            cause="scatter",
            standard_uncertainty_mm=spread * math.sqrt(2.0 / third),
            dof=2.0 * third - 2.0,
            basis="scatter of the sightings about their third's mean",
        ),
        Contribution(
            cause="where it comes to rest",
            standard_uncertainty_mm=single_u_mm * math.sqrt(2.0 / third),
            dof=math.inf,
            basis="common practice, no source",
        ),
    )
    return ZeroDrift(
        drift_mm=with_uncertainty(float(last.mean() - first.mean()), parts),
        sightings=int(sightings.size),
        seen=seen,
    )
