"""Does the bike hold still, now? For taking a reading from a board that is being watched.

It works on the same thin track with the same limits as `analysis.stillness`, so that what is called steady
here is a still span when the finished recording is worked out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from analysis.phases import FROM_BELOW, TOPPED_OUT
from analysis.procedure import Step
from analysis.stillness import (
    EDGE_MM,
    FIDGET_RANGE_MM,
    MAD_TO_SD,
    STEP_S,
    WINDOW_S,
    Floats,
    Track,
    approach,
)
from ingest.records import End

TAKE_AFTER_S = 2.0
LEAST_S = 1.0
LOOK_BACK_S = 12.0
MOVED_MM = 1.2 * FIDGET_RANGE_MM
"""A motion this large within 1.5 s surely parts two still spans."""
HANGS_MM = 3.0
"""So near the zero of the bike file a wheel hangs, even if nobody saw it being lifted."""
STALE_S = 0.5


class Word(StrEnum):
    """The three states of the strip."""

    MOVING = "moving"
    SETTLING = "settling"
    STEADY = "steady"


class Why(StrEnum):
    """What the state rests on, or what keeps a steady reading from taking itself."""

    MOVING = "moving"
    SETTLING = "settling"
    NOT_MOVED = "not moved since the last reading"
    OTHER_SIDE = "came from the other side"
    NOT_LIFTED = "not seen to come up"
    HOLD = "hold on"
    TAKE = "take it"


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """One end now, mm from topped out.

    ``rest_s``: how long it has been at rest; ``held_s``: of that, since the reading was asked for.
    ``creep_mm``: how far it went in the last second, more = deeper. ``moved``: whether it moved clearly since
    the last reading. ``came``: which side it came to rest from.
    """

    end: End
    now_mm: float
    rest_s: float
    held_s: float
    creep_mm: float
    settled: bool
    moved: bool
    came: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What is to be said of a step now. ``end`` is the end it is about; ``left_s`` until it takes itself."""

    word: Word
    why: Why
    end: End | None
    creep_mm: float
    held_s: float
    left_s: float

    @property
    def take(self) -> bool:
        """Say whether the reading takes itself now."""
        return self.why is Why.TAKE


class Watch:
    """Collects live rows of counts into means of 50 ms, as `analysis.stillness.thin` does for a whole log."""

    def __init__(self) -> None:
        self._newest_s = -1.0
        self._slot = -1
        self._open: list[tuple[float, tuple[int, ...]]] = []
        self._t_s: list[float] = []
        self._counts: list[tuple[float, ...]] = []

    def add(self, rows: tuple[tuple[float, tuple[int, ...]], ...]) -> None:
        """Take rows ``(t_s, counts)``, oldest first; those seen before are passed over."""
        for t_s, counts in rows:
            if t_s <= self._newest_s:
                continue
            if self._newest_s >= 0 and t_s - self._newest_s > STALE_S:
                self._close()
                self._put((self._newest_s + t_s) / 2, (float("nan"),) * len(counts))
            self._newest_s = t_s
            if int(t_s / STEP_S) != self._slot:
                self._close()
                self._slot = int(t_s / STEP_S)
            self._open.append((t_s, counts))

    def _close(self) -> None:
        if self._open:
            times, counts = zip(*self._open, strict=True)
            means = np.asarray(counts, dtype=float).mean(axis=0)
            self._put(sum(times) / len(times), tuple(means.tolist()))
            self._open = []

    def _put(self, t_s: float, counts: tuple[float, ...]) -> None:
        self._t_s.append(t_s)
        self._counts.append(counts)

    def forget_before(self, t_s: float) -> None:
        """Drop what is no longer needed: a check may take an hour."""
        keep = next((index for index, at in enumerate(self._t_s) if at >= t_s), len(self._t_s))
        del self._t_s[:keep], self._counts[:keep]

    def channel(self, column: int) -> tuple[Floats, Floats]:
        """Give times (s) and mean counts of one channel; empty where the board has no such channel."""
        if not self._counts or column >= len(self._counts[-1]):
            return np.empty(0), np.empty(0)
        return np.asarray(self._t_s), np.asarray([row[column] for row in self._counts])


def holding(end: End, track: Track, since_s: float | None, asked_s: float | None = None) -> Holding | None:
    """Judge one end at the newest moment of its track.

    Parameters
    ----------
    end : End
        Which end.
    track : Track
        Wheel travel from some time before ``since_s`` until now, mm.
    since_s : float or None
        When the last reading was taken; ``None`` before the first.
    asked_s : float or None
        When this reading was asked for; rest before that does not count for it.

    Returns
    -------
    Holding or None
        ``None`` where the track has nothing valid at its end.
    """
    if track.mm.size == 0 or not np.isfinite(track.mm[-1]):
        return None
    start = _rest_begins(track)
    rest_t, rest = track.t_s[start:], track.mm[start:]
    now_s = float(rest_t[-1])
    last = rest[rest_t > now_s - LEAST_S]
    spread = MAD_TO_SD * float(np.median(np.abs(last - np.median(last))))
    rest_s = now_s - float(rest_t[0])
    creep = _creep(rest_t, rest)
    limit = max(EDGE_MM, spread)
    settled = rest_s >= LEAST_S and abs(creep) <= limit and abs(_drift(rest_t, rest)) <= limit
    from_s = -np.inf if since_s is None else since_s
    before = track.mm[(track.t_s >= from_s) & (track.t_s < rest_t[0])]
    before = before[np.isfinite(before)]
    return Holding(
        end=end,
        now_mm=float(np.median(rest[-3:])),
        rest_s=rest_s,
        held_s=rest_s if asked_s is None else min(rest_s, now_s - asked_s),
        creep_mm=creep,
        settled=settled,
        moved=_moved(track, from_s),
        came=approach(before, float(np.median(last)), spread),
    )


