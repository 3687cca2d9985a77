"""Is a difference more than chance? Intervals and probabilities of a change, and the family adjustment."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr, bdtrc, chdtri, stdtr, stdtrit

from analysis.within_ride import Spread

LEVEL = 0.05
NOTHING = 1e-9
"""A spread below this, in mm or mm/s, is the computer's rounding: the signal did not move at all."""

STEADY_DOF = 4
"""How many further degrees of freedom the usual scatter counts as beside that of the runs (judgement, held to
its false alarms by `tests/evidence`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """After minus before, its 95 % interval, and how often chance alone gives as much (two-sided)."""

    value: float
    ci95: tuple[float, float]
    p: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """Events of one side: how many, in how many seconds, and how clumped (1 = as Poisson has it)."""

    events: int
    seconds: float
    clumping: float


def within_rides(
    change: float, before: Sequence[Spread], after: Sequence[Spread], unlike: float = 0.0
) -> Change | None:
    """Judge a change of a mean over runs by the spread inside each run. ``None`` where a side has none.

    ``unlike`` is the standard error of what may set the sides apart beside chance inside the runs, in the
    unit of the change (`analysis.ride_to_ride`).
    """
    if not before or not after:
        return None
    parts = [(one.standard_error / len(side), one.dof) for side in (before, after) for one in side]
    variance = sum(error**2 for error, _ in parts)
    if variance < NOTHING**2:
        return None
    dof = (variance + unlike**2) ** 2 / sum(error**4 / dof for error, dof in parts)
    return _student(change, math.sqrt(variance + unlike**2), dof)


def between_runs(before: Sequence[float], after: Sequence[float]) -> Change | None:
    """Judge a change by the scatter from run to run: Welch's test, three runs a side or more.

    Two groups of unlike spread, degrees of freedom after Welch and Satterthwaite. ``None`` where no run
    differs from another.
    """
    variances = [float(np.var(side, ddof=1)) / len(side) for side in (before, after)]
    variance = sum(variances)
    if variance == 0.0:
        return None
    dofs = [len(side) - 1 for side in (before, after)]
    dof = variance**2 / sum(v**2 / d for v, d in zip(variances, dofs, strict=True))
    return _student(float(np.mean(after) - np.mean(before)), math.sqrt(variance), dof)


def among_runs(before: Sequence[float], after: Sequence[float], usual: float) -> Change | None:
    """Judge a change by the scatter from run to run, steadied by how far runs usually scatter.

    Three runs know their own scatter badly: it comes out far too small now and then. Where it is smaller than
    usual both are pooled, the usual counting as `STEADY_DOF` further degrees of freedom (as in moderated
    tests: G. K. Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004), article 3). Where it is larger, it alone
    counts (Welch). Chance inside a run stays out: on one route the bumps are the same in every run.

    Parameters
    ----------
    before, after : sequence of float
        One value a run, three a side or more.
    usual : float
        Standard deviation of one run's value among runs of one setup on one route, as it usually is.
    """
    dof = len(before) + len(after) - 2
    scatter = sum(float(np.var(side, ddof=1)) * (len(side) - 1) for side in (before, after)) / dof
    if scatter >= usual**2 or usual < NOTHING:
        return between_runs(before, after)
    variance = (STEADY_DOF * usual**2 + dof * scatter) / (STEADY_DOF + dof)
    error = math.sqrt(variance * (1 / len(before) + 1 / len(after)))
    return _student(float(np.mean(after) - np.mean(before)), error, STEADY_DOF + dof)


def _student(change: float, error: float, dof: float) -> Change:
    half = float(stdtrit(dof, 1 - LEVEL / 2)) * error
    return Change(
        value=change, ci95=(change - half, change + half), p=2 * float(stdtr(dof, -abs(change) / error))
    )


def of_rates(before: Counted, after: Counted, per_s: float) -> Change:
    """Judge a change of an event rate, given per ``per_s`` seconds.

    Clumped events count as fewer: events and seconds are both divided by the clumping. The interval joins
    the exact Poisson limits of each side (Garwood 1936) by the square-and-add rule (Zou and Donner 2008, from
    memory); the probability is the exact conditional one: given all events, how many fall to one side.
    """
    rates, downs, ups, counts, times = [], [], [], [], []
    for side in (before, after):
        count, seconds = side.events / side.clumping, side.seconds / side.clumping
        low, high = poisson_limits(count)
        rate = count / seconds
        rates.append(rate)
        downs.append(rate - low / seconds)
        ups.append(high / seconds - rate)
        counts.append(round(count))
        times.append(seconds)
    change = rates[1] - rates[0]
    low_change = change - math.hypot(downs[1], ups[0])
    high_change = change + math.hypot(ups[1], downs[0])
    total, share = sum(counts), times[1] / sum(times)
    at_most = float(bdtr(counts[1], total, share)) if total else 1.0
    at_least = float(bdtrc(counts[1] - 1, total, share)) if counts[1] else 1.0
    return Change(
        value=change * per_s,
        ci95=(low_change * per_s, high_change * per_s),
        p=min(1.0, 2 * min(at_most, at_least)),
    )


def poisson_limits(count: float) -> tuple[float, float]:
    """Exact 95 % limits of a Poisson mean from one count (F. Garwood, Biometrika 28, 1936, 437-442).

    >>> [round(limit, 3) for limit in poisson_limits(5)]
    [1.623, 11.668]
    """
    low = float(chdtri(2 * count, 1 - LEVEL / 2)) / 2 if count > 0 else 0.0
    return low, float(chdtri(2 * count + 2, LEVEL / 2)) / 2


def clumping(times_s: Sequence[float], seconds: float, window_s: float = 10.0) -> float:
    """Tell how clumped events are: variance over mean of the counts in windows, never below 1."""
    windows = max(1, int(seconds / window_s))
    if len(times_s) < 2 or windows < 2:
        return 1.0
    counts = np.histogram(times_s, bins=windows, range=(0.0, max(seconds, max(times_s))))[0]
    return max(1.0, float(np.var(counts, ddof=1) / np.mean(counts)))


def holm(probabilities: Sequence[float], level: float = LEVEL) -> list[bool]:
    """Tell which of several findings stand when all are looked at together.

    S. Holm, A simple sequentially rejective multiple test procedure, Scand. J. Stat. 6 (1979), 65-70: the
    chance of one false finding or more stays below the level, however the findings hang together.

    >>> holm([0.001, 0.04, 0.03])
    [True, False, False]
    """
    order = sorted(range(len(probabilities)), key=lambda i: probabilities[i])
    stands = [False] * len(probabilities)
    for rank, i in enumerate(order):
        if probabilities[i] > level / (len(probabilities) - rank):
            break
        stands[i] = True
    return stands
