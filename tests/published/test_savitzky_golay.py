"""The differentiator's coefficients against the tables of Savitzky and Golay.

Source: A. Savitzky and M. J. E. Golay, Anal. Chem. 36 (1964) 1627-1639, tables of convolution integers, with
the corrections of Steinier, Termonia and Deltour, Anal. Chem. 44 (1972) 1906-1909. Values from memory, and
all of them reproduced with `scipy.signal.savgol_coeffs`.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import savgol_coeffs

from analysis.speed import response, slope_coefficients

TABLES = [
    (5, 2, [-2, -1, 0, 1, 2], 10),
    (7, 2, [-3, -2, -1, 0, 1, 2, 3], 28),
    (9, 2, [-4, -3, -2, -1, 0, 1, 2, 3, 4], 60),
    (5, 4, [1, -8, 0, 8, -1], 12),
    (7, 4, [22, -67, -58, 0, 58, 67, -22], 252),
    (9, 4, [86, -142, -193, -126, 0, 126, 193, 142, -86], 1188),
]


@pytest.mark.parametrize(("window", "degree", "integers", "norm"), TABLES)
def test_tabulated_integers(window: int, degree: int, integers: list[int], norm: int) -> None:
    ours = slope_coefficients(window, degree, 1.0) * norm
    np.testing.assert_allclose(ours, integers, atol=1e-9)


@pytest.mark.parametrize("window", [11, 17, 21, 41])
def test_longer_windows_against_scipy(window: int) -> None:
    theirs = savgol_coeffs(window, 4, deriv=1, delta=0.001, use="dot")
    np.testing.assert_allclose(slope_coefficients(window, 4, 0.001), theirs, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize(("window", "gain"), [(5, 0.31622776601683794), (21, 0.03603749850782236)])
def test_noise_gain_of_the_parabola(window: int, gain: float) -> None:
    """sd(speed) = gain × sd(travel) / dt, closed form sqrt(12 / (n (n² − 1)))."""
    c = slope_coefficients(window, 2, 1.0)
    assert np.sqrt(c @ c) == pytest.approx(gain, rel=1e-12)


def test_response_of_the_nine_point_parabola_to_a_slow_sine() -> None:
    """5 Hz at 1 kHz: amplitude ratio 0.9980603004813136, closed form."""
    gain = response(slope_coefficients(9, 2, 0.001), 0.001, np.array([5.0]))
    assert gain[0] == pytest.approx(0.9980603004813136, rel=1e-9)
