"""What is missing, late, repeated or begun anew in a stream of frames."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from ingest.decode import Break, Decoded, Dialect, decode
from ingest.frames import FIRST, MARK_BUTTON, OVERRUN, sample_frame

N = 20
S = 1_000_000


def frame(
    number: int, *, seq: int | None = None, t_us: int | None = None, flags: int = 0, rows: int = N
) -> bytes:
    """Frame ``number`` of a board at 1 kHz; its counts name the row."""
    counts = np.column_stack([np.arange(rows) + number * N, np.full(rows, 7)]).astype(np.uint16)
    return sample_frame(
        counts,
        seq=number if seq is None else seq,
        t_us=number * N * 1000 if t_us is None else t_us,
        period_us=1000,
        flags=flags,
    )


def stream(numbers: Sequence[int]) -> bytes:
    return b"".join(frame(number) for number in numbers)


def read(data: bytes, breaks: Sequence[Break] = ()) -> Decoded:
    decoded = decode(data, Dialect.FRAMED, breaks)
    assert len(decoded.gaps) == max(0, len(decoded.segments) - 1)
    assert decoded.link.lost_samples == sum(gap.lost_samples for gap in decoded.gaps)
    for before, gap, after in zip(decoded.segments, decoded.gaps, decoded.segments[1:], strict=False):
        assert gap.t_s == pytest.approx(before.end_s)
        assert gap.t_s + gap.duration_s == pytest.approx(after.start_s)
    return decoded


def shape(decoded: Decoded) -> list[tuple[float, int]]:
    return [(round(segment.start_s, 6), segment.rows) for segment in decoded.segments]


def test_whole() -> None:
    decoded = read(stream(range(50)))
    assert shape(decoded) == [(0.0, 1000)]
    assert decoded.segments[0].dt_s == 0.001
    assert decoded.channels == 2
    assert decoded.link.frames == 50
    assert decoded.link.lost_exact
    assert decoded.segments[0].values.dtype == np.uint16
    assert not decoded.segments[0].values.flags.writeable


def test_lost_frames_are_counted_exactly() -> None:
    decoded = read(stream([0, 1, 5, 6, 9]))
    assert shape(decoded) == [(0.0, 40), (0.1, 40), (0.18, 20)]
    assert [gap.lost_samples for gap in decoded.gaps] == [60, 40]
    assert all(gap.exact for gap in decoded.gaps)
    assert {gap.reason for gap in decoded.gaps} == {"frames lost on the link"}


def test_repeated_and_late_frames_are_dropped() -> None:
    decoded = read(stream([0, 1, 1, 2, 1, 0, 4, 3, 5]))
    assert shape(decoded) == [(0.0, 60), (0.08, 40)]
    assert (decoded.link.repeated, decoded.link.out_of_order) == (3, 1)
    assert decoded.link.lost_samples == 20


def test_a_wrap_is_no_reset() -> None:
    start_us = (1 << 32) - 25_000
    data = b"".join(frame(k, t_us=start_us + k * 20_000) for k in range(10))
    assert shape(read(data)) == [(0.0, 200)]


def test_the_sequence_may_wrap_too() -> None:
    data = b"".join(frame(k, seq=0xFFFFFFFE + k) for k in (0, 1, 3, 2, 4, 4))
    decoded = read(data)
    assert shape(decoded) == [(0.0, 40), (0.06, 40)]
    assert (decoded.link.out_of_order, decoded.link.repeated) == (1, 1)


@pytest.mark.parametrize("minutes", [50, 80, 200, 1000])
def test_a_loss_longer_than_the_clock_is_still_exact(minutes: int) -> None:
    away = minutes * 60 * 50
    decoded = read(stream([0, 1, 2]) + stream([away, away + 1]))
    assert decoded.gaps[0].lost_samples == (away - 3) * N
    assert decoded.gaps[0].exact
    assert decoded.segments[1].start_s == pytest.approx(minutes * 60)


def test_missed_ticks_are_a_gap_that_is_not_exact() -> None:
    late = [frame(k, t_us=k * 20_000 + 3000, flags=OVERRUN if k == 3 else 0) for k in (3, 4)]
    decoded = read(stream([0, 1, 2]) + b"".join(late))
    assert shape(decoded) == [(0.0, 60), (0.063, 40)]
    assert decoded.gaps[0].lost_samples == 3
    assert not decoded.gaps[0].exact
    assert not decoded.link.lost_exact
    assert decoded.link.overruns == 1
    assert decoded.gaps[0].reason == "the board missed samples"


def test_overruns_without_a_jump_are_only_counted() -> None:
    decoded = read(frame(0) + frame(1, flags=OVERRUN) + frame(2, flags=OVERRUN) + frame(3))
    assert shape(decoded) == [(0.0, 80)]
    assert decoded.link.overruns == 2


@pytest.mark.parametrize("flags", [FIRST, 0])
def test_reset(flags: int) -> None:
    """Power came back after a while nobody measured: at least what the new clock shows is missing."""
    before = b"".join(frame(k, t_us=90 * S + k * 20_000) for k in range(100))
    after = b"".join(frame(k, t_us=250_000 + k * 20_000, flags=flags if k == 0 else 0) for k in range(5))
    decoded = read(before + after)
    assert [segment.rows for segment in decoded.segments] == [2000, 100]
    assert decoded.link.board_resets == 1
    assert not decoded.gaps[0].exact
    assert decoded.gaps[0].duration_s == pytest.approx(0.23)
    assert decoded.gaps[0].reason == "the board began anew"


def test_reset_whose_first_frame_was_lost() -> None:
    decoded = read(stream(range(500)) + b"".join(frame(k, t_us=300_000 + k * 20_000) for k in (2, 3)))
    assert [segment.rows for segment in decoded.segments] == [10_000, 40]
    assert decoded.link.board_resets == 1


def test_stopped_and_started_again_the_clock_goes_on() -> None:
    again = b"".join(frame(k, t_us=12 * S + k * 20_000, flags=FIRST if k == 0 else 0) for k in range(3))
    decoded = read(stream(range(100)) + again)
    assert shape(decoded) == [(0.0, 2000), (12.0, 60)]
    assert decoded.gaps[0].lost_samples == 10_000
    assert not decoded.gaps[0].exact


def test_a_repeated_first_frame_is_no_reset() -> None:
    decoded = read(frame(0, flags=FIRST) * 2 + frame(1) + frame(0, flags=FIRST) + frame(2))
    assert shape(decoded) == [(0.0, 60)]
    assert decoded.link.repeated == 2
    assert decoded.link.board_resets == 0


def test_a_break_splits_though_nothing_is_missing() -> None:
    before = stream([0, 1])
    decoded = read(
        before + stream([2, 3]), [Break(offset=len(before), reason="cable or port lost", host_gap_s=0.01)]
    )
    assert shape(decoded) == [(0.0, 40), (0.04, 40)]
    assert (decoded.gaps[0].lost_samples, decoded.gaps[0].exact) == (0, True)
    assert decoded.gaps[0].reason == "cable or port lost"
    assert decoded.link.reconnects == 1


def test_a_break_with_loss_is_exact_while_the_board_went_on() -> None:
    before = stream([0, 1]) + frame(2)[:30]
    decoded = read(before + frame(8)[50:] + stream([9, 10]), [Break(offset=len(before), reason="cable lost")])
    assert shape(decoded) == [(0.0, 40), (0.18, 40)]
    assert (decoded.gaps[0].lost_samples, decoded.gaps[0].exact) == (140, True)
    assert decoded.link.damaged == 2


@pytest.mark.parametrize(
    ("clock_us", "host_gap_s", "gap_s"),
    [
        (250_000, 30.0, 29.98),  # the clock began anew: the computer's counts
        (90 * S + 2 * S + 31 * S, 30.5, 30.98),  # it went on and agrees: the board's counts
        (90 * S + 2 * S + 5 * S, 600.0, 599.98),  # it disagrees: the computer's counts
    ],
)
def test_reset_across_a_break_is_bounded_by_the_computer(
    clock_us: int, host_gap_s: float, gap_s: float
) -> None:
    before = b"".join(frame(k, t_us=90 * S + k * 20_000) for k in range(101))
    after = b"".join(frame(k, t_us=clock_us + k * 20_000, flags=FIRST if k == 0 else 0) for k in range(3))
    decoded = read(before + after, [Break(offset=len(before), reason="cable lost", host_gap_s=host_gap_s)])
    assert decoded.gaps[0].duration_s == pytest.approx(gap_s)
    assert not decoded.gaps[0].exact
    assert decoded.link.board_resets == 1


def test_two_breaks_with_nothing_between() -> None:
    before = stream([0, 1])
    breaks = [Break(offset=len(before), reason=text, host_gap_s=1.0) for text in ("first", "second")]
    decoded = read(before + stream([102, 103]), breaks)
    assert decoded.link.reconnects == 2
    assert len(decoded.gaps) == 1
    assert decoded.gaps[0].lost_samples == 2000


def test_breaks_at_the_edges_do_no_harm() -> None:
    data = stream(range(4))
    decoded = read(data, [Break(offset=0, reason="x"), Break(offset=len(data), reason="y")])
    assert shape(decoded) == [(0.0, 80)]


def test_other_number_of_channels_is_damage() -> None:
    odd = sample_frame(np.zeros((N, 3), np.uint16), seq=2, t_us=40_000, period_us=1000)
    decoded = read(stream([0, 1]) + odd + stream([3]))
    assert shape(decoded) == [(0.0, 40), (0.06, 20)]
    assert decoded.link.damaged == 1


def test_a_short_last_frame() -> None:
    decoded = read(stream([0, 1]) + frame(2, rows=3))
    assert shape(decoded) == [(0.0, 43)]


def test_button_marks_are_its_presses() -> None:
    flags = [0, MARK_BUTTON, MARK_BUTTON, 0, 0, MARK_BUTTON]
    decoded = read(b"".join(frame(k, flags=f) for k, f in enumerate(flags)))
    assert [(mark.t_s, mark.text) for mark in decoded.button_marks] == [(0.02, "button"), (0.1, "button")]


def test_time_at_an_offset() -> None:
    data, size = stream([0, 1, 5]), len(frame(1))
    decoded = read(data)
    first = len(frame(0))
    assert decoded.time_at(0) == 0.0
    assert decoded.time_at(first - 1) == 0.0
    assert decoded.time_at(first) == pytest.approx(0.019)
    assert decoded.time_at(first + size) == pytest.approx(0.039)
    assert decoded.time_at(len(data)) == pytest.approx(0.119)
    assert decoded.time_at(10**9) == pytest.approx(0.119)


@pytest.mark.parametrize("rate_hz", [3200, 3000, 333, 47.3])
def test_a_rounded_period_is_measured(rate_hz: float) -> None:
    period_us, rows = round(1e6 / rate_hz), 10
    counts = np.zeros((rows, 1), np.uint16)
    kept = [k for k in range(400) if not 200 <= k < 320]
    data = b"".join(
        sample_frame(counts, seq=k, t_us=round(k * rows * 1e6 / rate_hz), period_us=period_us) for k in kept
    )
    decoded = read(data)
    assert [segment.rows for segment in decoded.segments] == [2000, 800]
    assert decoded.segments[0].dt_s == pytest.approx(1 / rate_hz, rel=1e-6)
    assert decoded.segments[1].start_s == pytest.approx(3200 / rate_hz, abs=2e-6)
    assert decoded.gaps[0].exact
    assert decoded.gaps[0].lost_samples == 1200


def test_a_board_begun_anew_at_once_is_not_taken_for_repeats() -> None:
    """Ten frames, then a restart within a second whose clock began nearly where the first one did."""
    again = b"".join(frame(k, t_us=1234 + k * 20_000, flags=FIRST if k == 0 else 0) for k in range(30))
    decoded = read(frame(0, flags=FIRST) + stream(range(1, 10)) + again)
    assert decoded.link.board_resets == 1
    assert decoded.link.repeated == 0
    assert [segment.rows for segment in decoded.segments] == [200, 600]


def test_a_restart_with_the_very_same_clock_shows_across_a_break() -> None:
    before = frame(0, flags=FIRST) + stream(range(1, 10))
    decoded = read(before + before, [Break(offset=len(before), reason="cable out", host_gap_s=0.5)])
    assert decoded.link.board_resets == 1
    assert [segment.rows for segment in decoded.segments] == [200, 200]
