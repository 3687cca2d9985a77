"""How often each value occurred: percentiles, mean and extremes of millions of samples from a short list.

A 10-bit sensor knows 1024 positions, so an hour of ride is a list of 1024 counters. Percentiles from it are
those of `numpy.percentile` (method ``linear``), at a tenth of the time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Distribution:
    """Distinct values, rising, and how many samples had each (all above 0). Both of shape (m,), m ≥ 0."""

    values: Floats
    samples: npt.NDArray[np.int64]

    @property
    def total(self) -> int:
        """Count all samples."""
        return int(self.samples.sum())

    @property
    def mean(self) -> float:
        """Mean of all samples; NaN where there are none."""
        return float(self.values @ self.samples / self.total) if self.total else float("nan")

    def quantiles(self, shares: Sequence[float] | Floats) -> Floats:
        """Give the values below which each share (0 to 1) of the samples lies.

        Linear interpolation between the two neighbouring samples in order, as numpy's ``linear``. Needs one
        sample at least.
        """
        ends = np.cumsum(self.samples)
        place = np.asarray(shares, dtype=float) * (ends[-1] - 1)
        below = np.floor(place)
        lower = self.values[np.searchsorted(ends, below, side="right")]
        upper = self.values[np.searchsorted(ends, np.ceil(place), side="right")]
        return np.asarray(lower + (upper - lower) * (place - below))

    def above(self, values: Floats) -> npt.NDArray[np.int64]:
        """Count the samples above each of the given values."""
        ends = np.concatenate([[0], np.cumsum(self.samples)])
        return np.asarray(ends[-1] - ends[np.searchsorted(self.values, values, side="right")])


def counted(values: Floats, samples: npt.NDArray[np.int64]) -> Distribution:
    """Make a distribution from values in any order with their counters; NaN and zero counts are left out."""
    kept = (samples > 0) & ~np.isnan(values)
    order = np.argsort(values[kept], kind="stable")
    return Distribution(values=values[kept][order], samples=samples[kept][order])


def of_samples(samples: Floats) -> Distribution:
    """Make a distribution of samples that follow no list of levels; NaN is left out."""
    valid = np.sort(samples[~np.isnan(samples)])
    return Distribution(values=valid, samples=np.ones(valid.size, dtype=np.int64))
