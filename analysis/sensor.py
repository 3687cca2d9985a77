"""What a potentiometer and its converter do to a position: loading, grain, departure from straight."""

from __future__ import annotations

import math

import numpy as np

from analysis.calibration import Floats
from ingest.errors import CannotAnswer

LINEARITY_SHARE = 0.003
"""Departure of a potentiometer from a straight line, share of its calibrated range, half width.

Between 0.05 and 0.5 %, common practice, no source. Needed only where the points taken cannot show it.
"""


def loaded_ratio(position: Floats | float, pot_ohm: float, input_ohm: float) -> Floats:
    """Give the share of the supply a loaded potentiometer shows at a position between 0 and 1.

    ``position / (1 + k·position·(1 − position))`` with ``k = pot_ohm / input_ohm``: Thévenin of the divider
    (E. O. Doebelin, "Measurement Systems", resistive potentiometers, loading error).

    >>> round(float(loaded_ratio(0.6, 5_000, 100_000)), 6)
    0.592885
    """
    if not (pot_ohm > 0 and input_ohm > 0):
        raise CannotAnswer(f"resistances {pot_ohm:g} and {input_ohm:g} ohm: both have to be above 0")
    x = np.asarray(position, dtype=float)
    return np.asarray(x / (1 + pot_ohm / input_ohm * x * (1 - x)))


def loading_error_mm(
    position_mm: Floats | float, stroke_mm: float, pot_ohm: float, input_ohm: float
) -> Floats:
    """Give by how many mm a loaded potentiometer reads short at a position of its stroke.

    The largest error is about ``4/27 · stroke · pot_ohm / input_ohm``, at two thirds of the stroke.

    >>> round(float(loading_error_mm(100.0, 150.0, 5_000, 100_000)), 2)
    1.1
    """
    share = np.asarray(position_mm, dtype=float) / stroke_mm
    return np.asarray((share - loaded_ratio(share, pot_ohm, input_ohm)) * stroke_mm)


def count_mm(range_mm: float, bits: int) -> float:
    """Give what one count is worth where the whole range of the converter covers ``range_mm``.

    >>> count_mm(300.0, 10)
    0.29296875
    """
    return float(range_mm / 2**bits)


def quantisation_noise_mm(range_mm: float, bits: int) -> float:
    """Give the standard deviation of rounding to whole counts, mm: a count over √12.

    W. R. Bennett, "Spectra of quantized signals", Bell Syst. Tech. J. 27, 1948.

    >>> round(quantisation_noise_mm(300.0, 10), 4)
    0.0846
    """
    return count_mm(range_mm, bits) / math.sqrt(12.0)


def effective_bits(noise_counts: float, bits: int) -> float:
    """Give the bits that are left of a converter whose readings scatter by ``noise_counts`` (sd) at rest.

    ENOB of IEEE Std 1241 for a full-scale sine: (SINAD − 1.76 dB) / 6.02 dB, written out; rounding counts
    along with the noise.

    >>> round(effective_bits(0.0, 10), 6), round(effective_bits(1.0, 10), 2)
    (10.0, 8.15)
    """
    return bits - 0.5 * math.log2(1.0 + 12.0 * noise_counts**2)
