"""Which lines are the next ones, which come twice or late, and where at least some are missing.

Lines carry no number and often no check, so the clock alone has to tell. The first lines are held back until
they show how many fields a line has and how far apart lines are. After that a line that comes neither one
period after the last nor twice is a suspect: it counts only when the next line goes on from it, so that one
torn digit cannot move the clock.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from statistics import median
from typing import NamedTuple

from ingest.clock import JUST_STARTED_US, signed_difference, time_across_break_us
from ingest.link import CLOCK_WRAP_US, LATE_LIMIT_US, Break, Counters, Lost, Placed

# Lines held back to learn from; after this many leaps in a row the learning begins anew.
LEARNING_LINES = 16
RELEARN_AFTER = 32
# A line is confirmed by one that follows it within this time.
CONFIRM_US = 500_000


class Line(NamedTuple):
    """One well-formed line: its number in the order of arrival, and the breaks just before it.

    ``counts`` go along for whoever has no table to find them in again.
    """

    number: int
    t_us: int
    fields: int
    checked: bool
    breaks: tuple[Break, ...] = ()
    counts: tuple[int, ...] = ()


class PlacedLine(NamedTuple):
    """An accepted line, where it lies in time, and the period that was expected there."""

    line: Line
    placed: Placed
    period_us: float


class LineOrder:
    """Places one line after the other on a time axis that begins with the first; counts what it drops."""

    def __init__(self, counters: Counters) -> None:
        self._counters = counters
        self._shape: tuple[int, bool] | None = None
        self._period_us: float | None = None
        self._learning: list[Line] = []
        self._suspect: Line | None = None
        self._last: Line | None = None
        self._time_us = 0
        self._leaps = 0
        self._breaks: tuple[Break, ...] = ()

    @property
    def shape(self) -> tuple[int, bool] | None:
        """Give the fields of a line and whether it is checked, once the first lines have shown it."""
        return self._shape

    @property
    def period_us(self) -> float | None:
        """Give the time from line to line that is expected now."""
        return self._period_us

    def settled_on(self, number: int) -> bool:
        """Say whether line ``number`` was the last one accepted and nothing is held back."""
        clear = self._suspect is None and self._period_us is not None
        return clear and self._last is not None and self._last.number == number

    def offer(self, line: Line) -> list[PlacedLine]:
        """Judge one line. Give those that are accepted by now: none, this one, or some held back before."""
        if self._period_us is not None:
            return self._judge(line, self._period_us)
        self._learning.append(line)
        return self._learn() if len(self._learning) >= LEARNING_LINES else []

    def skip(self, last: Line, elapsed_us: int, lines: int) -> None:
        """Take note that so many lines which simply follow were accepted up to ``last``, that much later."""
        self._counters.accept(lines)
        self._last = last
        self._time_us += elapsed_us
        self._leaps = 0

    def finish(self) -> list[PlacedLine]:
        """Judge what is still held back: no more lines will come."""
        placed: list[PlacedLine] = []
        while self._learning:
            placed += self._learn()
        self._counters.damaged += self._suspect is not None
        self._suspect = None
        return placed

    def _learn(self) -> list[PlacedLine]:
        held, self._learning = self._learning, []
        if self._shape is None:
            fields = Counter(line.fields for line in held).most_common(1)[0][0]
            # Ties go to the checked ones: a check can be torn off, but not torn on.
            checked = 2 * sum(line.checked for line in held) >= len(held)
            self._shape = (fields, checked)
        fitting = [line.t_us for line in held if (line.fields, line.checked) == self._shape]
        steps = [signed_difference(b, a) for a, b in pairwise(fitting)]
        forward = [step for step in steps if 0 < step <= CONFIRM_US]
        if not forward:
            self._counters.damaged += 1
            self._learning = held[1:]
            if self._last is None:
                self._shape = None
            return []
        self._period_us = float(median(forward))
        self._leaps = 0
        return [placed for line in held for placed in self.offer(line)]

    def _judge(self, line: Line, period_us: float) -> list[PlacedLine]:
        self._breaks += line.breaks
        line = line._replace(breaks=())
        if (line.fields, line.checked) != self._shape:
            self._counters.damaged += 1
            return []
        if self._suspect is not None:
            step = signed_difference(line.t_us, self._suspect.t_us)
            if step == 0:
                self._counters.repeated += 1
                return []
            suspect, self._suspect = self._suspect, None
            if 0 < step <= CONFIRM_US:
                return [self._accept(suspect, period_us), *self.offer(line)]
            self._counters.damaged += 1
        return self._compare(line, period_us)

    def _compare(self, line: Line, period_us: float) -> list[PlacedLine]:
        if self._last is None:
            self._suspect = line
            return []
        step = signed_difference(line.t_us, self._last.t_us)
        if -LATE_LIMIT_US <= step <= 0:
            self._counters.repeated += step == 0
            self._counters.out_of_order += step < 0
            return []
        if step <= 1.5 * period_us and step > 0 and not self._breaks:
            self._leaps = 0
            return [self._accept(line, period_us)]
        self._suspect = line
        return []

    def _accept(self, line: Line, period_us: float) -> PlacedLine:
        last, self._last = self._last, line
        self._counters.accept()
        lost = None
        if last is not None:
            step = signed_difference(line.t_us, last.t_us)
            if self._breaks or not 0 < step <= 1.5 * period_us:
                step, lost = self._leap(last.t_us, line.t_us, step, period_us)
            self._time_us += step
        self._breaks = ()
        return PlacedLine(line, Placed(self._time_us, lost), period_us)

    def _leap(self, last_us: int, new_us: int, step: int, period_us: float) -> tuple[int, Lost]:
        """Bound what is missing where a line does not simply follow: (time in µs, loss)."""
        known = [broke.host_gap_s for broke in self._breaks if broke.host_gap_s is not None]
        if known:
            elapsed = time_across_break_us(last_us, new_us, sum(known))
            began_anew = (new_us - last_us - elapsed) % CLOCK_WRAP_US != 0
        else:
            elapsed = time_across_break_us(last_us, new_us, None)
            began_anew = step <= 0 or (new_us < JUST_STARTED_US < step)
        elapsed = max(elapsed, round(period_us)) if began_anew else elapsed
        reason = self._breaks[-1].reason if self._breaks else "lines lost on the link"
        reason = "the board began anew" if began_anew else reason
        lost = Lost(reason, max(0, round(elapsed / period_us) - 1), False)
        self._counters.board_resets += began_anew
        self._counters.lose(lost)
        self._leaps += 1
        if self._leaps >= RELEARN_AFTER:
            self._period_us = None
        return elapsed, lost
