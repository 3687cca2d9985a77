"""A string that cannot keep up: its reel pulls it in at one speed and no faster.

While the wheel is faster than the reel the string hangs slack and the reading is a straight ramp; when the
wheel has slowed down or turned round, the string is taut again and the reading is right again. One ramp looks
like any fast stroke, and many like a washboard. What no honest wheel does is all of this together:

- nothing is faster that way than the reel, from when it got tired on, while ramps at its speed pile up. A
  wheel's speeds thin out towards the top: the fastest ramps of any ride are fewer than those a little slower;
- most ramps end in a corner. Where the string gets taut the slope of the reading jumps from the reel's speed
  to the wheel's, which by then is much slower or has turned round. A wheel has mass: at 5 g its speed changes
  by 200 mm/s in 4 ms, and at the end of a smooth stroke by far less;
- the ramps last. A wheel that hops on a washboard turns round before long;
- the wheel goes slower that way, too, and then it is followed. Whoever moves at one speed only, in triangles
  or from stop to stop, is a hand or a machine.

Which way is limited depends on how the string is mounted. Where compression shortens it, fast compression is
read too small and too late; where extension shortens it, extension is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.excursions import Indices, Runs, runs
from analysis.straight_ramps import REACH, Looks, Ramps, StringTrace, Values, look_at, straight_ramps

SLOWEST_MM_S = 250.0
"""A reel slower than this would fail on every ride."""

ALIKE = 0.04
"""Ramps of one reel are this close to their middle speed, either way."""

LEAST_RAMPS, LEAST_TOGETHER_S, PILED_UP, FASTER = 8, 0.5, 1.5, 1.1
"""Between two moments at more than 1.1 reel speeds there are at least so many ramps of one speed, so long
together, and so many times as long as the ramps a little slower. On virtual rides with sound sensors and
normal damping at most seven, 0.2 s together, came between two faster moments."""

MEAN_S = 0.055
"""The ramps last so long on average, followed to their ends. On a washboard of 10 to 12 Hz too much rebound
damping makes ramps of 40 to 50 ms, ending nearly in corners; those of virtual reels lasted 66 ms and more."""

CORNER_S, LOST_SHARE, LOST_MM_S, CORNER_SHARE = 0.004, 0.6, 300.0, 0.5
"""So soon after leaving the ramp the reading is slower by at least this share of the reel's speed and by at
least this speed (8 g), after more than this share of the ramps."""

MOST_CORNERS = 30
"""So many ramps, from all over, will do."""

SLOWER_FROM, SLOWER_TO, SLOWER_SHARE = 0.2, 0.8, 0.15
"""Apart from the ramps the reading goes at between these shares of the reel's speed the same way, for at
least this share of the time of its ramps together: 0.27 where a virtual reel was slowest, 0 for triangles."""

ON_RAMP_NOISES, ON_RAMP_UNITS, ON_RAMP_MM = 4.0, 1.5, 0.3
"""A sample is on its ramp if it is no further off than the largest of these."""

NEAR_SPEED = 0.05
FOLLOW_S = 0.5
TWICE = 2
LEAST_SAMPLES = 3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Slack:
    """Reel speed at the wheel, mm/s, positive where compression is limited; slack spans of each stretch."""

    reel_mm_s: float
    spans: tuple[Runs, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Suspect:
    """What may be a reel: its speed in units/s, the ramps at it, and all ramps while nothing is faster.

    ``alike`` are indices of ramps; ``slow`` has one mark a ramp, shape (k,).
    """

    speed: float
    alike: Indices
    slow: npt.NDArray[np.bool_]


def slack_string(trace: StringTrace) -> Slack | None:
    """Find the spans in which a string hung slack; ``None`` where nothing looks like a reel.

    The two ways are tried one after the other; only one of them can be the reel's.
    """
    looks = [
        look_at(values, dt_s, trace) for values, dt_s in zip(trace.stretches, trace.intervals_s, strict=True)
    ]
    for sign in (1.0, -1.0):
        ramps = straight_ramps(looks, sign, SLOWEST_MM_S / abs(trace.mm_each), trace.noise)
        for suspect in _piled_up(ramps):
            if _end_in_corners(suspect, ramps, looks, trace) and _slower_at_times(suspect, ramps, looks):
                return Slack(
                    reel_mm_s=sign * suspect.speed * trace.mm_each,
                    spans=tuple(_slack_spans(suspect, ramps, looks, trace)),
                )
    return None


def _piled_up(ramps: Ramps) -> Iterator[_Suspect]:
    """Give each speed at which ramps pile up with nothing faster, that of the most ramps first."""
    order = np.argsort(ramps.speed)
    speed, together = ramps.speed[order], np.concatenate([[0.0], np.cumsum(ramps.duration_s[order])])
    low, high = (np.searchsorted(speed, speed * (1.0 + side * ALIKE)) for side in (-1, 1))
    seconds = together[high] - together[low]
    many = np.flatnonzero((speed > 0) & (high - low >= LEAST_RAMPS) & (seconds >= LEAST_TOGETHER_S))
    many = many[np.argsort(-seconds[many], kind="stable")]
    # Neighbours in the list are nearly the same set of ramps; one of each speed will do.
    _, one_each = np.unique(np.floor(np.log(speed[many]) / (0.5 * ALIKE)), return_index=True)
    for k in many[np.sort(one_each)].tolist():
        # The median of what is sorted already.
        reel = 0.5 * float(speed[(low[k] + high[k] - 1) // 2] + speed[(low[k] + high[k]) // 2])
        borders = np.searchsorted(speed, [reel * (1.0 + side * ALIKE) for side in (-3, -1, 1)]).tolist()
        below, alike = order[borders[0] : borders[1]], np.sort(order[borders[1] : borders[2]])
        suspect = _with_nothing_faster(ramps, reel, below, alike)
        if suspect is not None:
            yield suspect


def _with_nothing_faster(ramps: Ramps, reel: float, below: Indices, alike: Indices) -> _Suspect | None:
    """Find where the ramps at a speed pile up between two faster moments."""
    faster = np.flatnonzero(ramps.fastest > FASTER * reel)
    # A ramp during which, or after which, something is faster is the last of its part.
    part_of = np.searchsorted(faster, alike)
    parts = faster.size + 1
    ramps_in = np.bincount(part_of, minlength=parts)
    if ramps_in.max() < LEAST_RAMPS:
        return None
    alike_s = np.bincount(part_of, ramps.duration_s[alike], parts)
    below_s = np.bincount(np.searchsorted(faster, below), ramps.duration_s[below], parts)
    piled = (ramps_in >= LEAST_RAMPS) & (alike_s >= LEAST_TOGETHER_S) & (alike_s >= PILED_UP * below_s)
    if not piled.any():
        return None
    slow = piled[np.searchsorted(faster, np.arange(ramps.speed.size))]
    return _Suspect(speed=reel, alike=alike[slow[alike]], slow=slow)


def _slower_at_times(suspect: _Suspect, ramps: Ramps, looks: Sequence[Looks]) -> bool:
    """Tell whether the reading also goes slower than the reel the same way, apart from any ramps."""
    slower_s = 0.0
    for number in np.unique(ramps.stretch[suspect.alike]).tolist():
        look = looks[number]
        apart = ramps.each_look(number, look, suspect.slow)
        here = np.flatnonzero(ramps.stretch == number)[1:]
        for first, last in zip(ramps.first[here].tolist(), ramps.last[here].tolist(), strict=True):
            apart[max(0, first - REACH) : last] = False
        share = look.way[apart] * (ramps.sign / (suspect.speed * look.way_s))
        slower_s += look.look_s * np.count_nonzero((share > SLOWER_FROM) & (share < SLOWER_TO))
    return bool(slower_s >= SLOWER_SHARE * ramps.duration_s[suspect.alike].sum())


def _end_in_corners(suspect: _Suspect, ramps: Ramps, looks: Sequence[Looks], trace: StringTrace) -> bool:
    """Tell whether the ramps last, and the reading is clearly slower at once after most of them."""
    lost = max(LOST_SHARE * suspect.speed, LOST_MM_S / abs(trace.mm_each))
    lengths_s, corners = [], []
    for k in suspect.alike[:: max(1, suspect.alike.size // MOST_CORNERS)].tolist():
        number = int(ramps.stretch[k])
        values, dt_s, per = trace.stretches[number], trace.intervals_s[number], looks[number].per
        first, end = _ends(values, dt_s, int(ramps.first[k]) * per, int(ramps.last[k]) * per, trace)
        lengths_s.append((end - first) * dt_s)
        after = values[end : end + 1 + max(1, round(CORNER_S / dt_s))].astype(float)
        if after.size > 1 and np.isfinite(after).all():
            slope = float(np.polyfit(np.arange(after.size) * dt_s, after, 1)[0])
            corners.append(suspect.speed - ramps.sign * slope >= lost)
    return float(np.mean(lengths_s)) >= MEAN_S and sum(corners) > CORNER_SHARE * len(corners)


def _slack_spans(
    suspect: _Suspect, ramps: Ramps, looks: Sequence[Looks], trace: StringTrace
) -> Iterator[Runs]:
    """Follow each ramp at the reel's speed, sample by sample, to where the reading leaves it."""
    for number, (look, values, dt_s) in enumerate(
        zip(looks, trace.stretches, trace.intervals_s, strict=True)
    ):
        way = ramps.sign * suspect.speed * look.way_s
        at_reel_speed = np.abs(look.way - way) <= NEAR_SPEED * abs(way) + 2.0 * trace.noise
        core = runs(look.straight & at_reel_speed & ramps.each_look(number, look, suspect.slow))
        slack = np.zeros(values.size + 1, dtype=np.intp)
        for a, b in core.pairs():
            begin, end = _ends(values, dt_s, a * look.per, (b - 1 + REACH) * look.per, trace)
            slack[begin] += 1
            slack[end] -= 1
        known = np.ones(values.size, dtype=np.bool_) if values.dtype.kind != "f" else ~np.isnan(values)
        yield runs((np.cumsum(slack[:-1]) > 0) & known)


def _ends(values: Values, dt_s: float, first: int, last: int, trace: StringTrace) -> tuple[int, int]:
    """Extend the ramp known from ``first`` to ``last`` both ways, as far as the reading stays on its line."""
    off_limit = max(ON_RAMP_UNITS, ON_RAMP_NOISES * trace.noise, ON_RAMP_MM / abs(trace.mm_each))
    follow = round(FOLLOW_S / dt_s)
    middle = (first + last) // 2
    low, high = max(0, first - follow), min(values.size, last + 1 + follow)
    for _ in range(TWICE):
        known = first + np.flatnonzero(values[first : last + 1] == values[first : last + 1])
        if known.size < LEAST_SAMPLES:
            break
        slope, level = np.polyfit(known - middle, values[known].astype(float), 1)
        off = values[low:high].astype(float) - level - slope * (np.arange(low, high) - middle)
        away = np.flatnonzero(np.abs(off) > off_limit)
        before, after = away[away < middle - low], away[away > middle - low]
        first = low + int(before[-1]) + 1 if before.size else low
        last = low + int(after[0]) - 1 if after.size else high - 1
    return first, last + 1
