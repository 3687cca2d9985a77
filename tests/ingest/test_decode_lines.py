"""What is missing, torn, repeated or begun anew in a stream of lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from ingest.decode import Break, Decoded, Dialect, decode, guess_dialect
from ingest.lines import sample_line

S = 1_000_000


def line(number: int, *, t_us: int | None = None, checked: bool = False) -> bytes:
    return sample_line(number * 1000 if t_us is None else t_us, (number, 7), checked=checked)


def lines(numbers: Sequence[int], start_us: int = 0) -> bytes:
    return b"".join(line(number, t_us=start_us + number * 1000) for number in numbers)


def read(data: bytes, breaks: Sequence[Break] = ()) -> Decoded:
    decoded = decode(data, Dialect.LINES, breaks)
    assert len(decoded.gaps) == max(0, len(decoded.segments) - 1)
    assert not decoded.link.lost_exact
    assert not any(gap.exact for gap in decoded.gaps)
    return decoded


def shape(decoded: Decoded) -> list[tuple[float, int]]:
    return [(round(segment.start_s, 6), segment.rows) for segment in decoded.segments]


def test_whole() -> None:
    decoded = read(b"t_us,a0,a1\n# hello\n" + lines(range(300), start_us=(1 << 32) - 5500))
    assert shape(decoded) == [(0.0, 300)]
    assert decoded.segments[0].dt_s == pytest.approx(0.001)
    assert decoded.segments[0].values[:, 0].tolist() == list(range(300))
    assert decoded.link.damaged == 0


def test_missing_lines_are_at_least_so_many() -> None:
    decoded = read(lines([*range(40), *range(43, 80)]))
    assert shape(decoded) == [(0.0, 40), (0.043, 37)]
    assert decoded.gaps[0].lost_samples == decoded.link.lost_samples == 3


def test_repeated_and_late() -> None:
    data = lines(range(30)) + line(29) + line(30) + line(28) + lines(range(31, 40))
    decoded = read(data)
    assert shape(decoded) == [(0.0, 40)]
    assert (decoded.link.repeated, decoded.link.out_of_order) == (1, 1)


@pytest.mark.parametrize("wrong_us", [30_000 + 8 * S, 30_000 + 5000, 30_000 + 40 * S, 130_000, 3_000_000_000])
def test_one_wrong_digit_costs_one_line(wrong_us: int) -> None:
    decoded = read(lines(range(30)) + line(30, t_us=wrong_us) + lines(range(31, 60)))
    assert shape(decoded) == [(0.0, 30), (0.031, 29)]
    assert decoded.link.damaged == 1
    assert decoded.link.board_resets == 0
    assert decoded.gaps[0].lost_samples == 1


def test_a_torn_first_line_does_not_set_the_clock() -> None:
    decoded = read(b"7,40,7\n" + lines(range(41, 80), start_us=7 * S))
    assert shape(decoded) == [(0.0, 39)]
    assert decoded.link.damaged == 1


def test_fields_that_disagree() -> None:
    odd = sample_line(30_000, (30, 7, 9), checked=False) + sample_line(31_000, (31,), checked=False)
    decoded = read(lines(range(30)) + odd + lines(range(32, 60)))
    assert decoded.channels == 2
    assert decoded.link.damaged == 2
    assert decoded.gaps[0].lost_samples == 2


def test_a_checksum_torn_off_is_damage() -> None:
    data = b"".join(line(k, checked=k != 25) for k in range(60))
    decoded = read(data)
    assert decoded.link.damaged == 1
    assert [segment.rows for segment in decoded.segments] == [25, 34]


def test_reset() -> None:
    decoded = read(lines(range(100), start_us=90 * S) + lines(range(50), start_us=2 * S))
    assert [segment.rows for segment in decoded.segments] == [100, 50]
    assert decoded.link.board_resets == 1
    assert decoded.gaps[0].duration_s == pytest.approx(1.999)


def test_reset_late_in_the_clock_looks_like_a_leap_forward() -> None:
    decoded = read(lines(range(100), start_us=3_000_000_000) + lines(range(50), start_us=2 * S))
    assert [segment.rows for segment in decoded.segments] == [100, 50]
    assert decoded.link.board_resets == 1
    assert decoded.gaps[0].duration_s == pytest.approx(1.999)


def test_a_break_drops_both_halves_of_a_torn_line() -> None:
    before = lines(range(50)) + b"5000"
    decoded = read(before + b"5,7\n" + lines(range(60, 90)), [Break(offset=len(before), reason="cable lost")])
    assert shape(decoded) == [(0.0, 50), (0.06, 30)]
    assert decoded.link.damaged == 2
    assert decoded.link.reconnects == 1
    assert decoded.gaps[0].reason == "cable lost"


def test_reset_across_a_break_is_bounded_by_the_computer() -> None:
    before = lines(range(50))
    broke = Break(offset=len(before), reason="cable lost", host_gap_s=20.0)
    decoded = read(before + lines(range(40), start_us=S), [broke])
    assert decoded.gaps[0].duration_s == pytest.approx(19.999)
    assert decoded.link.board_resets == 1


def test_marks() -> None:
    decoded = read(lines(range(40)) + b"# mark\n" + lines(range(40, 60)) + b"# mark\r\n")
    assert [mark.t_s for mark in decoded.button_marks] == [pytest.approx(0.039), pytest.approx(0.059)]


def test_jitter_is_no_gap_and_the_rate_is_measured() -> None:
    rng = np.random.default_rng(3)
    t_us = np.round(np.arange(20_000) * 1003.7 + rng.uniform(-180, 180, 20_000)).astype(int) + 500
    decoded = read(b"".join(line(k % 60_000, t_us=t) for k, t in enumerate(t_us.tolist())))
    assert [segment.rows for segment in decoded.segments] == [20_000]
    assert decoded.segments[0].dt_s == pytest.approx(1003.7e-6, rel=1e-6)


def test_no_row_drifts_more_than_half_a_period_off_its_grid() -> None:
    """A board that runs 1 % slow for half of the time: no step is a gap, yet one grid cannot hold it."""
    period = np.where(np.arange(6000) < 3000, 1000.0, 1010.0)
    t_us = np.round(np.cumsum(period)).astype(int)
    decoded = read(b"".join(line(k % 60_000, t_us=t) for k, t in enumerate(t_us.tolist())))
    assert decoded.link.lost_samples == 0
    assert 2 <= len(decoded.segments) <= 4
    stamped = (t_us - t_us[0]) / 1e6
    grid = np.concatenate([s.start_s + np.arange(s.rows) * s.dt_s for s in decoded.segments])
    assert np.abs(grid - stamped).max() <= 0.6e-3
    assert decoded.segments[0].dt_s == pytest.approx(1e-3, rel=2e-3)
    assert decoded.segments[-1].dt_s == pytest.approx(1.01e-3, rel=2e-3)


def test_a_rate_that_changes_for_good_is_learned_anew() -> None:
    slow = [line(k, t_us=100_000 + k * 5000) for k in range(400)]
    decoded = read(lines(range(100)) + b"".join(slow))
    assert decoded.segments[-1].rows >= 360
    assert decoded.segments[-1].dt_s == pytest.approx(0.005, rel=1e-3)


def test_every_second_line_lost() -> None:
    decoded = read(lines(range(0, 40)) + lines(range(40, 100, 2)) + lines(range(100, 140)))
    assert sum(segment.rows for segment in decoded.segments) == 40 + 30 + 40
    assert decoded.link.lost_samples == pytest.approx(30, abs=1)


def test_short_captures() -> None:
    assert read(b"").segments == ()
    assert read(line(1)).segments == ()
    assert shape(read(line(1) + line(2))) == [(0.0, 2)]
    assert read(lines([1, 2])).offsets.tolist() == [len(line(1)), len(line(1) + line(2))]


def test_guess() -> None:
    assert guess_dialect(lines(range(3))) is Dialect.LINES
    assert guess_dialect(lines(range(2))) is None
    assert guess_dialect(b"\x8a\x13" + lines(range(20))[7:]) is Dialect.LINES
    assert guess_dialect(b"1,2\n2,3,4\n1,5\n7,7,7,7\n") is None


@pytest.mark.parametrize("ratio", [0.083, 0.5, 1.7, 2.0, 12.0])
@pytest.mark.parametrize("framed", [True, False])
def test_wrong_baud_rate_is_no_dialect(ratio: float, framed: bool) -> None:
    """What a receiver reads that samples the line at another rate than it is driven at."""
    from ingest.frames import sample_frame

    counts = np.random.default_rng(1).integers(0, 1024, (600, 2)).astype(np.uint16)
    if framed:
        sent = b"".join(
            sample_frame(counts[k : k + 20], seq=k // 20, t_us=k * 1000, period_us=1000)
            for k in range(0, 600, 20)
        )
    else:
        sent = b"".join(sample_line(k * 1000, row) for k, row in enumerate(counts.tolist()))
    assert guess_dialect(heard_at(sent, ratio)) is None
    assert guess_dialect(sent) is (Dialect.FRAMED if framed else Dialect.LINES)


def heard_at(sent: bytes, ratio: float) -> bytes:
    """A UART (start bit, 8 data bits, stop bit) reading ``ratio`` times as fast as the bits come."""
    bits = np.concatenate(
        [np.concatenate([[0], np.unpackbits(np.uint8([byte]), bitorder="little"), [1]]) for byte in sent]
    )
    heard, at = bytearray(), 0.0
    while at + 10 / ratio < len(bits):
        if bits[int(at)]:
            at += 1 / ratio / 4  # idle: look for the next start bit
            continue
        sample = [bits[int(at + (k + 1.5) / ratio)] for k in range(8)]
        heard += np.packbits(np.uint8(sample), bitorder="little").tobytes()
        at += 9.5 / ratio
    return bytes(heard)
