"""The calibration line against the certified regression of NIST StRD, data set Norris.

Source: National Institute of Standards and Technology, Statistical Reference Datasets (StRD), Linear Least
Squares Regression, data set Norris (Calibration of Ozone Monitors), certified values. Public domain.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.calibration import fit_line

# y, x as printed in Norris.dat.
NORRIS = """
0.1 0.2  338.8 337.4  118.1 118.2  888.0 884.6  9.2 10.1  228.1 226.5  668.5 666.3  998.5 996.3  449.1 448.6
778.9 777.0  559.2 558.2  0.3 0.4  0.1 0.6  778.1 775.5  668.8 666.9  339.3 338.0  448.9 447.5  10.8 11.6
557.7 556.0  228.3 228.1  998.0 995.8  888.8 887.6  119.6 120.2  0.3 0.3  0.6 0.3  557.6 556.8  339.3 339.1
888.0 887.2  998.5 999.0  778.9 779.0  10.2 11.1  117.6 118.3  228.9 229.2  668.4 669.1  449.2 448.9  0.2 0.5
"""


def test_line_fit_agrees_with_the_certified_values() -> None:
    y, x = np.array(NORRIS.split(), dtype=float).reshape(36, 2).T
    line = fit_line(x, y)
    # Certified to 15 digits; what double precision gives is 12 or more of them.
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.intercept_se == pytest.approx(0.232818234301152, rel=1e-12)
    assert line.slope_se == pytest.approx(0.429796848199937e-03, rel=1e-12)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-12)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-13)
    assert line.dof == 34
    assert line.residual_sd is not None
    assert line.residual_sd**2 * line.dof == pytest.approx(26.6173985294224, rel=1e-12)


def test_readings_far_from_zero_lose_no_digits() -> None:
    """The same data moved by a million counts: the slope and its error must stay what they are."""
    y, x = np.array(NORRIS.split(), dtype=float).reshape(36, 2).T
    line = fit_line(x + 1e6, y)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert line.slope_se == pytest.approx(0.429796848199937e-03, rel=1e-9)
