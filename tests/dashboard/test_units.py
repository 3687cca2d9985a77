"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest

from analysis.results import Quantity
from dashboard import units as show
from dashboard.units import Units


def q(value: float, uncertainty: float) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=uncertainty, coverage_factor=2.0)


def test_minus_is_a_true_minus_and_zero_has_none() -> None:
    assert show.number(-1.25, 2) == "−1.25"
    assert show.number(-0.04) == "0.0"
    assert show.number(0.04, sign=True) == "0.0"


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_no_number_is_a_dash(value: float | None) -> None:
    assert show.number(value) == "–"
    assert show.length(value) == "–"


def test_sag_shows_tenths_while_they_mean_something() -> None:
    assert show.quantity(q(47.04, 2.13)) == "47.0 ± 2.1"
    assert show.quantity(q(47.04, 4.99)) == "47.0 ± 5.0"
    assert show.quantity(q(47.04, 5.0)) == "47 ± 5"
    assert show.quantity(q(47.04, math.inf)) == "47 ± ?"
    assert show.quantity(None) == "–"


# NIST SP 811 (2008), appendix B.8: 1 in = 25.4 mm exactly, 1 lb = 0.453 592 37 kg exactly,
# 1 lbf/in = 175.1268 N/m.
def test_inches_pounds_and_springs_agree_with_sp_811() -> None:
    assert show.length(254.0, Units.IN, 1) == "10.00 in"
    assert show.mass(45.359237, Units.IN, 3) == "100.000 lb"
    assert pytest.approx(0.1751268, abs=5e-8) == show.N_MM_PER_LB_IN
    assert show.spring_rate(17.51268, Units.IN) == "100 lb/in"


def test_speed_and_duration() -> None:
    assert show.speed(-254.4) == "−254 mm/s"
    assert show.speed(254.0, Units.IN) == "10.0 in/s"
    assert show.duration(59.6) == "1:00"
    assert show.interval((-1.0, 2.0)) == "−1.0 … +2.0"
    assert show.interval(None) == "–"
