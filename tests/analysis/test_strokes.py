from __future__ import annotations

import numpy as np
import pytest

from analysis.strokes import count_strokes


def test_small_bumps_inside_a_large_stroke_are_found_without_breaking_it() -> None:
    """One stroke of 100 mm there and back with three wiggles of 10 mm on the way in."""
    travel = [0, 30, 20, 55, 45, 80, 70, 100, 0]
    cycles = count_strokes(travel)
    whole = cycles.count == 1
    assert sorted(cycles.size[whole].tolist()) == [10, 10, 10]
    assert sorted(cycles.size[~whole].tolist()) == [100, 100]


def test_a_long_sine_is_one_stroke_a_period() -> None:
    t = np.arange(0, 20.25, 0.001)
    cycles = count_strokes(100 + 40 * np.sin(2 * np.pi * t))
    large = cycles.size > 79.9
    assert cycles.count[large].sum() == pytest.approx(19.5, abs=0.6)
    assert cycles.middle[large] == pytest.approx(100, abs=0.1)


def test_each_way_travelled_is_counted_once() -> None:
    """The counted sizes, a whole cycle both ways, add up to the distance between all turning points."""
    walk = np.cumsum(np.random.default_rng(3).integers(-5, 6, 2000))
    cycles = count_strokes(walk)
    assert (2 * cycles.size * cycles.count).sum() == pytest.approx(np.abs(np.diff(walk)).sum())
