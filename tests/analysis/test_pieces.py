from __future__ import annotations

import numpy as np
import pytest

from analysis.pieces import bridged, piece_mean_squares, piece_means


def test_means_and_mean_squares_leave_masked_samples_out() -> None:
    values = np.array([1.0, 2.0, 3.0, 4.0, np.nan, 8.0, np.nan, 6.0, np.nan, np.nan, np.nan, 9.0, 5.0])
    assert piece_means(values, 4) == pytest.approx([2.5, 7.0, np.nan], nan_ok=True)
    assert piece_mean_squares(values, 4) == pytest.approx([7.5, 50.0, np.nan], nan_ok=True)


def test_less_than_one_piece_is_none() -> None:
    assert piece_means(np.ones(3), 4).size == 0


def test_masked_samples_are_bridged_by_straight_lines() -> None:
    values = np.array([np.nan, 1.0, np.nan, np.nan, 4.0, np.nan])
    assert bridged(values) == pytest.approx([1.0, 1.0, 2.0, 3.0, 4.0, 4.0])
    assert np.isnan(bridged(np.full(3, np.nan))).all()
