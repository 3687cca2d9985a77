"""Two groups of unlike spread, and the limits of a count, against published examples.

Welch: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.3, data set AUTO83B (n, mean, sd of both groups;
T = -12.94627, 136.875 degrees of freedom without equal spread). Student (1908), The probable error of a mean,
Biometrika 6:1-25, sleep data, t = -1.8608 and p = 0.07939 as printed in the R documentation of t.test.
Poisson: F. Garwood (1936), Biometrika 28:437-442; 0 events: 3.689, 5: 1.623 to 11.668, 10: 4.795 to 18.390.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.change import between_runs, poisson_limits

SLEEP_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SLEEP_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def group(n: int, mean: float, sd: float) -> list[float]:
    """Make a group with exactly this mean and standard deviation."""
    shape = np.linspace(-1.0, 1.0, n)
    return list(mean + sd * shape / shape.std(ddof=1))


def test_sleep_data() -> None:
    found = between_runs(SLEEP_1, SLEEP_2)
    assert found is not None
    assert found.value == pytest.approx(1.58)
    assert found.p == pytest.approx(0.07939, abs=5e-6)
    # The printed interval: -3.3654832 to 0.2054832 for group 1 minus group 2.
    assert found.ci95 == pytest.approx((-0.2054832, 3.3654832), abs=1e-6)


def test_miles_per_gallon() -> None:
    found = between_runs(group(249, 20.14458, 6.4147), group(79, 30.48101, 6.10771))
    assert found is not None
    half = (found.ci95[1] - found.ci95[0]) / 2
    # t of 95 in 100 at 136.875 degrees of freedom is 1.97747 (scipy); change / error must be 12.94627.
    assert found.value / (half / 1.97747) == pytest.approx(12.94627, abs=1e-3)


@pytest.mark.parametrize(("count", "low", "high"), [(0, 0.0, 3.689), (5, 1.623, 11.668), (10, 4.795, 18.390)])
def test_poisson_limits(count: int, low: float, high: float) -> None:
    assert poisson_limits(count) == pytest.approx((low, high), abs=0.0006)
