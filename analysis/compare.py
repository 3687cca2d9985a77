"""Rides before against rides after: what changed, by more than chance explains.

Each ride is converted and measured once. Whether the rides may be compared at all is asked first
(`analysis.comparable`), then every number is judged, all of them together (`analysis.judging`), and the
question of the job is answered in words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from analysis.comparable import cautions_about, check_comparable, long_enough
from analysis.compare_results import Answer, BottomingForecast, Comparison, Likeness, Metric
from analysis.drift import drift
from analysis.judging import RUNS_FOR_SCATTER, judge, of_end, runs_decide
from analysis.likeness import likeness
from analysis.measured_ride import MeasuredRide, measure_log
from analysis.metrics import in_words
from analysis.motion import EndMotion
from analysis.results import Quantity
from analysis.ride_results import RideSummary
from analysis.ride_to_ride import USUAL_ROUGHNESS
from analysis.tail import forecast
from analysis.travel_use import TRAVEL_RULE, TravelRule, uses_its_travel
from ingest.log import Log
from ingest.records import End
from ingest.version import SOFTWARE

# “No clear change” is said only where a shift of the ride position by this share of travel would show.
WORTH_SEEING = 0.05
RUNS, THESE_RIDES = "runs", "these rides only"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Side:
    """The rides of one side, in the order given: what was recorded, how it moved, and what that comes to."""

    logs: Sequence[Log]
    motions: Sequence[Mapping[End, EndMotion]]
    measured: Sequence[MeasuredRide]

    @property
    def summaries(self) -> tuple[RideSummary, ...]:
        return tuple(ride.summary for ride in self.measured)

    @property
    def roughness(self) -> tuple[Mapping[End, Quantity | None], ...]:
        return tuple(ride.roughness for ride in self.measured)


def compare_rides(
    before: Sequence[Log],
    after: Sequence[Log],
    rule: TravelRule = TRAVEL_RULE,
    on_ride: Callable[[Log], None] | None = None,
) -> Comparison:
    """Compare rides of one bike before and after a change.

    Parameters
    ----------
    before, after : sequence of Log
        One ride or more each, all of the same bike, under whatever setups. Travel, leverage and zero of each
        are those of its own setup. Rides before may lie on both sides of the others in time.
    rule : TravelRule
        What using the travel means.
    on_ride : callable, optional
        Told each log before it is worked on.

    Returns
    -------
    Comparison
        Metrics front then rear; an end that one side did not measure has none. Several runs a side are
        averaged, the deepest travel is the deepest of all.

    Raises
    ------
    CannotAnswer
        Different bikes, a sag check among the rides, a side with less than 20 s of valid riding, no end
        measured on both sides, or roads or paces too unlike.
    UsageError
        A side without a ride, or a ride given twice.
    """
    check_comparable(before, after)
    was, now = _side(before, on_ride), _side(after, on_ride)
    ends = long_enough((was.summaries, now.summaries))
    alike = likeness(before, after, (was.summaries, now.summaries), (was.roughness, now.roughness))
    metrics = judge(was.measured, now.measured, ends)
    by_runs = {end: runs_decide(*(of_end(side.measured, end) for side in (was, now))) for end in ends}
    drifted = drift(before, after, was.measured, ends)
    method = _method(was, now, by_runs, metrics)
    return Comparison(
        before=was.summaries,
        after=now.summaries,
        metrics=metrics,
        answer=_answer(metrics, now.measured, rule, drifted, alike),
        cautions=(*method, *cautions_about(before, after, (was.summaries, now.summaries), alike)),
        software=SOFTWARE,
        basis=RUNS if all(by_runs.values()) else THESE_RIDES,
        rule=rule.in_words(),
        likeness=alike,
        forecasts_before=_forecasts(was, ends),
        forecasts_after=_forecasts(now, ends),
        method=method,
    )


def _side(logs: Sequence[Log], on_ride: Callable[[Log], None] | None) -> _Side:
    motions: list[Mapping[End, EndMotion]] = []
    measured: list[MeasuredRide] = []
    for log in logs:
        if on_ride is not None:
            on_ride(log)
        ride, used = measure_log(log)
        motions.append(used)
        measured.append(ride)
    return _Side(logs=logs, motions=motions, measured=measured)


def _forecasts(side: _Side, ends: Sequence[End]) -> tuple[BottomingForecast, ...]:
    """Foretell bottoming for each end; where a stop was found before the full travel, to that."""
    found = []
    for end in ends:
        rides = [one.ride for one in of_end(side.measured, end)]
        full_mm = min(ride.found_travel_mm or ride.travel_mm for ride in rides)
        found.append(forecast([motions[end] for motions in side.motions if end in motions], full_mm, end))
    return tuple(found)


def _answer(
    metrics: Sequence[Metric],
    after: Sequence[MeasuredRide],
    rule: TravelRule,
    drifted: Sequence[str],
    alike: Sequence[Likeness],
) -> Answer:
    uses, because = uses_its_travel(
        [(ride.ends.get(End.FRONT), ride.ends.get(End.REAR)) for ride in after], rule
    )
    because = (*map(_sentence, drifted), *because)
    changed = [metric for metric in metrics if metric.changed]
    counted = sum(metric.ci95 is not None for metric in metrics)
    if changed:
        names = ", ".join(in_words(metric.name) for metric in changed)
        said = f"Changed by more than chance explains: {len(changed)} of {counted} numbers ({names})."
        said += _by_chance(metrics)
        road = (_sentence(one.says) for one in alike if one.what == "roughness" and one.says is not None)
        return Answer(verdict="changed", uses_its_travel=uses, because=(said, *road, *because))
    blind = _blind(metrics, [ride.summary for ride in after])
    if blind is not None:
        return Answer(verdict="cannot tell", uses_its_travel=uses, because=(blind, *because))
    said = f"None of {counted} numbers changed by more than chance explains.{_by_chance(metrics)}"
    return Answer(verdict="no clear change", uses_its_travel=uses, because=(said, *because))


def _by_chance(metrics: Sequence[Metric]) -> str:
    """Say why a number whose own interval leaves out zero is not called changed, where there is one."""
    judged = [metric for metric in metrics if metric.ci95 is not None]
    named = [
        in_words(one.name)
        for one in judged
        if not one.changed and one.ci95 is not None and not one.ci95[0] <= 0 <= one.ci95[1]
    ]
    if not named:
        return ""
    interval, leaves = ("interval", "leaves") if len(named) == 1 else ("intervals", "leave")
    return (
        f" The {interval} of the {' and the '.join(named)} {leaves} out zero, but among {len(judged)} "
        "numbers looked at together one such comes by chance."
    )


def _sentence(said: str) -> str:
    return f"{said[0].upper()}{said[1:]}."


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


def _method(
    was: _Side, now: _Side, by_runs: Mapping[End, bool], metrics: Sequence[Metric]
) -> tuple[str, ...]:
    """Name what the intervals are made of, and what they cannot know; once where both ends agree."""
    made = {
        end: _made_of(*(of_end(side.measured, end) for side in (was, now)), by_runs=by_runs[end])
        for end in by_runs
    }
    alike = len(set(made.values())) == 1
    first = (
        tuple(dict.fromkeys(made.values())) if alike else tuple(f"{e}: {said}" for e, said in made.items())
    )
    allowed = () if all(by_runs.values()) else (_ALLOWED,)
    family = sum(metric.ci95 is not None for metric in metrics)
    return (
        *first,
        *allowed,
        f"changed: adjusted for looking at {family} numbers together (Holm, 5 in 100); "
        "an interval belongs to its one number",
        "the deepest travel is one moment, not counted as a change",
    )


_ALLOWED = (
    "the intervals leave room for what sets two rides apart besides the work: the roughness of the road as "
    f"measured on each (± {100 * USUAL_ROUGHNESS:.0f} % where it could not be, pace included), and a little "
    "for oil, tyres and line (common practice, no source)"
)


def _made_of(before: Sequence[object], after: Sequence[object], *, by_runs: bool) -> str:
    if by_runs:
        return (
            f"intervals from the scatter between runs ({len(before)} before, {len(after)} after; Welch); "
            "where they scatter less than runs usually do, what is usual is counted in"
        )
    return (
        f"these rides only ({len(before)} before, {len(after)} after): run-to-run spread unknown, the same "
        f"setup may come out otherwise on another run; ride {RUNS_FOR_SCATTER} a side to know it"
    )
