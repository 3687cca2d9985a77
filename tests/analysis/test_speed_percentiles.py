from __future__ import annotations

import numpy as np
import pytest

from analysis.distribution import Distribution, rounded
from analysis.ride_results import Speeds
from analysis.speed_percentiles import speed_percentiles

SHARES = [50, 95, 99]


def distribution(speed: np.ndarray) -> Distribution:
    return rounded([speed], 0.1)


def values(speeds: Speeds | None) -> list[float]:
    assert speeds is not None
    return [speeds.p50, speeds.p95, speeds.p99]


def test_without_noise_they_are_those_of_numpy() -> None:
    speed = np.random.default_rng(1).laplace(0, 200, 50_000)
    compression, rebound = speed_percentiles(distribution(speed))
    assert values(compression) == pytest.approx(np.percentile(speed[speed > 0], SHARES), abs=0.2)
    assert values(rebound) == pytest.approx(np.percentile(-speed[speed < 0], SHARES), abs=0.2)
    assert compression is not None
    assert compression.max == pytest.approx(speed.max(), abs=0.1)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("noise", [5.0, 20.0, 40.0])
def test_known_noise_is_taken_out(seed: int, noise: float) -> None:
    """A smooth road with some bumps: the middle speed as read is up to two thirds too high."""
    random = np.random.default_rng(seed)
    speed = np.concatenate([random.normal(0, 60, 90_000), random.laplace(50, 500, 10_000)])
    read = speed + random.normal(0, noise, speed.size)
    for found, raw, true in zip(
        speed_percentiles(distribution(read), noise),
        speed_percentiles(distribution(read)),
        (speed[speed > 0], -speed[speed < 0]),
        strict=True,
    ):
        wanted = np.percentile(true, SHARES)
        assert values(found) == pytest.approx(wanted, rel=0.03)
        if noise == 40.0:
            assert values(raw)[0] > 1.1 * wanted[0]


def test_a_wheel_that_moves_one_way_only_has_no_speeds_the_other_way() -> None:
    compression, rebound = speed_percentiles(distribution(np.full(100, 30.0)), 10.0)
    assert values(compression) == pytest.approx([30.0] * 3)
    assert rebound is None
    assert speed_percentiles(distribution(np.empty(0)), 10.0) == (None, None)
