"""The tail fit against daily rainfall in south-west England, 1914 to 1962, over 30 mm.

S. Coles, An Introduction to Statistical Modeling of Extreme Values, Springer 2001, section 4.4.1: 152 of
17531 days; scale 7.44 (standard error 0.959), shape 0.184 (0.101), log-likelihood -485.1, 100-year return
level 106.3 mm, 95 % interval of the shape -0.014 to 0.383 (printed figures from memory; other programs find
all of them in the data). The profile interval of the return level was derived with SciPy from the same data:
80.9 to 185.0 mm. The data are those of the R package ismev, data set rain.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.pareto_tail import Excesses, excess_interval, fit_tail

DAYS, THRESHOLD_MM = 17531, 30.0
OF_100_YEARS = DAYS / (100 * 365)

# fmt: off
RAIN_TENTHS_MM = (
    318, 325, 318, 445, 305, 432, 356, 381, 320, 318, 330, 391, 305, 318, 323, 330, 305, 325, 485,
    353, 406, 305, 343, 328, 305, 457, 318, 335, 335, 318, 348, 353, 378, 767, 323, 340, 338, 366,
    305, 457, 866, 356, 478, 475, 343, 485, 307, 434, 594, 351, 533, 335, 305, 302, 409, 427, 833,
    549, 592, 318, 373, 325, 340, 673, 312, 302, 361, 368, 384, 310, 333, 470, 320, 330, 381, 305,
    724, 343, 371, 330, 409, 399, 470, 363, 305, 305, 559, 318, 513, 853, 419, 305, 330, 356, 559,
    442, 381, 343, 318, 320, 318, 356, 452, 305, 394, 302, 445, 318, 338, 516, 353, 594, 335, 353,
    305, 368, 478, 429, 376, 554, 353, 424, 330, 330, 401, 348, 381, 394, 340, 356, 343, 335, 310,
    366, 363, 384, 381, 470, 310, 305, 312, 356, 488, 419, 317, 312, 513, 335, 376, 394, 394, 457,
)
# fmt: on


@pytest.fixture
def excesses() -> Excesses:
    return Excesses(below=np.array(RAIN_TENTHS_MM) / 10 - THRESHOLD_MM)


def test_scale_shape_and_their_errors(excesses: Excesses) -> None:
    fitted = fit_tail(excesses)
    assert excesses.count == 152
    assert fitted.scale == pytest.approx(7.44, abs=0.005)
    assert fitted.shape == pytest.approx(0.184, abs=0.0006)
    assert fitted.log_likelihood == pytest.approx(-485.1, abs=0.05)
    assert np.sqrt(np.diag(fitted.covariance)) == pytest.approx([0.959, 0.101], abs=0.0006)
    assert fitted.covariance[0, 1] == pytest.approx(-0.0655, abs=0.0003)
    half = 1.96 * np.sqrt(fitted.covariance[1, 1])
    assert (fitted.shape - half, fitted.shape + half) == pytest.approx((-0.014, 0.383), abs=0.001)


def test_the_rain_of_a_hundred_years(excesses: Excesses) -> None:
    # Once in 100 years of 365 days: that share of the days over 30 mm.
    share = OF_100_YEARS / excesses.count
    assert THRESHOLD_MM + fit_tail(excesses).excess_of(share) == pytest.approx(106.3, abs=0.2)
    low, high = excess_interval(excesses, share)
    assert THRESHOLD_MM + low == pytest.approx(80.86, abs=0.09)
    assert THRESHOLD_MM + high == pytest.approx(184.99, abs=0.2)
