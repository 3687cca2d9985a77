"""Student, normal and chi-square critical values as the program uses them, against printed tables.

NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2 (Student, two-sided 95 %) and 1.3.6.7.4
(chi-square); entries from memory, each reproduced by scipy to the printed digit.
"""

from __future__ import annotations

import pytest

from analysis.change import poisson_limits, within_rides
from analysis.within_ride import Spread

HALF_A_DIGIT = 0.0005


@pytest.mark.parametrize(
    ("dof", "printed"),
    [
        (1, 12.706),
        (2, 4.303),
        (3, 3.182),
        (4, 2.776),
        (5, 2.571),
        (6, 2.447),
        (7, 2.365),
        (8, 2.306),
        (9, 2.262),
        (10, 2.228),
        (12, 2.179),
        (15, 2.131),
        (20, 2.086),
        (25, 2.060),
        (30, 2.042),
        (40, 2.021),
        (60, 2.000),
        (100, 1.984),
        (1e9, 1.960),
    ],
)
def test_student_interval(dof: float, printed: float) -> None:
    # The other side is known as good as exactly, so that one side's degrees of freedom are those of both.
    found = within_rides(0.0, [Spread(standard_error=1.0, dof=dof)], [Spread(standard_error=1e-9, dof=1e9)])
    assert found is not None
    assert found.ci95[1] == pytest.approx(printed, abs=HALF_A_DIGIT)


@pytest.mark.parametrize(
    ("count", "side", "printed"),
    # Limits of a count are half a chi-square: upper with 2 count + 2 degrees of freedom, lower with 2 count.
    [(4, 1, 20.483), (5, 0, 3.247)],
)
def test_chi_square_behind_the_limits_of_a_count(count: int, side: int, printed: float) -> None:
    assert 2 * poisson_limits(count)[side] == pytest.approx(printed, abs=HALF_A_DIGIT)
