"""Rate of a helical compression spring against a handbook and a worksheet.

R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design (8th to 10th ed.), Example 10-1,
printed values from memory, not checked against the text; and a spring worksheet by D. Kirk, after that book.
"""

from __future__ import annotations

import pytest

from analysis.helical_spring import helical_rate_n_mm, helical_spring
from ingest.errors import UsageError

N_PER_LBF = 0.45359237 * 9.80665  # exact
MM_PER_INCH = 25.4  # exact
N_MM_PER_LBF_IN = N_PER_LBF / MM_PER_INCH
GPA_PER_PSI = N_PER_LBF / MM_PER_INCH**2 / 1000


def test_shigley_example_10_1() -> None:
    """Music wire 0.037 in, mean diameter 0.4 in, 10.5 active coils, G = 11.85 Mpsi: 4.13 lbf/in."""
    rate = helical_rate_n_mm(0.037 * MM_PER_INCH, 0.4 * MM_PER_INCH, 10.5, 11.85e6 * GPA_PER_PSI)
    assert rate / N_MM_PER_LBF_IN == pytest.approx(4.13, abs=0.005)  # printed
    assert rate / N_MM_PER_LBF_IN == pytest.approx(4.131102650669641, rel=1e-9)  # arithmetic
    # Deflection under 6.46 lbf: printed 1.56 in.
    assert 6.46 * N_PER_LBF / rate / MM_PER_INCH == pytest.approx(1.56, abs=0.005)
    found = helical_spring(0.037 * MM_PER_INCH, 0.4 * MM_PER_INCH, 10.5)
    assert found.index == pytest.approx(10.8, abs=0.05)  # printed
    assert found.solid_length_mm / MM_PER_INCH == pytest.approx(0.5, abs=0.0006)  # printed: 0.500 in


def test_worksheet() -> None:
    """Wire 2.5 mm, mean 22.25 mm, 16 active coils, G = 79.3 GPa: 2197 N/m; 45.3 N at 20.62 mm."""
    rate = helical_rate_n_mm(2.5, 22.25, 16.0, 79.3)
    assert 1000 * rate == pytest.approx(2197, abs=0.5)
    assert 20.62 * rate == pytest.approx(45.3, abs=0.05)


def test_one_percent_of_wire_is_four_of_rate() -> None:
    assert helical_rate_n_mm(2.525, 22.25, 16.0, 79.3) / helical_rate_n_mm(
        2.5, 22.25, 16.0, 79.3
    ) - 1 == pytest.approx(0.0406, abs=1e-5)


def test_the_doubt_covers_both_books() -> None:
    """The same chrome-silicon wire is 77.2 GPa in one book and 79.5 in the other."""
    rate = helical_spring(12.0, 75.0, 6.0).rate_n_mm
    for modulus in (77.2, 79.5, 81.5):
        assert abs(helical_rate_n_mm(12.0, 75.0, 6.0, modulus) - rate.value) < rate.expanded_uncertainty


@pytest.mark.parametrize("measures", [(12.0, 20.0, 6.0), (12.0, 75.0, 0.5), (0.0, 75.0, 6.0)])
def test_no_such_spring(measures: tuple[float, float, float]) -> None:
    with pytest.raises(UsageError, match="the coil is over twice as wide as the wire"):
        helical_spring(*measures)
