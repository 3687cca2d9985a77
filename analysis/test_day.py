"""How many runs of how many minutes show a change of a given size, from the spread already seen."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from analysis import compare_results
from analysis.change import LEVEL
from analysis.judging import RUNS_FOR_SCATTER, of_end
from analysis.measured_ride import MeasuredRide, measure_log
from analysis.metrics import KINDS, Kind, in_words
from analysis.played_comparison import Chance, seen_chance, share_found
from analysis.ride_to_ride import USUAL_ROUGHNESS
from ingest.errors import CannotAnswer, UsageError
from ingest.log import Kind as LogKind
from ingest.log import Log
from ingest.records import End

SEEN = 0.80
RUNS_A_SIDE = (3, 4, 5, 6)
LEAST_MIN, STEP_MIN, LONGEST_MIN = 1.0, 0.5, 30.0


def plan_test_day(
    runs: Sequence[Log], metric: str, change: float, on_ride: Callable[[Log], None] | None = None
) -> compare_results.TestDay:
    """Plan runs that show a change of one number, from rides of one setup on the same bike and route.

    Parameters
    ----------
    runs : sequence of Log
        One ride or more, all with one setup.
    metric : str
        As a comparison names it: ``front_mean_mm``.
    change : float
        The size worth seeing, in the unit of the metric; more or less makes a difference for events only.
    on_ride : callable, optional
        Told each log before it is worked on.

    Returns
    -------
    TestDay
        ``options`` are the fewest minutes a run, 1 to 30, with 3, 4, 5 and 6 runs a side; none where 30 do
        not show it. ``seen_now`` is what as many runs a side as these would show, three or more.
        ``within_run_sd`` is that of a run as long as these on average; ``between_runs_sd`` is ``None`` with
        fewer than three runs, and what is usual stands in for it, or what was seen where that is more.

    Raises
    ------
    CannotAnswer
        A sag check or another bike among them, the number was not measured, or what it counts never met.
    UsageError
        No ride, rides of several setups, an unknown metric, one that is a single moment, or no change.
    """
    if not runs:
        raise UsageError("planning a test day takes one ride or more with the setup as it is")
    setups = dict.fromkeys(log.setup.name if log.setup else "no setup" for log in runs)
    if len(setups) > 1:
        raise UsageError(f"rides of several setups ({', '.join(setups)}): plan from rides of one")
    for log in runs:
        if log.kind is not LogKind.RIDE:
            raise CannotAnswer(f"log {log.id} is a {log.kind} check, not a ride; plan from rides")
        if log.bike.identity != runs[0].bike.identity:
            raise CannotAnswer(
                f"log {log.id} is of another bike than {runs[0].id}; plan from rides of one bike"
            )
    _named(metric)
    measured = []
    for log in runs:
        if on_ride is not None:
            on_ride(log)
        ride, _ = measure_log(log)
        measured.append(ride)
    return plan_from(measured, metric, change)


def plan_from(rides: Sequence[MeasuredRide], metric: str, change: float) -> compare_results.TestDay:
    """Plan as `plan_test_day` does, from rides already measured."""
    end, kind = _named(metric)
    if not math.isfinite(change) or change == 0:
        raise UsageError(f"{metric}={change:g}: give the size of a change worth seeing, in {kind.unit}")
    ends = [one for one in of_end(rides, end) if kind.take(one.ride) is not None]
    if not ends:
        raise CannotAnswer(f"these rides did not measure the {in_words(metric)}: plan for another number")
    chance = seen_chance(ends, kind)
    _check_scatter(chance, metric)
    _check_events(chance, metric, change)
    family = _family(rides)
    level = LEVEL / family
    minutes_now = sum(one.ride.duration_s for one in ends) / len(ends) / 60
    options = tuple(_options(chance, change, level))
    return compare_results.TestDay(
        metric=metric,
        change=change,
        unit=kind.unit,
        options=options,
        seen_now=_smallest_seen(chance, len(ends), minutes_now, level),
        within_run_sd=chance.inside / math.sqrt(minutes_now),
        between_runs_sd=chance.between if len(ends) >= RUNS_FOR_SCATTER else None,
        basis=_basis(len(ends)),
        cautions=(
            *_about_spread(chance, len(ends), change, level),
            *_about_options(chance, options, kind, change, level),
            f"seen: it stands four times in five, with {family} numbers looked at together (Holm, 5 in 100)",
            f"with fewer than {RUNS_FOR_SCATTER} runs a side a change cannot be told from another run",
        ),
    )


def _named(metric: str) -> tuple[End, Kind]:
    """Take a metric's name apart, or say which there are."""
    allowed = {f"{end}_{kind.name}": (end, kind) for end in End for kind in KINDS if not kind.maximum}
    if metric in allowed:
        return allowed[metric]
    moments = [f"{end}_{kind.name}" for end in End for kind in KINDS if kind.maximum]
    why = "is one moment, which chance decides" if metric in moments else "is no number of a comparison"
    raise UsageError(f"{metric!r} {why}: allowed are {', '.join(allowed)}")


