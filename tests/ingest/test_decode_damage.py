"""A damaged stream: nothing damaged is accepted, everything is counted, and live gives what a batch gives."""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ingest.decode import Break, Decoded, Dialect, LiveDecoder, decode
from ingest.frames import FIRST, sample_frame
from ingest.lines import sample_line
from ingest.log import LinkStatistics

ROWS = 7
PERIOD_US = 1000


def truth(rows: int, channels: int = 2, seed: int = 5) -> np.ndarray:
    """Counts that name their own row: channel 0 is the row number, so a wrong place shows."""
    counts = np.random.default_rng(seed).integers(0, 1024, (rows, channels)).astype(np.uint16)
    counts[:, 0] = np.arange(rows)
    return counts


def framed(counts: np.ndarray, *, start_us: int = 0xFFFF0000, rows: int = ROWS) -> list[bytes]:
    """Frames whose clock wraps on the way."""
    return [
        sample_frame(
            counts[at : at + rows],
            seq=0xFFFFFFF0 + at // rows,
            t_us=start_us + at * PERIOD_US,
            period_us=PERIOD_US,
            flags=0 if at else FIRST,
        )
        for at in range(0, len(counts), rows)
    ]


def lined(counts: np.ndarray, *, start_us: int = 0xFFFF0000, checked: bool = True) -> list[bytes]:
    return [
        sample_line(start_us + at * PERIOD_US, row, checked=checked) for at, row in enumerate(counts.tolist())
    ]


def fed(data: bytes, dialect: Dialect, cuts: random.Random) -> tuple[np.ndarray, np.ndarray, LinkStatistics]:
    """The same bytes through the live decoder, cut at random: (times, counts, link)."""
    live = LiveDecoder(dialect)
    blocks, at = [], 0
    while at < len(data):
        size = cuts.choice((1, 2, 3, 7, 50, 400))
        blocks.append(live.feed(data[at : at + size]))
        at += size
    blocks.append(live.finish())
    some = [block for block in blocks if block is not None]
    if not some:
        return np.zeros(0), np.zeros((0, 0), np.uint16), live.link
    return np.concatenate([b.t_s for b in some]), np.concatenate([b.counts for b in some]), live.link


def times(decoded: Decoded) -> np.ndarray:
    return np.concatenate([s.start_s + np.arange(s.rows) * s.dt_s for s in decoded.segments] or [np.zeros(0)])


def values(decoded: Decoded) -> np.ndarray:
    return np.concatenate([s.values for s in decoded.segments] or [np.zeros((0, 0), np.uint16)])


def assert_live_is_batch(data: bytes, dialect: Dialect, seed: int) -> Decoded:
    batch = decode(data, dialect)
    t_s, counts, link = fed(data, dialect, random.Random(seed))
    assert link == batch.link
    assert np.array_equal(counts, values(batch)) or not len(counts) == len(values(batch)) != 0
    assert len(counts) == len(values(batch))
    if len(counts):
        # Live times are the board's own; those of a batch lie on a grid no more than half a period off.
        period_s = max(segment.dt_s for segment in batch.segments)
        assert np.abs((t_s - t_s[0]) - (times(batch) - times(batch)[0])).max() <= period_s + 1e-9
    return batch


def assert_sound(batch: Decoded, counts: np.ndarray) -> None:
    """Every accepted row is one of the rows that were sent, at its time, in order."""
    got = values(batch)
    if not len(got):
        return
    row = got[:, 0].astype(int)
    assert np.array_equal(got, counts[row])
    assert (np.diff(row) > 0).all()
    assert np.allclose(times(batch), (row - row[0]) * PERIOD_US / 1e6, atol=1e-9)
    assert len(batch.gaps) == max(0, len(batch.segments) - 1)


Damage = Callable[[list[bytes], random.Random], bytes]


def flips(pieces: list[bytes], rng: random.Random) -> bytes:
    data = bytearray(b"".join(pieces))
    for _ in range(rng.randint(1, 30)):
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    return bytes(data)


def drops(pieces: list[bytes], rng: random.Random) -> bytes:
    data = bytearray(b"".join(pieces))
    for _ in range(rng.randint(1, 20)):
        del data[rng.randrange(len(data))]
    return bytes(data)


def inserts(pieces: list[bytes], rng: random.Random) -> bytes:
    data = bytearray(b"".join(pieces))
    for _ in range(rng.randint(1, 20)):
        data.insert(rng.randrange(len(data)), rng.randrange(256))
    return bytes(data)


def doubled_bytes(pieces: list[bytes], rng: random.Random) -> bytes:
    data = bytearray(b"".join(pieces))
    for _ in range(rng.randint(1, 20)):
        at = rng.randrange(len(data))
        data.insert(at, data[at])
    return bytes(data)


