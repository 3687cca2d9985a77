"""A comparison played many times over: how often it would find a change, with chance as large as it was seen.

Each play draws the numbers of all runs and judges them as `analysis.judging` judges real ones.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.change import Change, Counted, among_runs, of_rates
from analysis.judging import PER_10_MIN_S, RUNS_FOR_SCATTER, how_clumped
from analysis.measured_ride import MeasuredEnd
from analysis.metrics import Kind
from analysis.ride_to_ride import EVENTS_GROW, REST, USUAL_ROUGHNESS

Counts = npt.NDArray[np.int64]

PLAYS = 250
SEED = 20260101
INSIDE_DOF = 4
"""What a run knows of itself counts as so many degrees of freedom beside the scatter of runs (judgement)."""

USUAL = USUAL_ROUGHNESS / math.sqrt(3.0)
"""Roads up to so much rougher or smoother, all between as likely: that as a standard deviation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """How one number scatters from run to run with nothing changed, in its own unit.

    ``inside`` is the standard deviation of chance inside a run of one minute, which shrinks with the root of
    its length; ``between`` what sets two runs apart besides and does not shrink; ``rest`` what a comparison
    takes two runs to differ by at the least. A number that counts events has their rate in ``per_10_min``,
    and ``clumped`` is the variance of a count over its mean.
    """

    inside: float
    between: float
    rest: float = 0.0
    per_10_min: float | None = None
    clumped: float = 1.0


def seen_chance(ends: Sequence[MeasuredEnd], kind: Kind) -> Chance:
    """Take from rides of one setup how far chance reaches; each of them has the number.

    Fewer than three rides do not know how far two of them differ: ``between`` is then what is usual (common
    practice, no source, see `analysis.ride_to_ride`), or what was seen where that is more.
    """
    values = [kind.take(one.ride) or 0.0 for one in ends]
    minutes = [one.ride.duration_s / 60 for one in ends]
    if kind.events is not None:
        return _of_events(ends, kind, values, minutes)
    seen = [one for one in ends if kind.name in one.spread]
    errors = [one.spread[kind.name].standard_error for one in seen]
    grow = kind.grows
    grows = 0.0 if grow is None else float(np.mean([grow(one.ride) for one in ends]))
    of_one_minute = [error**2 * one.ride.duration_s / 60 for error, one in zip(errors, seen, strict=True)]
    variance = float(np.mean(of_one_minute or [0.0]))
    explained = float(np.mean([error**2 for error in errors] or [0.0]))
    share, between = _split(values, explained, grows * USUAL)
    return Chance(inside=share * math.sqrt(variance), between=between, rest=grows * REST)


def _of_events(
    ends: Sequence[MeasuredEnd], kind: Kind, values: Sequence[float], minutes: Sequence[float]
) -> Chance:
    counted = kind.events
    assert counted is not None
    rate = 10 * sum(counted(one.ride).count for one in ends) / sum(minutes)
    clumped = how_clumped(ends, counted)
    of_one_minute = 10 * rate * clumped
    explained = of_one_minute * float(np.mean([1 / m for m in minutes]))
    share, between = _split(values, explained, EVENTS_GROW * rate * USUAL)
    return Chance(
        inside=share * math.sqrt(of_one_minute),
        between=between,
        per_10_min=rate,
        clumped=max(share**2 * clumped, 1.0),
    )


def _split(values: Sequence[float], explained: float, usual: float) -> tuple[float, float]:
    """Part the scatter of runs into the chance inside them, a share of what it was thought, and the rest.

    Runs that scatter less than the chance inside them explains show that it was judged too large: the two
    are pooled, the more runs the more by what they show. One run shows nothing of it and two next to nothing:
    what is usual counts, or more where they show more.
    """
    if len(values) < 2:
        return 1.0, usual
    seen, dof = float(np.var(values, ddof=1)), len(values) - 1
    if dof + 1 < RUNS_FOR_SCATTER:
        return 1.0, max(usual, math.sqrt(max(seen - explained, 0.0)))
    if seen >= explained:
        return 1.0, math.sqrt(seen - explained)
    return math.sqrt((INSIDE_DOF * explained + dof * seen) / (INSIDE_DOF + dof) / explained), 0.0


def share_found(chance: Chance, runs: int, minutes: float, change: float, level: float) -> float:
    """Give the share of plays in which a change is found, ``runs`` a side (three or more) of ``minutes``."""
    random = np.random.default_rng(SEED)
    if chance.per_10_min is None:
        plays = _numbers(chance, runs, minutes, change, random)
    else:
        plays = _counts(chance, runs, minutes, change, random)
    return sum(one is not None and one.p <= level for one in plays) / PLAYS


def _numbers(
    chance: Chance, runs: int, minutes: float, change: float, random: np.random.Generator
) -> list[Change | None]:
    inside = chance.inside / math.sqrt(minutes)
    scatter = math.hypot(inside, max(chance.between, chance.rest))
    drawn = scatter * random.standard_normal((PLAYS, 2, runs))
    drawn[:, 1] += change
    return [among_runs(before, after, chance.rest) for before, after in drawn.tolist()]


def _counts(
    chance: Chance, runs: int, minutes: float, change: float, random: np.random.Generator
) -> list[Change | None]:
    assert chance.per_10_min is not None
    rates = np.maximum(np.array([chance.per_10_min, chance.per_10_min + change]), 1e-9)
    mean = np.broadcast_to((rates * minutes / 10)[:, None], (PLAYS, 2, runs))
    extra = (chance.clumped - 1) * mean + (chance.between * minutes / 10) ** 2
    # Counts that scatter more than Poisson's: the mean itself is drawn, of a gamma distribution.
    means = random.gamma(mean**2 / np.maximum(extra, 1e-9), np.maximum(extra, 1e-9) / mean)
    counts = random.poisson(means)
    return [_judged(chance, before, after, minutes) for before, after in counts]


def _judged(chance: Chance, before: Counts, after: Counts, minutes: float) -> Change:
    usual = math.sqrt(chance.clumped * float(np.mean([before, after]))) * 10 / minutes
    rates = [(10 * side / minutes).tolist() for side in (before, after)]
    counted = [
        Counted(events=int(side.sum()), seconds=60 * minutes * side.size, clumping=chance.clumped)
        for side in (before, after)
    ]
    return among_runs(rates[0], rates[1], usual) or of_rates(counted[0], counted[1], PER_10_MIN_S)