def _check_scatter(chance: Chance, metric: str) -> None:
    if chance.per_10_min is None and chance.inside == chance.between == chance.rest == 0.0:
        raise CannotAnswer(
            f"the {in_words(metric)} did not move at all on these rides, so how it scatters is not known: "
            "ride longer, over bumps"
        )


def _check_events(chance: Chance, metric: str, change: float) -> None:
    if chance.per_10_min is None:
        return
    if chance.per_10_min == 0:
        raise CannotAnswer(
            f"these rides met no {in_words(metric)} at all, so how it scatters is not known: ride longer, or "
            "plan for a depth"
        )
    if change < -chance.per_10_min:
        raise UsageError(f"{metric}={change:g}: there are only {chance.per_10_min:.1f} in 10 min now")


def _family(rides: Sequence[MeasuredRide]) -> int:
    """Count the numbers a comparison of such rides looks at together."""
    return sum(
        not kind.maximum and any(kind.take(one.ride) is not None for one in of_end(rides, end))
        for end in End
        for kind in KINDS
    )


def _options(chance: Chance, change: float, level: float) -> Iterator[tuple[int, float]]:
    for runs in RUNS_A_SIDE:
        minutes = _fewest_minutes(chance, runs, change, level)
        if minutes is not None:
            yield runs, minutes


def _fewest_minutes(chance: Chance, runs: int, change: float, level: float) -> float | None:
    """Give the fewest minutes a run that show a change often enough, by halving; ``None`` if none do."""

    def enough(steps: int) -> bool:
        return share_found(chance, runs, LEAST_MIN + steps * STEP_MIN, change, level) >= SEEN

    short, long = -1, round((LONGEST_MIN - LEAST_MIN) / STEP_MIN)
    if not enough(long):
        return None
    while long - short > 1:
        middle = (short + long) // 2
        short, long = (short, middle) if enough(middle) else (middle, long)
    return LEAST_MIN + long * STEP_MIN


def _smallest_seen(chance: Chance, runs: int, minutes: float, level: float) -> float | None:
    """Give the smallest change such runs would show, within 2 %; ``None`` for too few runs."""
    if runs < RUNS_FOR_SCATTER:
        return None
    scatter = math.hypot(chance.inside / math.sqrt(minutes), chance.between, chance.rest)
    if scatter == 0.0:
        return 0.0
    small, large = 0.0, scatter
    while share_found(chance, runs, minutes, large, level) < SEEN:
        small, large = large, 2 * large
    while large - small > 0.02 * large:
        middle = (small + large) / 2
        found = share_found(chance, runs, minutes, middle, level) >= SEEN
        small, large = (small, middle) if found else (middle, large)
    return large


def _basis(runs: int) -> str:
    if runs >= RUNS_FOR_SCATTER:
        return f"the scatter between {runs} runs and the spread inside them"
    inside, more = ("one run", "") if runs == 1 else ("two runs", ", or as far as these two if that is more")
    return (
        f"the spread inside {inside}; how far two runs differ is a guess{more}: a road up to "
        f"{100 * USUAL_ROUGHNESS:.0f} % rougher or smoother (common practice, no source)"
    )


def _about_spread(chance: Chance, runs: int, change: float, level: float) -> Iterator[str]:
    if runs < RUNS_FOR_SCATTER:
        alike = _fewest_minutes(replace(chance, between=0.0), RUNS_FOR_SCATTER, change, level)
        least = f"if they differ by chance inside them only, {RUNS_FOR_SCATTER} runs a side of"
        yield (
            f"run-to-run spread unknown from {'one run' if runs == 1 else 'two runs'}, so the options are "
            "a guess; "
            + (
                f"{least} {alike:g} min would do"
                if alike is not None
                else f"{least} 30 min would not do either"
            )
            + "; ride the same setup three times to know it"
        )
    elif runs < 2 * RUNS_FOR_SCATTER:
        yield f"{runs} runs know how far two runs differ only roughly; more runs of this setup make it surer"


def _about_options(
    chance: Chance, options: Sequence[tuple[int, float]], kind: Kind, change: float, level: float
) -> Iterator[str]:
    if not options:
        most = RUNS_A_SIDE[-1]
        seen = _smallest_seen(chance, most, LONGEST_MIN, level)
        yield (
            f"not even {most} runs a side of {LONGEST_MIN:.0f} min would show {abs(change):g} {kind.unit}; "
            f"{seen:.1f} {kind.unit} they would"
        )
