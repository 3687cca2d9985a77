"""Runs the rules of order over a whole table of frames or lines: one question for each run that follows.

Gives the same as asking about every single one, as `ingest.live` does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ingest.clock import steps
from ingest.frame_batch import FrameTable
from ingest.frame_order import FrameOrder, runs_on
from ingest.frames import OVERRUN, Head
from ingest.line_batch import LineTable
from ingest.line_order import Line, LineOrder
from ingest.link import Break, Counters, Lost, Placed

# Lines looked ahead at once for the next that does not simply follow.
WINDOW = 1 << 15


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AcceptedStamps:
    """The accepted frames or lines of a table.

    ``taken`` are their places in the table, ``time_us`` the times of their first rows since the first of all,
    both of shape (accepted,). Stretch ``k`` begins at accepted number ``opens[k]``, after ``lost[k]``, with
    ``period_us[k]`` expected from row to row.
    """

    taken: npt.NDArray[np.int64]
    time_us: npt.NDArray[np.int64]
    opens: list[int]
    lost: list[Lost | None]
    period_us: list[float]


class _Runs:
    """Collects accepted runs of neighbours in a table."""

    def __init__(self, t_us: npt.NDArray[np.uint32]) -> None:
        self.clock_us = np.concatenate([[0], np.cumsum(steps(t_us))]) if len(t_us) else np.zeros(0, np.int64)
        self._first: list[int] = []
        self._stop: list[int] = []
        self._time_us: list[int] = []
        self._accepted = 0
        self._opens: list[int] = []
        self._lost: list[Lost | None] = []
        self._period_us: list[float] = []

    def add(self, first: int, stop: int, placed: Placed, period_us: float) -> None:
        if placed.lost is not None or not self._accepted:
            self._opens.append(self._accepted)
            self._lost.append(placed.lost)
            self._period_us.append(period_us)
        self._first.append(first)
        self._stop.append(stop)
        self._time_us.append(placed.time_us)
        self._accepted += stop - first

    def add_following(self, first: int, stop: int, time_us: int) -> None:
        """Add a run that follows on what was added last."""
        self._first.append(first)
        self._stop.append(stop)
        self._time_us.append(time_us)
        self._accepted += stop - first

    def result(self) -> AcceptedStamps:
        first, stop = np.array(self._first, np.int64), np.array(self._stop, np.int64)
        size = stop - first
        taken = np.repeat(first - (np.cumsum(size) - size), size) + np.arange(self._accepted)
        lead_us = np.array(self._time_us, np.int64) - self.clock_us[first]
        return AcceptedStamps(
            taken=taken,
            time_us=np.repeat(lead_us, size) + self.clock_us[taken],
            opens=self._opens,
            lost=self._lost,
            period_us=self._period_us,
        )


def _breaks_before(end: npt.NDArray[np.int64], breaks: Sequence[Break]) -> npt.NDArray[np.int64]:
    """Count the breaks before each frame or line; one that ends just where the break is lies before it."""
    return np.searchsorted(np.array([broke.offset for broke in breaks], np.int64), end, side="left")


def accept_frames(table: FrameTable, breaks: Sequence[Break], counters: Counters) -> AcceptedStamps:
    """Accept the frames that come next, drop and count the others; ``breaks`` in order of their offsets."""
    number = _breaks_before(table.end, breaks)
    ends = np.append(np.flatnonzero(~runs_on(table, number)) + 1, len(table.seq))
    order, runs = FrameOrder(counters), _Runs(table.t_us)
    overruns = np.concatenate([[0], np.cumsum((table.flags & OVERRUN) != 0)])
    at, broken, run = 0, 0, 0
    while at < len(table.seq):
        placed = order.place(_head(table, at), tuple(breaks[broken : number[at]]))
        broken = int(number[at])
        while ends[run] <= at:
            run += 1
        stop = int(ends[run]) if placed is not None else at + 1
        if placed is not None:
            runs.add(at, stop, placed, float(table.period_us[at]))
        if stop > at + 1:
            elapsed_us = int(runs.clock_us[stop - 1] - runs.clock_us[at])
            missed = int(overruns[stop] - overruns[at + 1])
            order.skip(_head(table, stop - 1), elapsed_us, stop - at - 1, missed)
        at = stop
    return runs.result()


def _head(table: FrameTable, at: int) -> Head:
    columns = (table.seq, table.t_us, table.period_us, table.flags, table.channels, table.rows)
    return Head(*(int(column[at]) for column in columns))


def accept_lines(table: LineTable, breaks: Sequence[Break], counters: Counters) -> AcceptedStamps:
    """Accept the lines that come next, drop and count the others; ``breaks`` in order of their offsets."""
    number = _breaks_before(table.end, breaks)
    order, runs = LineOrder(counters), _Runs(table.t_us)
    at, broken = 0, 0
    while at < len(table.t_us):
        line = _line(table, at, tuple(breaks[broken : number[at]]))
        broken = int(number[at])
        for placed in order.offer(line):
            runs.add(placed.line.number, placed.line.number + 1, placed.placed, placed.period_us)
            time_us = placed.placed.time_us
        at += 1
        if order.settled_on(at - 1):
            stop = _end_of_run(table, number, order, at)
            if stop > at:
                ahead_us = int(runs.clock_us[at] - runs.clock_us[at - 1])
                runs.add_following(at, stop, time_us + ahead_us)
                elapsed_us = int(runs.clock_us[stop - 1] - runs.clock_us[at - 1])
                order.skip(_line(table, stop - 1, ()), elapsed_us, stop - at)
            at = stop
    for placed in order.finish():
        runs.add(placed.line.number, placed.line.number + 1, placed.placed, placed.period_us)
    return runs.result()


def _line(table: LineTable, at: int, breaks: tuple[Break, ...]) -> Line:
    return Line(at, int(table.t_us[at]), int(table.fields[at]), bool(table.checked[at]), breaks)


def _end_of_run(table: LineTable, number: npt.NDArray[np.int64], order: LineOrder, at: int) -> int:
    """Find the first line from ``at`` on that does not follow on the one before it, or the window's end."""
    assert order.shape is not None
    assert order.period_us is not None
    fields, checked = order.shape
    stop = min(at + WINDOW, len(table.t_us))
    step = steps(table.t_us[at - 1 : stop])
    follows = (step > 0) & (step <= 1.5 * order.period_us)
    follows &= (table.fields[at:stop] == fields) & (table.checked[at:stop] == checked)
    follows &= number[at:stop] == number[at - 1]
    ends = np.flatnonzero(~follows)
    return at + int(ends[0]) if len(ends) else stop
