"""Type A and type B evaluation and the combined uncertainty, against the GUM.

JCGM 100:2008, Evaluation of measurement data - Guide to the expression of uncertainty in measurement,
BIPM/JCGM: 4.4.3 with Table 1 (twenty temperature readings), 4.4.5 (rectangular), G.4 and Table G.2.
The readings and printed results are from memory, not checked against the text; they agree with each other.
"""

from __future__ import annotations

import math

import pytest

from analysis.gum import Contribution, combined, rectangular, type_a, with_uncertainty

READINGS_DEG_C = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


def test_twenty_readings() -> None:
    found = type_a(READINGS_DEG_C)
    assert found.mean == pytest.approx(100.145, abs=0.0005)
    assert found.sd == pytest.approx(1.489, abs=0.0005)
    assert found.sd_of_mean == pytest.approx(0.333, abs=0.0005)
    assert found.dof == 19


def test_rectangular_of_half_width_four() -> None:
    assert rectangular(4.0) == pytest.approx(2.3, abs=0.05)


def part(u: float, dof: float) -> Contribution:
    return Contribution(cause="test", standard_uncertainty_mm=u, dof=dof, basis="test")


def test_single_contribution_takes_students_t() -> None:
    # Table G.2: t for 95 in 100 is 2.09 at 19 degrees of freedom, 2.23 at 10, 1.96 without limit.
    assert with_uncertainty(0.0, [part(0.333, 19)]).coverage_factor == pytest.approx(2.09, abs=0.005)
    assert with_uncertainty(0.0, [part(1.0, 10)]).coverage_factor == pytest.approx(2.23, abs=0.005)
    assert with_uncertainty(0.0, [part(1.0, math.inf)]).coverage_factor == pytest.approx(1.96, abs=0.005)


def test_example_of_the_effective_degrees_of_freedom() -> None:
    # G.4.1, example: 0.25, 0.57, 0.82 % from 10, 5 and 15 observations: 1.03 %, 19 degrees of freedom.
    u, dof = combined([part(0.25, 9), part(0.57, 4), part(0.82, 14)])
    assert u == pytest.approx(1.03, abs=0.005)
    assert dof == pytest.approx(19.0, abs=0.05)
