"""Wheel rate with the preload-force term, and the fork against the vertical.

Formula after V. Cossalter, Motorcycle Dynamics, 2nd ed. (2006), chapters 5 and 6, from memory, not checked
against the text. The numbers are worked out for this example and checked as the second derivative of the
spring's energy; they are printed in no book.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.spring_statics import SpringEnd, linkage
from analysis.wheel_rate import force_at_wheel_n, rate_at, secant_n_mm, wheel_rate
from ingest.records import Leverage

# Spring compression y = 0.42 z + 1.1 z² (m), preload 10 mm, 90 N/mm, at z = 50 mm.
RATE_N_MM, PRELOAD_MM, AT_MM = 90.0, 10.0, 50.0


def stroke_mm(z_mm: float) -> float:
    return 0.42 * z_mm + 0.0011 * z_mm**2


def energy_n_mm(z_mm: float) -> float:
    return 0.5 * RATE_N_MM * (PRELOAD_MM + stroke_mm(z_mm)) ** 2


def test_progressive_linkage() -> None:
    ratio = 0.42 + 2 * 0.0011 * AT_MM
    force_n = RATE_N_MM * (PRELOAD_MM + stroke_mm(AT_MM))
    rate = wheel_rate(RATE_N_MM, force_n, ratio, 2 * 0.0011)
    assert rate.total_n_mm == pytest.approx(31.9635, rel=1e-9)
    assert rate.spring_term_n_mm == pytest.approx(25.281, rel=1e-9)  # what dropping the term would leave
    assert rate.preload_force_term_n_mm == pytest.approx(6.6825, rel=1e-9)


def test_it_is_the_second_derivative_of_the_energy() -> None:
    h = 0.01
    second = (energy_n_mm(AT_MM + h) - 2 * energy_n_mm(AT_MM) + energy_n_mm(AT_MM - h)) / h**2
    first = (energy_n_mm(AT_MM + h) - energy_n_mm(AT_MM - h)) / (2 * h)
    ratio = 0.42 + 2 * 0.0011 * AT_MM
    force_n = RATE_N_MM * (PRELOAD_MM + stroke_mm(AT_MM))
    assert wheel_rate(RATE_N_MM, force_n, ratio, 0.0022).total_n_mm == pytest.approx(second, rel=1e-6)
    assert force_at_wheel_n(force_n, ratio) == pytest.approx(first, rel=1e-8)


def test_constant_ratio_has_no_second_term() -> None:
    # 95 N/mm through a ratio of 0.4: 95 × 0.4² = 15.2 N/mm.
    rate = wheel_rate(95.0, 2000.0, 0.4, 0.0)
    assert rate.total_n_mm == pytest.approx(15.2, rel=1e-12)
    assert rate.preload_force_term_n_mm == 0.0


@pytest.mark.parametrize("rows", [9, 23])
def test_a_leverage_table_of_the_same_linkage_gives_the_same(rows: int) -> None:
    table = tuple((float(z), stroke_mm(float(z))) for z in np.linspace(0, 220, rows))
    end = SpringEnd(
        travel_mm=220.0,
        rate_n_mm=RATE_N_MM,
        preload_mm=PRELOAD_MM,
        linkage=linkage(Leverage(table=table)),
    )
    assert rate_at(end, AT_MM).spring_term_n_mm == pytest.approx(25.281, rel=0.01)
    assert rate_at(end, AT_MM).total_n_mm == pytest.approx(31.9635, rel=0.02)
    # The energy's slope at both ends of a secant, over the way between them.
    slopes = [RATE_N_MM * (PRELOAD_MM + stroke_mm(z)) * (0.42 + 0.0022 * z) for z in (20.0, 70.0)]
    assert secant_n_mm(end, 20.0, 70.0) == pytest.approx((slopes[1] - slopes[0]) / 50.0, rel=0.005)


def test_fork_against_the_vertical() -> None:
    """Two springs of 9 N/mm at 26° rake: 22.2819 N/mm of vertical load per mm of vertical travel."""
    fork = SpringEnd(travel_mm=230.0, rate_n_mm=18.0, preload_mm=10.0)
    cosine = math.cos(math.radians(26.0))
    along = rate_at(fork, 60.0).total_n_mm
    assert along == pytest.approx(18.0)
    assert along / cosine**2 == pytest.approx(22.281895403, rel=1e-9)
    # The same by loads: 100 N more are 100 cos along the fork, whose stroke takes the frame cos as far down.
    down_mm = (100.0 * cosine / along) * cosine
    assert 100.0 / down_mm == pytest.approx(along / cosine**2, rel=1e-12)
