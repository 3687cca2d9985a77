"""Roughness of known waves; on roads of known class it is in ``tests/evidence/test_front_and_rear.py``."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.motion import EndMotion, end_motion
from analysis.roughness import roughness
from ingest.log import Log
from ingest.records import End

SECONDS = 60.0


def wave(make_log: Callable[..., Log], hertz: float, rate_hz: float = 1000.0) -> EndMotion:
    """Two mm up and down at one frequency."""
    time = np.arange(0.0, SECONDS, 1.0 / rate_hz)
    travel = 80.0 + 2.0 * np.sin(2 * np.pi * hertz * time)
    motion = end_motion(make_log(travel, travel, rate_hz=rate_hz), End.FRONT)
    assert motion is not None
    return motion


@pytest.mark.parametrize("rate_hz", [200.0, 417.0, 1000.0])
def test_a_wave_in_the_band_has_its_rms_speed(make_log: Callable[..., Log], rate_hz: float) -> None:
    found = roughness(wave(make_log, 5.0, rate_hz))
    assert found is not None
    # RMS of a sine: 2 pi f times amplitude over the root of two; thinning by means costs 0.4 %.
    assert found.value == pytest.approx(2 * np.pi * 5.0 * 2.0 / np.sqrt(2), rel=0.015)
    assert found.expanded_uncertainty < 0.02 * found.value


@pytest.mark.parametrize("hertz", [1.5, 14.0])
def test_what_body_and_tyre_do_is_left_out(make_log: Callable[..., Log], hertz: float) -> None:
    found = roughness(wave(make_log, hertz))
    assert found is not None
    assert found.value < 0.02 * 2 * np.pi * hertz * 2.0 / np.sqrt(2)


def test_rough_and_smooth_halves_count_as_power_and_widen_the_doubt(make_log: Callable[..., Log]) -> None:
    time = np.arange(0.0, SECONDS, 0.001)
    swing = np.where(time < SECONDS / 2, 1.0, 5.0) * np.sin(2 * np.pi * 5.0 * time)
    motion = end_motion(make_log(80 + swing, 80 + swing), End.REAR)
    assert motion is not None
    found = roughness(motion)
    assert found is not None
    expected = 2 * np.pi * 5.0 * np.sqrt((1.0**2 + 5.0**2) / 4)
    assert found.value == pytest.approx(expected, rel=0.03)
    assert found.expanded_uncertainty > 0.3 * found.value


def test_a_short_ride_and_one_that_stands_have_none(make_log: Callable[..., Log]) -> None:
    short, still = np.linspace(50, 60, 20_000), np.full(60_000, 50.0)
    for travel in (short, still):
        motion = end_motion(make_log(travel, travel), End.FRONT)
        assert motion is not None
        assert roughness(motion) is None


def test_masked_moments_cost_little(make_log: Callable[..., Log]) -> None:
    time = np.arange(0.0, SECONDS, 0.001)
    travel = 80.0 + 2.0 * np.sin(2 * np.pi * 5.0 * time)
    travel[np.arange(time.size) % 1000 < 40] = 900.0  # 4 % of it where no wheel can be
    travel[20_000:30_000] = 900.0
    motion = end_motion(make_log(travel, travel), End.FRONT)
    assert motion is not None
    found = roughness(motion)
    assert found is not None
    assert found.value == pytest.approx(2 * np.pi * 5.0 * 2.0 / np.sqrt(2), rel=0.06)