def _rest_begins(track: Track) -> int:
    """Give the first index of the rest that lasts until now: no 1.5 s of it cover more than the limit."""
    window = max(3, round(WINDOW_S / _step_s(track)))
    size = track.mm.size
    start = size - 1
    while start > 0 and track.t_s[-1] - track.t_s[start - 1] <= LOOK_BACK_S:
        piece = track.mm[start - 1 : start - 1 + window]
        # A gap (NaN) makes the comparison false and ends the rest.
        if not float(piece.max()) - float(piece.min()) <= FIDGET_RANGE_MM:
            break
        start -= 1
    return start


def _creep(t_s: Floats, mm: Floats) -> float:
    """How far the level went in the last second, or in as much of it as there is."""
    now = mm[t_s > t_s[-1] - 0.3]
    then = mm[(t_s >= t_s[-1] - LEAST_S) & (t_s <= t_s[-1] - LEAST_S + 0.3)]
    return float(np.median(now) - np.median(then if then.size else mm[:3]))


def _drift(t_s: Floats, mm: Floats) -> float:
    """How far the last second lies from the one before, as far as it was at rest then."""
    late = mm[t_s > t_s[-1] - LEAST_S]
    early = mm[(t_s <= t_s[-1] - LEAST_S) & (t_s > t_s[-1] - TAKE_AFTER_S + 0.4)]
    return float(np.median(late) - np.median(early)) if early.size else 0.0


def _moved(track: Track, since_s: float) -> bool:
    inside = track.mm[track.t_s >= since_s]
    window = max(3, round(WINDOW_S / _step_s(track)))
    if inside.size < window:
        window = max(inside.size, 1)
    if inside.size == 0:
        return False
    views = np.lib.stride_tricks.sliding_window_view(inside, window)
    spans: npt.NDArray[np.float64] = views.max(axis=1) - views.min(axis=1)
    return bool(np.any(spans >= MOVED_MM))


def _step_s(track: Track) -> float:
    return float(np.median(np.diff(track.t_s))) if track.t_s.size > 1 else STEP_S


def judge(step: Step, ends: Mapping[End, Holding | None]) -> Verdict:
    """Say how a reading stands: the end that is furthest from ready speaks for both.

    Parameters
    ----------
    step : Step
        The reading that is to be taken.
    ends : mapping of End to Holding or None
        Every measured end; those the step does not concern are passed over.
    """
    verdicts = [_of_end(step, end, now) for end, now in ends.items() if step.concerns(end)]
    if not verdicts:
        return _verdict(Word.MOVING, Why.MOVING, None)
    order = list(Why)
    # Among ends equally far the one with less time at rest speaks.
    return min(verdicts, key=lambda verdict: (order.index(verdict.why), verdict.held_s))


def _of_end(step: Step, end: End, now: Holding | None) -> Verdict:
    if now is None:
        return _verdict(Word.MOVING, Why.MOVING, end)
    left_s = max(0.0, TAKE_AFTER_S - now.held_s)
    if now.rest_s < LEAST_S / 2:
        word, why = Word.MOVING, Why.MOVING
    elif not now.settled:
        word, why = Word.SETTLING, Why.SETTLING
    else:
        word, why = Word.STEADY, _hindrance(step, now) or (Why.HOLD if left_s > 0 else Why.TAKE)
    return _verdict(word, why, end, creep_mm=now.creep_mm, held_s=now.held_s, left_s=left_s)


def _hindrance(step: Step, now: Holding) -> Why | None:
    """Say what keeps a steady reading from taking itself; somebody at the bike may still say *take it*."""
    if step.name == TOPPED_OUT:
        up = now.moved and now.came == FROM_BELOW
        return None if up or abs(now.now_mm) <= HANGS_MM else Why.NOT_LIFTED
    if not now.moved:
        return Why.NOT_MOVED
    return None if now.came == step.side else Why.OTHER_SIDE


def _verdict(
    word: Word,
    why: Why,
    end: End | None,
    *,
    creep_mm: float = 0.0,
    held_s: float = 0.0,
    left_s: float = TAKE_AFTER_S,
) -> Verdict:
    return Verdict(word=word, why=why, end=end, creep_mm=creep_mm, held_s=held_s, left_s=left_s)
