"""How often a random ride passes a level: our counting of excursions against Rice's rate.

Source: S. O. Rice, Mathematical analysis of random noise, Bell Syst. Tech. J. 23 (1944) 282-332 and 24 (1945)
46-156: a stationary Gaussian process passes a level u upwards
``(1 / 2 pi) (sigma_v / sigma_x) exp(-(u - m)^2 / (2 sigma_x^2))`` times a second, with sigma_v of its rate of
change. From memory, not checked against the text. The numbers are for the power spectrum
``exp(-((f - 2 Hz) / 1 Hz)^2 / 2)``.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.excursions import runs
from analysis.motion import end_motion
from ingest.log import Log
from ingest.records import End

# Level in standard deviations above the mean: upward passages a second, and how far chance may go, relative.
RATES = {
    0: (2.2606389952591326, 0.01),
    1: (1.3711468611666264, 0.01),
    2: (0.30594421871912625, 0.03),
    3: (0.02511343077254927, 0.15),
}
RATE_HZ, SECONDS = 200.0, 10_000.0
MEAN_MM, SIGMA_MM = 80.0, 12.0


def gaussian(seed: int) -> np.ndarray:
    """A Gaussian series of that spectrum, standard deviation 1: random amplitude and phase of each line."""
    size = round(SECONDS * RATE_HZ)
    hertz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    random = np.random.default_rng(seed)
    lines = random.normal(size=hertz.size) + 1j * random.normal(size=hertz.size)
    lines *= np.exp(-(((hertz - 2.0) / 1.0) ** 2) / 4)  # amplitude: root of the power
    lines[0] = 0.0
    series = np.fft.irfft(lines, size)
    return series / series.std()


@pytest.fixture(scope="module")
def series() -> np.ndarray:
    return gaussian(seed=5)


@pytest.mark.parametrize("level", RATES)
def test_our_excursions_come_as_often_as_rice_says(series: np.ndarray, level: int) -> None:
    expected, tolerance = RATES[level]
    assert runs(series > level).count / SECONDS == pytest.approx(expected, rel=tolerance)


@pytest.mark.parametrize("level", [0, 1, 2])
def test_measured_travel_and_speed_give_the_rate_that_is_counted(
    make_log: Callable[..., Log], series: np.ndarray, level: int
) -> None:
    """The same law through a log: sigma_x and sigma_v as flatfoot measures them, not as they were made."""
    travel = MEAN_MM + SIGMA_MM * series[: round(4000 * RATE_HZ)]
    motion = end_motion(make_log(travel, travel, rate_hz=RATE_HZ), End.FRONT)
    assert motion is not None
    (part,) = motion.segments
    sigma_x, sigma_v = np.nanstd(part.travel_mm), np.nanstd(part.speed_mm_s)
    rate = sigma_v / (2 * np.pi * sigma_x) * np.exp(-(level**2) / 2)
    counted = runs(part.travel_mm > np.nanmean(part.travel_mm) + level * sigma_x).count / 4000
    assert counted == pytest.approx(rate, rel=RATES[level][1] + 0.01)


def test_the_highest_of_twenty_seconds(series: np.ndarray) -> None:
    """In standard deviations, on average (A. G. Davenport, Proc. ICE 28, 1964, 187-196, from memory)."""
    highest = series.reshape(-1, round(20 * RATE_HZ)).max(axis=1)
    assert highest.mean() == pytest.approx(2.9699941939324526, rel=0.02)
