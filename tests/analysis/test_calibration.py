from __future__ import annotations

import numpy as np
import pytest

from analysis.calibration import Span, fit_line
from ingest.errors import CannotAnswer


def test_two_points_give_the_line_through_them_and_no_doubt() -> None:
    line = fit_line([102, 921], [0, 230])
    assert line.mm(np.array([102.0, 921.0, 511.5])) == pytest.approx([0, 230, 115])
    assert (line.residual_sd, line.covariance, line.slope_se, line.intercept_se) == (None, None, None, None)
    assert (line.dof, line.points) == (0, 2)
    assert line.r_squared == pytest.approx(1.0)


def test_falling_sensor_keeps_its_sign() -> None:
    line = fit_line([900, 100], [0, 200])
    assert line.slope == pytest.approx(-0.25)
    assert (line.span.low, line.span.high) == (100, 900)


def test_covariance_matches_the_matrix_formula() -> None:
    x = np.array([100.0, 300.0, 500.0, 700.0, 900.0])
    y = np.array([0.3, 50.1, 99.2, 150.6, 199.9])
    line = fit_line(x, y)
    design = np.column_stack([np.ones(5), x])
    beta, rss, *_ = np.linalg.lstsq(design, y, rcond=None)
    expected = np.linalg.inv(design.T @ design) * rss[0] / 3
    assert (line.intercept, line.slope) == pytest.approx(tuple(beta))
    np.testing.assert_allclose(line.covariance, expected, rtol=1e-9)


@pytest.mark.parametrize(
    ("counts", "mm", "words"),
    [
        ([500], [10], r"1 point\(s\): two or more are needed"),
        ([], [], r"0 point\(s\)"),
        ([500, 500], [0, 10], "two positions or more"),
        ([400, 500], [10, 10], "two positions or more"),
    ],
)
def test_points_that_make_no_line_are_refused(counts: list[float], mm: list[float], words: str) -> None:
    with pytest.raises(CannotAnswer, match=words):
        fit_line(counts, mm)


def test_end_slope_carries_on_for_five_percent_only() -> None:
    span = Span(low=100, high=900)
    readings = np.array([59.9, 60.1, 95.9, 96.1, 500, 903.9, 904.1, 939.9, 940.1])
    assert span.outside(readings).tolist() == [True, False, False, False, False, False, False, False, True]
    assert span.carried(readings).tolist() == [False, True, True, False, False, False, True, True, False]
