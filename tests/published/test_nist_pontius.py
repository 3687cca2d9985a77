"""The calibration curve against the certified regression of NIST StRD, data set Pontius.

Source: National Institute of Standards and Technology, Statistical Reference Datasets (StRD), Linear Least
Squares Regression, data set Pontius (load cell calibration), certified values. Public domain. The residual
standard deviation was recalled; a refit with 60 digits gives every digit of it.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import fit_curve
from analysis.curve_choice import choose_curve

# Deflections at the loads 150 000, 300 000 … 3 000 000, twice, as in Pontius.dat.
DEFLECTION = """
0.11019 0.21956 0.32949 0.43899 0.54803 0.65694 0.76562 0.87487 0.98292 1.09146
1.20001 1.30822 1.41599 1.52399 1.63194 1.73947 1.84646 1.95392 2.06128 2.16844
0.11052 0.22018 0.32939 0.43886 0.54798 0.65739 0.76596 0.87474 0.98300 1.09150
1.20004 1.30818 1.41613 1.52408 1.63159 1.73965 1.84696 1.95445 2.06177 2.16829
"""
LOAD = np.tile(np.arange(1, 21) * 150_000.0, 2)


@pytest.fixture
def deflection() -> np.ndarray:
    return np.array(DEFLECTION.split(), dtype=float)


def test_curve_fit_agrees_with_the_certified_values(deflection: np.ndarray) -> None:
    curve = fit_curve(LOAD, deflection, 2)
    powers, errors = curve.plain_powers()
    # Certified to 15 digits. Double precision gives 11 of the constant (small against the readings), 13 of
    # the rest.
    assert powers[0] == pytest.approx(0.673565789473684e-03, rel=1e-11)
    assert powers[1] == pytest.approx(0.732059160401003e-06, rel=1e-13)
    assert powers[2] == pytest.approx(-0.316081871345029e-14, rel=1e-12)
    assert errors is not None
    assert errors == pytest.approx(
        [0.107938612033077e-03, 0.157817399981659e-09, 0.486652849992036e-16], rel=1e-12
    )
    assert curve.residual_sd == pytest.approx(0.205177424076185e-03, rel=1e-12)
    assert curve.residuals @ curve.residuals == pytest.approx(0.155761768796992e-05, rel=1e-12)
    assert curve.dof == 37


def test_the_bend_of_the_load_cell_is_found_and_no_more(deflection: np.ndarray) -> None:
    """NIST gives a quadratic: so does the choice, though it is 1 part in 1000 of the range."""
    means = deflection.reshape(2, 20).mean(axis=0)
    # In scaled units, so that one "count" is small against the bend, as the choice wants to see it matter.
    assert choose_curve(LOAD[:20], means).curve == "quadratic"
