"""Dives and squats made by hand; those of the virtual bike are in ``tests/evidence``."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.dives import BothEnds, dives_and_squats

STEP_S = 0.02
TIME = np.arange(0.0, 60.0, STEP_S)


def pulse(from_s: float, to_s: float) -> np.ndarray:
    """One between the two times, ramps of 0.3 s at its ends."""
    return np.clip(np.minimum(TIME - from_s, to_s - TIME) / 0.3, 0.0, 1.0)


def ride(front_mm: np.ndarray, rear_mm: np.ndarray) -> BothEnds:
    body = 4.0 * np.sin(2 * np.pi * 1.6 * TIME)
    return BothEnds(
        start_s=2.0, step_s=STEP_S, front_mm=70.0 + body + front_mm, rear_mm=65.0 - body + rear_mm
    )


def test_braking_is_a_dive_and_driving_a_squat() -> None:
    braking, driving = pulse(10.0, 12.0), pulse(30.0, 33.0)
    dives, squats = dives_and_squats(
        [ride(50 * braking - 30 * driving, 40 * driving - 30 * braking)],
    )
    assert [span.kind for span in (*dives, *squats)] == ["dive", "squat"]
    assert dives[0].start_s == pytest.approx(12.0, abs=0.3)
    assert dives[0].end_s == pytest.approx(14.0, abs=0.3)
    assert squats[0].duration_s == pytest.approx(3.0, abs=0.4)


def test_what_is_not_pitch_is_neither() -> None:
    shape = pulse(10.0, 12.0)
    both_down = ride(60 * shape, 60 * shape)
    front_alone = ride(60 * shape, 0 * shape)
    short = ride(60 * pulse(10.0, 10.3), -60 * pulse(10.0, 10.3))
    little = ride(12 * shape, -8 * shape)
    for stretch in (both_down, front_alone, short, little):
        assert dives_and_squats([stretch]) == ((), ())


def test_a_masked_moment_is_no_dive_and_no_ride_has_none() -> None:
    braking = ride(50 * pulse(10.0, 12.0), -30 * pulse(10.0, 12.0))
    braking.front_mm[480:620] = np.nan
    assert dives_and_squats([braking]) == ((), ())
    assert dives_and_squats([]) == ((), ())
    nothing = np.full(TIME.size, np.nan)
    assert dives_and_squats([ride(nothing, nothing)]) == ((), ())
