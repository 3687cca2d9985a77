"""How often would it bottom? Peaks over a threshold, also where a short ride met the stop once or never.

The deepest bumps of a ride follow a generalised Pareto tail (`analysis.pareto_tail`) up to where bottoming
begins, 98 % of the travel; what went further is only counted, because behind that the stop decides how deep a
wheel goes. The bump rubber bends the tail well before that, so the threshold lies as high as enough bumps
allow: the closer to the stop, the less there is to foretell.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.bumps import bumps_of
from analysis.change import clumping, poisson_limits
from analysis.compare_results import BottomingForecast
from analysis.events import BOTTOM_SHARE
from analysis.motion import EndMotion
from analysis.pareto_tail import Excesses, fit_tail, rate_beyond
from ingest.records import End

LEAST_PEAKS, WANTED_PEAKS = 30, 60
PER_EVENT = 2
"""So many bumps to each bottoming stay over the threshold, or there would be no tail left to look at."""

JUST_BELOW_MM = 0.1

FITTED, UPPER_BOUND, NOT_ENOUGH = "fitted tail", "no event: upper bound", "not enough data"


def forecast(motions: Sequence[EndMotion], full_mm: float, end: End) -> BottomingForecast:
    """Say how often one end would bottom in an hour of the same riding, with a 95 % interval.

    Bumps are local peaks of compression, the deepest within a quarter of a second on either side. The
    threshold leaves the deepest 60 over it, or twice as many as bottomed if that is more, but at most the
    deeper half. Where they come in clumps the interval is as wide as with that many times fewer.

    Parameters
    ----------
    motions : sequence of EndMotion
        The end on one ride or more, all with one setup on one route at one pace.
    full_mm : float
        Full travel: nominal, or where the stop was found.
    end : End

    Returns
    -------
    BottomingForecast
        Without an event the interval is 0 to its upper bound and ``per_hour`` stays ``None``. With fewer than
        30 bumps over the threshold there is no answer.
    """
    bumps = bumps_of(motions)
    bottom_mm = BOTTOM_SHARE * full_mm
    hours = bumps.valid_s / 3600.0
    deepest = np.sort(bumps.peaks_mm)[::-1]
    events = int(np.count_nonzero(deepest >= bottom_mm))
    wanted = max(min(WANTED_PEAKS, deepest.size // 2), min(PER_EVENT * events, deepest.size - 1))
    if wanted < LEAST_PEAKS:
        return _not_enough(end, max(wanted, 0), events, hours)
    # Where next to everything bottoms the threshold lies just below that: counting says it all.
    threshold_mm = min(float(deepest[wanted - 1 : wanted + 1].mean()), bottom_mm - JUST_BELOW_MM)
    over = bumps.peaks_mm > threshold_mm
    excess_mm, limit_mm = bumps.peaks_mm[over] - threshold_mm, bottom_mm - threshold_mm
    excesses = Excesses(below=excess_mm[excess_mm < limit_mm], beyond=events, limit=limit_mm)
    if excesses.count < LEAST_PEAKS:  # many bumps of the very depth of the threshold
        return _not_enough(end, excesses.count, events, hours)
    clumped = clumping(bumps.times_s[over].tolist(), bumps.valid_s)
    rate, (low, high) = rate_beyond(excesses, limit_mm, hours, clumped)
    tail = fit_tail(excesses) if excesses.below.size >= 2 else None
    return BottomingForecast(
        end=end,
        per_hour=rate if events else None,
        interval=(low if events else 0.0, high),
        basis=FITTED if events else UPPER_BOUND,
        peaks=excesses.count,
        events=events,
        hours=hours,
        threshold_mm=threshold_mm,
        shape=None if tail is None else tail.shape,
        scale_mm=None if tail is None else tail.scale,
        cautions=tuple(_cautions(end, events, clumped)),
    )


def _not_enough(end: End, peaks: int, events: int, hours: float) -> BottomingForecast:
    minutes = 60 * hours
    said = f"{end}: {peaks} deep bumps in {minutes:.1f} min are too few to foretell bottoming"
    if hours > 0:
        low, high = (limit / hours for limit in poisson_limits(events))
        said += (
            f"; by counting alone, {events} in {minutes:.1f} min may be {low:.0f} to {high:.0f} an hour; "
            "ride longer or more often"
        )
    return BottomingForecast(
        end=end,
        per_hour=None,
        interval=None,
        basis=NOT_ENOUGH,
        peaks=peaks,
        events=events,
        hours=hours,
        threshold_mm=None,
        shape=None,
        scale_mm=None,
        cautions=(said,),
    )


def _cautions(end: End, events: int, clumped: float) -> Iterator[str]:
    yield f"{end}: bottoming in an hour holds for this route at this pace, nothing else"
    if not events:
        yield f"{end}: it never bottomed on these rides, so only how often it would at most is known"
    if clumped >= 1.5:
        yield f"{end}: the deep bumps come in clumps, so the rides say less than their length"
