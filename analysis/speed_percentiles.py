"""Percentiles of speed in each direction, with the noise of the reading taken out.

On a smooth road half of the speeds are no faster than what noise alone makes of a wheel at rest, and the
middle speed would come out half too high. The noise is known, and adds to the speed whatever the speed is: so
the distribution that was read is the true one, smeared by the noise. It is sharpened again by the rule of
W. H. Richardson (J. Opt. Soc. Am. 62, 1972) and L. B. Lucy (Astron. J. 79, 1974; both from memory): smear the
estimate, see where the reading has more or less than that, and shift it there; ten times over.
"""

from __future__ import annotations

import numpy as np

from analysis.calibration import Floats
from analysis.distribution import Distribution
from analysis.ride_results import Speeds

LEAST_NOISE_MM_S = 2.0
"""Less than this changes no speed that anybody would name."""

STEPS_PER_NOISE, NOISES = 4, 4
ROUNDS = 10
SHARES = (0.50, 0.95, 0.99)


def speed_percentiles(speeds: Distribution, noise_mm_s: float = 0.0) -> tuple[Speeds | None, Speeds | None]:
    """Give the percentiles of compression and of rebound speed, both as positive numbers.

    Parameters
    ----------
    speeds : Distribution
        Of all samples that have a speed, mm/s, compression positive.
    noise_mm_s : float
        Standard deviation of what noise adds to each.

    Returns
    -------
    compression, rebound : Speeds or None
        Over all samples moving that way; ``None`` where none does. ``max`` is the fastest that was read.
    """
    both = speeds.positive(), speeds.mirrored().positive()
    if noise_mm_s < LEAST_NOISE_MM_S or not all(side.total for side in both):
        compression, rebound = (_of(side, side.quantiles(SHARES)) if side.total else None for side in both)
        return compression, rebound
    step = noise_mm_s / STEPS_PER_NOISE
    sharp = _sharpened(speeds, step)
    middle = sharp.size // 2
    compression, rebound = (
        _of(side, _quantiles(half, step))
        for side, half in zip(both, (sharp[middle:], sharp[middle::-1]), strict=True)
    )
    return compression, rebound


def _of(side: Distribution, quantiles: Floats) -> Speeds:
    p50, p95, p99 = quantiles.tolist()
    return Speeds(p50=p50, p95=p95, p99=p99, max=float(side.values[-1]))


def _sharpened(speeds: Distribution, step: float) -> Floats:
    """Samples in steps of speed, as they would be without noise; speed 0 is the middle one."""
    reach = NOISES * STEPS_PER_NOISE
    farthest = int(np.ceil(np.abs(speeds.values[[0, -1]]).max() / step)) + reach
    places = np.rint(speeds.values / step).astype(np.intp) + farthest
    read = np.bincount(places, weights=speeds.samples, minlength=2 * farthest + 1)
    smear = np.exp(-0.5 * (np.arange(-reach, reach + 1) / STEPS_PER_NOISE) ** 2)
    smear /= smear.sum()
    sharp: Floats = read.astype(float)
    for _ in range(ROUNDS):
        smeared = np.convolve(sharp, smear, "same")
        sharp *= np.convolve(read / np.maximum(smeared, 1e-9), smear, "same")
    return sharp


def _quantiles(half: Floats, step: float) -> Floats:
    """Speeds below which the shares lie; the first step is centred on 0, and half of it moves this way."""
    samples = half.copy()
    samples[0] /= 2
    borders = step * np.concatenate([[0.0], np.arange(samples.size) + 0.5])
    below = np.concatenate([[0.0], np.cumsum(samples)])
    return np.asarray(np.interp(np.array(SHARES) * below[-1], below, borders))
