from __future__ import annotations

import numpy as np
import pytest

from analysis.glitches import lone_spikes


@pytest.mark.parametrize("at", [0, 1, 50, 98, 99])
@pytest.mark.parametrize("size", [-40.0, 40.0])
def test_a_lone_spike_is_found_wherever_it_is(at: int, size: float) -> None:
    travel = np.linspace(80, 90, 100)
    travel[at] += size
    assert lone_spikes(travel, 0.001).tolist() == [at]


def test_two_spikes_with_one_good_sample_between_them() -> None:
    travel = np.full(50, 80.0)
    travel[[20, 22]] = 150.0
    assert set(lone_spikes(travel, 0.001).tolist()) >= {20, 22}


def test_fast_but_possible_motion_is_left_alone() -> None:
    """5 m/s in and a bounce off the stop; and a step that does not come back."""
    t = np.arange(200) * 0.001
    bounce = 220 - np.abs(5000 * (t - 0.02))
    assert lone_spikes(bounce, 0.001).size == 0
    step = np.where(t < 0.1, 50.0, 120.0)
    assert lone_spikes(step, 0.001).size == 0


def test_noise_at_a_high_rate_is_no_spike() -> None:
    noise = np.random.default_rng(0).normal(100, 0.5, 100_000)
    assert lone_spikes(noise, 1 / 20_000).size == 0


def test_masked_and_short_stretches() -> None:
    travel = np.array([50, np.nan, 50, 90, 50, np.nan, 50.0, 51.0])
    assert lone_spikes(travel, 0.001).tolist() == [3]
    assert lone_spikes(np.array([1.0, 90.0]), 0.001).size == 0
    assert lone_spikes(np.empty(0), 0.001).size == 0


@pytest.mark.parametrize("samples", [2, 3])
def test_a_spike_of_a_few_samples_is_found_whole(samples: int) -> None:
    """Two samples at full travel from a bad contact once counted as bottoming at 13 m/s."""
    travel = np.linspace(80, 90, 100)
    travel[40 : 40 + samples] = 229.0
    assert lone_spikes(travel, 0.001).tolist() == list(range(40, 40 + samples))


def test_a_jump_that_stays_longer_is_not_a_spike() -> None:
    travel = np.full(100, 80.0)
    travel[40:44] = 229.0
    assert lone_spikes(travel, 0.001).size == 0
