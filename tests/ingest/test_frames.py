from __future__ import annotations

import struct

import numpy as np
import pytest

from ingest.cobs import stuff
from ingest.decode import Description, Dialect, LiveDecoder, decode, guess_dialect
from ingest.errors import LinkError
from ingest.frames import (
    FIRST,
    MARK_BUTTON,
    MAX_STUFFED,
    OVERRUN,
    SampleFrame,
    description_frame,
    read_frame,
    sample_frame,
    sealed,
)
from ingest.link import Unknown

DESCRIBED = Description(
    name="two pots", channels=2, period_us=1000, bits=12, skew_us=(0, 25), samples_per_frame=20
)


def rows(count: int, channels: int = 2) -> np.ndarray:
    return np.random.default_rng(count).integers(0, 65536, (count, channels)).astype(np.uint16)


@pytest.mark.parametrize(("count", "channels"), [(1, 1), (20, 2), (255, 1), (40, 8), (255, 8)])
def test_samples_there_and_back(count: int, channels: int) -> None:
    counts = rows(count, channels)
    wire = sample_frame(counts, seq=0xFFFFFFFF, t_us=0x12345678, period_us=500, flags=OVERRUN | MARK_BUTTON)
    assert wire.count(0) == 1
    assert len(wire) <= MAX_STUFFED + 1
    frame = read_frame(wire[:-1])
    assert isinstance(frame, SampleFrame)
    assert frame.head == (0xFFFFFFFF, 0x12345678, 500, OVERRUN | MARK_BUTTON, channels, count)
    assert np.array_equal(frame.counts, counts)


def test_numbers_wrap_at_32_bits() -> None:
    frame = read_frame(sample_frame(rows(1), seq=1 << 32, t_us=(1 << 32) + 7, period_us=1)[:-1])
    assert isinstance(frame, SampleFrame)
    assert frame.head[:2] == (0, 7)


def test_reserved_flags_are_ignored() -> None:
    data = sample_frame(rows(2), seq=0, t_us=0, period_us=1000, flags=0xF8)
    data += sample_frame(rows(2), seq=1, t_us=2000, period_us=1000, flags=0xF8)
    decoded = decode(data, Dialect.FRAMED)
    assert decoded.link.frames == 2
    assert decoded.button_marks == ()
    assert decoded.link.overruns == 0


def test_description_there_and_back() -> None:
    assert read_frame(description_frame(DESCRIBED)[:-1]) == DESCRIBED


def test_latest_description_wins() -> None:
    other = Description(name="b", channels=2, period_us=500, bits=10, skew_us=(0, 0), samples_per_frame=10)
    data = description_frame(DESCRIBED) + description_frame(other)
    assert decode(data, Dialect.FRAMED).description == other


def body(version: int = 1, kind: int = 1, period_us: int = 1000, channels: int = 2, count: int = 3) -> bytes:
    head = struct.pack("<BBIIHBBB", version, kind, 0, 0, period_us, FIRST, channels, count)
    return head + bytes(2 * channels * count)


@pytest.mark.parametrize(
    "wrong",
    [
        body()[:-1],
        body() + b"x",
        body(channels=0),
        body(count=0),
        body(channels=9),
        body(period_us=0),
        body()[:10],
        b"\x01\x02\x00\x0a\xe8\x03\x14\x00",  # a description of no channels
        b"\x01\x02\x02\x0a\xe8\x03\x14\x05ab\x00\x00\x00\x00",  # a name shorter than it says
        b"\x01\x02",
    ],
)
def test_right_crc_but_impossible_is_damaged(wrong: bytes) -> None:
    wire = sealed(wrong)
    assert read_frame(wire[:-1]) is None
    assert decode(wire, Dialect.FRAMED).link.damaged == 1


@pytest.mark.parametrize("size", [1, 3, MAX_STUFFED + 1, 50_000])
def test_frames_too_short_or_too_long_are_damaged(size: int) -> None:
    data = b"\x01" * size + b"\x00"
    assert decode(data, Dialect.FRAMED).link.damaged == 1
    live = LiveDecoder(Dialect.FRAMED)
    live.feed(data)
    assert live.link.damaged == 1


def test_every_single_bit_matters() -> None:
    wire = sample_frame(rows(3), seq=1, t_us=2, period_us=1000)
    for bit in range(8 * (len(wire) - 1)):
        damaged = bytearray(wire)
        damaged[bit // 8] ^= 1 << bit % 8
        assert decode(bytes(damaged), Dialect.FRAMED).link.frames == 0


def test_unknown_type_is_skipped() -> None:
    wire = sealed(body(kind=77))
    assert read_frame(wire[:-1]) == Unknown(version=1, type=77)
    link = decode(wire + sealed(body()), Dialect.FRAMED).link
    assert (link.frames, link.damaged) == (1, 0)


def test_unknown_version_is_one_clear_line() -> None:
    wire = sealed(body(version=2))
    assert guess_dialect(wire) is Dialect.FRAMED
    says = r"^the board speaks version 2 of the link, this flatfoot knows version 1: update flatfoot, or the"
    with pytest.raises(LinkError, match=says):
        decode(wire, Dialect.FRAMED)
    with pytest.raises(LinkError, match=says):
        LiveDecoder(Dialect.FRAMED).feed(wire)


def test_unknown_version_among_good_frames_is_damage() -> None:
    data = sealed(body()) + sealed(body(version=3))
    live = LiveDecoder(Dialect.FRAMED)
    live.feed(data)
    assert live.link == decode(data, Dialect.FRAMED).link
    assert live.link.damaged == 1


def test_empty_and_noise() -> None:
    for data in (b"", b"\x00\x00\x00", b"hello\r\nboot\r\n"):
        decoded = decode(data, Dialect.FRAMED)
        assert decoded.segments == ()
        assert decoded.channels == 0
        assert decoded.time_at(3) == 0.0
        assert guess_dialect(data) is None


def test_live_keeps_little_of_endless_noise() -> None:
    for dialect, noise in ((Dialect.FRAMED, b"\xaa"), (Dialect.LINES, b"q")):
        live = LiveDecoder(dialect)
        for _ in range(300):
            live.feed(noise * 10_000)
        assert len(live._rest) <= MAX_STUFFED + 1
        assert live.link.bytes == 3_000_000


def test_stuffed_rubbish_never_raises() -> None:
    for size in range(40):
        assert read_frame(stuff(bytes(size))) is None
