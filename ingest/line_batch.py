"""The lines dialect, a whole capture at a time: plain lines by column, all others as `ingest.lines` says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ingest.lines import Other, Row, read_line
from ingest.link import CLOCK_WRAP_US, MAX_CHANNELS, Description, Unknown

BLOCK_BYTES = 1 << 21
_LF, _CR, _COMMA, _STAR = 10, 13, 44, 42
_MAX_DIGITS = 10

_HEX = np.full(256, 255, np.uint8)
for _value, _digit in enumerate(b"0123456789ABCDEF"):
    _HEX[_digit] = _value
    _HEX[ord(chr(_digit).lower())] = _value


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LineTable:
    """All well-formed lines of samples of a capture, in the order they came.

    ``t_us``, ``fields``, ``checked`` and ``end`` (offset behind the line feed) have shape (lines,),
    ``counts`` has shape (lines, most fields). ``mark_ends`` are the offsets at which the button was reported.
    """

    t_us: npt.NDArray[np.uint32]
    fields: npt.NDArray[np.int64]
    checked: npt.NDArray[np.bool_]
    end: npt.NDArray[np.int64]
    counts: npt.NDArray[np.uint16]
    mark_ends: tuple[int, ...]
    torn: int
    description: Description | None
    unknown: tuple[Unknown, ...]


class _Block:
    """The lines of one stretch of bytes: what each of them is."""

    def __init__(self, text: npt.NDArray[np.uint8], starts: npt.NDArray[np.int64]) -> None:
        lines = len(starts)
        self.text = text
        self.starts = starts
        self.row = np.zeros(lines, np.bool_)
        self.t_us = np.zeros(lines, np.int64)
        self.fields = np.zeros(lines, np.int64)
        self.checked = np.zeros(lines, np.bool_)
        self.counts = np.zeros((lines, MAX_CHANNELS), np.uint16)


def read_lines(data: bytes | memoryview, breaks: Sequence[int] = ()) -> LineTable:
    """Read every line of a capture; ``breaks`` are offsets that no line reaches across."""
    text = np.frombuffer(data, np.uint8)
    blocks: list[tuple[_Block, npt.NDArray[np.int64]]] = []
    marks: list[int] = []
    unknown: list[Unknown] = []
    description: Description | None = None
    torn = 0
    for start, stop, cut in _stretches(text, breaks):
        torn += cut
        for first, last in _blocks(text, start, stop):
            part = text[first:last]
            feeds = np.flatnonzero(part == _LF)
            starts = np.concatenate([[0], feeds[:-1] + 1])
            block = _Block(part, starts)
            plain = _read_plain(block, feeds)
            for number in np.flatnonzero(~plain).tolist():
                what = read_line(part[starts[number] : feeds[number]].tobytes())
                if isinstance(what, Row):
                    _put(block, number, what)
                elif isinstance(what, Description):
                    description = what
                elif isinstance(what, Unknown):
                    unknown.append(what)
                elif what is Other.MARK:
                    marks.append(first + int(feeds[number]) + 1)
                else:
                    torn += what is Other.TORN
            blocks.append((block, feeds + first + 1))
    return _table(blocks, tuple(marks), torn, description, tuple(unknown))


def _stretches(text: npt.NDArray[np.uint8], breaks: Sequence[int]) -> Iterator[tuple[int, int, bool]]:
    """Cut at the breaks and give (start, behind the last line feed, whether a torn line stands after it)."""
    cuts = sorted({cut for cut in breaks if 0 < cut < len(text)} | {len(text)})
    start = 0
    for cut in cuts:
        feeds = _last_feed(text, start, cut)
        yield start, feeds, feeds < cut and cut in breaks
        start = cut


def _last_feed(text: npt.NDArray[np.uint8], start: int, stop: int) -> int:
    """Give the offset behind the last line feed between two offsets, ``start`` where there is none."""
    upper = stop
    while upper > start:
        lower = max(start, upper - BLOCK_BYTES)
        feeds = np.flatnonzero(text[lower:upper] == _LF)
        if len(feeds):
            return lower + int(feeds[-1]) + 1
        upper = lower
    return start


def _blocks(text: npt.NDArray[np.uint8], start: int, stop: int) -> Iterator[tuple[int, int]]:
    """Cut whole lines into blocks that numpy handles at once; ``stop`` lies behind a line feed."""
    while start < stop:
        size = BLOCK_BYTES
        end = _last_feed(text, start, min(start + size, stop))
        while end == start:
            size *= 2
            end = _last_feed(text, start, min(start + size, stop))
        yield start, end
        start = end


def _put(block: _Block, number: int, row: Row) -> None:
    block.row[number] = True
    block.t_us[number] = row.t_us
    block.fields[number] = len(row.counts)
    block.checked[number] = row.checked
    block.counts[number, : len(row.counts)] = row.counts


def _read_plain(block: _Block, feeds: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Read the lines that are only digits and commas, with or without a check; say which those were."""
    text, starts = block.text, block.starts
    ends = feeds - ((feeds > starts) & (text[np.maximum(feeds - 1, 0)] == _CR))
    checked = (ends - starts >= 4) & (text[np.maximum(ends - 3, 0)] == _STAR)
    body = np.where(checked, ends - 3, ends)
    comma = text == _COMMA
    foreign = np.concatenate([[0], np.cumsum(~(comma | (text - np.uint8(48) < 10)))])
    commas = np.concatenate([[0], np.cumsum(comma)])
    fields = commas[body] - commas[starts]
    plain = (foreign[body] == foreign[starts]) & (fields >= 1) & (fields <= MAX_CHANNELS)
    token_starts, token_ends, line = _tokens(comma, plain, starts, body, feeds)
    size = token_ends - token_starts
    first = np.concatenate([[True], line[1:] != line[:-1]])[: len(line)]
    plain[line[(size < 1) | (size > np.where(first, _MAX_DIGITS, 5))]] = False
    values = _values(text, token_starts, size)
    place = np.arange(len(line)) - np.flatnonzero(first)[np.cumsum(first) - 1]
    block.t_us[line[first]] = values[first]
    block.counts[line[~first], place[~first] - 1] = values[~first]
    too_large = line[values >= np.where(first, CLOCK_WRAP_US, 1 << 16)]
    stands: npt.NDArray[np.bool_] = plain & ~_check_fails(text, starts, body, ends, checked)
    stands[too_large] = False
    block.row[:] = stands
    block.fields[:] = fields
    block.checked[:] = checked
    # What does not stand is given to the scalar reader too: it has the last word on what it is.
    return stands


