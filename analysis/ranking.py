"""Springs and setups of one bike in order: which uses its travel best, and what each is best and worst at.

The order goes by one stated rule. Setups are compared two at a time, all pairs looked at together, and what
chance explains makes no order: such setups share a place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.change import LEVEL
from analysis.comparable import check_comparable, long_enough
from analysis.compare_results import Likeness, Metric, Ranked, Ranking
from analysis.effective import effective_bike
from analysis.equal_sag import SagShare, equal_sag, sag_cautions, sag_share
from analysis.judging import RUNS_FOR_SCATTER, judge
from analysis.likeness import likeness
from analysis.measured_ride import MeasuredRide, measure_log
from analysis.metrics import KINDS
from analysis.results import Quantity
from analysis.travel_use import CANNOT_TELL, NO, TRAVEL_RULE, YES, TravelRule, uses_its_travel
from ingest.errors import UsageError
from ingest.log import Log
from ingest.records import End

ORDER = {YES: 0, CANNOT_TELL: 1, NO: 2}

RULE = (
    "First comes what uses its travel, then what cannot be told, then what does not, where chance does not "
    "explain how differently deep they go. Among those alike, fewer bottomings come first where chance does "
    "not explain them. What neither tells apart shares a place; a single deepest moment never makes one."
)

HOW_DEEP = ("p95_mm", "p99_mm", "bottoming_per_10_min")
"""The metrics of an end that say how deep it goes, each with an interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trait:
    """Something to be good or bad at: the metric it shows in, which way is good, and the words for both."""

    metric: str
    more_is_better: bool
    best: str
    worst: str


