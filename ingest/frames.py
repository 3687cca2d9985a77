"""The framed dialect, one frame at a time: bytes ↔ what they say. Layout: firmware_notes/link.md."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ingest.cobs import stuff, unstuff
from ingest.link import MAX_CHANNELS, Description, Unknown

# What the host says to the board.
DESCRIBE = b"d\n"
START = b"g\n"
STOP = b"h\n"

VERSION = 1
SAMPLES = 1
DESCRIPTION = 2

MARK_BUTTON = 0x01
OVERRUN = 0x02
FIRST = 0x04

HEAD = struct.Struct("<BBIIHBBB")
DESCRIPTION_HEAD = struct.Struct("<BBBBHBB")
CRC = struct.Struct("<I")
CRC_BYTES = 4
MIN_PLAIN = 2 + CRC_BYTES
MAX_PLAIN = HEAD.size + 2 * MAX_CHANNELS * 255 + CRC_BYTES
MAX_STUFFED = MAX_PLAIN + 1 + MAX_PLAIN // 254


class Head(NamedTuple):
    """What a frame of samples says about itself, apart from the counts."""

    seq: int
    t_us: int
    period_us: int
    flags: int
    channels: int
    rows: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SampleFrame:
    """One frame of samples; ``counts`` has shape (rows, channels)."""

    head: Head
    counts: npt.NDArray[np.uint16]


def sealed(body: bytes) -> bytes:
    """Close a frame: CRC-32, stuffing, 0x00."""
    return stuff(body + CRC.pack(zlib.crc32(body))) + b"\x00"


def sample_frame(
    counts: npt.NDArray[np.uint16], *, seq: int, t_us: int, period_us: int, flags: int = 0
) -> bytes:
    """Build one frame of samples as it goes over the wire; ``counts`` has shape (rows, channels)."""
    rows, channels = counts.shape
    head = HEAD.pack(VERSION, SAMPLES, seq & 0xFFFFFFFF, t_us & 0xFFFFFFFF, period_us, flags, channels, rows)
    return sealed(head + counts.astype("<u2").tobytes())


def description_frame(description: Description) -> bytes:
    """Build the answer to ``DESCRIBE`` as it goes over the wire."""
    name = description.name.encode("ascii", "replace")[:255]
    head = DESCRIPTION_HEAD.pack(
        VERSION,
        DESCRIPTION,
        description.channels,
        description.bits,
        description.period_us,
        description.samples_per_frame,
        len(name),
    )
    return sealed(head + name + struct.pack(f"<{description.channels}H", *description.skew_us))


def read_frame(stuffed: bytes) -> SampleFrame | Description | Unknown | None:
    """Read what stood between two 0x00; ``None`` unless it is whole and says something that can be."""
    if not MIN_PLAIN < len(stuffed) <= MAX_STUFFED:
        return None
    plain = unstuff(stuffed)
    if plain is None or len(plain) < MIN_PLAIN:
        return None
    body = plain[:-CRC_BYTES]
    if zlib.crc32(body) != CRC.unpack(plain[-CRC_BYTES:])[0]:
        return None
    if body[0] != VERSION or body[1] not in (SAMPLES, DESCRIPTION):
        return Unknown(version=body[0], type=body[1])
    return read_description(body) if body[1] == DESCRIPTION else _read_samples(body)


def _read_samples(body: bytes) -> SampleFrame | None:
    if len(body) < HEAD.size:
        return None
    head = Head(*HEAD.unpack_from(body)[2:])
    fits = len(body) == HEAD.size + 2 * head.rows * head.channels
    if not (fits and 1 <= head.channels <= MAX_CHANNELS and head.rows >= 1 and head.period_us >= 1):
        return None
    counts = np.frombuffer(body, "<u2", offset=HEAD.size).reshape(head.rows, head.channels)
    return SampleFrame(head=head, counts=counts.astype(np.uint16))


def read_description(body: bytes) -> Description | None:
    """Read a description, its CRC already checked and taken off."""
    if len(body) < DESCRIPTION_HEAD.size:
        return None
    _, _, channels, bits, period_us, rows, name_bytes = DESCRIPTION_HEAD.unpack_from(body)
    name_end = DESCRIPTION_HEAD.size + name_bytes
    if len(body) != name_end + 2 * channels or not 1 <= channels <= MAX_CHANNELS:
        return None
    return Description(
        name=body[DESCRIPTION_HEAD.size : name_end].decode("ascii", "replace"),
        channels=channels,
        period_us=period_us,
        bits=bits,
        skew_us=struct.unpack_from(f"<{channels}H", body, name_end),
        samples_per_frame=rows,
    )
