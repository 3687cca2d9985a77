"""Straight ramps in the readings of one end: where the reading goes at one speed for a while.

The search is coarse, a sample every 4 ms; whoever needs the ends to the sample follows them from there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats
from analysis.excursions import Indices, runs

Values = npt.NDArray[np.generic]
Signed = npt.NDArray[np.float64] | npt.NDArray[np.int16] | npt.NDArray[np.int32]

LOOK_S = 0.004
REACH = 4
"""Speed and bend are taken over so many looks."""

STRAIGHT_MM, STRAIGHT_NOISES = 0.8, 5.0
"""Over 16 ms a ramp bends by less than this; a wheel at 5 g bends by 3 mm."""

LEAST_S = 0.024
FASTER_NOISES = 4.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class StringTrace:
    """Readings of one end, stretch by stretch; wheel mm of one unit, and the noise in units."""

    stretches: Sequence[Values]
    intervals_s: Sequence[float]
    mm_each: float
    noise: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Looks:
    """One stretch, a row every 4 ms or so; row ``k`` is about looks ``k`` to ``k + REACH``.

    ``way`` is how far the reading went from the first to the last of them, in units. ``per`` is the samples
    between two looks.
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
class Ramps:
    """Straight ramps of all stretches one way, in order of time.

    Arrays of shape (k,): stretch, first and last look, speed in units/s, duration, and ``fastest``, the
    fastest the reading surely went, noise left aside, from the first look of a ramp to that of the next.
    ``sign`` is the way in units; speeds are positive that way. Each stretch begins with an empty ramp at
    rest, which stands for whatever comes before its first real one.
    """

    sign: float
    stretch: Indices
    first: Indices
    last: Indices
    speed: Floats
    duration_s: Floats
    fastest: Floats

    def each_look(self, stretch: int, looks: Looks, marked: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        """Spread a mark of each ramp, shape (k,), over the looks of a stretch up to the next ramp."""
        here = self.stretch == stretch
        return np.repeat(marked[here], np.diff(np.append(self.first[here], looks.way.size)))


def look_at(values: Values, dt_s: float, trace: StringTrace) -> Looks:
    """Take a sample every 4 ms of one stretch, and how far and how straight the reading goes from each."""
    per = max(1, round(LOOK_S / dt_s))
    seen = _signed(values[::per])
    half = min(REACH // 2, seen.size)
    ways = seen[half:] - seen[: seen.size - half]
    earlier, later = ways[: max(ways.size - half, 0)], ways[half:]
    bend_limit = _limit(seen, max(STRAIGHT_MM / abs(trace.mm_each), STRAIGHT_NOISES * trace.noise))
    bend = later - earlier
    return Looks(
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


def straight_ramps(looks: Sequence[Looks], sign: float, slowest: float, noise: float) -> Ramps:
    """Collect the straight ramps one way that last long enough and are faster than ``slowest``, units/s."""
    parts = [
        _of_stretch(number, look, sign, slowest, noise) for number, look in enumerate(looks) if look.way.size
    ]
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)] or [np.empty(0)] * 6
    stretch, first, last = (column.astype(np.intp) for column in columns[:3])
    speed, duration_s, fastest = (column.astype(float) for column in columns[3:])
    return Ramps(
        sign=sign,
        stretch=stretch,
        first=first,
        last=last,
        speed=speed,
        duration_s=duration_s,
        fastest=fastest,
    )


def _of_stretch(
    number: int, look: Looks, sign: float, slowest: float, noise: float
) -> tuple[npt.NDArray[np.generic], ...]:
    least = _limit(look.way, slowest * look.way_s)
    found = runs(look.straight & ((look.way > least) if sign > 0 else (look.way < -least)))
    long = (found.end - 1 + REACH - found.first) * look.look_s >= LEAST_S
    first, last = found.first[long], found.end[long] - 1 + REACH
    duration_s = (last - first) * look.look_s
    speed = sign * (look.values[last].astype(float) - look.values[first]) / duration_s
    # The empty ramp at the beginning.
    first, last = np.concatenate([[0], first]), np.concatenate([[0], last])
    speed, duration_s = np.concatenate([[0.0], speed]), np.concatenate([[0.0], duration_s])
    furthest = sign * (np.fmax if sign > 0 else np.fmin).reduceat(look.way, first).astype(float)
    fastest = np.nan_to_num(furthest - FASTER_NOISES * noise) / look.way_s
    return np.full(first.size, number), first, last, speed, duration_s, fastest
