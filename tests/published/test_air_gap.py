"""The air above the fork oil: p Vⁿ = constant, against a thermodynamics textbook and a fork worked out apart.

M. J. Moran and H. N. Shapiro, Fundamentals of Engineering Thermodynamics, Example 2.1: a gas at 3 bar expands
from 0.1 to 0.2 m³; work for n = 1.5, 1 and 0 printed as 17.6, 20.79 and 30 kJ, end pressure for n = 1.5 as
1.06 bar; printed values from memory, not checked against the text. The fork: 43 mm inside, 140 mm of air at
outside pressure topped out, pressed together by 110 mm; the numbers come from quadrature and differences.
"""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from analysis.spring_statics import ATMOSPHERE_N_MM2, Air

BAR_M3_IN_KJ = 100.0


def pressure_ratio(exponent: float, volume_ratio: float) -> float:
    """Pressure over that of the start, from a column of air let out to so many times its volume."""
    air = Air(area_mm2=1.0, column_mm=100.0, exponent=exponent)
    return 1.0 + air.force_n(100.0 * (1.0 - volume_ratio)) / ATMOSPHERE_N_MM2


@pytest.mark.parametrize(
    ("exponent", "printed_kj", "last_digit"), [(1.5, 17.6, 0.05), (1.0, 20.79, 0.005), (0.0, 30.0, 0.5)]
)
def test_work_of_the_expansion(exponent: float, printed_kj: float, last_digit: float) -> None:
    work = 3.0 * quad(lambda volume: pressure_ratio(exponent, volume / 0.1), 0.1, 0.2)[0] * BAR_M3_IN_KJ
    assert work == pytest.approx(printed_kj, abs=last_digit)


def test_pressure_at_the_end() -> None:
    assert 3.0 * pressure_ratio(1.5, 2.0) == pytest.approx(1.06, abs=0.005)


@pytest.mark.parametrize(
    ("exponent", "force_n", "rate_n_mm"),
    [
        (1.0, 539.5290523613817, 22.889111312301025),  # slow: isothermal
        (1.4, 1124.4626787576815, 59.341658402382076),  # fast: adiabatic
    ],
)
def test_fork_pressed_together_by_110_mm(exponent: float, force_n: float, rate_n_mm: float) -> None:
    air = Air(area_mm2=math.pi / 4 * 43.0**2, column_mm=140.0, exponent=exponent)
    assert air.force_n(110.0) == pytest.approx(force_n, rel=1e-9)
    assert air.rate_n_mm(110.0) == pytest.approx(rate_n_mm, rel=1e-6)
