"""A road to ride on: random roughness of an ISO 8608 class, with bumps, holes, whoops and jumps on top.

ISO 8608 describes a road by the one-sided power spectral density of its height over spatial frequency n
(cycle/m), ``Gd(n) = Gd(n0) (n / n0)^-2`` with ``n0 = 0.1`` cycle/m, and sorts roads into classes by
``Gd(n0)``. The values here are the geometric means of the classes (ISO 8608:2016, Annex C, read from public
sources that cite it, not from the standard itself).

The roughness is a sum of sinusoids with the amplitudes of that spectrum and random phases: its spectrum is
the wanted one exactly, only the phases differ from seed to seed. It repeats after ``period_m``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.fft import next_fast_len

from ingest.errors import UsageError

Floats = npt.NDArray[np.float64]

REFERENCE_CYCLE_PER_M = 0.1
CLASS_GD_M3 = {
    "A": 16e-6,
    "B": 64e-6,
    "C": 256e-6,
    "D": 1024e-6,
    "E": 4096e-6,
    "F": 16384e-6,
    "G": 65536e-6,
    "H": 262144e-6,
}
# A straight line between grid points stands for a sinusoid within 1 % when it has this many points a wave.
POINTS_PER_SHORTEST_WAVE = 16
JUMP_FALL_M = 0.4


class Shape(StrEnum):
    """What a single feature of a road looks like."""

    BUMP = "bump"
    JUMP = "jump"


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """Something on the road, ``height_m`` high (a hole when negative), starting ``at_m`` metres on.

    A bump is one wave of a raised cosine; several in a row (``repeats``) are whoops. A jump rises as a
    parabola to its lip and falls away over `JUMP_FALL_M`.
    """

    shape: Shape = Shape.BUMP
    at_m: float
    length_m: float
    height_m: float
    repeats: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Road:
    """A road: roughness (``gd_n0_m3`` = 0 for none) between two spatial frequencies, and features.

    The upper limit of the band stands in for the tyre's contact patch, which swallows shorter waves. The
    first ``lead_in_m`` metres rise from flat to full roughness, so that a ride starts in peace.
    """

    gd_n0_m3: float = 0.0
    seed: int = 0
    low_cycle_per_m: float = 0.011
    high_cycle_per_m: float = 2.83
    period_m: float = 4000.0
    lead_in_m: float = 10.0
    features: tuple[Feature, ...] = ()

    def height_m(self, distance_m: Floats) -> Floats:
        """Give the height of the road at distances from the start, m; flat before the start."""
        height = np.zeros_like(distance_m)
        if self.gd_n0_m3 > 0:
            rough, spacing_m = _roughness(
                self.gd_n0_m3, self.seed, self.low_cycle_per_m, self.high_cycle_per_m, self.period_m
            )
            height = _between_points(rough, distance_m / spacing_m)
            if self.lead_in_m > 0:
                height *= np.clip(distance_m / self.lead_in_m, 0.0, 1.0)
        for feature in self.features:
            height += _feature_height_m(feature, distance_m)
        return height


def road_of_class(name: str, seed: int, features: tuple[Feature, ...] = ()) -> Road:
    """Make a road at the geometric mean of an ISO 8608 class, ``A`` (smooth) to ``H``.

    >>> road_of_class("C", seed=1).gd_n0_m3
    0.000256
    """
    if name not in CLASS_GD_M3:
        raise UsageError(f"no road class {name!r}: give one of A to H")
    return Road(gd_n0_m3=CLASS_GD_M3[name], seed=seed, features=features)


@lru_cache(maxsize=64)
def _roughness(gd_n0_m3: float, seed: int, low: float, high: float, period_m: float) -> tuple[Floats, float]:
    """One period of random height, and its spacing in m."""
    if not 0 < low < high:
        raise UsageError(
            f"the band {low} to {high} cycle/m is empty: the lower limit must be above 0 and below the upper"
        )
    points = int(next_fast_len(int(np.ceil(period_m * high * POINTS_PER_SHORTEST_WAVE)), real=True))
    cycle_per_m = np.arange(points // 2 + 1) / period_m
    inside = (cycle_per_m >= low) & (cycle_per_m <= high)
    # A sinusoid in each 1/period of the band, with the power the spectrum has there: A²/2 = Gd(n) dn.
    gd_m3 = gd_n0_m3 * (cycle_per_m[inside] / REFERENCE_CYCLE_PER_M) ** -2.0
    amplitude_m = np.sqrt(2.0 * gd_m3 / period_m)
    phase = np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi, amplitude_m.size)
    spectrum = np.zeros(cycle_per_m.size, dtype=complex)
    spectrum[inside] = 0.5 * points * amplitude_m * np.exp(1j * phase)
    height_m = np.fft.irfft(spectrum, points)
    height_m.setflags(write=False)
    return height_m, period_m / points


def _between_points(height_m: Floats, position: Floats) -> Floats:
    """Linear interpolation in a periodic table at positions counted in grid steps."""
    whole = np.floor(position)
    part = position - whole
    left = whole.astype(np.int64) % height_m.size
    here = height_m[left]
    return np.asarray(here + part * (height_m[(left + 1) % height_m.size] - here), dtype=float)


def _feature_height_m(feature: Feature, distance_m: Floats) -> Floats:
    into = distance_m - feature.at_m
    if feature.shape is Shape.BUMP:
        inside = (into >= 0) & (into < feature.length_m * feature.repeats)
        wave = 0.5 * feature.height_m * (1.0 - np.cos(2.0 * np.pi * into / feature.length_m))
        return np.where(inside, wave, 0.0)
    rise = feature.height_m * np.clip(into / feature.length_m, 0.0, 1.0) ** 2
    fall = np.clip(1.0 - (into - feature.length_m) / JUMP_FALL_M, 0.0, 1.0)
    return np.asarray(rise * fall, dtype=float)
