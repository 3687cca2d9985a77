"""The framed dialect, a whole capture at a time: the same rules as `ingest.frames`, column by column."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ingest.cobs import unstuff_in_place
from ingest.frames import (
    CRC,
    CRC_BYTES,
    DESCRIPTION,
    HEAD,
    MAX_STUFFED,
    MIN_PLAIN,
    SAMPLES,
    VERSION,
    read_description,
)
from ingest.link import MAX_CHANNELS, Description, Unknown

# Frames worked on together: large enough for numpy, small enough for the processor's cache.
BATCH_FRAMES = 8192
# Frames checked at once.
BLOCK_FRAMES = 64
# What CRC-32 makes of any bytes followed by their own CRC-32.
CRC_OVER_ITSELF = zlib.crc32(CRC.pack(zlib.crc32(b"")))

_HEAD_FIELDS = np.dtype(
    {
        "names": ["seq", "t_us", "period_us", "flags", "channels", "rows"],
        "formats": ["<u4", "<u4", "<u2", "u1", "u1", "u1"],
        "offsets": [2, 6, 10, 12, 13, 14],
        "itemsize": HEAD.size,
    }
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FrameTable:
    """All whole frames of samples of a capture, in the order they came; every column has shape (frames,).

    ``end`` is the byte offset behind the frame's closing 0x00. ``counts`` has the rows of all frames, one
    frame after the other, and as many columns as the first frame has channels; frames with another number of
    channels have no rows in it, and ``rows`` is 0 for them.
    """

    seq: npt.NDArray[np.uint32]
    t_us: npt.NDArray[np.uint32]
    period_us: npt.NDArray[np.int64]
    flags: npt.NDArray[np.uint8]
    channels: npt.NDArray[np.int64]
    rows: npt.NDArray[np.int64]
    end: npt.NDArray[np.int64]
    counts: npt.NDArray[np.uint16]
    damaged: int
    description: Description | None
    unknown: tuple[Unknown, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Bodies:
    """Frames of one length whose CRC is right, one a row, CRC taken off."""

    body: npt.NDArray[np.uint8]
    end: npt.NDArray[np.int64]

    def keep(self, which: npt.NDArray[np.bool_]) -> _Bodies:
        """Give only some of the frames."""
        return self if which.all() else _Bodies(self.body[which], self.end[which])


def read_frames(data: bytes | memoryview, breaks: Sequence[int] = ()) -> FrameTable:
    """Read every whole frame of a capture; ``breaks`` are offsets that no frame reaches across."""
    # A copy, for unstuffing works in place.
    buffer = np.frombuffer(data, np.uint8).copy()
    starts, ends, torn = _between_zeros(buffer, breaks)
    size = ends - starts
    plausible = (size > MIN_PLAIN) & (size <= MAX_STUFFED) & ~torn
    damaged = int(np.count_nonzero((size > 0) & ~plausible))
    starts, ends = starts[plausible], ends[plausible]
    groups: list[_Bodies] = []
    for first in range(0, len(starts), BATCH_FRAMES):
        batch = slice(first, first + BATCH_FRAMES)
        found = list(_checked(buffer, starts[batch], ends[batch]))
        damaged += len(starts[batch]) - sum(len(bodies.end) for bodies in found)
        groups += found
    return _table(groups, damaged)


def _between_zeros(
    buffer: npt.NDArray[np.uint8], breaks: Sequence[int]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Find the stretches between zeros (start, end, torn by a break); what no zero closes is left out."""
    zeros = np.flatnonzero(buffer == 0)
    cuts = np.array([cut for cut in breaks if 0 < cut <= len(buffer)], np.int64)
    if not len(cuts):
        return np.concatenate([[0], zeros + 1])[: len(zeros)], zeros, np.zeros(len(zeros), np.bool_)
    ends = np.concatenate([cuts, zeros])
    starts = np.concatenate([[0], cuts, zeros + 1])
    order = np.argsort(ends, kind="stable")
    torn = (np.arange(len(ends)) < len(cuts))[order]
    return np.sort(starts)[: len(ends)], ends[order], torn


def _checked(
    buffer: npt.NDArray[np.uint8], starts: npt.NDArray[np.int64], ends: npt.NDArray[np.int64]
) -> Iterator[_Bodies]:
    """Unstuff neighbouring frames and give those with a right CRC, grouped by length."""
    origin = int(starts[0])
    part = buffer[origin : int(ends[-1]) + 1]
    first, last = starts - origin + 1, ends - origin
    whole, surplus = unstuff_in_place(part, starts - origin, last)
    if len(surplus):
        kept = np.ones(len(part), np.bool_)
        kept[surplus] = False
        moved = np.cumsum(~kept)
        first, last, part = first - moved[first], last - moved[last], part[kept]
    size = last - first
    size[~whole] = 0
    for length in (np.flatnonzero(np.bincount(size)[MIN_PLAIN:]) + MIN_PLAIN).tolist():
        chosen = np.flatnonzero(size == length)
        plain = np.lib.stride_tricks.sliding_window_view(part, length)[first[chosen]]
        right = _crc_is_right(plain)
        yield _Bodies(plain[:, :-CRC_BYTES], ends[chosen] + 1).keep(right)


