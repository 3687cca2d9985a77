from __future__ import annotations

import numpy as np
import pytest

from analysis.speed import differentiator, response, slide


@pytest.mark.parametrize("rate_hz", [200, 400, 500, 1000, 1600, 2000, 5000])
def test_bandwidth_is_what_a_sine_of_that_frequency_shows(rate_hz: int) -> None:
    tool = differentiator(1 / rate_hz)
    t = np.arange(int(rate_hz * 4)) / rate_hz
    w = 2 * np.pi * tool.bandwidth_hz
    speed = tool.speed(np.sin(w * t))
    valid = speed[tool.half : -tool.half]
    # Amplitude by fitting sine and cosine: −3 dB of the true amplitude w, and no phase shift.
    parts = np.linalg.lstsq(np.column_stack([np.cos(w * t), np.sin(w * t)])[tool.half : -tool.half], valid)[0]
    assert np.hypot(*parts) / w == pytest.approx(0.5**0.5, rel=2e-3)
    assert abs(parts[1] / parts[0]) < 1e-6
    if rate_hz >= 400:
        assert 60 <= tool.bandwidth_hz <= 100


def test_slow_motion_passes_nearly_unchanged() -> None:
    tool = differentiator(0.001)
    gain = response(tool.coefficients, 0.001, np.array([1.0, 5.0, 10.0, 20.0, 40.0]))
    assert gain[:4] == pytest.approx(1.0, abs=0.003)
    assert gain[4] > 0.95


def test_ramp_parabola_and_quartic_are_exact() -> None:
    tool = differentiator(0.001)
    t = np.arange(100) * 0.001
    speed = tool.speed(7 + 300 * t - 2000 * t**2 + 5e4 * t**3 - 1e5 * t**4)
    true = 300 - 4000 * t + 1.5e5 * t**2 - 4e5 * t**3
    np.testing.assert_allclose(speed[8:-8], true[8:-8], rtol=1e-8)


def test_noise_gain_is_what_white_noise_shows() -> None:
    tool = differentiator(0.001)
    noise = np.random.default_rng(1).normal(0, 0.2, 200_000)
    assert np.nanstd(tool.speed(noise)) == pytest.approx(0.2 * tool.noise_gain_per_s, rel=0.01)


def test_ends_and_masked_samples_get_no_speed() -> None:
    tool = differentiator(0.001)
    travel = np.linspace(0, 10, 200)
    travel[100] = np.nan
    speed = tool.speed(travel)
    missing = np.flatnonzero(np.isnan(speed))
    assert missing.tolist() == [*range(8), *range(92, 109), *range(192, 200)]


def test_stretch_shorter_than_the_window_has_no_speed_at_all() -> None:
    tool = differentiator(0.001)
    assert np.isnan(tool.speed(np.zeros(16))).all()
    assert np.isnan(tool.speed(np.zeros(17))).sum() == 16
    assert tool.speed(np.zeros(0)).size == 0


@pytest.mark.parametrize("rate_hz", [200, 500, 1000, 2000, 5000])
@pytest.mark.parametrize("size", [500, 4096, 10_000, 10_017])
def test_blocks_give_what_a_sliding_window_gives(rate_hz: int, size: int) -> None:
    """Done another way: numpy's own sliding sum, with masked samples anywhere."""
    random = np.random.default_rng(size)
    values = random.normal(100, 30, size)
    coefficients = differentiator(1 / rate_hz).coefficients
    for masked in (
        [],
        [0],
        [size - 1],
        [31, 32, 33],
        [64],
        list(range(200, 300)),
        [450, size // 2, size - 40],
    ):
        known = values.copy()
        known[masked] = np.nan
        out = np.empty(size - coefficients.size + 1)
        slide(known, coefficients, out)
        expected = np.correlate(known, coefficients, "valid")
        assert np.isnan(out).tolist() == np.isnan(expected).tolist()
        np.testing.assert_allclose(out, expected, atol=1e-12 * 130 * np.abs(coefficients).sum())


@pytest.mark.parametrize("rate_hz", [200, 500, 1000, 2000])
def test_noise_gain_and_response_are_as_stated_at_every_rate(rate_hz: int) -> None:
    """White noise through the filter, and sines at half and twice the bandwidth against the closed form."""
    tool = differentiator(1 / rate_hz)
    noise = np.random.default_rng(rate_hz).normal(0, 0.2, 100_000)
    assert np.nanstd(tool.speed(noise)) == pytest.approx(0.2 * tool.noise_gain_per_s, rel=0.015)
    t = np.arange(20 * rate_hz) / rate_hz
    for frequency in (0.25 * tool.bandwidth_hz, 0.5 * tool.bandwidth_hz, tool.bandwidth_hz):
        speed = tool.speed(np.sin(2 * np.pi * frequency * t))
        seen = np.sqrt(2) * np.nanstd(speed) / (2 * np.pi * frequency)
        (stated,) = response(tool.coefficients, 1 / rate_hz, np.array([frequency]))
        assert seen == pytest.approx(stated, rel=0.01)
    (stated,) = response(tool.coefficients, 1 / rate_hz, np.array([0.25 * tool.bandwidth_hz]))
    assert stated == pytest.approx(1.0, abs=0.01)
