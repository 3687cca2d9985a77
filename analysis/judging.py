"""Which numbers changed between two sides of rides, all of them looked at together.

With three runs a side or more the runs themselves say how far two of them differ. With fewer, each run is
resampled in itself, and what sets two rides apart besides is allowed for. A maximum is one moment: it has no
interval and never makes a change.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.change import (
    LEVEL,
    Change,
    Counted,
    among_runs,
    clumping,
    holm,
    of_rates,
    within_rides,
)
from analysis.compare_results import Metric
from analysis.measured_ride import MeasuredEnd, MeasuredRide
from analysis.metrics import KINDS, Kind
from analysis.ride_results import EndRide, Events
from analysis.ride_to_ride import EVENTS_GROW, REST, unlike_rides
from ingest.records import End

RUNS_FOR_SCATTER = 3
PER_10_MIN_S = 600.0

Ends = Sequence[MeasuredEnd]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Judged:
    """A number before and after, and the judgement; ``None`` where chance cannot be put a number on."""

    kind: Kind
    end: End
    before: float
    after: float
    percent: float | None
    change: Change | None


def judge(
    before: Sequence[MeasuredRide],
    after: Sequence[MeasuredRide],
    ends: Sequence[End],
    level: float = LEVEL,
) -> tuple[Metric, ...]:
    """Judge every number of some ends, front then rear.

    Parameters
    ----------
    before, after : sequence of MeasuredRide
        One ride or more each; a ride that lacks an end says nothing about it.
    ends : sequence of End
        Measured on both sides.
    level : float
        Chance of one false change or more; less where several pairs are looked at together.

    Returns
    -------
    tuple of Metric
        Several runs a side are averaged, the deepest travel is the deepest of all. ``changed`` is adjusted
        by Holm's method for all numbers that have an interval.
    """
    judged = [one for end in ends for one in _judge_end(end, of_end(before, end), of_end(after, end))]
    stands = iter(holm([one.change.p for one in judged if one.change is not None], level))
    return tuple(
        Metric(
            name=f"{one.end}_{one.kind.name}",
            unit=one.kind.unit,
            before=one.before,
            after=one.after,
            change=one.after - one.before,
            ci95=None if one.change is None else one.change.ci95,
            changed=one.change is not None and next(stands),
            change_percent_of_travel=one.percent,
        )
        for one in judged
    )


def of_end(rides: Sequence[MeasuredRide], end: End) -> list[MeasuredEnd]:
    """Give one end of the rides that measured it."""
    return [ride.ends[end] for ride in rides if end in ride.ends]


def runs_decide(before: Sequence[object], after: Sequence[object]) -> bool:
    """Say whether there are runs enough on both sides to know how far two runs of one setup differ."""
    return min(len(before), len(after)) >= RUNS_FOR_SCATTER


def _judge_end(end: End, before: Ends, after: Ends) -> list[_Judged]:
    unlike = unlike_rides(*([one.roughness for one in side] for side in (before, after)))
    judged = []
    for kind in KINDS:
        sides = [[one for one in side if kind.take(one.ride) is not None] for side in (before, after)]
        if not all(sides):
            continue
        values = [[kind.take(one.ride) or 0.0 for one in side] for side in sides]
        middle = np.max if kind.maximum else np.mean
        was, now = (float(middle(side)) for side in values)
        judged.append(
            _Judged(
                kind=kind,
                end=end,
                before=was,
                after=now,
                percent=_percent(sides, values, middle) if kind.unit == "mm" else None,
                change=None if kind.maximum else _change(kind, sides, values, unlike),
            )
        )
    return judged


def _percent(sides: Sequence[Ends], values: Sequence[Sequence[float]], middle: Callable[..., float]) -> float:
    """Change of a depth in shares of the travel, each run of its own."""
    was, now = (
        float(middle([100 * value / one.ride.travel_mm for one, value in zip(side, of_side, strict=True)]))
        for side, of_side in zip(sides, values, strict=True)
    )
    return now - was


def _change(
    kind: Kind, sides: Sequence[Ends], values: Sequence[Sequence[float]], unlike: float
) -> Change | None:
    before, after = sides
    enough = runs_decide(before, after)
    if kind.events is not None:
        by_runs = among_runs(values[0], values[1], _usual_rate(sides, kind.events)) if enough else None
        return by_runs or _rates(sides, kind.events, unlike)
    grows = 0.0 if kind.grows is None else float(np.mean([kind.grows(one.ride) for one in _all(sides)]))
    if enough:
        return among_runs(values[0], values[1], grows * REST)
    spread = [[one.spread[kind.name] for one in side if kind.name in one.spread] for side in sides]
    return within_rides(float(np.mean(values[1]) - np.mean(values[0])), spread[0], spread[1], grows * unlike)


def _all(sides: Sequence[Ends]) -> list[MeasuredEnd]:
    return [one for side in sides for one in side]


def how_clumped(ends: Sequence[MeasuredEnd], events: Callable[[EndRide], Events]) -> float:
    """Say how clumped the counted events of the most clumped run are: 1 as chance alone has it, or more."""
    return max(
        clumping(
            [event.t_s for event in events(one.ride).events if event.grade != "rubber"], one.ride.duration_s
        )
        for one in ends
    )


def _usual_rate(sides: Sequence[Ends], events: Callable[[EndRide], Events]) -> float:
    """Standard deviation of one run's rate by counting alone, as clumped as the events come."""
    rides = [one.ride for one in _all(sides)]
    count = sum(events(ride).count for ride in rides) / len(rides)
    seconds = sum(ride.duration_s for ride in rides) / len(rides)
    return float(np.sqrt(how_clumped(_all(sides), events) * count)) * PER_10_MIN_S / seconds


def _rates(sides: Sequence[Ends], events: Callable[[EndRide], Events], unlike: float) -> Change:
    """Judge an event rate by its counts; both sides are taken as clumped as the more clumped run.

    Roads that are ``unlike`` by chance scatter the counts as clumping does: by a share of them, so the more
    the more there are.
    """
    counts = [sum(events(one.ride).count for one in side) for side in sides]
    clumped = how_clumped(_all(sides), events) + (EVENTS_GROW * unlike) ** 2 * sum(counts) / 4
    counted = [
        Counted(events=count, seconds=sum(one.ride.duration_s for one in side), clumping=clumped)
        for count, side in zip(counts, sides, strict=True)
    ]
    return of_rates(counted[0], counted[1], PER_10_MIN_S)
