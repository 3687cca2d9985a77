"""Chance inside one ride: standard errors against what many rides of the same kind really scatter by."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.signal import lfilter

from analysis.distribution import of_samples
from analysis.motion import EndMotion, MotionSegment
from analysis.within_ride import spreads
from ingest.records import End

RATE_HZ, SECONDS, RIDES = 200.0, 60.0, 40


def noise(seed: int, seconds: float) -> np.ndarray:
    """White noise that lasts for so long, twice through a low-pass of 3 Hz: no wheel jumps."""
    rows = round((SECONDS + 20) * RATE_HZ)
    white = np.random.default_rng(seed).standard_normal(rows)
    keep = np.exp(-2 * np.pi * 3.0 / RATE_HZ)
    smooth = lfilter([1 - keep], [1, -keep], lfilter([1 - keep], [1, -keep], white))
    return lfilter([1.0], [1.0, -np.exp(-1 / (seconds * RATE_HZ))], smooth)


def wandering(seed: int) -> np.ndarray:
    """Each push lasts for a second: the mean of a ride wanders with the road."""
    return noise(seed, 1.0)[round(20 * RATE_HZ) :]


def coming_back(seed: int) -> np.ndarray:
    """Each push in is followed by nearly as much out, half a second later: the mean of a ride stays."""
    pushed, later = noise(seed, 0.1), round(0.5 * RATE_HZ)
    back = pushed.copy()
    back[later:] -= 0.8 * pushed[:-later]
    return back[round(20 * RATE_HZ) :]


def motion(travel: np.ndarray) -> EndMotion:
    """Motion as it is, without looking for faults of the sensor."""
    part = MotionSegment(
        start_s=0.0, dt_s=1 / RATE_HZ, travel_mm=travel, speed_mm_s=np.gradient(travel) * RATE_HZ
    )
    return EndMotion(
        end=End.FRONT,
        travel_mm=230.0,
        segments=(part,),
        bandwidth_hz=50.0,
        distribution=of_samples(travel),
        masked_samples=0,
        zero_known=True,
        cautions=(),
    )


@pytest.mark.parametrize("kind", [wandering, coming_back])
def test_standard_errors_are_what_many_rides_scatter_by(kind: Callable[[int], np.ndarray]) -> None:
    scale = 18.0 / kind(999).std()
    rides = [motion(80.0 + scale * kind(seed)) for seed in range(RIDES)]
    found = [spreads(ride) for ride in rides]
    truth = {
        "mean_mm": [ride.distribution.mean for ride in rides],
        "p50_mm": [float(ride.distribution.quantiles((0.5,))[0]) for ride in rides],
        "p95_mm": [float(ride.distribution.quantiles((0.95,))[0]) for ride in rides],
    }
    for name, values in truth.items():
        scatter = np.std(values, ddof=1)
        said = np.sqrt(np.mean([one[name].standard_error ** 2 for one in found]))
        # Forty rides know their scatter to 11 %.
        assert 0.75 < said / scatter < 1.4, (name, said, scatter)


def test_a_mean_is_known_from_as_many_swings_as_the_ride_holds() -> None:
    found = spreads(motion(80.0 + 0.5 * wandering(1)))
    assert found["mean_mm"].dof == 6
    assert set(found) == {
        "mean_mm", "p50_mm", "p95_mm", "p99_mm", "compression_p95_mm_s", "rebound_p95_mm_s",
    }  # fmt: skip


def test_what_stands_still_is_known_exactly() -> None:
    found = spreads(motion(np.full(6000, 50.0)))
    assert set(found) == {"mean_mm", "p50_mm", "p95_mm", "p99_mm"}
    assert found["mean_mm"].standard_error == pytest.approx(0.0, abs=1e-9)
