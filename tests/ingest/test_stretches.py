from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.link import Lost
from ingest.stretches import Stretch, cut_even, segments_and_gaps


def stretch(time_us: list[int], rows: int = 1, period_us: float = 1000.0) -> Stretch:
    return Stretch(
        time_us=np.array(time_us, np.int64),
        row=np.arange(len(time_us)) * rows,
        stop_row=len(time_us) * rows,
        period_us=period_us,
        lost=None,
    )


def test_a_stated_period_that_is_right_is_kept_exactly() -> None:
    (piece,) = cut_even(stretch([k * 20_000 + k % 2 for k in range(500)], rows=20))
    assert (piece.start_us, piece.period_us, piece.first_row, piece.stop_row) == (0.0, 1000.0, 0, 10_000)


def test_a_single_stamp_has_the_stated_period() -> None:
    (piece,) = cut_even(stretch([5], rows=7))
    assert (piece.start_us, piece.period_us, piece.stop_row) == (5.0, 1000.0, 7)


@given(
    steps=st.lists(st.integers(600, 1400), min_size=1, max_size=400),
    rows=st.sampled_from((1, 4)),
)
def test_every_stamp_lies_within_half_a_period_of_its_grid(steps: list[int], rows: int) -> None:
    time_us = np.cumsum([0, *(step * rows for step in steps)])
    pieces = cut_even(stretch(time_us.tolist(), rows=rows))
    assert [piece.first_row for piece in pieces[1:]] == [piece.stop_row for piece in pieces[:-1]]
    assert (pieces[0].first_row, pieces[-1].stop_row) == (0, len(time_us) * rows)
    for piece in pieces:
        stamps = time_us[piece.first_row // rows : piece.stop_row // rows]
        grid = piece.start_us + np.arange(0, piece.stop_row - piece.first_row, rows) * piece.period_us
        assert np.abs(stamps - grid).max() <= piece.period_us / 2 + 1e-6


def test_uneven_pieces_have_a_gap_that_says_so() -> None:
    pieces = cut_even(stretch([0, 1000, 2000, 3000, 4400, 5800, 7200, 8600, 10_000, 11_400]))
    segments, gaps = segments_and_gaps(pieces, np.zeros((10, 1), np.uint16))
    assert len(segments) == 1 + len(gaps)
    assert {(gap.lost_samples, gap.exact, gap.reason) for gap in gaps} <= {
        (0, False, "the board's clock ran unevenly")
    }


def test_time_begins_with_the_first_sample() -> None:
    first = cut_even(stretch([777, 1777]))
    second = [
        type(first[0])(first_row=2, stop_row=3, start_us=9777.0, period_us=1000.0, lost=Lost("x", 7, True))
    ]
    segments, gaps = segments_and_gaps(first + second, np.zeros((3, 1), np.uint16))
    assert [segment.start_s for segment in segments] == pytest.approx([0.0, 0.009])
    assert (gaps[0].t_s, gaps[0].duration_s, gaps[0].lost_samples) == pytest.approx((0.002, 0.007, 7))