def doubled_pieces(pieces: list[bytes], rng: random.Random) -> bytes:
    return b"".join(piece * (2 if rng.random() < 0.1 else 1) for piece in pieces)


def swapped_pieces(pieces: list[bytes], rng: random.Random) -> bytes:
    pieces = list(pieces)
    for at in rng.sample(range(1, len(pieces) - 1), 4):
        pieces[at], pieces[at + 1] = pieces[at + 1], pieces[at]
    return b"".join(pieces)


def missing_pieces(pieces: list[bytes], rng: random.Random) -> bytes:
    return b"".join(piece for piece in pieces if rng.random() < 0.8)


def noise(pieces: list[bytes], rng: random.Random) -> bytes:
    at = rng.randrange(len(pieces))
    return b"".join(pieces[:at]) + rng.randbytes(rng.randint(1, 9000)) + b"".join(pieces[at:])


DAMAGES = (flips, drops, inserts, doubled_bytes, doubled_pieces, swapped_pieces, missing_pieces, noise)


@pytest.mark.parametrize("damage", DAMAGES)
@pytest.mark.parametrize("seed", range(12))
def test_framed_campaign(damage: Damage, seed: int) -> None:
    counts = truth(60 * ROWS)
    data = damage(framed(counts), random.Random(seed))
    batch = assert_live_is_batch(data, Dialect.FRAMED, seed)
    assert_sound(batch, counts)
    link = batch.link
    got = values(batch)
    if link.board_resets == 0 and len(got):
        between = int(got[-1, 0]) - int(got[0, 0]) + 1 - len(got)
        assert link.lost_samples == between, "every sample between the first and the last is accounted for"
        assert link.lost_exact
        assert sum(gap.lost_samples for gap in batch.gaps) == between


@pytest.mark.parametrize("damage", DAMAGES)
@pytest.mark.parametrize("seed", range(12))
def test_checked_lines_campaign(damage: Damage, seed: int) -> None:
    counts = truth(400)
    batch = assert_live_is_batch(damage(lined(counts), random.Random(seed)), Dialect.LINES, seed)
    got = values(batch)
    row = got[:, 0].astype(int)
    # An 8-bit checksum misses some damage by its nature; what gets through must be rare, never wholesale.
    assert (got != counts[np.minimum(row, 399)]).any(axis=1).sum() <= 1
    assert not batch.link.lost_exact


@pytest.mark.parametrize("damage", [doubled_pieces, swapped_pieces, missing_pieces])
@pytest.mark.parametrize("seed", range(6))
def test_unchecked_lines_campaign(damage: Damage, seed: int) -> None:
    counts = truth(400)
    batch = assert_live_is_batch(
        damage(lined(counts, checked=False), random.Random(seed)), Dialect.LINES, seed
    )
    assert_sound(batch, counts)


@pytest.mark.parametrize("damage", [flips, drops, inserts, doubled_bytes, noise])
@pytest.mark.parametrize("seed", range(6))
def test_unchecked_lines_never_lose_the_clock(damage: Damage, seed: int) -> None:
    counts = truth(400)
    batch = assert_live_is_batch(
        damage(lined(counts, checked=False), random.Random(seed)), Dialect.LINES, seed
    )
    t_s = times(batch)
    assert batch.link.board_resets == 0
    assert (np.diff(t_s) > -0.5e-3).all()
    assert t_s[-1] <= 0.4005
    assert batch.link.frames >= 300


def test_truncation_at_every_byte() -> None:
    counts = truth(12 * ROWS)
    data = b"".join(framed(counts))
    ends = np.cumsum([len(frame) for frame in framed(counts)])
    for cut in range(len(data) + 1):
        batch = decode(data[:cut], Dialect.FRAMED)
        whole = int(np.searchsorted(ends, cut, side="right"))
        assert len(values(batch)) == whole * ROWS
        assert batch.link.damaged == 0
        assert_sound(batch, counts)


def test_lines_truncation_at_every_byte() -> None:
    counts = truth(40)
    lines = lined(counts)
    data = b"".join(lines)
    ends = np.cumsum([len(line) for line in lines])
    for cut in range(len(data) + 1):
        batch = assert_live_is_batch(data[:cut], Dialect.LINES, cut)
        whole = int(np.searchsorted(ends, cut, side="right"))
        # One line alone has no time to compare with.
        assert len(values(batch)) == (whole if whole >= 2 else 0)
        assert_sound(batch, counts)


@settings(max_examples=150, deadline=None)
@given(data=st.binary(max_size=3000), seed=st.integers(0, 99))
@example(data=b"\x00" * 50, seed=0)
@example(data=b"\n" * 50, seed=0)
@example(data=b"\xff" * 3000, seed=0)
def test_any_bytes_at_all(data: bytes, seed: int) -> None:
    for dialect in Dialect:
        assert_live_is_batch(data, dialect, seed)


