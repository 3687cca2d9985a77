"""When a reading being watched counts as standing still."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.steady import standing

T = np.arange(0, 3.0, 0.01)


def rows(counts: np.ndarray) -> list[tuple[float, float]]:
    return list(zip(T.tolist(), counts.tolist(), strict=True))


def test_noise_is_not_motion() -> None:
    random = np.random.default_rng(3)
    for noise in (0.3, 1.0, 5.0):
        found = standing(rows(np.rint(500 + random.normal(0, noise, T.size))))
        assert found is not None
        assert found.steady
        assert found.counts == pytest.approx(500, abs=0.5 * max(1, noise))
        assert found.spread_counts == pytest.approx(noise, rel=0.3, abs=0.15)


def test_moving_creeping_and_a_knock_are() -> None:
    still = np.full(T.size, 500.0)
    for counts in (
        500 + 100 * T,
        500 + 3 * T,  # 4.5 counts in the time looked at
        still + 20 * ((T > 2.2) & (T < 2.4)),
        np.where(T > 2.9, 520.0, still),
    ):
        found = standing(rows(counts))
        assert found is not None
        assert not found.steady


def test_only_the_last_moments_count() -> None:
    found = standing(rows(np.where(T < 1.4, 100 * T, 140.0)))
    assert found is not None
    assert found.steady
    assert found.counts == 140


def test_too_little_seen() -> None:
    assert standing([]) is None
    found = standing(rows(np.full(T.size, 7.0))[:50])
    assert found is not None
    assert (found.enough, found.steady) == (False, False)
    single = standing([(0.0, 7.0)])
    assert single is not None
    assert not single.steady


def test_a_fine_converter_may_wander_more_counts() -> None:
    wander = 30_000 + 20 * np.sin(T)
    found = standing(rows(wander))
    assert found is not None
    assert found.steady
