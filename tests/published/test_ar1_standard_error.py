"""Block length and standard error of a correlated series, against published formulas.

Stationary bootstrap: D. N. Politis and J. P. Romano (1994), J. Am. Stat. Assoc. 89:1303-1313. Block length:
D. N. Politis and H. White (2004), Econometric Reviews 23:53-70, corrected by A. Patton, D. N. Politis and
H. White (2009), 28:372-375; its check value is the one stated in the tests of the arch package (arch 8.0.0,
tests/bootstrap/test_block_length.py). AR(1): Var(mean) = s^2/((1-phi^2) n) [1 + 2 sum (1-k/n) phi^k].
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from analysis.resampling import block_weights, mean_block_length, slow_standard_error


def ar1(phi: float, n: int, seed: int) -> np.ndarray:
    noise = np.random.default_rng(seed).standard_normal(n + 200)
    return lfilter([1.0], [1.0, -phi], noise)[200:]


def bootstrap_se(series: np.ndarray, block: int, replicates: int) -> float:
    weights = block_weights(series.size, block, replicates, seed=1)
    return float((weights @ series / series.size).std(ddof=1))


def test_automatic_block_length() -> None:
    # The series of the arch test; drawn with the old generator;
    # its optimum 13.635665 is rounded up to whole pieces.
    state = np.random.RandomState(0)
    series = lfilter([1.0], [1.0, -0.3], state.standard_normal(10_100))[100:]
    assert mean_block_length(series) == 14


def test_weights_resample_the_whole_series() -> None:
    weights = block_weights(50, 4, 20, seed=0)
    assert weights.shape == (20, 50)
    assert (weights.sum(axis=1) == 50).all()
    assert (weights == block_weights(50, 4, 20, seed=0)).all()


@pytest.mark.parametrize("block", [10, 25])
def test_bootstrap_against_its_own_closed_form(block: int) -> None:
    # Var*(mean*) = (1/n)[R0 + 2 sum b_k R_k], b_k = (1-k/n)(1-p)^k + (k/n)(1-p)^(n-k), p = 1/block.
    series, n, p = ar1(0.6, 600, seed=5), 600, 1 / block
    away = series - series.mean()
    r = np.array([away[: n - k] @ away[k:] / n for k in range(n)])
    k = np.arange(1, n)
    b = (1 - k / n) * (1 - p) ** k + (k / n) * (1 - p) ** (n - k)
    exact = np.sqrt((r[0] + 2 * (b * r[1:]).sum()) / n)
    # 4000 resamples give a standard deviation to about 1.1 %; four times that is allowed.
    assert bootstrap_se(series, block, 4000) == pytest.approx(exact, rel=0.045)


def test_standard_error_of_an_ar1_mean() -> None:
    # phi 0.6, n 600: 0.10190 exactly. The bootstrap is known to come out a little low; the mean of 40 series
    # must come within 12 % below and 5 % above.
    phi, n = 0.6, 600
    k = np.arange(1, n)
    exact = np.sqrt((1 + 2 * ((1 - k / n) * phi**k).sum()) / ((1 - phi**2) * n))
    assert exact == pytest.approx(0.10190247584496331, rel=1e-12)
    found = [
        bootstrap_se(series, mean_block_length(series), 300)
        for series in (ar1(phi, n, seed) for seed in range(40))
    ]
    assert 0.88 < np.mean(found) / exact < 1.05
    # Taking the samples for independent would give half of it.
    assert ar1(phi, n, 0).std() / np.sqrt(n) < 0.6 * exact


def test_slow_swings_are_seen_where_resampling_misses_them() -> None:
    """Rides of a minute that wander with a time constant of 3 s once gave 16 % false changes, not 5 %."""
    phi, n = float(np.exp(-0.25 / 3)), 240  # quarter-seconds
    k = np.arange(1, n)
    exact = np.sqrt(1 / ((1 - phi**2) * n) * (1 + 2 * ((1 - k / n) * phi**k).sum()))
    slow = [slow_standard_error(ar1(phi, n, seed)) for seed in range(200)]
    found = np.sqrt(np.mean([one**2 for one in slow if one is not None]))
    # The spectrum falls off within the six waves, so it comes out a little low: 12 % by the AR(1) spectrum.
    assert 0.8 * exact < found < 1.0 * exact
    drawn = [bootstrap_se(ar1(phi, n, seed), mean_block_length(ar1(phi, n, seed)), 300) for seed in range(20)]
    assert np.sqrt(np.mean(np.square(drawn))) < 0.8 * exact


def test_slow_swings_of_white_noise_are_its_standard_error() -> None:
    series = np.random.default_rng(4).standard_normal((400, 300))
    found = np.sqrt(np.mean([slow_standard_error(row) ** 2 for row in series]))
    assert found == pytest.approx(1 / np.sqrt(300), rel=0.05)
    assert slow_standard_error(series[0] + 50.0) == pytest.approx(slow_standard_error(series[0]))
    assert slow_standard_error(np.zeros(23)) is None
