"""A string that cannot keep up: its reel pulls it in at one speed and no faster.

While the wheel is faster than the reel the string hangs slack and the reading is a straight ramp; when the
wheel has slowed down or turned round, the string is taut again and the reading is right again. One ramp looks
like any fast stroke. Many ramps at one and the same speed, and nothing faster between them, are a reel.

Which way is limited depends on how the string is mounted. Where compression shortens it, fast compression is
read too small and too late; where extension shortens it, extension is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats
from analysis.excursions import Runs, runs

Values = npt.NDArray[np.generic]
Signed = npt.NDArray[np.float64] | npt.NDArray[np.int16] | npt.NDArray[np.int32]

LOOK_S = 0.004
"""The search takes a sample every 4 ms; what it finds is then followed sample by sample."""

REACH = 4
"""Speed and bend are taken over so many looks."""

SLOWEST_MM_S = 250.0
"""A reel slower than this would fail on every ride."""

STRAIGHT_MM, STRAIGHT_NOISES = 0.8, 5.0
"""Over 16 ms a ramp bends by less than this; a wheel at 5 g bends by 3 mm."""

LEAST_S = 0.024
ALIKE = 0.04
"""Ramps of one reel last at least so long, and are this close to their middle speed, either way."""

LEAST_RAMPS, LEAST_TOGETHER_S = 8, 0.5
PILED_UP = 1.5
FASTER, FASTER_SHARE = 1.12, 0.35
"""So many ramps of one speed make a reel, and so long together, if they are so much more than the ramps a
little slower, and if between the first and the last of them the reading is faster than 1.12 reel speeds for
no more than this share of the time on ramps. On clean virtual rides of a minute the most alike ramps with
nothing faster between them were nine, 0.3 s together; the fastest ramps of any ride are fewer than those a
little slower."""

ON_RAMP_NOISES, ON_RAMP_UNITS, ON_RAMP_MM = 4.0, 1.5, 0.3
"""A sample is on its ramp if it is no further off than the largest of these."""

NEAR_SPEED = 0.05
FOLLOW_S = 0.5
TWICE = 2
LEAST_SAMPLES = 3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class StringTrace:
    """Readings of one end, stretch by stretch; wheel mm of one unit, and the noise in units."""

    stretches: Sequence[Values]
    intervals_s: Sequence[float]
    mm_each: float
    noise: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Looks:
    """One stretch, a row every 4 ms or so; row ``k`` is about looks ``k`` to ``k + REACH``.

    ``way`` is how far the reading went from the first to the last of them, in units.
    """

    per: int
    look_s: float
    values: Signed
    way: Signed
    straight: npt.NDArray[np.bool_]

    @property
    def way_s(self) -> float:
        """How long the way takes."""
        return REACH * self.look_s


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Ramps:
    """Straight ramps one way, shape (k,): stretch, first and last look, speed in units/s without sign."""

    stretch: npt.NDArray[np.intp]
    first: npt.NDArray[np.intp]
    last: npt.NDArray[np.intp]
    speed: Floats
    duration_s: Floats

    @property
    def place(self) -> npt.NDArray[np.int64]:
        """Something that grows along the log."""
        return self.stretch.astype(np.int64) * (1 << 40) + self.first

    def only(self, kept: npt.NDArray[np.generic]) -> _Ramps:
        return _Ramps(
            stretch=self.stretch[kept],
            first=self.first[kept],
            last=self.last[kept],
            speed=self.speed[kept],
            duration_s=self.duration_s[kept],
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Slack:
    """Reel speed at the wheel, mm/s, positive where compression is limited; slack spans of each stretch."""

    reel_mm_s: float
    spans: tuple[Runs, ...]


def slack_string(trace: StringTrace) -> Slack | None:
    """Find the spans in which a string hung slack; ``None`` where nothing looks like a reel.

    The two ways are tried one after the other; only one of them can be the reel's.
    """
    looks = [
        _looks(values, dt_s, trace) for values, dt_s in zip(trace.stretches, trace.intervals_s, strict=True)
    ]
    for sign in (1.0, -1.0):
        ramps = _ramps(looks, sign, SLOWEST_MM_S / abs(trace.mm_each))
        reel = _reel(ramps, looks, sign, trace.noise)
        if reel is not None:
            spans = tuple(
                _followed(look, np.asarray(values), dt_s, sign * reel, trace)
                for look, values, dt_s in zip(looks, trace.stretches, trace.intervals_s, strict=True)
            )
            return Slack(reel_mm_s=sign * reel * trace.mm_each, spans=spans)
    return None


def _looks(values: Values, dt_s: float, trace: StringTrace) -> _Looks:
    per = max(1, round(LOOK_S / dt_s))
    seen = _signed(values[::per])
    half = min(REACH // 2, seen.size)
    ways = seen[half:] - seen[: seen.size - half]
    earlier, later = ways[: max(ways.size - half, 0)], ways[half:]
    bend_limit = _limit(seen, max(STRAIGHT_MM / abs(trace.mm_each), STRAIGHT_NOISES * trace.noise))
    bend = later - earlier
    return _Looks(
        per=per,
        look_s=per * dt_s,
        values=seen,
        way=later + earlier,
        straight=(bend <= bend_limit) & (bend >= -bend_limit),
    )


def _signed(values: Values) -> Signed:
    """Copy readings to the smallest type in which four times their differences fit: here size is time."""
    if values.dtype.kind == "f":
        return values.astype(np.float64)
    small = values.size == 0 or int(values.max()) < np.iinfo(np.int16).max // REACH
    return values.astype(np.int16) if small else values.astype(np.int32)


def _limit(values: Signed, limit: float) -> float:
    """Give a limit that compares the same way and needs no conversion of whole numbers."""
    return limit if values.dtype.kind == "f" else math.floor(limit)


def _ramps(looks: Sequence[_Looks], sign: float, slowest: float) -> _Ramps:
    """Collect the straight ramps of all stretches that go one way and last long enough."""
    columns: list[list[npt.NDArray[np.generic]]] = [[], [], [], [], []]
    for number, look in enumerate(looks):
        least = _limit(look.way, slowest * look.way_s)
        found = runs(look.straight & ((look.way > least) if sign > 0 else (look.way < -least)))
        last = found.end - 1 + REACH
        duration = (last - found.first) * look.look_s
        kept = duration >= LEAST_S
        first, last, duration = found.first[kept], last[kept], duration[kept]
        speed = np.abs(look.values[last].astype(float) - look.values[first]) / duration
        for column, part in zip(
            columns, (np.full(first.size, number), first, last, speed, duration), strict=True
        ):
            column.append(part)
    stretch, first, last, speed, duration = (np.concatenate(column) for column in columns)
    order = np.argsort(speed)
    return _Ramps(
        stretch=stretch.astype(np.intp),
        first=first.astype(np.intp),
        last=last.astype(np.intp),
        speed=speed.astype(float),
        duration_s=duration.astype(float),
    ).only(order)


def _reel(ramps: _Ramps, looks: Sequence[_Looks], sign: float, noise: float) -> float | None:
    """Give the speed most ramps have in common, in units/s, if it is a reel's."""
    low = np.searchsorted(ramps.speed, ramps.speed * (1.0 - ALIKE))
    high = np.searchsorted(ramps.speed, ramps.speed * (1.0 + ALIKE), side="right")
    together = np.concatenate([[0.0], np.cumsum(ramps.duration_s)])
    seconds = together[high] - together[low]
    below = together[low] - together[np.searchsorted(ramps.speed, ramps.speed * (1.0 - 3.0 * ALIKE))]
    piled = (high - low >= LEAST_RAMPS) & (seconds >= LEAST_TOGETHER_S) & (seconds >= PILED_UP * below)
    found = np.flatnonzero(piled)
    found = found[np.argsort(-seconds[found], kind="stable")]
    # Neighbours in the list are nearly the same set of ramps; one of each speed will do.
    _, one_each = np.unique(np.floor(np.log(ramps.speed[found]) / (0.5 * ALIKE)), return_index=True)
    for k in found[np.sort(one_each)].tolist():
        alike = ramps.only(np.arange(low[k], high[k]))
        speed = float(np.median(alike.speed))
        if _faster_s(alike, looks, sign * speed, noise) <= FASTER_SHARE * seconds[k]:
            return speed
    return None