TRAITS = (
    _Trait(
        metric="bottoming_per_10_min",
        more_is_better=False,
        best="bottoms least often",
        worst="bottoms most often",
    ),
    _Trait(
        metric="topping_per_10_min",
        more_is_better=False,
        best="tops out least often",
        worst="tops out most often",
    ),
    _Trait(
        metric="mean_mm",
        more_is_better=False,
        best="keeps most travel in hand where it rides",
        worst="keeps least travel in hand where it rides",
    ),
    _Trait(
        metric="p99_mm",
        more_is_better=True,
        best="takes most of its travel on the big bumps",
        worst="leaves most travel unused on the big bumps",
    ),
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Setup:
    """All rides of one setup, measured once for all its comparisons."""

    name: str
    logs: Sequence[Log]
    rides: Sequence[MeasuredRide]
    uses: str

    def travel_mm(self, end: End) -> float | None:
        suspension = effective_bike(self.logs[0].bike, self.logs[0].setup).suspension(end)
        return None if suspension is None else suspension.travel_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """Two setups compared: ``before`` and ``after`` of the metrics are the one and the other."""

    metrics: Mapping[str, Metric]
    likeness: tuple[Likeness, ...]

    @property
    def told_apart(self) -> bool:
        return any(metric.changed for metric in self.metrics.values())


Pairs = Mapping[tuple[str, str], _Pair]


def rank_setups(
    groups: Mapping[str, Sequence[Log]],
    rider_sags: Mapping[str, Mapping[End, Quantity]] | None = None,
    rule: TravelRule = TRAVEL_RULE,
    on_ride: Callable[[Log], None] | None = None,
) -> Ranking:
    """Put setups of one bike in order.

    Parameters
    ----------
    groups : mapping
        The rides of each setup, by the setup's name; two setups or more, one ride each or more.
    rider_sags : mapping, optional
        Rider sag of each setup and end, mm with its uncertainty, as far as known.
    rule : TravelRule
        What using the travel means.
    on_ride : callable, optional
        Told each log before it is worked on.

    Returns
    -------
    Ranking
        By place, then in the order given. ``metrics`` of a setup are means over its rides. Each pair of
        setups is judged at the family level divided by the number of pairs (Bonferroni), the numbers of a
        pair after Holm.

    Raises
    ------
    CannotAnswer
        Two setups whose rides cannot be compared at all.
    UsageError
        Fewer than two setups.
    """
    if len(groups) < 2:
        raise UsageError(
            f"{len(groups)} setup among these rides: a ranking needs rides of two setups or more"
        )
    for one, other in combinations(groups, 2):
        check_comparable(groups[one], groups[other])
    setups = [_measured(name, logs, rule, on_ride) for name, logs in groups.items()]
    level = LEVEL / (len(setups) * (len(setups) - 1) / 2)
    pairs = {(one.name, other.name): _compared(one, other, level) for one, other in combinations(setups, 2)}
    shares = {
        one.name: {
            end: sag_share((rider_sags or {}).get(one.name, {}).get(end), one.travel_mm(end)) for end in End
        }
        for one in setups
    }
    equal = {name: equal_sag(name, shares) for name in groups}
    ranked = [_ranked(one, setups, pairs, shares[one.name], equal[one.name]) for one in setups]
    return Ranking(
        ranked=tuple(sorted(ranked, key=lambda one: one.place)),
        rule=f"{RULE} {rule.in_words()}",
        uncertain=tuple(
            f"{one} and {other}: chance alone may explain every difference; ride more often or longer"
            for (one, other), pair in pairs.items()
            if not pair.told_apart
        ),
        cautions=(*sag_cautions(shares, equal), *_run_cautions(groups), *_unlike(pairs)),
    )


def _measured(
    name: str, logs: Sequence[Log], rule: TravelRule, on_ride: Callable[[Log], None] | None
) -> _Setup:
    rides = []
    for log in logs:
        if on_ride is not None:
            on_ride(log)
        ride, _ = measure_log(log)
        rides.append(ride)
    uses, _ = uses_its_travel([(ride.ends.get(End.FRONT), ride.ends.get(End.REAR)) for ride in rides], rule)
    return _Setup(name=name, logs=logs, rides=rides, uses=uses)


def _compared(one: _Setup, other: _Setup, level: float) -> _Pair:
    summaries = [[ride.summary for ride in setup.rides] for setup in (one, other)]
    roughness = [[ride.roughness for ride in setup.rides] for setup in (one, other)]
    metrics = judge(one.rides, other.rides, long_enough(summaries), level)
    return _Pair(
        metrics={metric.name: metric for metric in metrics},
        likeness=likeness(one.logs, other.logs, summaries, roughness),
    )


def _ranked(
    one: _Setup,
    setups: Sequence[_Setup],
    pairs: Pairs,
    shares: Mapping[End, SagShare | None],
    equal: bool | None,
) -> Ranked:
    others = [other for other in setups if other is not one]
    front, rear = (None if share is None else share.percent for share in shares.values())
    return Ranked(
        setup=one.name,
        place=1 + sum(_better(other, one, pairs) for other in others),
        runs=len(one.logs),
        minutes=sum(log.duration_s for log in one.logs) / 60.0,
        rider_sag_percent=(front, rear),
        equal_sag=equal,
        best_at=tuple(_stands_out(one, others, pairs, best=True)),
        worst_at=tuple(_stands_out(one, others, pairs, best=False)),
        metrics=tuple(_means(one)),
    )


def _better(one: _Setup, other: _Setup, pairs: Pairs) -> bool:
    """Say whether one setup stands before the other, by numbers that have an interval.

    The answer on travel rests on the deepest bumps, so by itself it makes no order.
    """
    if one.uses != other.uses and _go_differently_deep(one.name, other.name, pairs):
        return ORDER[one.uses] < ORDER[other.uses]
    more = [_more(one.name, other.name, f"{end}_bottoming_per_10_min", pairs) for end in End]
    return min(more) < 0 and max(more) <= 0


def _go_differently_deep(one: str, other: str, pairs: Pairs) -> bool:
    return any(_more(one, other, f"{end}_{metric}", pairs) != 0 for end in End for metric in HOW_DEEP)


def _found(one: str, other: str, metric: str, pairs: Pairs) -> tuple[Metric | None, float]:
    """Give the metric two setups were compared by, and the sign that makes its change one over the other."""
    turned = (one, other) not in pairs
    pair = pairs[(other, one) if turned else (one, other)]
    return pair.metrics.get(metric), 1.0 if turned else -1.0


def _more(one: str, other: str, metric: str, pairs: Pairs) -> float:
    """Give how much more one setup has of a metric than the other; 0 where unknown or chance explains it.

    Of a depth it is the share of the travel, each of its own. Where the two disagree, in millimetres it goes
    deeper and in shares it does not, neither is said.
    """
    found, sign = _found(one, other, metric, pairs)
    if found is None or not found.changed:
        return 0.0
    share = found.change_percent_of_travel
    if share is None:
        return sign * found.change
    return sign * share if share * found.change > 0 else 0.0


def _stands_out(one: _Setup, others: Sequence[_Setup], pairs: Pairs, *, best: bool) -> Iterator[str]:
    """Say in what a setup comes first (or last) of all, and not by chance against one other at least."""
    for end in End:
        for trait in TRAITS:
            more = [_more(one.name, other.name, f"{end}_{trait.metric}", pairs) for other in others]
            ahead = more if trait.more_is_better == best else [-each for each in more]
            if max(ahead) > 0 and min(ahead) >= 0:
                yield f"{trait.best if best else trait.worst} ({end})"


def _means(one: _Setup) -> Iterator[tuple[str, float]]:
    for end in End:
        for kind in KINDS:
            taken = [kind.take(ride.ends[end].ride) for ride in one.rides if end in ride.ends]
            values = [value for value in taken if value is not None]
            if values:
                yield f"{end}_{kind.name}", float(max(values) if kind.maximum else np.mean(values))


def _run_cautions(groups: Mapping[str, Sequence[Log]]) -> Iterator[str]:
    short = [name for name, logs in groups.items() if len(logs) < RUNS_FOR_SCATTER]
    if short:
        yield (
            f"fewer than {RUNS_FOR_SCATTER} runs with {', '.join(short)}: another run of the same setup may "
            f"come out otherwise; ride {RUNS_FOR_SCATTER} with each"
        )


def _unlike(pairs: Pairs) -> Iterator[str]:
    """What should have been alike and was not, for each pair."""
    for (one, other), pair in pairs.items():
        for each in pair.likeness:
            if each.says is not None:
                yield f"{one} (before) against {other} (after): {each.says}"
