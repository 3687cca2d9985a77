from __future__ import annotations

import numpy as np
import pytest

from analysis.distribution import counted, of_samples, rounded

SHARES = np.array([0.0, 0.005, 0.25, 0.5, 0.777, 0.95, 0.99, 1.0])


@pytest.mark.parametrize("size", [1, 2, 3, 10, 9999])
def test_quantiles_are_those_of_numpy(size: int) -> None:
    codes = np.random.default_rng(size).integers(0, 50, size)
    table = np.linspace(120, -3, 50)  # a falling sensor
    levels = counted(table, np.bincount(codes, minlength=50))
    np.testing.assert_allclose(
        levels.quantiles(SHARES), np.percentile(table[codes], 100 * SHARES), rtol=1e-12
    )
    assert levels.total == size
    assert levels.mean == pytest.approx(table[codes].mean())


def test_masked_samples_are_left_out() -> None:
    values = np.array([3.0, np.nan, 1.0, 2.0])
    assert of_samples(values).values.tolist() == [1, 2, 3]
    assert counted(values, np.array([2, 5, 0, 1])).values.tolist() == [2, 3]
    assert rounded([values], 0.5).total == 3


def test_rounded_speeds_stay_within_half_a_step() -> None:
    speeds = np.random.default_rng(0).normal(0, 300, 20_000)
    levels = rounded([speeds[:7000], speeds[7000:]], 0.1)
    assert np.abs(levels.quantiles(SHARES) - np.percentile(speeds, 100 * SHARES)).max() <= 0.0501
    faster = levels.positive()
    assert faster.above(np.array([500.0]))[0] == pytest.approx((speeds > 500).sum(), abs=3)
    assert levels.mirrored().quantiles([1.0])[0] == pytest.approx(-speeds.min(), abs=0.0501)


def test_nothing_at_all() -> None:
    assert rounded([], 0.1).total == 0
    assert rounded([np.array([np.nan])], 0.1).total == 0
    assert np.isnan(of_samples(np.empty(0)).mean)
