"""The spectrum of a generated road against its class.

Source: ISO 8608:2016, Mechanical vibration - Road surface profiles - Reporting of measured data, Annex C:
``Gd(n) = Gd(n0) (n/n0)^-2``, ``n0`` = 0.1 cycle/m; class limits and geometric means in 1e-6 m³ as cited by
public sources (the standard itself was not read). The band of the RMS height is from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import welch

from analysis.road import Road, road_of_class

SPACING_M = 0.05
# class: lower limit, geometric mean, upper limit of Gd(n0), 1e-6 m³
CLASSES = {
    "A": (0.0, 16, 32),
    "B": (32, 64, 128),
    "C": (128, 256, 512),
    "D": (512, 1024, 2048),
    "E": (2048, 4096, 8192),
    "F": (8192, 16384, 32768),
    "G": (32768, 65536, 131072),
    "H": (131072, 262144, np.inf),
}
# The same by the spectrum of the slope, the same at all wavelengths: geometric means in 1e-6 m, from memory.
SLOPE = {"A": 6.3, "B": 25.3, "C": 101.1, "D": 404.3, "E": 1617.0, "F": 6468.1}


def spectrum(name: str, seed: int) -> tuple[np.ndarray, np.ndarray]:
    along_m = 50.0 + np.arange(0.0, 4000.0, SPACING_M)
    height_m = road_of_class(name, seed).height_m(along_m)
    cycle_per_m, psd_m3 = welch(height_m, 1.0 / SPACING_M, "hann", 8192, detrend="linear")
    inside = (cycle_per_m > 0.02) & (cycle_per_m < 2.5)
    return cycle_per_m[inside], psd_m3[inside]


@pytest.mark.parametrize("name", CLASSES)
def test_welch_spectrum_lies_in_its_class(name: str) -> None:
    lower, mean, upper = CLASSES[name]
    cycle_per_m, psd_m3 = spectrum(name, seed=11)
    at_n0 = psd_m3 * (cycle_per_m / 0.1) ** 2 * 1e6
    assert np.exp(np.mean(np.log(at_n0))) == pytest.approx(mean, rel=0.05)
    octave = np.floor(np.log2(cycle_per_m / 0.02)).astype(int)
    for k in range(octave.max() + 1):
        smoothed = at_n0[octave == k].mean()
        assert lower < smoothed < upper, f"octave from {0.02 * 2**k:g} cycle/m"
        assert smoothed == pytest.approx(mean, rel=0.15)


@pytest.mark.parametrize("name", SLOPE)
def test_spectrum_of_the_slope_is_the_printed_one(name: str) -> None:
    cycle_per_m, psd_m3 = spectrum(name, seed=6)
    assert np.mean((2 * np.pi * cycle_per_m) ** 2 * psd_m3) * 1e6 == pytest.approx(SLOPE[name], rel=0.03)


def test_fitted_slope_and_level_of_class_a() -> None:
    cycle_per_m, psd_m3 = spectrum("A", seed=3)
    slope, _ = np.polyfit(np.log(cycle_per_m), np.log(psd_m3), 1)
    assert slope == pytest.approx(-2.0, abs=0.05)
    # Mean over all lines, as the check value was made: 16e-6 m³ within 3 %.
    assert np.mean(psd_m3 * (cycle_per_m / 0.1) ** 2) == pytest.approx(16e-6, rel=0.03)


def test_rms_height_of_class_a_in_the_band() -> None:
    # sqrt of the integral of Gd over 0.011 to 2.83 cycle/m = n0 sqrt(Gd(n0) (1/0.011 - 1/2.83))
    road = Road(gd_n0_m3=16e-6, seed=8, lead_in_m=0.0)
    height_m = road.height_m(np.arange(0.0, road.period_m, 0.02))
    assert np.sqrt(np.mean(height_m**2)) == pytest.approx(0.003806431064, rel=0.01)


def test_a_road_of_the_next_class_is_told_apart() -> None:
    cycle_per_m, psd_m3 = spectrum("D", seed=11)
    level = np.mean(psd_m3 * (cycle_per_m / 0.1) ** 2) * 1e6
    assert not CLASSES["C"][0] < level < CLASSES["C"][2]
