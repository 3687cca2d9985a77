"""Monte Carlo against JCGM 101:2008, Supplement 1 to the GUM, BIPM/JCGM: 9.2, the additive model.

Y = X1 + X2 + X3 + X4; printed results of 9.2.2 to 9.2.4, Tables 2 to 4. They are from memory, not checked
against the text, but agree with the exact quantiles of a sum of rectangular variables: 3.879407 and 17.0158.
"""

from __future__ import annotations

import pytest

from analysis.gum import Contribution
from analysis.monte_carlo import Cause, Shape, cause_of, propagate

DRAWS = 1_000_000


def found(shape: Shape, *scales: float, seed: int = 1) -> tuple[float, float, float]:
    result = propagate(0.0, [Cause(shape=shape, scale=scale) for scale in scales], DRAWS, seed)
    assert result.standard_uncertainty_mm is not None
    return result.mean_mm, result.standard_uncertainty_mm, result.half_width_mm


def test_four_normal_inputs() -> None:
    mean, u, half = found(Shape.NORMAL, 1, 1, 1, 1)
    assert mean == pytest.approx(0.0, abs=0.01)
    assert u == pytest.approx(2.0, abs=0.005)
    assert half == pytest.approx(3.92, abs=0.02)


def test_four_rectangular_inputs() -> None:
    _, u, half = found(Shape.RECTANGULAR, 1, 1, 1, 1)
    assert u == pytest.approx(2.0, abs=0.005)
    assert half == pytest.approx(3.88, abs=0.02)  # the exact value is 3.8794


def test_one_dominant_rectangle_is_where_the_formula_is_too_wide() -> None:
    _, u, half = found(Shape.RECTANGULAR, 1, 1, 1, 10)
    assert u == pytest.approx(10.149, abs=0.02)  # √103; printed as 10.1
    assert half == pytest.approx(17.0, abs=0.06)
    assert 1.96 * u == pytest.approx(19.9, abs=0.06)  # what the GUM's own formula gives


def test_seen_scatter_is_drawn_from_students_t() -> None:
    # Table G.2 of JCGM 100: t for 95 in 100 at 10 degrees of freedom is 2.23.
    seen = Contribution(cause="repeatability", standard_uncertainty_mm=1.0, dof=10.0, basis="test")
    assert propagate(0.0, [cause_of(seen)], DRAWS).half_width_mm == pytest.approx(2.228, abs=0.02)


def test_too_few_degrees_of_freedom_have_an_interval_but_no_standard_deviation() -> None:
    result = propagate(5.0, [Cause(shape=Shape.STUDENT, scale=1.0, dof=1.0)], DRAWS)
    assert result.standard_uncertainty_mm is None
    assert result.half_width_mm == pytest.approx(12.71, abs=0.3)  # Table G.2: 12.71
    assert result.mean_mm == pytest.approx(5.0, abs=0.02)
