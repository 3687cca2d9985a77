from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from analysis.jumps import jumps, ridden_pieces

MS = 0.001


def cut(values: np.ndarray, dt_s: float = MS) -> tuple[list[tuple[int, int]], tuple[bool, ...]]:
    """The pieces between jumps, and which of them are the wheel's."""
    pieces = list(pairwise([0, *(jumps(values, dt_s, 1.0) + 1).tolist(), values.size]))
    return pieces, ridden_pieces(pieces, values, dt_s, 1.0)


def left_out(values: np.ndarray, dt_s: float = MS) -> list[int]:
    pieces, ridden = cut(values, dt_s)
    return [k for (a, b), good in zip(pieces, ridden, strict=True) if not good for k in range(a, b)]


@pytest.mark.parametrize("at", [0, 1, 50, 98, 99])
@pytest.mark.parametrize("size", [-40.0, 40.0])
def test_a_lone_spike_is_found_wherever_it_is(at: int, size: float) -> None:
    travel = np.linspace(80, 90, 100)
    travel[at] += size
    found = left_out(travel)
    assert at in found
    # A single sample beyond a spike, at the very end, tells nothing and goes with it.
    assert len(found) == (2 if at in (1, 98) else 1)


def test_two_spikes_with_one_good_sample_between_them() -> None:
    travel = np.full(50, 80.0)
    travel[[20, 22]] = 150.0
    assert set(left_out(travel)) >= {20, 22}


@pytest.mark.parametrize("samples", [2, 3, 40, 800])
def test_a_reading_that_falls_away_and_comes_back_is_found_whole(samples: int) -> None:
    """Two samples at full travel from a bad contact once counted as bottoming at 13 m/s."""
    travel = np.linspace(80, 90, 3000)
    travel[1000 : 1000 + samples] = 229.0
    assert left_out(travel) == list(range(1000, 1000 + samples))


def test_crumbs_between_dropouts_are_not_picked_up() -> None:
    """A plug that chatters for 0.3 s: nothing in between can be trusted."""
    travel = 100 + 30 * np.sin(np.arange(4000) / 100)
    random = np.random.default_rng(5)
    travel[2000:2300] = np.repeat(random.uniform(0, 230, 60), 5)
    found = left_out(travel)
    assert found[0] >= 1998
    assert found[-1] <= 2301
    assert len(found) >= 295


def test_fast_but_possible_motion_is_left_alone() -> None:
    """5 m/s in and a bounce off the stop."""
    t = np.arange(200) * MS
    assert jumps(220 - np.abs(5000 * (t - 0.02)), MS, 1.0).size == 0


@pytest.mark.parametrize("rate_hz", [200, 500, 1000, 2000])
def test_dead_stop_from_six_metres_a_second_is_no_jump(rate_hz: int) -> None:
    """A stop takes all speed within a sample, but the wheel was on its way before."""
    t = np.arange(rate_hz) / rate_hz
    assert jumps(np.minimum(6000 * (t - 0.1), 200.0).clip(0), 1 / rate_hz, 1.0).size == 0


def test_a_jump_that_never_comes_back_is_believed_where_both_sides_last() -> None:
    travel = np.full(10_000, 50.0)
    travel[4000:] = 120.0
    assert jumps(travel, MS, 1.0).tolist() == [3999]
    assert left_out(travel) == []
    travel[:9000] = 50.0
    assert left_out(travel) == list(range(9000, 10_000))


def test_noise_at_a_high_rate_is_no_jump() -> None:
    noise = np.random.default_rng(0).normal(100, 0.5, 100_000)
    assert jumps(noise, 1 / 20_000, 1.0).size == 0


def test_counts_and_mm_show_the_same_jumps() -> None:
    """Whole counts are compared without converting them; nothing may wrap around."""
    random = np.random.default_rng(1)
    for top in (1023, 16_383, 65_535):
        codes = np.full(3000, top // 2, dtype=np.uint16)
        at = np.unique(random.integers(5, 2990, 30))
        codes[at] = random.choice([0, top], at.size)
        mm_each = 230 / top
        assert jumps(codes, MS, mm_each).tolist() == jumps(codes * mm_each, MS, 1.0).tolist()
        assert set(at - 1) <= set(jumps(codes, MS, mm_each).tolist()) | set(at)


def test_masked_and_short_stretches() -> None:
    travel = np.array([50, np.nan, 50, 90, 50, np.nan, 50.0, 51.0])
    assert jumps(travel, MS, 1.0).tolist() == [2, 3]
    assert jumps(np.array([1.0, 90.0]), MS, 1.0).size == 0
    assert jumps(np.empty(0), MS, 1.0).size == 0
    assert ridden_pieces([], np.empty(0), MS, 1.0) == ()