def _crc_is_right(plain: npt.NDArray[np.uint8]) -> npt.NDArray[np.bool_]:
    """Check frames of one length, one a row.

    A frame with the right CRC moves the CRC of what stood before it to a value that does not depend on what
    the frame says. So one pass over many frames shows whether all of them are right, with the same one chance
    in 2³² to be fooled; only where it does not agree is every frame of the block checked by itself.
    """
    right = np.ones(len(plain), np.bool_)
    body = bytes(plain.shape[1] - CRC_BYTES)
    any_right_one = body + CRC.pack(zlib.crc32(body))
    expected = zlib.crc32(any_right_one * BLOCK_FRAMES)
    for first in range(0, len(plain), BLOCK_FRAMES):
        block = plain[first : first + BLOCK_FRAMES]
        if len(block) < BLOCK_FRAMES or zlib.crc32(block.data) != expected:
            right[first : first + BLOCK_FRAMES] = [
                zlib.crc32(frame.data) == CRC_OVER_ITSELF for frame in block
            ]
    return right


def _table(groups: list[_Bodies], damaged: int) -> FrameTable:
    unknown: list[Unknown] = []
    described: list[tuple[int, Description]] = []
    samples: list[_Bodies] = []
    for bodies in groups:
        kind = bodies.body[:, :2].copy().view("<u2")[:, 0]
        for code in set(kind[np.diff(kind, prepend=~kind[:1]) != 0].tolist()):
            some = bodies.keep(kind == code)
            which = [code & 0xFF, code >> 8]
            if which == [VERSION, SAMPLES]:
                fitting = _fitting(some)
                damaged += len(some.end) - len(fitting.end)
                samples.append(fitting)
            elif which == [VERSION, DESCRIPTION]:
                read = [
                    (int(end), read_description(row.tobytes()))
                    for row, end in zip(some.body, some.end, strict=True)
                ]
                good = [(end, what) for end, what in read if what is not None]
                damaged += len(read) - len(good)
                described += good
            else:
                unknown += [Unknown(version=which[0], type=which[1])] * len(some.end)
    latest = max(described, key=lambda one: one[0])[1] if described else None
    return _columns(samples, damaged, latest, tuple(unknown))


def _head(body: npt.NDArray[np.uint8]) -> npt.NDArray[np.void]:
    return np.ascontiguousarray(body[:, : HEAD.size]).view(_HEAD_FIELDS)[:, 0]


def _fitting(bodies: _Bodies) -> _Bodies:
    """Keep the frames of samples whose head goes with their length."""
    length = bodies.body.shape[1]
    if length < HEAD.size:
        return _Bodies(bodies.body[:0], bodies.end[:0])
    head = _head(bodies.body)
    channels, rows = head["channels"].astype(np.int64), head["rows"].astype(np.int64)
    fits = (length == HEAD.size + 2 * channels * rows) & (rows >= 1) & (head["period_us"] >= 1)
    return bodies.keep(fits & (channels >= 1) & (channels <= MAX_CHANNELS))


def _columns(
    groups: list[_Bodies], damaged: int, description: Description | None, unknown: tuple[Unknown, ...]
) -> FrameTable:
    groups = [bodies for bodies in groups if len(bodies.end)]
    end = np.concatenate([np.zeros(0, np.int64), *(bodies.end for bodies in groups)])
    head = np.concatenate([np.zeros(0, _HEAD_FIELDS), *(_head(bodies.body) for bodies in groups)])
    order = np.argsort(end, kind="stable")
    head = head[order]
    channels = head["channels"].astype(np.int64)
    width = int(channels[0]) if len(channels) else 0
    rows = np.where(channels == width, head["rows"], 0).astype(np.int64)
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    return FrameTable(
        seq=head["seq"].astype(np.uint32),
        t_us=head["t_us"].astype(np.uint32),
        period_us=head["period_us"].astype(np.int64),
        flags=head["flags"].copy(),
        channels=channels,
        rows=rows,
        end=end[order],
        counts=_counts(groups, place, rows, width),
        damaged=damaged,
        description=description,
        unknown=unknown,
    )


def _counts(
    groups: list[_Bodies], place: npt.NDArray[np.int64], rows: npt.NDArray[np.int64], width: int
) -> npt.NDArray[np.uint16]:
    """Bring all counts into the order in which they came; frame ``i`` of the groups goes to ``place[i]``."""
    counts = np.empty((int(rows.sum()), width), "<u2")
    first_row = np.cumsum(rows) - rows
    done = 0
    for bodies in groups:
        mine = place[done : done + len(bodies.end)]
        done += len(bodies.end)
        height = int(rows[mine].max())
        # A group holds frames of one length, but those with another number of channels have no rows here.
        some, mine = bodies.keep(rows[mine] > 0), mine[rows[mine] > 0]
        if not height:
            continue
        values, target = some.body[:, HEAD.size :], first_row[mine]
        if target[-1] - target[0] == (len(mine) - 1) * height:
            stretch = counts[target[0] : target[0] + len(mine) * height]
            stretch.view(np.uint8).reshape(len(mine), -1)[:] = values
        else:
            scattered = (target[:, None] + np.arange(height)).ravel()
            counts[scattered] = np.ascontiguousarray(values).view("<u2").reshape(-1, width)
    return counts.astype(np.uint16, copy=False)
