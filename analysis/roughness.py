"""How rough the road was for one wheel at the pace it was ridden: one number to tell two rides apart.

The wheel follows the road between what the body does on its springs (1 to 3 Hz) and what the wheel does on
its tyre (9 to 18 Hz; both common practice, no source). There the travel is nearly the road itself, whatever
the springs and clickers are, so the wheel speed in that band says more about the road than about the setup.
"""

from __future__ import annotations

import math

import numpy as np

from analysis.calibration import Floats, Samples
from analysis.gum import coverage_factor
from analysis.motion import EndMotion
from analysis.pieces import bridged, piece_means
from analysis.resampling import SLOW_WAVES, slow_standard_error
from analysis.results import Quantity

BAND_HZ = (3.0, 8.0)
RATE_HZ = 100.0
"""Samples a second the travel is thinned to by means: far above the band, and cheap."""

WINDOW_S = 2.0
"""Each overlaps half of the next, so that none of the ride weighs less than another."""

LEAST_KNOWN = 0.8
"""Share of a window that must not be masked; the rest is bridged."""


def roughness(motion: EndMotion) -> Quantity | None:
    """Give the RMS speed of the wheel between 3 and 8 Hz, mm/s, over the whole ride.

    It rises with the road and with the pace: twice as fast on the same road is about 1.4 times as rough. It
    falls a little where more damping holds the wheel. How far it moves with the setup is printed by
    ``tests/evidence/test_front_and_rear.py``.

    Parameters
    ----------
    motion : EndMotion

    Returns
    -------
    Quantity or None
        With its 95 % uncertainty within this ride; ``None`` for less than 25 s without a gap.
    """
    powers = [_powers(part.travel_mm, part.dt_s) for part in motion.segments]
    power = np.concatenate(powers) if powers else np.empty(0)
    power = power[np.isfinite(power)]
    error = slow_standard_error(power)
    if error is None or not power.mean() > 0:
        return None
    rms = math.sqrt(float(power.mean()))
    factor = coverage_factor(SLOW_WAVES)
    return Quantity(value=rms, expanded_uncertainty=factor * error / (2 * rms), coverage_factor=factor)


def _powers(travel: Samples, dt_s: float) -> Floats:
    """Mean square speed in the band in each window of one gap-free stretch; NaN where much is masked."""
    thin = max(1, round(1.0 / (RATE_HZ * dt_s)))
    thinned, step_s = piece_means(travel, thin), thin * dt_s
    per = round(WINDOW_S / step_s)
    if thinned.size < per:
        return np.empty(0)
    known = np.lib.stride_tricks.sliding_window_view(np.isfinite(thinned), per)[:: per // 2].mean(axis=1)
    windows = np.lib.stride_tricks.sliding_window_view(bridged(thinned), per)[:: per // 2]
    hann = np.hanning(per + 1)[:per]
    spectrum = np.fft.rfft((windows - windows.mean(axis=1, keepdims=True)) * hann, axis=1)
    hertz = np.fft.rfftfreq(per, step_s)
    inside = (hertz >= BAND_HZ[0]) & (hertz <= BAND_HZ[1])
    # Parseval, one side: each line stands for itself and its mirror; the window's loss is made good.
    power = 2.0 * np.abs(spectrum[:, inside]) ** 2 / (per * np.sum(hann**2))
    return np.where(known >= LEAST_KNOWN, power @ (2 * np.pi * hertz[inside]) ** 2, np.nan)