@settings(max_examples=150, deadline=None)
@given(
    lines=st.lists(
        st.tuples(
            st.integers(0, 4000), st.lists(st.integers(0, 70000), min_size=1, max_size=3), st.booleans()
        ),
        max_size=60,
    ),
    scale=st.sampled_from((1, 997, 1_000_003, 0x7FFFFFFF)),
    seed=st.integers(0, 99),
)
def test_any_lines_at_all(lines: list[tuple[int, list[int], bool]], scale: int, seed: int) -> None:
    data = b"".join(sample_line(t * scale, row, checked=checked) for t, row, checked in lines)
    assert_live_is_batch(data, Dialect.LINES, seed)


@settings(max_examples=150, deadline=None)
@given(
    heads=st.lists(
        st.tuples(
            st.integers(-3, 6),  # step of the sequence number
            st.sampled_from((0, 0, 0, 0, 1000, -1000, 300, 5_000_000, -5_000_000, 1 << 31)),
            st.sampled_from((0, 0, 0, 0, 1, 2, 3, FIRST)),
            st.sampled_from((1, 1, 1, 1, 1, 2)),
            st.sampled_from((3, 3, 3, 5)),
            st.sampled_from((1000, 1000, 1000, 999)),
        ),
        max_size=80,
    ),
    seed=st.integers(0, 99),
)
def test_any_frames_at_all(heads: list[tuple[int, int, int, int, int, int]], seed: int) -> None:
    """Whole frames in any order, with clocks, flags and shapes that need not agree."""
    seq, off_us, data = 0, 0, b""
    for step, jump_us, flags, channels, rows, period_us in heads:
        seq, off_us = seq + step, off_us + jump_us
        counts = truth(rows, channels, seed=seq & 0xFF)
        t_us = seq * 3 * 1000 + off_us
        data += sample_frame(counts, seq=seq, t_us=t_us, period_us=period_us, flags=flags)
    batch = decode(data, Dialect.FRAMED)
    _, counts, link = fed(data, Dialect.FRAMED, random.Random(seed))
    assert link == batch.link
    assert np.array_equal(counts, values(batch)) or not len(counts)
    assert len(counts) == len(values(batch))
    total = link.frames + link.damaged + link.repeated + link.out_of_order
    assert total == len(heads)


def test_live_and_batch_agree_across_breaks() -> None:
    counts = truth(300 * ROWS)
    for dialect, pieces in ((Dialect.FRAMED, framed(counts)), (Dialect.LINES, lined(counts))):
        for seed in range(20):
            rng = random.Random(seed)
            data = b"".join(pieces)
            cut, back = sorted(rng.sample(range(500, len(data) - 500), 2))
            stream = data[:cut] + data[back:]
            broke = Break(offset=cut, reason="cable lost", host_gap_s=rng.choice((None, 1.0)))
            batch = decode(stream, dialect, [broke])
            live = LiveDecoder(dialect)
            blocks = [live.feed(stream[:cut])]
            live.note_break(broke)
            blocks += [live.feed(stream[cut:]), live.finish()]
            got = np.concatenate([block.counts for block in blocks if block is not None])
            assert live.link == batch.link
            assert np.array_equal(got, values(batch))
            assert_sound(batch, counts)
            assert batch.link.reconnects == 1
            assert len(batch.segments) == 2


@pytest.mark.parametrize("damage", DAMAGES)
def test_long_framed_captures(damage: Damage) -> None:
    """Long enough for frames to be checked many at once, damaged ones among them."""
    counts = truth(1500 * ROWS)
    for seed in range(3):
        batch = assert_live_is_batch(damage(framed(counts), random.Random(seed)), Dialect.FRAMED, seed)
        assert_sound(batch, counts)


def test_frames_of_many_lengths_in_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Long frames hold whole groups of stuffing; batches end anywhere among them."""
    monkeypatch.setattr("ingest.frame_batch.BATCH_FRAMES", 23)
    rng = np.random.default_rng(3)
    counts = rng.integers(0x0101, 0x0400, (20_000, 2)).astype(np.uint16)
    data, at = b"", 0
    for seq in range(150):
        rows = int(rng.choice((1, 5, 63, 64, 65, 200, 255)))
        data += sample_frame(counts[at : at + rows], seq=seq, t_us=at * PERIOD_US, period_us=PERIOD_US)
        at += rows
    batch = assert_live_is_batch(data, Dialect.FRAMED, 1)
    assert np.array_equal(values(batch), counts[:at])
    assert len(batch.segments) == 1
