"""Stroke counting against ASTM E1049-85 and against another implementation.

Source: ASTM E1049-85 (Reapproved 2017), Standard Practices for Cycle Counting in Fatigue Analysis, section
5.4.4, example of Fig. 6.
"""

from __future__ import annotations

import numpy as np
import pytest
import rainflow

from analysis.strokes import count_strokes, turning_points
from ingest.errors import CannotAnswer

HISTORY = (-2, 1, -3, 5, -1, 3, -4, 4, -2)


def totals(sizes: np.ndarray, counts: np.ndarray) -> dict[float, float]:
    sums: dict[float, float] = {}
    for size, count in zip(sizes.tolist(), counts.tolist(), strict=True):
        sums[size] = sums.get(size, 0.0) + count
    return sums


def test_standard_example_counts() -> None:
    cycles = count_strokes(HISTORY)
    assert totals(cycles.size, cycles.count) == {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}


def test_standard_example_cycle_by_cycle() -> None:
    cycles = count_strokes(HISTORY)
    found = sorted(zip(cycles.start.tolist(), cycles.end.tolist(), cycles.count.tolist(), strict=True))
    assert found == sorted(
        [(-2, 1, 0.5), (1, -3, 0.5), (-1, 3, 1.0), (-3, 5, 0.5), (5, -4, 0.5), (-4, 4, 0.5), (4, -2, 0.5)]
    )


@pytest.mark.parametrize("seed", range(20))
def test_random_histories_agree_with_another_implementation(seed: int) -> None:
    """Whole numbers, so that plateaus and equal ranges occur; the last value is never a repeat, which the
    other program would take for a turning point of its own."""
    random = np.random.default_rng(seed)
    series = random.integers(0, 12, size=int(random.integers(10, 400)))
    series = series[np.concatenate([[True], series[1:] != series[:-1]])]
    theirs = list(rainflow.extract_cycles(series.tolist()))
    cycles = count_strokes(series)
    ours = sorted(zip(cycles.size, cycles.middle, cycles.count, strict=True))
    assert ours == sorted((size, middle, count) for size, middle, count, _, _ in theirs)


def test_turning_points_of_a_plateau_and_of_short_series() -> None:
    assert turning_points([3, 3, 3]).tolist() == [3]
    assert turning_points([]).tolist() == []
    assert turning_points([0, 1, 1, 2, 2, 0, 0]).tolist() == [0, 2, 0]
    assert count_strokes([5.0]).count.size == 0


def test_masked_samples_are_refused() -> None:
    with pytest.raises(CannotAnswer, match="each stretch by itself"):
        count_strokes([0.0, np.nan, 1.0])
