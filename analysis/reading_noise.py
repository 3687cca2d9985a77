"""How much a sensor's reading trembles by itself, from a ride on which the wheel never stands still.

Sixth differences: a wheel's motion is smooth over seven samples and all but vanishes in them, white noise
does not. With weights 1, -6, 15, -20, 15, -6, 1 the variance of the noise comes out 924 times as large. The
middle over short looks spread over the log leaves blows and faults aside.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Values = npt.NDArray[np.generic]

ORDER = 6
VARIANCE_GAIN = 924.0
LOOK = 64
LOOKS = 400
ROUNDING = 12**-0.5
"""Standard deviation of what rounding to whole steps adds, in steps."""


def reading_noise(stretches: Sequence[Values], step: float) -> float:
    """Give the standard deviation of the noise of a reading, in its own unit.

    Parameters
    ----------
    stretches : sequence of ndarray, shape (n,) each
        Readings at uniform intervals, 200 a second or more, not joined across gaps.
    step : float
        The step the reading is rounded to (1 for counts), 0 where it is not.

    Returns
    -------
    float
        Rounding included, and never less than rounding alone.
    """
    total = sum(values.size for values in stretches)
    apart = max(LOOK + ORDER, total // LOOKS)
    looks = [
        values[first : first + LOOK + ORDER]
        for values in stretches
        for first in range(0, values.size - LOOK - ORDER + 1, apart)
    ]
    if not looks:
        return step * ROUNDING
    differences = np.diff(np.array(looks, dtype=float), ORDER, axis=1)
    spreads = np.sqrt((differences**2).mean(axis=1) / VARIANCE_GAIN)
    known = spreads[np.isfinite(spreads)]
    return max(step * ROUNDING, float(np.median(known)) if known.size else 0.0)
