"""May these rides be compared at all, and what should be known before believing it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from analysis.compare_results import Likeness
from analysis.likeness import likeness
from analysis.repeats import what_is_missing
from analysis.ride_results import RideSummary
from ingest.errors import CannotAnswer, UsageError
from ingest.log import Kind, Log
from ingest.records import End

__all__ = ["cautions_about", "check_comparable", "likeness", "long_enough", "what_is_missing"]

LEAST_S = 20.0


def check_comparable(before: Sequence[Log], after: Sequence[Log]) -> None:
    """Raise unless these are rides of one bike, each given once: a copy would pass for a second run."""
    if not before or not after:
        raise UsageError("a comparison needs one ride before and one after, or more")
    for one, other in combinations((*before, *after), 2):
        if _same_recording(one, other):
            raise UsageError(f"log {one.id} was given twice; give each ride once, on one side")
    for log in (*before, *after):
        if log.kind is not Kind.RIDE:
            raise CannotAnswer(f"log {log.id} is a {log.kind} check, not a ride; compare rides with rides")
        if log.bike.identity != before[0].bike.identity:
            raise CannotAnswer(
                f"different bikes: log {before[0].id} is of {before[0].bike.identity!r}, log {log.id} of "
                f"{log.bike.identity!r}; compare rides of one bike"
            )


def _same_recording(one: Log, other: Log) -> bool:
    """Tell by the readings: the same file read twice, or a copy of it, makes two logs."""
    return (one.id, len(one.segments)) == (other.id, len(other.segments)) and all(
        np.array_equal(a.values, b.values) for a, b in zip(one.segments, other.segments, strict=True)
    )


def long_enough(summaries: Sequence[Sequence[RideSummary]]) -> tuple[End, ...]:
    """Give the ends that both sides measured for 20 s or more: shorter rides are a handful of bumps.

    Raises
    ------
    CannotAnswer
        There is none: no end was measured on both sides, or one side is too short.
    """
    seconds = {end: [_valid_s(side, end) for side in summaries] for end in End}
    common = {end: both for end, both in seconds.items() if min(both) > 0}
    if not common:
        raise CannotAnswer(
            "no end of the bike was measured on both sides; compare rides that share a front or a rear sensor"
        )
    enough = tuple(end for end, both in common.items() if min(both) >= LEAST_S)
    if not enough:
        before, after = max(common.values(), key=min)
        raise CannotAnswer(
            f"too short to compare: {before:.1f} s of valid riding before and {after:.1f} s after; "
            f"{LEAST_S:.0f} s a side are the least, five minutes are good"
        )
    return enough


def _valid_s(side: Sequence[RideSummary], end: End) -> float:
    return sum(ride.duration_s for summary in side if (ride := summary.end(end)) is not None)


def cautions_about(
    before: Sequence[Log],
    after: Sequence[Log],
    summaries: Sequence[Sequence[RideSummary]],
    alike: Sequence[Likeness],
) -> tuple[str, ...]:
    """Say what else differs between the sides than the setup, and what was unsure in any ride.

    ``alike`` is what `likeness` found of the same rides.
    """
    said = [one.says for one in alike if one.says is not None]
    for side, logs in (("before", before), ("after", after)):
        if len({log.setup and log.setup.parts_alone() for log in logs}) > 1:
            said.append(f"the rides {side} were not ridden with one and the same setup")
    for end in End:
        for side, rides in zip(("before", "after"), summaries, strict=True):
            found = [ride.end(end) for ride in rides]
            unsure = dict.fromkeys(caution for ride in found if ride is not None for caution in ride.cautions)
            said += [f"{side}, {caution}" for caution in unsure]
    return tuple(said)
