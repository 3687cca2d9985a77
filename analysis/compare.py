"""Rides before against rides after: what changed, by more than chance explains.

With three runs a side or more the scatter from run to run judges a change (Welch). With fewer, each ride is
resampled in itself: that answers for these rides only, and the comparison says so. A maximum is one moment:
it has no interval and never makes a change. What counts as changed is adjusted for looking at many numbers
at once (Holm).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.change import Change, Counted, between_runs, clumping, holm, of_rates, within_rides
from analysis.comparable import cautions_about, check_comparable, long_enough
from analysis.compare_results import Answer, Comparison, Metric
from analysis.metrics import KINDS, Kind, in_words
from analysis.motion import end_motion
from analysis.ride import summarise_ride
from analysis.ride_results import EndRide, Events, RideSummary
from analysis.travel_use import TRAVEL_RULE, TravelRule, uses_its_travel
from analysis.within_ride import Spread, spreads
from ingest.log import Log
from ingest.records import End
from ingest.version import SOFTWARE

RUNS_FOR_WELCH = 3
PER_10_MIN_S = 600.0
# “No clear change” is said only where a shift of the ride position by this share of travel would show.
WORTH_SEEING = 0.05


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Run:
    """One end of one run: its summary and, where needed, how far chance reaches inside it."""

    ride: EndRide
    spread: Mapping[str, Spread]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Judged:
    """A number before and after, and the judgement; ``None`` where chance cannot be put a number on."""

    name: str
    unit: str
    before: float
    after: float
    judged: Change | None


def compare_rides(before: Sequence[Log], after: Sequence[Log], rule: TravelRule = TRAVEL_RULE) -> Comparison:
    """Compare rides of one bike before and after a change.

    Parameters
    ----------
    before, after : sequence of Log
        One ride or more each, all of the same bike, under whatever setups. Travel, leverage and zero of each
        are those of its own setup.
    rule : TravelRule
        What using the travel means.

    Returns
    -------
    Comparison
        Metrics front then rear; an end that one side did not measure has none. Several runs a side are
        averaged, the deepest travel is the deepest of all.

    Raises
    ------
    CannotAnswer
        Different bikes, a sag check among the rides, a side with less than 20 s of valid riding, or no end
        measured on both sides.
    UsageError
        A side without a ride, or a ride given twice.
    """
    check_comparable(before, after)
    summaries = [[summarise_ride(log) for log in side] for side in (before, after)]
    judged: list[_Judged] = []
    runs: dict[End, tuple[int, int]] = {}
    for end in long_enough(summaries):
        sides = [
            [(log, ride) for log, summary in zip(logs, of_side, strict=True) if (ride := summary.end(end))]
            for logs, of_side in zip((before, after), summaries, strict=True)
        ]
        runs[end] = (len(sides[0]), len(sides[1]))
        # Only rides too few to be judged by their scatter are resampled, which takes a while.
        spread = min(runs[end]) < RUNS_FOR_WELCH
        made = [[_run(log, ride, end, spread=spread) for log, ride in side] for side in sides]
        judged += _judge_end(end, made[0], made[1])
    metrics, family = _adjusted(judged)
    answer = _answer(metrics, summaries[1], rule)
    return Comparison(
        before=tuple(summaries[0]),
        after=tuple(summaries[1]),
        metrics=metrics,
        answer=answer,
        cautions=(*_method(runs, family), *cautions_about(before, after, summaries)),
        software=SOFTWARE,
    )


def _run(log: Log, ride: EndRide, end: End, *, spread: bool) -> _Run:
    motion = end_motion(log, end) if spread else None
    return _Run(ride=ride, spread={} if motion is None else spreads(motion))


def _judge_end(end: End, before: Sequence[_Run], after: Sequence[_Run]) -> list[_Judged]:
    judged: list[_Judged] = []
    for kind in KINDS:
        values = [[kind.take(run.ride) for run in side] for side in (before, after)]
        sides = [[value for value in side if value is not None] for side in values]
        if not all(sides):
            continue
        middle = np.max if kind.maximum else np.mean
        one, other = (float(middle(side)) for side in sides)
        change = None
        if not kind.maximum:
            enough = min(len(side) for side in sides) >= RUNS_FOR_WELCH
            change = between_runs(sides[0], sides[1]) if enough else None
            change = change or _within(kind, other - one, before, after)
        judged.append(
            _Judged(name=f"{end}_{kind.name}", unit=kind.unit, before=one, after=other, judged=change)
        )
    return judged


def _within(kind: Kind, change: float, before: Sequence[_Run], after: Sequence[_Run]) -> Change | None:
    if kind.events is not None:
        return _rates(before, after, kind.events)
    return within_rides(change, _spread(before, kind.name), _spread(after, kind.name))


def _spread(runs: Sequence[_Run], name: str) -> list[Spread]:
    return [run.spread[name] for run in runs if name in run.spread]


def _rates(before: Sequence[_Run], after: Sequence[_Run], events: Callable[[EndRide], Events]) -> Change:
    """Judge an event rate by its counts; both sides are taken as clumped as the more clumped run."""
    runs = [*before, *after]
    clumped = max(
        clumping(
            [event.t_s for event in events(run.ride).events if event.grade != "rubber"], run.ride.duration_s
        )
        for run in runs
    )
    counted = [
        Counted(
            events=sum(events(run.ride).count for run in side),
            seconds=sum(run.ride.duration_s for run in side),
            clumping=clumped,
        )
        for side in (before, after)
    ]
    return of_rates(counted[0], counted[1], PER_10_MIN_S)


def _adjusted(judged: Sequence[_Judged]) -> tuple[tuple[Metric, ...], int]:
    """Decide what changed, all numbers looked at together; also give how many were."""
    family = [one.judged.p for one in judged if one.judged is not None]
    stands = iter(holm(family))
    metrics = tuple(
        Metric(
            name=one.name,
            unit=one.unit,
            before=one.before,
            after=one.after,
            change=one.after - one.before,
            ci95=None if one.judged is None else one.judged.ci95,
            changed=one.judged is not None and next(stands),
        )
        for one in judged
    )
    return metrics, len(family)


def _answer(metrics: Sequence[Metric], after: Sequence[RideSummary], rule: TravelRule) -> Answer:
    uses, because = uses_its_travel([(summary.front, summary.rear) for summary in after], rule)
    changed = [metric for metric in metrics if metric.changed]
    counted = sum(metric.ci95 is not None for metric in metrics)
    if changed:
        names = ", ".join(in_words(metric.name) for metric in changed)
        said = f"Changed by more than chance explains: {len(changed)} of {counted} numbers ({names})."
        return Answer(verdict="changed", uses_its_travel=uses, because=(said, *because))
    blind = _blind(metrics, after)
    if blind is not None:
        return Answer(verdict="cannot tell", uses_its_travel=uses, because=(blind, *because))
    said = f"None of {counted} numbers changed by more than chance explains."
    return Answer(verdict="no clear change", uses_its_travel=uses, because=(said, *because))


def _blind(metrics: Sequence[Metric], after: Sequence[RideSummary]) -> str | None:
    """Say so when even a plain shift of the ride position would not have shown."""
    for end in End:
        mean = next((metric for metric in metrics if metric.name == f"{end}_mean_mm"), None)
        rides = [ride for summary in after if (ride := summary.end(end)) is not None]
        if mean is None:
            continue
        if mean.ci95 is None:
            return f"{str(end).capitalize()}: chance cannot be put a number on; ride longer."
        half, worth = (mean.ci95[1] - mean.ci95[0]) / 2, WORTH_SEEING * rides[0].travel_mm
        if half > worth:
            return (
                f"{str(end).capitalize()}: chance alone moves the ride position by {half:.0f} mm, so a shift "
                f"of {worth:.0f} mm would not show; ride longer or more often."
            )
    return None


def _method(runs: Mapping[End, tuple[int, int]], family: int) -> tuple[str, ...]:
    """Name what the intervals are made of, and what they cannot know; once where both ends agree."""
    made = {end: _made_of(*counted) for end, counted in runs.items()}
    alike = len(set(made.values())) == 1
    first = (
        tuple(dict.fromkeys(made.values())) if alike else tuple(f"{e}: {said}" for e, said in made.items())
    )
    return (
        *first,
        f"changed: adjusted for looking at {family} numbers together (Holm, 5 in 100); "
        "an interval belongs to its one number",
        "the deepest travel is one moment, not counted as a change",
    )


def _made_of(before: int, after: int) -> str:
    if min(before, after) >= RUNS_FOR_WELCH:
        return f"intervals from the scatter between runs ({before} before, {after} after; Welch)"
    return (
        f"these rides only ({before} before, {after} after): run-to-run spread unknown, the same setup "
        f"may come out otherwise on another run; ride {RUNS_FOR_WELCH} a side to know it"
    )
