"""The proof after the work: each promise of the plan beside what was measured, with the doubt of both.

A promise is broken where the two differ by more than the doubt of their difference, 95 in 100. It is kept
where they do not, and that doubt is small enough to have shown something. What rides promise is only that
the suspension works as far from its ride position as it did: roads and pace differ, so it is named, but does
not decide.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from analysis.change import clumping, poisson_limits
from analysis.compare_results import Comparison, Metric
from analysis.plan_results import EndPlan, Option, Plan
from analysis.proof_judging import FOUND_TRAVEL_MM, around, estimate, judged, moved
from analysis.proof_results import Estimate, Promise, Proof
from analysis.proof_seat import seat_promises
from analysis.results import EndSag, Quantity, SagCheck
from analysis.ride_results import EndRide, RideSummary
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Bike, End
from ingest.version import SOFTWARE

SAME_TRAVEL_MM = 0.5
PER_10_MIN_S = 600.0
LONG_ENOUGH_PER_10_MIN = 4.0
"""A ride without bottoming says so once it rules out this rate: after some ten minutes (judgement)."""
DECIDE = ("rider_sag_mm", "seat_drop_mm", "seat_drop_taped_mm")
"""What has to be as promised before the whole is."""
ONLY_NAMED = ("mean_mm", "p99_mm", "travel_used_mm", "seat_drop_riding_mm", "wanted_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """What was measured on one side of the work."""

    sag: SagCheck | None = None
    rides: tuple[RideSummary, ...] = ()

    def end_sag(self, end: End) -> EndSag | None:
        """Give the sag of one end."""
        if self.sag is None:
            return None
        return self.sag.front if end is End.FRONT else self.sag.rear

    def end_rides(self, end: End) -> tuple[EndRide, ...]:
        """Give what one end did on each ride that measured it."""
        found = (ride.end(end) for ride in self.rides)
        return tuple(one for one in found if one is not None)


def prove(
    plan: Plan,
    before: Visit,
    after: Visit,
    *,
    bike: Bike,
    option: str | None = None,
    comparison: Comparison | None = None,
    taped_seat_drop_mm: Quantity | None = None,
    seat_drop_mm: Quantity | None = None,
) -> Proof:
    """Hold a plan against what was measured before and after the work.

    Parameters
    ----------
    plan : Plan
    before, after : Visit
        Sag check and rides of each side, as far as there are.
    bike : Bike
        The bike of the plan, for the rake.
    option : str, optional
        Name of the option that was carried out. Without it the first allowed one that leaves the travels
        which the bike has after the work, one that serves before others.
    comparison : Comparison, optional
        Of the same rides: it alone has intervals for what changed while riding.
    taped_seat_drop_mm : Quantity, optional
        Floor to seat with the rider aboard, before less after.
    seat_drop_mm : Quantity, optional
        The same from sags and from what is known of the parts that were fitted (`analysis.as_done`); it
        counts where other parts than the planned ones were.

    Raises
    ------
    CannotAnswer
        Nothing was measured after the work.
    UsageError
        The plan has no such option, or one log stands on both sides.
    """
    _insist(before, after, taped_seat_drop_mm)
    done = _option(plan, option, after)
    metrics = {} if comparison is None else {one.name: one for one in comparison.metrics}
    promises: list[Promise] = []
    for end in End:
        promised = done.front if end is End.FRONT else done.rear
        promises.append(_rider_sag(end, promised, before, after))
        promises += _travel(end, promised, after.end_rides(end))
        promises += _while_riding(end, promised, metrics)
        promises.append(_travel_used(end, promised, before.end_rides(end), after.end_rides(end)))
        promises.append(_bottoming(end, promised, before.end_rides(end), after.end_rides(end)))
    parts_as_planned = not _other_travels(done, after)
    promises += seat_promises(
        plan,
        done,
        bike,
        promises,
        taped_seat_drop_mm,
        parts_as_planned=parts_as_planned,
        as_fitted=seat_drop_mm,
    )
    return Proof(
        option=done.name,
        promises=tuple(promises),
        verdict=_verdict(promises),
        uses_its_travel=None if comparison is None else comparison.answer.uses_its_travel,
        cautions=tuple(_cautions(done, after, comparison, promises, taped=taped_seat_drop_mm is not None)),
        software=SOFTWARE,
    )


def _option(plan: Plan, name: str | None, after: Visit) -> Option:
    names = ", ".join(repr(one.name) for one in plan.options)
    if name is not None:
        for one in plan.options:
            if one.name == name:
                return one
        raise UsageError(f"the plan has no option {name!r}: it has {names}")
    fitting = [one for one in plan.options if one.allowed and not _other_travels(one, after)]
    if not fitting:
        raise UsageError(
            "no allowed option of the plan leaves the travels that the setup after the work has: say which "
            f"one was carried out, one of {names}"
        )
    return next((one for one in fitting if one.serves), fitting[0])


def _other_travels(done: Option, after: Visit) -> tuple[tuple[End, float, float], ...]:
    """Give the ends whose travel after the work is not the planned one, with both, mm."""
    found = []
    for end, planned in ((End.FRONT, done.front), (End.REAR, done.rear)):
        sag = after.end_sag(end)
        travels = [ride.travel_mm for ride in after.end_rides(end)] if sag is None else [sag.travel_mm]
        if not travels or planned.travel_mm is None:
            continue
        if abs(travels[0] - planned.travel_mm) > SAME_TRAVEL_MM + (planned.travel_doubt_mm or 0.0):
            found.append((end, travels[0], planned.travel_mm))
    return tuple(found)


def _insist(before: Visit, after: Visit, taped: Quantity | None) -> None:
    if after.sag is None and not after.rides and taped is None:
        raise CannotAnswer(
            "nothing was measured after the work: check sag with the rider aboard, and ride the same road"
        )
    logs = [
        {ride.log_id for ride in visit.rides} | ({visit.sag.log_id} if visit.sag else set())
        for visit in (before, after)
    ]
    both = sorted(logs[0] & logs[1])
    if both:
        raise UsageError(f"log {both[0]!r} stands both before and after the work: give each log once")


def _rider_sag(end: End, promised: EndPlan, before: Visit, after: Visit) -> Promise:
    was, now = before.end_sag(end), after.end_sag(end)
    return judged(
        "rider_sag_mm",
        end,
        before=estimate(None if was is None else was.rider_sag_mm),
        promised=estimate(promised.rider_sag_mm),
        measured=estimate(None if now is None else now.rider_sag_mm),
    )


def _travel(end: End, promised: EndPlan, rides: tuple[EndRide, ...]) -> Iterator[Promise]:
    """Hold the travel against where the stop was found, if it was met at all."""
    found = [ride.found_travel_mm for ride in rides if ride.found_travel_mm is not None]
    if found and promised.travel_mm is not None:
        yield judged(
            "travel_mm",
            end,
            before=None if promised.travel_now_mm is None else around(promised.travel_now_mm, 0.0),
            promised=around(promised.travel_mm, promised.travel_doubt_mm or 0.0),
            measured=around(min(found), FOUND_TRAVEL_MM),
        )


def _while_riding(end: End, promised: EndPlan, metrics: Mapping[str, Metric]) -> Iterator[Promise]:
    """Mean ride position and the deepest 1 in 100 are to move as far as rider sag was to."""
    sag, was = promised.rider_sag_mm, promised.rider_sag_now_mm
    for name in ("mean_mm", "p99_mm"):
        metric = metrics.get(f"{end}_{name}")
        if metric is None or sag is None or was is None:
            continue
        change = Estimate(value=metric.change, interval=metric.ci95)
        yield judged(
            name,
            end,
            before=Estimate(value=metric.before, interval=None),
            promised=around(metric.before + sag.value - was, sag.expanded_uncertainty),
            measured=moved(change, metric.before),
        )


def _travel_used(
    end: End, promised: EndPlan, before: tuple[EndRide, ...], after: tuple[EndRide, ...]
) -> Promise:
    """Hold the deepest moment against where it was expected, within what roads and pace may differ.

    One moment has no interval of its own; where the plan has none either, nothing is proved.
    """
    expected, doubt = promised.deepest_expected_mm, promised.deepest_doubt_mm
    deepest = [
        Estimate(value=used, interval=None if doubt is None else (used, used)) if used else None
        for used in (max((ride.travel_used_mm for ride in rides), default=0.0) for rides in (before, after))
    ]
    interval = None if expected is None or doubt is None else (expected - doubt, expected + doubt)
    return judged(
        "travel_used_mm",
        end,
        before=deepest[0],
        promised=None if expected is None else Estimate(value=expected, interval=interval),
        measured=deepest[1],
        tells_mm=math.inf,
    )


def _bottoming(
    end: End, promised: EndPlan, before: tuple[EndRide, ...], after: tuple[EndRide, ...]
) -> Promise:
    """Hold a word against a count: where none was expected, any is more than was promised."""
    word, measured = promised.bottoming_word, _rate(after)
    none_expected = Estimate(value=0.0, interval=(0.0, 0.0))
    shown = judged(
        "bottoming_per_10_min",
        end,
        unit="per 10 min",
        before=_rate(before),
        promised=none_expected if word == "not expected" else None,
        measured=measured,
    )
    if measured is None:
        return replace(shown, word="not measured" if word is not None else "not promised")
    if word not in ("expected", "not expected"):
        return replace(shown, word="not promised")
    if measured.value > 0.0:
        return replace(shown, word="more" if word == "not expected" else "as promised")
    assert measured.interval is not None
    if measured.interval[1] > LONG_ENOUGH_PER_10_MIN:
        return replace(shown, word="cannot tell")
    return replace(shown, word="as promised" if word == "not expected" else "better")


def _rate(rides: tuple[EndRide, ...]) -> Estimate | None:
    """Give bottomings in ten minutes over all rides, with the exact limits of the count (Garwood 1936)."""
    seconds = sum(ride.duration_s for ride in rides)
    if not rides or seconds <= 0.0:
        return None
    counted = [
        ([event.t_s for event in ride.bottoming.events if event.grade != "rubber"], ride.duration_s)
        for ride in rides
    ]
    clump = max(clumping(times, length) for times, length in counted)
    count = sum(ride.bottoming.count for ride in rides)
    low, high = (clump * limit for limit in poisson_limits(count / clump))
    each = PER_10_MIN_S / seconds
    return Estimate(value=count * each, interval=(low * each, high * each))


def _verdict(promises: list[Promise]) -> str:
    if any(one.word in ("more", "less") and one.name not in ONLY_NAMED for one in promises):
        return "not as promised"
    decide = [one.word for one in promises if one.name in DECIDE and one.word != "not promised"]
    return "as promised" if decide and all(word == "as promised" for word in decide) else "cannot tell"


def _cautions(
    done: Option, after: Visit, comparison: Comparison | None, promises: list[Promise], *, taped: bool
) -> Iterator[str]:
    if not done.allowed:
        yield f"{done.name}: the plan refused this one: {'; '.join(done.because)}"
    other = _other_travels(done, after)
    for end, travel, planned in other:
        yield (
            f"{end}: the setup after the work has a travel of {travel:.0f} mm, the plan {planned:.0f} mm: "
            "other parts were fitted, or one of the two is wrong; sag alone then does not tell how high the "
            "seat is"
        )
    if not taped and not other:
        yield (
            "what the parts alone give in height is taken as planned; a tape from floor to seat with the "
            "rider aboard, before and after, proves it"
        )
    if not after.rides:
        yield "no ride after the work: whether the travel is used and whether it bottoms is not shown"
    elif comparison is None:
        yield "the rides were not compared: what changed while riding has no interval"
    else:
        yield from (one.says for one in comparison.likeness if one.word == "differs" and one.says)
    tested = sum(one.difference is not None for one in promises)
    if any(one.word in ("more", "less") for one in promises) and tested > 1:
        yield f"each doubt holds 95 in 100: of {tested} promises one may look broken by chance"