def _faster_s(alike: _Ramps, looks: Sequence[_Looks], speed: float, noise: float) -> float:
    """How long the reading is clearly faster than a speed between the first and the last ramp, s."""
    begin, end = int(np.argmin(alike.place)), int(np.argmax(alike.place))
    seconds = 0.0
    for number in range(int(alike.stretch[begin]), int(alike.stretch[end]) + 1):
        look = looks[number]
        limit = _limit(look.way, FASTER * abs(speed) * look.way_s + 4.0 * noise)
        first = int(alike.first[begin]) if number == alike.stretch[begin] else 0
        way = look.way[first : int(alike.last[end]) if number == alike.stretch[end] else None]
        seconds += look.look_s * np.count_nonzero(way > limit if speed > 0 else way < -limit)
    return seconds


def _followed(look: _Looks, values: Values, dt_s: float, speed: float, trace: StringTrace) -> Runs:
    """Follow each ramp at the reel's speed, sample by sample, to where the reading leaves it."""
    near = NEAR_SPEED * abs(speed) * look.way_s + 2.0 * trace.noise
    core = runs(look.straight & (np.abs(look.way - speed * look.way_s) <= near))
    slack = np.zeros(values.size + 1, dtype=np.intp)
    off_limit = max(ON_RAMP_UNITS, ON_RAMP_NOISES * trace.noise, ON_RAMP_MM / abs(trace.mm_each))
    for a, b in zip(core.first.tolist(), core.end.tolist(), strict=True):
        first, last = a * look.per, (b - 1 + REACH) * look.per
        begin, end = _ends(values, first, last, round(FOLLOW_S / dt_s), off_limit)
        slack[begin] += 1
        slack[end] -= 1
    known = np.ones(values.size, dtype=np.bool_) if values.dtype.kind != "f" else ~np.isnan(values)
    return runs((np.cumsum(slack[:-1]) > 0) & known)


def _ends(values: Values, first: int, last: int, follow: int, off_limit: float) -> tuple[int, int]:
    """Extend the ramp known from ``first`` to ``last`` both ways, as far as the reading stays on its line."""
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