def _tokens(
    comma: npt.NDArray[np.bool_],
    plain: npt.NDArray[np.bool_],
    starts: npt.NDArray[np.int64],
    body: npt.NDArray[np.int64],
    feeds: npt.NDArray[np.int64],
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Find the numbers of the plain lines: (start, end, line number), in order."""
    where = np.flatnonzero(comma)
    where = where[plain[np.searchsorted(feeds, where)]]
    token_starts = np.sort(np.concatenate([starts[plain], where + 1]))
    token_ends = np.sort(np.concatenate([where, body[plain]]))
    return token_starts, token_ends, np.searchsorted(feeds, token_starts)


def _values(
    text: npt.NDArray[np.uint8], starts: npt.NDArray[np.int64], size: npt.NDArray[np.int64]
) -> npt.NDArray[np.int64]:
    """Read decimal numbers, at most ten digits of each."""
    values = np.zeros(len(starts), np.int64)
    for digit in range(min(int(size.max(initial=0)), _MAX_DIGITS)):
        longer = size > digit
        values[longer] = values[longer] * 10 + (text[starts[longer] + digit] - 48)
    return values


def _check_fails(
    text: npt.NDArray[np.uint8],
    starts: npt.NDArray[np.int64],
    body: npt.NDArray[np.int64],
    ends: npt.NDArray[np.int64],
    checked: npt.NDArray[np.bool_],
) -> npt.NDArray[np.bool_]:
    """Say which checked lines do not agree with their checksum."""
    so_far = np.concatenate([np.zeros(1, np.uint8), np.bitwise_xor.accumulate(text)])
    high, low = (_HEX[text[np.maximum(ends - back, 0)]] for back in (2, 1))
    right: npt.NDArray[np.bool_] = (
        (high < 16) & (low < 16) & ((high << 4 | low) == (so_far[body] ^ so_far[starts]))
    )
    return checked & ~right


def _table(
    blocks: list[tuple[_Block, npt.NDArray[np.int64]]],
    marks: tuple[int, ...],
    torn: int,
    description: Description | None,
    unknown: tuple[Unknown, ...],
) -> LineTable:
    none = (_Block(np.zeros(0, np.uint8), np.zeros(0, np.int64)), np.zeros(0, np.int64))
    kept = [(block, block.row, ends) for block, ends in blocks or [none]]
    width = max(int(block.fields[rows].max(initial=0)) for block, rows, _ in kept)
    return LineTable(
        t_us=np.concatenate([block.t_us[rows].astype(np.uint32) for block, rows, _ in kept]),
        fields=np.concatenate([block.fields[rows] for block, rows, _ in kept]),
        checked=np.concatenate([block.checked[rows] for block, rows, _ in kept]),
        end=np.concatenate([ends[rows] for _, rows, ends in kept]),
        counts=np.concatenate([block.counts[rows, :width] for block, rows, _ in kept]),
        mark_ends=marks,
        torn=torn,
        description=description,
        unknown=unknown,
    )
