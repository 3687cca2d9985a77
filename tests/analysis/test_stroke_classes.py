from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.motion import MotionSegment
from analysis.stroke_classes import BORDERS_MM, stroke_classes, stroke_sizes
from analysis.strokes import count_strokes, turning_points


def segment(travel: np.ndarray, dt_s: float = 0.001) -> MotionSegment:
    return MotionSegment(start_s=0.0, dt_s=dt_s, travel_mm=travel, speed_mm_s=np.full(travel.size, np.nan))


def totals(sizes: np.ndarray, counts: np.ndarray) -> dict[float, float]:
    """How many of each size; a whole one and two halves are the same."""
    values, which = np.unique(sizes, return_inverse=True)
    return dict(zip(values.tolist(), np.bincount(which, weights=counts).tolist(), strict=True))


@settings(max_examples=300, deadline=None)
@given(st.lists(st.integers(0, 12), max_size=60), st.sampled_from([0.0, 2.0, 5.0]), st.integers(0, 3))
def test_counts_are_those_of_the_standard_on_the_same_turning_points(
    values: list[int], least: float, repeats: int
) -> None:
    """Whole numbers, so that equal ranges and plateaus occur; repeats, so that patterns do."""
    points = turning_points(np.array(values * (repeats + 1), dtype=float))
    cycles = count_strokes(points)
    large = (cycles.size >= least) & (cycles.size > 0)
    assert totals(*stroke_sizes(points, least)) == totals(cycles.size[large], cycles.count[large])


def test_a_long_rough_ride_counts_as_the_standard_does() -> None:
    walk = np.cumsum(np.random.default_rng(2).normal(0, 3, 40_000))
    points = turning_points(np.abs(walk) % 230)
    cycles = count_strokes(points)
    large = cycles.size >= 5.0
    assert totals(*stroke_sizes(points, 5.0)) == totals(cycles.size[large], cycles.count[large])


def test_classes_of_a_known_ride() -> None:
    """Ten strokes of 30 mm inside each of three of 100 mm, with 3 mm of hiss on everything."""
    one = np.concatenate(
        [np.linspace(50, 150, 500), *[np.linspace(150, 120, 50), np.linspace(120, 150, 50)] * 10]
    )
    travel = np.concatenate([np.concatenate([one, np.linspace(150, 50, 500)])] * 3)
    travel = travel + np.where(np.arange(travel.size) % 8 < 4, 0.0, 3.0)
    found = stroke_classes([segment(travel)], 60.0)
    assert [(each.from_mm, each.to_mm) for each in found] == list(pairwise(BORDERS_MM))
    counts = {each.from_mm: each.count for each in found}
    assert counts == {5.0: 0.0, 10.0: 0.0, 20.0: 30.0, 40.0: 0.0, 80.0: 3.0, 160.0: 0.0}
    assert found[2].per_10_min == pytest.approx(300.0)


def test_a_stroke_reaches_over_a_lone_spike_but_not_over_a_long_mask_or_a_gap() -> None:
    t = np.arange(0, 4, 0.001)
    travel = 100 + 50 * np.cos(2 * np.pi * t)  # four strokes of 100 mm, beginning and ending at the top

    def large(*parts: np.ndarray) -> float:
        return stroke_classes([segment(part) for part in parts], 60.0)[4].count

    assert large(travel) == pytest.approx(4.0)
    spiked = travel.copy()
    spiked[1500:1503] = np.nan
    assert large(spiked) == pytest.approx(4.0)
    masked = travel.copy()
    masked[1400:1600] = np.nan  # the trough in the middle of one stroke
    assert large(masked) == pytest.approx(3.0 + 1.0)
    assert large(travel[:1500], travel[1500:]) == pytest.approx(4.0)
    assert large(np.full(100, np.nan)) == 0.0
