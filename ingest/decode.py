"""Bytes of a whole capture → samples. Pure: the same bytes give the same samples wherever they come from.

`LiveDecoder` does the same for bytes that still come; it lives in `ingest.live` and is offered here too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ingest.accepted import AcceptedStamps, accept_frames, accept_lines
from ingest.clock import steps
from ingest.frame_batch import FrameTable, read_frames
from ingest.frames import MARK_BUTTON, VERSION
from ingest.line_batch import LineTable, read_lines
from ingest.line_order import CONFIRM_US
from ingest.link import Break, Counters, Description, Dialect
from ingest.live import LiveBlock, LiveDecoder, refuse_unknown
from ingest.log import Gap, LinkStatistics, Mark, Segment
from ingest.stretches import Piece, Stretch, cut_even, segments_and_gaps

__all__ = [
    "BUTTON_TEXT",
    "Break",
    "Decoded",
    "Description",
    "Dialect",
    "LiveBlock",
    "LiveDecoder",
    "decode",
    "guess_dialect",
]

BUTTON_TEXT = "button"
# A guess looks no further than this, and asks for as many lines that follow each other.
GUESS_BYTES = 1 << 18
GUESS_LINES = 3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Decoded:
    """What a capture holds.

    Between two segments lies exactly one gap. ``offsets[i]`` (shape (stamps,), rising) is the byte offset
    behind an accepted frame or line, ``offset_times_s[i]`` the time of its last row.
    """

    channels: int
    segments: tuple[Segment, ...]
    gaps: tuple[Gap, ...]
    link: LinkStatistics
    description: Description | None
    button_marks: tuple[Mark, ...]
    offsets: npt.NDArray[np.int64]
    offset_times_s: npt.NDArray[np.float64]

    def time_at(self, offset: int) -> float:
        """Give the time of the last sample among the first ``offset`` bytes, in s since the first."""
        before = int(np.searchsorted(self.offsets, offset, side="right"))
        return float(self.offset_times_s[before - 1]) if before else 0.0


def decode(data: bytes | memoryview, dialect: Dialect, breaks: Sequence[Break] = ()) -> Decoded:
    """Decode a whole capture.

    Parameters
    ----------
    data
        Every byte that came, in order.
    dialect
        How the board speaks.
    breaks
        Reconnects and resets the recorder noted. What reaches across one is damaged, and a gap lies there.

    Raises
    ------
    LinkError
        The board speaks a version of the link this program does not know, and nothing could be read.
    """
    breaks = sorted(breaks, key=lambda broke: broke.offset)
    counters = Counters(bytes=len(data))
    for broke in breaks:
        counters.note_break(broke)
    offsets = [broke.offset for broke in breaks]
    if dialect is Dialect.FRAMED:
        return _decode_frames(read_frames(data, offsets), breaks, counters)
    return _decode_lines(read_lines(data, offsets), breaks, counters)


def guess_dialect(data: bytes) -> Dialect | None:
    """Say which dialect bytes are in; ``None`` if they make no sense in either, as at a wrong baud rate."""
    data = data[:GUESS_BYTES]
    frames = read_frames(data)
    if len(frames.seq) or frames.description or frames.unknown:
        return Dialect.FRAMED
    lines = read_lines(data)
    if lines.description or lines.unknown:
        return Dialect.LINES
    step = steps(lines.t_us)
    follows = (step > 0) & (step <= CONFIRM_US) & (np.diff(lines.fields) == 0)
    in_a_row = GUESS_LINES - 1
    runs = np.convolve(follows, np.ones(in_a_row, np.int64)) if len(follows) >= in_a_row else np.zeros(1)
    return Dialect.LINES if runs.max() >= in_a_row else None


def _decode_frames(table: FrameTable, breaks: Sequence[Break], counters: Counters) -> Decoded:
    foreign = [unknown for unknown in table.unknown if unknown.version != VERSION]
    counters.damaged += table.damaged + len(foreign)
    stamps = accept_frames(table, breaks, counters)
    if foreign and not counters.frames:
        refuse_unknown(foreign[0])
    taken = stamps.taken
    rows = table.rows[taken]
    row = np.cumsum(rows) - rows
    counts = table.counts
    if len(taken) < len(table.seq):
        kept = np.zeros(len(table.seq), np.bool_)
        kept[taken] = True
        counts = counts[np.repeat(kept, table.rows)]
    pressed = (table.flags[taken] & MARK_BUTTON) != 0
    pressing = stamps.time_us[pressed & ~np.concatenate([[False], pressed[:-1]])[: len(pressed)]]
    last_row_us = stamps.time_us + (rows - 1) * table.period_us[taken]
    return _assemble(
        Dialect.FRAMED,
        stamps,
        row,
        counts,
        counters,
        table.description,
        table.end[taken],
        last_row_us,
        pressing,
    )


def _decode_lines(table: LineTable, breaks: Sequence[Break], counters: Counters) -> Decoded:
    # This dialect counts nothing, so it can never prove that nothing is missing.
    counters.lost_exact = False
    counters.damaged += table.torn
    stamps = accept_lines(table, breaks, counters)
    if table.unknown and not counters.frames:
        refuse_unknown(table.unknown[0])
    taken = stamps.taken
    channels = int(table.fields[taken[0]]) if len(taken) else 0
    pressing = np.searchsorted(table.end[taken], table.mark_ends, side="right") - 1
    return _assemble(
        Dialect.LINES,
        stamps,
        np.arange(len(taken)),
        table.counts[taken, :channels],
        counters,
        table.description,
        table.end[taken],
        stamps.time_us,
        stamps.time_us[pressing[pressing >= 0]],
    )


def _assemble(
    dialect: Dialect,
    stamps: AcceptedStamps,
    row: npt.NDArray[np.int64],
    counts: npt.NDArray[np.uint16],
    counters: Counters,
    description: Description | None,
    ends: npt.NDArray[np.int64],
    last_row_us: npt.NDArray[np.int64],
    pressed_us: npt.NDArray[np.int64],
) -> Decoded:
    """Put accepted stamps and their rows together; ``row[i]`` is the first row of stamp ``i``."""
    pieces: list[Piece] = []
    stops = [*stamps.opens, len(stamps.taken)][1:]
    typical_us = _typical_period_us(stamps, row)
    for first, stop, lost, stated_us in zip(stamps.opens, stops, stamps.lost, stamps.period_us, strict=True):
        # What the first lines showed is rough; the whole recording knows better where both agree.
        rough = dialect is Dialect.LINES and abs(typical_us - stated_us) <= 0.1 * stated_us
        stretch = Stretch(
            time_us=stamps.time_us[first:stop],
            row=row[first:stop],
            stop_row=int(row[stop]) if stop < len(row) else len(counts),
            period_us=typical_us if rough else stated_us,
            lost=lost,
        )
        pieces += cut_even(stretch)
    segments, gaps = segments_and_gaps(pieces, counts)
    zero_us = pieces[0].start_us if pieces else 0.0
    channels = counts.shape[1]
    if description is not None and channels not in (0, description.channels):
        description = None  # another board's: it cannot be about these samples
    marks = tuple(Mark(t_s=float(t_us - zero_us) / 1e6, text=BUTTON_TEXT) for t_us in pressed_us)
    return Decoded(
        channels=channels or (description.channels if description else 0),
        segments=segments,
        gaps=gaps,
        link=counters.statistics(dialect),
        description=description,
        button_marks=marks,
        offsets=ends,
        offset_times_s=np.asarray((last_row_us - zero_us) / 1e6, np.float64),
    )


def _typical_period_us(stamps: AcceptedStamps, row: npt.NDArray[np.int64]) -> float:
    """Measure the period over all stretches together; 0 where no two stamps lie in one."""
    within = np.ones(len(row), np.bool_)
    within[stamps.opens] = False
    within = within[1:]
    rows = int(np.diff(row)[within].sum())
    return float(np.diff(stamps.time_us)[within].sum() / rows) if rows else 0.0
