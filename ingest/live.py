"""Bytes that are still coming → samples, in pieces of any size; the rules are those of `ingest.decode`."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ingest.errors import LinkError
from ingest.frame_order import FrameOrder
from ingest.frames import MARK_BUTTON, MAX_STUFFED, VERSION, SampleFrame, read_frame
from ingest.line_order import Line, LineOrder, PlacedLine
from ingest.lines import MAX_LINE, Other, Row, read_line
from ingest.link import Break, Counters, Description, Dialect, Placed, Unknown
from ingest.log import LinkStatistics


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LiveBlock:
    """Samples that just came.

    ``t_s`` (shape (rows,)) are seconds since the first sample, ``counts`` has shape (rows, channels), and
    ``button`` says whether the rider's button was pressed meanwhile.
    """

    t_s: npt.NDArray[np.float64]
    counts: npt.NDArray[np.uint16]
    button: bool


def refuse_unknown(unknown: Unknown) -> None:
    """Raise `LinkError` if something came in a version of the link this program does not know."""
    if unknown.version != VERSION:
        raise LinkError(
            f"the board speaks version {unknown.version} of the link, this flatfoot knows version {VERSION}: "
            "update flatfoot, or the program on the board"
        )


class LiveDecoder:
    """Decodes one dialect as the bytes come; the pieces may be cut anywhere.

    It keeps at most one frame or a few lines, whatever comes. `feed` raises `LinkError` when the board speaks
    an unknown version of the link and nothing could be read so far.
    """

    def __init__(self, dialect: Dialect) -> None:
        self._dialect = dialect
        self._counters = Counters()
        self._reader = (
            _LiveFrames(self._counters) if dialect is Dialect.FRAMED else _LiveLines(self._counters)
        )
        self._rest = b""

    @property
    def link(self) -> LinkStatistics:
        """Give what the link did so far."""
        return self._counters.statistics(self._dialect)

    @property
    def description(self) -> Description | None:
        """Give what the board said about itself last, if it did."""
        return self._reader.description

    @property
    def rate_hz(self) -> float | None:
        """Give the sampling rate by the board's clock, once it is known."""
        period_us = self._reader.period_us
        return 1e6 / period_us if period_us else None

    def feed(self, data: bytes) -> LiveBlock | None:
        """Take the next bytes; give the samples they complete, if any."""
        self._counters.bytes += len(data)
        *whole, rest = (self._rest + data).split(self._reader.delimiter)
        # One byte too many is enough to know a piece as too long, so garbage does not pile up.
        self._rest = rest[: self._reader.longest + 1]
        for piece in whole:
            self._reader.take(piece)
        return self._reader.collect()

    def note_break(self, broke: Break) -> None:
        """Take note that the link was broken here: nothing reaches from before to after it."""
        self._counters.note_break(broke)
        self._counters.damaged += bool(self._rest)
        self._rest = b""
        self._reader.note_break(broke)

    def finish(self) -> LiveBlock | None:
        """Give the samples held back so far, if any: no more bytes will come."""
        self._reader.finish()
        return self._reader.collect()


class _Collector(ABC):
    """What both dialects do with accepted samples: keep them until they are asked for."""

    delimiter: bytes
    longest: int

    def __init__(self, counters: Counters) -> None:
        self.description: Description | None = None
        self._counters = counters
        self._breaks: tuple[Break, ...] = ()
        self._times: list[npt.NDArray[np.float64]] = []
        self._counts: list[npt.NDArray[np.uint16]] = []
        self._button = False

    @property
    @abstractmethod
    def period_us(self) -> float | None:
        """Time from row to row as far as it is known."""

    @abstractmethod
    def take(self, piece: bytes) -> None:
        """Take what stood between two delimiters."""

    def finish(self) -> None:  # noqa: B027 - only the dialect that holds lines back has something to release
        """Release what is held back; nothing is, unless a dialect says so."""

    def note_break(self, broke: Break) -> None:
        self._breaks += (broke,)

    def collect(self) -> LiveBlock | None:
        if not self._times:
            return None
        block = LiveBlock(
            t_s=np.concatenate(self._times), counts=np.concatenate(self._counts), button=self._button
        )
        self._times, self._counts, self._button = [], [], False
        return block

    def _refuse_unknown(self, unknown: Unknown) -> None:
        if not self._counters.frames:
            refuse_unknown(unknown)


class _LiveFrames(_Collector):
    delimiter = b"\x00"
    longest = MAX_STUFFED

    def __init__(self, counters: Counters) -> None:
        super().__init__(counters)
        self._order = FrameOrder(counters)

    @property
    def period_us(self) -> float | None:
        return self._order.period_us or None

    def take(self, piece: bytes) -> None:
        what = read_frame(piece) if piece else None
        if isinstance(what, SampleFrame):
            breaks, self._breaks = self._breaks, ()
            placed = self._order.place(what.head, breaks)
            if placed is not None:
                self._keep(what, placed)
        elif isinstance(what, Description):
            self.description = what
        elif isinstance(what, Unknown):
            self._refuse_unknown(what)
            self._counters.damaged += what.version != VERSION
        else:
            self._counters.damaged += bool(piece)

    def _keep(self, frame: SampleFrame, placed: Placed) -> None:
        rows = np.arange(frame.head.rows)
        self._times.append((placed.time_us + rows * frame.head.period_us) / 1e6)
        self._counts.append(frame.counts)
        self._button |= bool(frame.head.flags & MARK_BUTTON)


class _LiveLines(_Collector):
    delimiter = b"\n"
    longest = MAX_LINE

    def __init__(self, counters: Counters) -> None:
        super().__init__(counters)
        self._order = LineOrder(counters)
        self._number = 0
        self._since_us = 0
        self._now_us = 0
        self._steps = 0
        self._first = True
        # This dialect counts nothing, so it can never prove that nothing is missing.
        counters.lost_exact = False

    @property
    def period_us(self) -> float | None:
        return (self._now_us - self._since_us) / self._steps if self._steps else self._order.period_us

    def take(self, piece: bytes) -> None:
        what = read_line(piece)
        if isinstance(what, Row):
            breaks, self._breaks = self._breaks, ()
            line = Line(self._number, what.t_us, len(what.counts), what.checked, breaks, what.counts)
            self._keep(self._order.offer(line))
            self._number += 1
        elif isinstance(what, Description):
            self.description = what
        elif isinstance(what, Unknown):
            self._refuse_unknown(what)
        elif what is Other.MARK:
            self._button = True
        else:
            self._counters.damaged += what is Other.TORN

    def finish(self) -> None:
        self._keep(self._order.finish())

    def _keep(self, lines: list[PlacedLine]) -> None:
        for accepted in lines:
            time_us, lost = accepted.placed
            self._times.append(np.array([time_us / 1e6]))
            self._counts.append(np.array([accepted.line.counts], np.uint16))
            self._steps += 1
            self._now_us = time_us
            if lost is not None or self._first:
                self._since_us, self._steps, self._first = time_us, 0, False
