"""One ride measured once, for any number of comparisons it takes part in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.bumps import bumps_of
from analysis.motion import EndMotion
from analysis.results import Quantity
from analysis.ride import both_motions, summarise_ride
from analysis.ride_results import EndRide, RideSummary
from analysis.roughness import roughness
from analysis.within_ride import Spread, spreads
from ingest.log import Log
from ingest.records import End

DEEPEST_KEPT = 60
"""Bumps of a ride that are kept: more than any question about the deepest ones asks for."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MeasuredEnd:
    """One end of one ride: its summary, how far chance reaches inside it, and how rough its road was.

    ``deepest_mm`` are its deepest bumps (`analysis.bumps`), the deepest first.
    """

    ride: EndRide
    spread: Mapping[str, Spread]
    roughness: Quantity | None
    deepest_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MeasuredRide:
    """One ride and the ends of it that were measured."""

    summary: RideSummary
    ends: Mapping[End, MeasuredEnd]

    @property
    def roughness(self) -> Mapping[End, Quantity | None]:
        """Give how rough the road was for each end; ``None`` where the ride is too short to tell."""
        return {end: measured.roughness for end, measured in self.ends.items()}


def measure_log(log: Log) -> tuple[MeasuredRide, Mapping[End, EndMotion]]:
    """Convert and measure a log; beside it the motion of each end that was measured.

    Raises
    ------
    CannotAnswer
        Neither end has a valid sample.
    """
    both = both_motions(log)
    summary = summarise_ride(log, motions=both)
    used = {end: motion for end, motion in both.items() if motion and summary.end(end) is not None}
    return measure(summary, used), used


def measure(summary: RideSummary, motions: Mapping[End, EndMotion]) -> MeasuredRide:
    """Measure a ride for comparing it.

    Parameters
    ----------
    summary : RideSummary
    motions : mapping of End to EndMotion
        The motion the summary is made of, for each end it has.
    """
    return MeasuredRide(
        summary=summary,
        ends={
            end: MeasuredEnd(
                ride=ride,
                spread=spreads(motions[end]),
                roughness=roughness(motions[end]),
                deepest_mm=_deepest_mm(motions[end]),
            )
            for end in End
            if (ride := summary.end(end)) is not None
        },
    )


def _deepest_mm(motion: EndMotion) -> tuple[float, ...]:
    return tuple(np.sort(bumps_of([motion]).peaks_mm)[::-1][:DEEPEST_KEPT].tolist())
