from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.motion import EndMotion, end_motion
from analysis.ride_results import ZeroDrift
from analysis.zero_drift import zero_drift
from ingest.log import Log
from ingest.records import End

RATE_HZ = 500.0
MakeLog = Callable[..., Log]


def motion_of(make_log: MakeLog, travel: np.ndarray, seed: int = 0) -> EndMotion:
    travel = travel + np.random.default_rng(seed).normal(0, 0.1, travel.size)
    found = end_motion(make_log(travel, travel, rate_hz=RATE_HZ), End.FRONT)
    assert found is not None
    return found


def drift_of(make_log: MakeLog, travel: np.ndarray, seed: int = 0) -> ZeroDrift:
    found = zero_drift(motion_of(make_log, travel, seed))
    assert found is not None
    return found


def hopping(hops: int, hang_s: float = 0.3) -> np.ndarray:
    """Swing about 60 mm at 2 Hz for two seconds, then hang topped out for a while, again and again."""
    swing = 60 - 55 * np.cos(2 * np.pi * 2 * np.arange(int(2 * RATE_HZ)) / RATE_HZ)
    down = np.linspace(5.0, 0.0, 20)
    one = np.concatenate([swing, down, np.zeros(int(hang_s * RATE_HZ)), down[::-1]])
    return np.tile(one, hops)


@pytest.mark.parametrize("seed", range(4))
def test_no_drift_is_found_to_be_none(make_log: MakeLog, seed: int) -> None:
    found = drift_of(make_log, hopping(15), seed)
    assert (found.seen, found.sightings) == ("topping", 15)
    assert abs(found.drift_mm.value) < 0.2
    assert abs(found.drift_mm.value) <= found.drift_mm.expanded_uncertainty < 0.6


@pytest.mark.parametrize("mm", [-4.0, 3.0])
def test_creep_is_found_between_the_first_and_the_last_third(make_log: MakeLog, mm: float) -> None:
    travel = hopping(15)
    found = drift_of(make_log, travel + np.linspace(0, mm, travel.size))
    # Means of the first and the last third of evenly spread sightings are two thirds apart.
    assert found.drift_mm.value == pytest.approx(mm * 2 / 3, abs=0.15)
    assert found.drift_mm.expanded_uncertainty < abs(mm) / 2


def test_a_clamp_that_slipped_shows_in_full(make_log: MakeLog) -> None:
    travel = hopping(12)
    travel[travel.size // 2 :] += 2.0
    assert drift_of(make_log, travel).drift_mm.value == pytest.approx(2.0, abs=0.15)


def test_turning_round_just_above_the_stop_is_no_sighting(make_log: MakeLog) -> None:
    t = np.arange(int(60 * RATE_HZ)) / RATE_HZ
    assert zero_drift(motion_of(make_log, 63 - 60 * np.cos(2 * np.pi * 3 * t))) is None


def test_standing_still_says_little_and_says_so(make_log: MakeLog) -> None:
    """Six stops at traffic lights, the zero 3 mm further on by the last."""
    t = np.arange(int(10 * RATE_HZ)) / RATE_HZ
    moving = np.clip(np.minimum(t - 4.0, 10.0 - t), 0.0, 0.5) / 0.5
    one = 70 + moving * 25 * np.sin(2 * np.pi * 1.3 * t)
    travel = np.concatenate([one + 0.6 * k for k in range(6)])
    found = drift_of(make_log, travel)
    assert (found.seen, found.sightings) == ("standing", 6)
    assert found.drift_mm.value == pytest.approx(4 * 0.6, abs=0.2)
    assert found.drift_mm.expanded_uncertainty > 6.0


def test_rolling_over_smooth_tarmac_is_not_standing(make_log: MakeLog) -> None:
    t = np.arange(int(60 * RATE_HZ)) / RATE_HZ
    travel = 70 + 1.2 * np.sin(2 * np.pi * 1.5 * t) + 15 * np.sin(2 * np.pi * t / 20.0)
    assert zero_drift(motion_of(make_log, travel)) is None


def test_too_few_sightings_show_nothing(make_log: MakeLog) -> None:
    assert zero_drift(motion_of(make_log, hopping(5))) is None
