"""What one end did on all rides of one side, taken together: for drawings and tables of before and after."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from analysis.judging import RUNS_FOR_SCATTER
from analysis.ride_results import EndRide, RideSummary

GRADES = ("rubber", "near full", "hard stop")


@dataclass(frozen=True, slots=True, kw_only=True)
class EndTogether:
    """One end over the rides of one setup. Depths are means over the rides, the deepest is that of all.

    ``doubt_mm`` is half of the 95 % interval of the mean ride position: from inside the rides, with three
    runs or more also from their scatter, whichever is wider. ``left_mm`` is the compression travel left where
    it rides, ``left_at_deepest_mm`` and ``left_at_deepest_percent`` at the deepest moment (negative where a
    stop gave), to the stop that was found or else to the nominal full travel. ``graded_per_10_min`` counts
    bottomings of each grade.
    """

    travel_mm: float
    mean_mm: float
    doubt_mm: float | None
    p95_mm: float
    deepest_mm: float
    left_mm: float
    left_at_deepest_mm: float
    left_at_deepest_percent: float
    graded_per_10_min: Mapping[str, float]


def together(rides: Sequence[EndRide]) -> EndTogether | None:
    """Take the rides of one end together; ``None`` where there is none.

    Parameters
    ----------
    rides : sequence of EndRide
        One end, one setup.
    """
    if not rides:
        return None
    mean_mm = float(np.mean([ride.mean_mm for ride in rides]))
    deepest_mm = max(ride.travel_used_mm for ride in rides)
    full_mm = min(ride.found_travel_mm or ride.travel_mm for ride in rides)
    minutes_10 = sum(ride.duration_s for ride in rides) / 600.0
    events = [event.grade for ride in rides for event in ride.bottoming.events]
    return EndTogether(
        travel_mm=rides[0].travel_mm,
        mean_mm=mean_mm,
        doubt_mm=_doubt(rides),
        p95_mm=float(np.mean([ride.p95_mm for ride in rides])),
        deepest_mm=deepest_mm,
        left_mm=full_mm - mean_mm,
        left_at_deepest_mm=full_mm - deepest_mm,
        left_at_deepest_percent=100.0 * (full_mm - deepest_mm) / rides[0].travel_mm,
        graded_per_10_min={grade: events.count(grade) / minutes_10 for grade in GRADES},
    )


def _doubt(rides: Sequence[EndRide]) -> float | None:
    intervals = [ride.height.interval_mm for ride in rides if ride.height is not None]
    known = [(low_high[1] - low_high[0]) / 2 for low_high in intervals if low_high is not None]
    n = len(rides)
    inside = math.hypot(*known) / n if len(known) == n else None
    if n < RUNS_FOR_SCATTER:
        return inside
    scatter = float(np.std([ride.mean_mm for ride in rides], ddof=1))
    between = float(stdtrit(n - 1, 0.975)) * scatter / math.sqrt(n)
    return between if inside is None else max(inside, between)


@dataclass(frozen=True, slots=True, kw_only=True)
class AttitudeTogether:
    """How the bike sat on the rides of one side: means over the rides that know.

    ``level_word`` is that of the rides where all agree, else ``cannot tell``. ``rake_deg`` and ``trail_mm``
    are those at the mean ride positions, ``None`` where the bike file lacks the geometry.
    """

    front_percent: float
    rear_percent: float
    level_word: str
    rake_deg: float | None
    trail_mm: float | None


def attitude_together(rides: Sequence[RideSummary]) -> AttitudeTogether | None:
    """Take how the bike sat on several rides together; ``None`` where no ride measured both ends."""
    known = [ride.attitude for ride in rides if ride.attitude is not None]
    if not known:
        return None
    words = {one.level_word for one in known}
    return AttitudeTogether(
        front_percent=float(np.mean([one.front_percent for one in known])),
        rear_percent=float(np.mean([one.rear_percent for one in known])),
        level_word=words.pop() if len(words) == 1 else "cannot tell",
        rake_deg=_mean([one.rake_deg for one in known]),
        trail_mm=_mean([one.trail_mm for one in known]),
    )


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known else None
