"""A four-bar position against textbook values, Freudenstein's equation, and a solver.

R. L. Norton, Design of Machinery, chapter 4, worked example (ground 100, crank 40, coupler 120, rocker 80,
crank at 40°): open linkage with the rocker at 57.33° and the coupler at 20.30°, crossed at −98.01° and
−60.98°; values from memory, not checked against the text. F. Freudenstein, Approximate synthesis of four-bar
linkages, Trans. ASME 77 (1955) 853–861: K1 cos θ4 − K2 cos θ2 + K3 = cos(θ2 − θ4), formula from memory.
"""

from __future__ import annotations

import cmath
import math

import pytest
from scipy.optimize import fsolve

from analysis.four_bar import RearLinkage, position

GROUND, CRANK, COUPLER, ROCKER = 100.0, 40.0, 120.0, 80.0


def textbook(rocker_deg: float) -> RearLinkage:
    """The textbook linkage as a rear: crank = swingarm with its plate end, coupler = plates."""
    end = cmath.rect(CRANK, math.radians(40.0))
    hole = GROUND + cmath.rect(ROCKER, math.radians(rocker_deg))
    return RearLinkage(
        swingarm_pivot_mm=(0.0, 0.0),
        axle_mm=(-500.0, -100.0),
        rocker_pivot_mm=(GROUND, 0.0),
        rocker_plate_mm=(hole.real, hole.imag),
        rocker_shock_mm=(GROUND - 50.0, 40.0),
        plate_end_mm=(end.real, end.imag),
        shock_mount_mm=(60.0, 400.0),
    )


def angles(linkage: RearLinkage, turn_rad: float) -> tuple[float, float]:
    """Rocker and coupler angle, degrees."""
    now = position(linkage, turn_rad)
    hole, end = complex(*now.rocker_plate_mm), complex(*now.plate_end_mm)
    return math.degrees(cmath.phase(hole - GROUND)), math.degrees(cmath.phase(hole - end))


@pytest.mark.parametrize(("rocker_deg", "coupler_deg"), [(57.33, 20.30), (-98.01, -60.98)])
def test_textbook_position(rocker_deg: float, coupler_deg: float) -> None:
    # Taken to 60° and measured again there, so that the code has to solve the way back to 40°.
    start = textbook(rocker_deg)
    assert abs(complex(*start.rocker_plate_mm) - complex(*start.plate_end_mm)) == pytest.approx(
        COUPLER, abs=0.01
    )
    moved = position(start, math.radians(-20.0))
    there = RearLinkage(
        swingarm_pivot_mm=(0.0, 0.0),
        axle_mm=moved.axle_mm,
        rocker_pivot_mm=(GROUND, 0.0),
        rocker_plate_mm=moved.rocker_plate_mm,
        rocker_shock_mm=moved.rocker_shock_mm,
        plate_end_mm=moved.plate_end_mm,
        shock_mount_mm=(60.0, 400.0),
    )
    found = angles(there, math.radians(20.0))
    assert found == pytest.approx((rocker_deg, coupler_deg), abs=0.01)


@pytest.mark.parametrize("rocker_deg", [57.33, -98.01])
@pytest.mark.parametrize("turn_deg", [-40.0, -15.0, 0.0, 12.0, 30.0])
def test_freudenstein(rocker_deg: float, turn_deg: float) -> None:
    linkage = textbook(rocker_deg)
    coupler = abs(complex(*linkage.rocker_plate_mm) - complex(*linkage.plate_end_mm))
    k1, k2 = GROUND / CRANK, GROUND / ROCKER
    k3 = (CRANK**2 - coupler**2 + ROCKER**2 + GROUND**2) / (2 * CRANK * ROCKER)
    crank = math.radians(40.0 - turn_deg)  # the swingarm turns clockwise as its axle goes up
    rocker = math.radians(angles(linkage, math.radians(turn_deg))[0])
    assert k1 * math.cos(rocker) - k2 * math.cos(crank) + k3 == pytest.approx(
        math.cos(crank - rocker), abs=1e-12
    )


def test_against_a_solver() -> None:
    linkage = textbook(57.33)
    coupler = abs(complex(*linkage.rocker_plate_mm) - complex(*linkage.plate_end_mm))
    for turn_deg in (-30.0, 10.0, 35.0):
        crank = math.radians(40.0 - turn_deg)

        def open_by(unknown: list[float], crank: float = crank) -> list[float]:
            loop = (
                cmath.rect(CRANK, crank)
                + cmath.rect(coupler, unknown[0])
                - GROUND
                - cmath.rect(ROCKER, unknown[1])
            )
            return [loop.real, loop.imag]

        solved = fsolve(open_by, [math.radians(20.0), math.radians(57.0)], xtol=1e-13)
        rocker_deg, coupler_deg = angles(linkage, math.radians(turn_deg))
        assert math.degrees(solved[1]) == pytest.approx(rocker_deg, abs=1e-8)
        assert math.degrees(solved[0]) == pytest.approx(coupler_deg, abs=1e-8)
