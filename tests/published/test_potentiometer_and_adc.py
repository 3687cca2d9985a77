"""Loading of a potentiometer and rounding of a converter, against handbook figures and other arithmetic.

Sources: E. O. Doebelin, "Measurement Systems: Application and Design", resistive potentiometers ("about 15
Rp/Rm percent near 67 % of travel", "about 12 %" for Rp/Rm = 1; from memory, both agree with the exact
divider). W. R. Bennett, "Spectra of quantized signals", Bell Syst. Tech. J. 27, 1948; IEEE Std 1241 (SINAD
and ENOB; from memory, agreeing with simulation).
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import fit_curve
from analysis.sensor import (
    count_mm,
    effective_bits,
    loaded_ratio,
    loading_error_mm,
    quantisation_noise_mm,
)

PLACES = np.linspace(0.0, 1.0, 100_001)


def test_small_loads_err_by_4_27ths_at_two_thirds() -> None:
    error = loading_error_mm(PLACES, 1.0, 1e-4, 1.0) / 1e-4
    assert error.max() == pytest.approx(4 / 27, abs=1e-5)
    assert error.max() == pytest.approx(0.15, abs=0.005)  # the handbook's figure
    assert PLACES[error.argmax()] == pytest.approx(2 / 3, abs=1e-3)


@pytest.mark.parametrize(
    ("k", "peak", "at"),
    [
        (0.01, 0.0014781972065118776, 0.66691),
        (0.05, 0.0073260815028814985, 0.66789),
        (0.1, 0.014493331391319475, 0.66911),
        (0.5, 0.06672555913132616, 0.67836),
        (1.0, 0.12158510687211832, 0.68889),
    ],
)
def test_largest_error_of_the_exact_divider(k: float, peak: float, at: float) -> None:
    error = loading_error_mm(PLACES * 200.0, 200.0, k, 1.0) / 200.0
    assert error.max() == pytest.approx(peak, rel=1e-8)
    assert PLACES[error.argmax()] == pytest.approx(at, abs=2e-5)


def test_divider_agrees_with_nodal_analysis() -> None:
    """5 kΩ at 0.6 of its travel, 100 kΩ to ground: currents into the wiper sum to zero."""
    upper, lower, load = 2_000.0, 3_000.0, 100_000.0
    wiper = (1 / upper) / (1 / upper + 1 / lower + 1 / load)
    assert float(loaded_ratio(0.6, 5_000, 100_000)) == pytest.approx(wiper, rel=1e-12)
    assert wiper == pytest.approx(0.5928853754940712, rel=1e-12)


@pytest.mark.parametrize(("k", "line_left"), [(0.02, 0.002654855542092882), (0.1, 0.013088423806224436)])
def test_a_cubic_takes_the_loading_out_and_a_line_does_not(k: float, line_left: float) -> None:
    counts = loaded_ratio(PLACES, k, 1.0)
    line, cubic = fit_curve(PLACES, counts, 1), fit_curve(PLACES, counts, 3)
    assert np.abs(line.residuals).max() == pytest.approx(line_left, rel=1e-3)
    assert np.abs(cubic.residuals).max() < line_left / 100


def test_rounding_noise_and_bits() -> None:
    # 300 mm over 10, 12 and 16 bits, derived beside the sources.
    for bits, count, noise in (
        (10, 0.29296875, 0.0845727933383241),
        (12, 0.0732421875, 0.021143198334581025),
        (16, 0.00457763671875, 0.001321449895911314),
    ):
        assert count_mm(300.0, bits) == pytest.approx(count, rel=1e-12)
        assert quantisation_noise_mm(300.0, bits) == pytest.approx(noise, rel=1e-12)


@pytest.mark.parametrize(("bits", "snr_db"), [(10, 61.97), (12, 74.01), (16, 98.09)])
def test_ideal_converter_by_simulation(bits: int, snr_db: float) -> None:
    """A full-scale sine, rounded: signal to noise is 6.02 N + 1.76 dB, and the bits left are N."""
    n = 1 << 18
    half = 2.0 ** (bits - 1)
    sine = half * np.sin(2 * np.pi * 1021 * (np.arange(n) + 0.5) / n)
    noise = float(np.std(np.rint(sine) - sine))
    snr = 20 * np.log10(half / np.sqrt(2) / noise)
    assert snr == pytest.approx(snr_db, abs=0.1)
    assert noise == pytest.approx(quantisation_noise_mm(1.0, 0), abs=0.002)
    assert (snr - 1.76) / 6.02 == pytest.approx(effective_bits(0.0, bits), abs=0.02)
    # One count of noise more leaves about 1.85 bits less, by simulation too.
    shaky = np.rint(sine + np.random.default_rng(bits).normal(0, 1, n)) - sine
    left = (20 * np.log10(half / np.sqrt(2) / np.std(shaky)) - 1.76) / 6.02
    assert left == pytest.approx(effective_bits(1.0, bits), abs=0.03)
