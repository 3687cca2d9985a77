"""Which frames are the next ones, which come twice or late, and what is missing between two of them.

A frame's sequence number says which one it is, its clock says when it was taken. Within one run of the board
the two agree: ``t_us`` goes forward by the period times the rows. Where they do not, samples are missing that
nobody counted, or the board began anew. Live decoding asks about every frame, batch decoding only about those
where something happens; both ask here.
"""

from __future__ import annotations

from collections import deque

import numpy as np
import numpy.typing as npt

from ingest.clock import signed_difference, steps, time_across_break_us
from ingest.frame_batch import FrameTable
from ingest.frames import FIRST, OVERRUN, Head
from ingest.link import LATE_LIMIT_US, Break, Counters, Lost, Placed

# What a board's clock may wander while frames are missing: far more than any crystal does.
CLOCK_WANDER = 1e-4
REMEMBERED_HOLES = 64


def runs_on(frames: FrameTable, break_number: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Say of each frame but the first whether it simply follows the one before it: shape (frames − 1,).

    The same rule as `FrameOrder` has for a next frame; ``break_number`` is how many breaks lie before each.
    """
    period_us = frames.period_us[:-1]
    off = steps(frames.t_us) - frames.rows[:-1] * period_us
    follows: npt.NDArray[np.bool_] = (
        (steps(frames.seq) == 1)
        & (2 * np.abs(off) <= period_us)
        & (np.diff(frames.period_us) == 0)
        & (np.diff(frames.channels) == 0)
        & (np.diff(break_number) == 0)
        & ((frames.flags[1:] & FIRST) == 0)
    )
    return follows


class FrameOrder:
    """Places one frame after the other on a time axis that begins with the first; counts what it drops."""

    def __init__(self, counters: Counters) -> None:
        self._counters = counters
        self._last: Head | None = None
        self._first_t_us: int | None = None
        self._time_us = 0
        # The period as the board's clock shows it, measured from here on; `period_us` is a rounded number.
        self._since: tuple[int, int] = (0, 0)
        self._holes: deque[tuple[int, int]] = deque(maxlen=REMEMBERED_HOLES)
        self._breaks: tuple[Break, ...] = ()

    @property
    def period_us(self) -> float:
        """Time from row to row by the board's clock, as far as it is known; 0 before the first frame."""
        if self._last is None:
            return 0.0
        rows = self._rows_measured()
        return (self._time_us - self._since[1]) / rows if rows > 0 else float(self._last.period_us)

    def place(self, head: Head, breaks: tuple[Break, ...] = ()) -> Placed | None:
        """Judge one frame; ``breaks`` lie between it and the one judged before. ``None``: it was dropped."""
        self._breaks += breaks
        last = self._last
        if last is None:
            return self._accept(head, 0, None, began=True)
        if head.channels != last.channels:
            self._counters.damaged += 1
            return None
        ahead = signed_difference(head.seq, last.seq)
        period_us = last.period_us if ahead == 1 else self.period_us
        expected = round(ahead * last.rows * period_us)
        off = signed_difference(head.t_us - last.t_us, expected)
        agree = abs(off) <= self._tolerance_us(ahead, expected) and head.period_us == last.period_us
        if ahead <= 0 and agree and -expected <= LATE_LIMIT_US and not self._restarted(head):
            self._drop(head, ahead)
            return None
        if ahead > 0 and agree and not head.flags & FIRST:
            return self._continue(head, expected + off, ahead)
        uncounted = head.period_us == last.period_us and not head.flags & FIRST and ahead > 0
        if uncounted and off > 0 and (head.flags & OVERRUN or off <= LATE_LIMIT_US):
            lost = Lost("the board missed samples", round((expected + off) / period_us) - last.rows, False)
            return self._accept(head, expected + off, lost, began=True)
        return self._begin_anew(head)

    def _restarted(self, head: Head) -> bool:
        """Tell a start after a start from the first frame come twice: only a start has another clock.

        After a break nothing comes twice, so there a first frame always is a start. A run whose own first
        frame has not been seen may still get it late.
        """
        if not head.flags & FIRST:
            return False
        return bool(self._breaks) or self._first_t_us not in (None, head.t_us)

    def skip(self, last: Head, elapsed_us: int, frames: int, overruns: int) -> None:
        """Take note that so many frames which simply follow were accepted up to ``last``, that much later."""
        self._counters.accept(frames, overruns)
        self._last = last
        self._time_us += elapsed_us

    def _rows_measured(self) -> int:
        return signed_difference(self._last.seq, self._since[0]) * self._last.rows if self._last else 0

    def _tolerance_us(self, ahead: int, expected_us: int) -> float:
        assert self._last is not None
        half_us = self._last.period_us / 2
        if ahead == 1:
            return half_us
        # Before anything is measured, the period is known to the half microsecond its rounding leaves.
        doubt = CLOCK_WANDER if self._rows_measured() > 0 else 0.5 / self._last.period_us
        return half_us + abs(expected_us) * doubt

    def _drop(self, head: Head, ahead: int) -> None:
        def lies_in(hole: tuple[int, int]) -> bool:
            return signed_difference(head.seq, hole[0]) >= 0 and signed_difference(hole[1], head.seq) >= 0

        if ahead < 0 and any(lies_in(hole) for hole in self._holes):
            self._counters.out_of_order += 1
        else:
            self._counters.repeated += 1

    def _continue(self, head: Head, elapsed_us: int, ahead: int) -> Placed:
        assert self._last is not None
        if ahead == 1 and not self._breaks:
            return self._accept(head, elapsed_us, None)
        if ahead > 1:
            self._holes.append((self._last.seq + 1, head.seq - 1))
        reason = self._breaks[-1].reason if self._breaks else "frames lost on the link"
        return self._accept(head, elapsed_us, Lost(reason, (ahead - 1) * self._last.rows, True))

    def _begin_anew(self, head: Head) -> Placed:
        assert self._last is not None
        self._counters.board_resets += 1
        known = [broke.host_gap_s for broke in self._breaks if broke.host_gap_s is not None]
        frame_us = round(self._last.rows * self._last.period_us)
        pause = time_across_break_us(self._last.t_us, head.t_us, sum(known) if known else None)
        elapsed_us = max(pause, frame_us)
        lost = Lost("the board began anew", round((elapsed_us - frame_us) / self._last.period_us), False)
        return self._accept(head, elapsed_us, lost, began=True)

    def _accept(self, head: Head, elapsed_us: int, lost: Lost | None, *, began: bool = False) -> Placed:
        self._counters.accept(overruns=head.flags & OVERRUN == OVERRUN)
        self._last = head
        self._time_us += elapsed_us
        self._breaks = ()
        if head.flags & FIRST:
            self._first_t_us = head.t_us
        if began:
            self._since = (head.seq, self._time_us)
            self._holes.clear()
        if lost is not None:
            self._counters.lose(lost)
        return Placed(self._time_us, lost)
