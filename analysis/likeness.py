"""Are the rides before and after alike in all but the setup? Each thing that should be, with a word for it.

Limits are common practice, no source, unless a comment says where they come from.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise

from analysis.compare_results import Likeness
from analysis.results import Quantity
from analysis.ride_results import RideSummary
from ingest.errors import CannotAnswer
from ingest.log import Log
from ingest.records import End

ALIKE, DIFFERS, UNKNOWN = "alike", "differs", "unknown"
NOT_NOTED = "not noted"
PART_OF_IT = "part of any change may be that"

UNLIKE_LENGTH = 2.0
ROUGHNESS_WARNS, ROUGHNESS_REFUSES = 1.25, 2.0
"""Another spring or clicker moves what the road measures as by a few per cent; a factor of two is another
road, on which the same bike would pass for another one."""

USUALLY_APART = 1.15
"""Two rides of one route come out so much rougher or smoother at most (`analysis.ride_to_ride`); roads
measured further apart are not called alike where their doubt reaches past `ROUGHNESS_WARNS`."""

PACE_WARNS, PACE_REFUSES = 1.10, 1.30
TYRES_WARN_KPA = 10.0
"""Two readings of a plain gauge agree within 5 kPa or so."""

SECTION_WARNS = 1.15

Sides = tuple[Sequence[Log], Sequence[Log]]
Roughness = Sequence[Sequence[Mapping[End, Quantity | None]]]


def likeness(
    before: Sequence[Log],
    after: Sequence[Log],
    summaries: Sequence[Sequence[RideSummary]],
    roughness: Roughness | None = None,
) -> tuple[Likeness, ...]:
    """Lay side by side what should be the same before and after.

    Parameters
    ----------
    before, after : sequence of Log
    summaries : (before, after)
        The summary of each log, in the same order; pace is taken from them.
    roughness : (before, after), optional
        For each log `analysis.roughness.roughness` of each end that was measured, mm/s; unknown without.

    Returns
    -------
    tuple of Likeness
        length, roughness, pace, sections, load case, rider, route, tyre pressures, warmed up.

    Raises
    ------
    CannotAnswer
        Nothing sensible can be said of the setup: every measured end met a road twice as rough on one side,
        or the pace differs by 30 % or more, each beyond its doubt.
    """
    sides: Sides = (before, after)
    found = [_length(sides, summaries), _roughness(roughness), _pace(summaries), _sections(sides)]
    found += [
        _noted("load case", sides, lambda log: log.load_case),
        _noted("rider", sides, lambda log: log.rider.name if log.rider else None),
        _noted("route", sides, lambda log: log.run.route),
        _tyres(sides),
        _warmed_up(sides),
    ]
    return tuple(found)


def _length(sides: Sides, summaries: Sequence[Sequence[RideSummary]]) -> Likeness:
    """Compare how long the rides of each side are on average, gaps and unusable stretches left out."""
    before, after = (
        sum(map(_ridden_s, logs, of_side)) / len(logs) for logs, of_side in zip(sides, summaries, strict=True)
    )
    unlike = max(before, after) > UNLIKE_LENGTH * min(before, after)
    says = (
        f"the rides are of unlike length, {before:.0f} s before and {after:.0f} s after: "
        "the deepest travel of a longer ride is deeper by itself"
    )
    return Likeness(
        what="length",
        before=f"{before:.0f} s",
        after=f"{after:.0f} s",
        word=DIFFERS if unlike else ALIKE,
        says=says if unlike else None,
    )


def _ridden_s(log: Log, summary: RideSummary) -> float:
    measured = [ride.duration_s for end in End if (ride := summary.end(end)) is not None]
    return max(measured, default=sum(part.end_s - part.start_s for part in log.segments))


def _roughness(roughness: Roughness | None) -> Likeness:
    """Compare how rough the road was at each end; the end where it differs least has the word.

    A changed end may measure a little otherwise on the same road; a rougher road shows at both.
    """
    found = {} if roughness is None else {end: _rough_sides(roughness, end) for end in End}
    known = {end: both for end, both in found.items() if both is not None}
    if not known:
        return Likeness(what="roughness", before="not known", after="not known", word=UNKNOWN)
    before, after = (
        ", ".join(f"{end} {both[side].value:.0f} mm/s" for end, both in known.items()) for side in (0, 1)
    )
    ratios = [_log_ratio(both) for both in known.values()]
    seen, least, most = (
        _shared([math.copysign(max(abs(ratio) + share * doubt, 0.0), ratio) for ratio, doubt in ratios])
        for share in (0, -1, 1)
    )
    if math.exp(abs(least)) > ROUGHNESS_REFUSES:
        raise CannotAnswer(
            f"the roads are too unlike to compare setups: wheel speed at 3 to 8 Hz was {before} before and "
            f"{after} after; ride both on the same route"
        )
    rougher = f"rougher {'after' if seen > 0 else 'before'}"
    apart = f"{before} before against {after} after, wheel speed at 3 to 8 Hz; {PART_OF_IT}"
    word, says = ALIKE, None
    if math.exp(abs(least)) > ROUGHNESS_WARNS:
        word, says = DIFFERS, f"the road was {rougher}: {apart}"
    elif math.exp(abs(seen)) > USUALLY_APART and math.exp(abs(most)) > ROUGHNESS_WARNS:
        word, says = UNKNOWN, f"cannot tell whether the road was {rougher}: {apart}"
    return Likeness(what="roughness", before=before, after=after, word=word, says=says)


def _shared(ratios: Sequence[float]) -> float:
    """Give the least ratio; rougher at one end and smoother at the other is the setup, not the road."""
    return min(ratios, key=abs) if len({ratio > 0 for ratio in ratios}) == 1 else 0.0


def _rough_sides(roughness: Roughness, end: End) -> tuple[Quantity, Quantity] | None:
    both = [[found for of_log in side if (found := of_log.get(end)) is not None] for side in roughness]
    return (_mean(both[0]), _mean(both[1])) if all(both) else None


def _mean(quantities: Sequence[Quantity]) -> Quantity:
    n = len(quantities)
    return Quantity(
        value=sum(one.value for one in quantities) / n,
        expanded_uncertainty=math.hypot(*(one.expanded_uncertainty for one in quantities)) / n,
        coverage_factor=max(one.coverage_factor for one in quantities),
    )


def _log_ratio(both: tuple[Quantity, Quantity]) -> tuple[float, float]:
    """Log of after over before and its doubt; the sign says which is more."""
    before, after = both
    return math.log(after.value / before.value), math.hypot(
        *(one.expanded_uncertainty / one.value for one in both)
    )


def _pace(summaries: Sequence[Sequence[RideSummary]]) -> Likeness:
    speeds = [
        [found.speed.speed_m_s for found in side if found.speed is not None and found.speed.speed_m_s]
        for side in summaries
    ]
    if not all(speeds):
        said = [f"{_mean(side).value:.1f} m/s" if side else "not known" for side in speeds]
        return Likeness(what="pace", before=said[0], after=said[1], word=UNKNOWN)
    both = (_mean(speeds[0]), _mean(speeds[1]))
    before, after = (f"{one.value:.1f} m/s" for one in both)
    ratio, doubt = _log_ratio(both)
    factor = math.exp(max(abs(ratio) - doubt, 0.0))
    if factor > PACE_REFUSES:
        raise CannotAnswer(
            f"the paces are too unlike to compare setups: {before} before and {after} after; ride both alike"
        )
    faster = "after" if ratio > 0 else "before"
    return Likeness(
        what="pace",
        before=before,
        after=after,
        word=DIFFERS if factor > PACE_WARNS else ALIKE,
        says=f"ridden faster {faster}: {before} before, {after} after; {PART_OF_IT}"
        if factor > PACE_WARNS
        else None,
    )


def _sections(sides: Sides) -> Likeness:
    """Compare the marks: the same words in the same order, and as long from each to the next."""
    said = [{tuple(_mark_words(log)) for log in side} for side in sides]
    before, after = (_marks_text(side) for side in said)
    word, says = ALIKE, None
    if said == [{()}, {()}]:
        word = UNKNOWN
    elif said[0] != said[1] or len(said[0]) > 1:
        word = DIFFERS
        says = (
            f"the marks on the rides differ ({before} before, {after} after): was it the same route, in the "
            f"same order? {PART_OF_IT}"
        )
    elif unlike := next(_unlike_sections(sides), None):
        name, *seconds = unlike
        word = DIFFERS
        took = f"took {seconds[0]:.0f} s before and {seconds[1]:.0f} s after"
        says = f"the section from {name} {took}; {PART_OF_IT}"
    return Likeness(what="sections", before=before, after=after, word=word, says=says)


def _mark_words(log: Log) -> Iterator[str]:
    return (" ".join(mark.text.lower().split()) for mark in log.marks)


def _marks_text(said: set[tuple[str, ...]]) -> str:
    if said == {()}:
        return "no marks"
    return " or ".join(" – ".join(f"“{word}”" for word in words) or "no marks" for words in sorted(said))


def _unlike_sections(sides: Sides) -> Iterator[tuple[str, float, float]]:
    """Sections between two marks that took unlike long, as (name, s before, s after); marks are the same."""
    lasted = [
        [[b.t_s - a.t_s for a, b in pairwise(log.marks)] for log in side if log.marks] for side in sides
    ]
    names = [f"“{a}” to “{b}”" for a, b in pairwise(_mark_words(sides[0][0]))]
    for k, name in enumerate(names):
        before, after = (sum(of_log[k] for of_log in side) / len(side) for side in lasted)
        if max(before, after) > SECTION_WARNS * min(before, after):
            yield name, before, after


def _noted(what: str, sides: Sides, said_of: Callable[[Log], str | None]) -> Likeness:
    """Compare what somebody noted, letter case and spaces aside."""
    said = [{said_of(log) for log in side} for side in sides]
    before, after = (_text(values) for values in said)
    if None in said[0] | said[1]:
        return Likeness(what=what, before=before, after=after, word=UNKNOWN)
    plain = [{" ".join(str(value).lower().split()) for value in values} for values in said]
    alike = plain[0] == plain[1]
    return Likeness(
        what=what,
        before=before,
        after=after,
        word=ALIKE if alike else DIFFERS,
        says=None if alike else f"the {what} differs: {before} before, {after} after; {PART_OF_IT}",
    )


def _text(values: set[str | None]) -> str:
    return ", ".join(sorted(NOT_NOTED if value is None else value for value in values))


def _tyres(sides: Sides) -> Likeness:
    """Compare tyre pressures end by end, over all runs: the widest apart of any two has the word."""
    kpa = [[(log.run.front_tyre_kpa, log.run.rear_tyre_kpa) for log in side] for side in sides]
    before, after = (_tyres_text(side) for side in kpa)
    every = [pair for side in kpa for pair in side]
    apart = [max(of_end) - min(of_end) for of_end in zip(*every, strict=True) if None not in of_end]
    if any(one > TYRES_WARN_KPA for one in apart):
        return Likeness(
            what="tyre pressures",
            before=before,
            after=after,
            word=DIFFERS,
            says=f"the tyre pressures differ: {before} before, {after} after; {PART_OF_IT}",
        )
    return Likeness(
        what="tyre pressures", before=before, after=after, word=ALIKE if len(apart) == 2 else UNKNOWN
    )


def _tyres_text(side: Sequence[tuple[float | None, float | None]]) -> str:
    texts = dict.fromkeys(
        f"{'?' if front is None else f'{front:.0f}'}/{'?' if rear is None else f'{rear:.0f}'} kPa"
        for front, rear in side
    )
    return NOT_NOTED if set(texts) == {"?/? kPa"} else ", ".join(texts)


def _warmed_up(sides: Sides) -> Likeness:
    said = [{log.run.warmed_up for log in side} for side in sides]
    words = {True: "warm", False: "cold", None: NOT_NOTED}
    before, after = (", ".join(sorted(words[value] for value in values)) for values in said)
    every = said[0] | said[1]
    cold = f"some rides were begun cold ({before} before, {after} after): oil and tyres change as they warm; "
    if False in every and len(every) > 1:
        return Likeness(what="warmed up", before=before, after=after, word=DIFFERS, says=cold + PART_OF_IT)
    return Likeness(what="warmed up", before=before, after=after, word=UNKNOWN if None in every else ALIKE)
