"""Lean of a steady turn, tan(lean) = v² / (g r), and the extra lean of wide tyres.

R. A. Serway and J. W. Jewett, Physics for Scientists and Engineers, "The banked roadway": 13.4 m/s on a
radius of 35.0 m asks for 27.6°; values from memory, not checked against the text. A bike that leans is the
same statics as a road that is banked. The extra lean: V. Cossalter, Motorcycle Dynamics, 2nd ed. (2006),
chapter 4, formula from memory, not checked against the text, here against the balance it comes from.
"""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from analysis.cornering import lean_in_turn


def test_the_banked_roadway() -> None:
    assert lean_in_turn(13.4, 35.0).ideal_deg == pytest.approx(27.6, abs=0.05)  # printed


def test_forty_five_degrees_is_one_g() -> None:
    assert lean_in_turn(math.sqrt(9.80665 * 50.0), 50.0).ideal_deg == pytest.approx(45.0)


@pytest.mark.parametrize("crown_mm", [0.0, 60.0, 95.0])
@pytest.mark.parametrize("speed_m_s", [5.0, 12.0, 18.0])
def test_the_line_from_contact_to_mass_has_the_ideal_lean(crown_mm: float, speed_m_s: float) -> None:
    """Seen from behind, the mass sits h − c from the middle of the tread's round, c above the contact."""
    height = 640.0
    found = lean_in_turn(speed_m_s, 40.0, crown_mm=crown_mm, mass_height_mm=height)

    def off_balance(lean: float) -> float:
        out = (height - crown_mm) * math.sin(lean)
        up = crown_mm + (height - crown_mm) * math.cos(lean)
        return out / up - speed_m_s**2 / (9.80665 * 40.0)

    assert found.with_tyres_deg == pytest.approx(math.degrees(brentq(off_balance, 0.0, 1.3)), abs=1e-6)


def test_a_thin_tyre_leans_as_the_forces_do() -> None:
    found = lean_in_turn(15.0, 30.0, crown_mm=0.0, mass_height_mm=640.0)
    assert found.with_tyres_deg == found.ideal_deg
