"""Change of attitude, fork rate and side stand against numbers derived for this check.

Formulas of V. Cossalter, Motorcycle Dynamics, 2nd ed. (2006), chapters 1, 5 and 6, and T. Foale, Motorcycle
Handling and Chassis Design, 2nd ed. (2006), from memory, not checked against the text; no worked example of
either book could be had. The numbers come from an independent vector construction and a numerical solver,
and from a stand drawn and solved by itself.
"""

from __future__ import annotations

import math

import pytest

from analysis.geometry import geometry_change
from analysis.rigid_bike import PlaneBike, stand
from analysis.stand_length import SideStand, lean_on_stand_deg, side_stand_fit, side_stand_length_mm
from ingest.records import Bike

MOTORCYCLE = PlaneBike(
    rake_deg=26.0,
    fork_offset_mm=35.0,
    wheelbase_mm=1450.0,
    front_wheel_radius_mm=305.0,
    rear_wheel_radius_mm=315.0,
)
BIKE_FILE = Bike(
    name="textbook motorcycle",
    rake_deg=26.0,
    fork_offset_mm=35.0,
    wheelbase_mm=1450.0,
    front_wheel_radius_mm=305.0,
    rear_wheel_radius_mm=315.0,
)
STAND = SideStand(pivot_height_mm=300.0, pivot_out_mm=120.0, angle_deg=20.0)  # thin tyre


@pytest.mark.parametrize(
    ("move", "rake_deg", "trail_mm", "wheelbase_mm"),
    [
        ({}, 26.0, 109.8173715959561, 1450.0),
        ({"fork_raised_mm": 20.0}, 25.28538024667954, 105.36902548698227, 1441.219954020799),
        ({"fork_raised_mm": 12.7}, 25.54721495686212, 106.99341682085271, 1444.398763145413),
        ({"rear_axle_up_mm": 25.0}, 26.987701697264587, 116.04568425002529, 1450.38787915509),
        (
            {"fork_raised_mm": 20.0, "rear_axle_up_mm": 25.0},
            26.27923486706427,
            111.56855941160056,
            1441.298429133056,
        ),
    ],
)
def test_lowered_ends(move: dict[str, float], rake_deg: float, trail_mm: float, wheelbase_mm: float) -> None:
    found = stand(MOTORCYCLE, 0.0, 0.0, **move)
    assert found.rake_deg == pytest.approx(rake_deg, abs=1e-8)
    assert found.trail_mm == pytest.approx(trail_mm, abs=1e-6)
    assert found.normal_trail_mm == pytest.approx(trail_mm * math.cos(math.radians(rake_deg)), abs=1e-6)
    assert found.wheelbase_mm == pytest.approx(wheelbase_mm, abs=1e-6)
    assert found.pitch_deg == pytest.approx(26.0 - rake_deg, abs=1e-8)
    from_file = geometry_change(
        BIKE_FILE,
        fork_axis_mm=move.get("fork_raised_mm", 0.0),
        rear_axle_up_mm=move.get("rear_axle_up_mm", 0.0),
    )
    assert (from_file.rake_deg, from_file.trail_mm) == (found.rake_deg, found.trail_mm)
    assert (from_file.wheelbase_mm, from_file.pitch_deg) == (found.wheelbase_mm, found.pitch_deg)


def test_first_order_rule_of_the_rake() -> None:
    # d(rake) ~ -h cos(rake) / wheelbase: -0.7103 degrees for 20 mm, good to about 0.01.
    found = stand(MOTORCYCLE, 0.0, 0.0, fork_raised_mm=20.0)
    assert found.rake_deg - 26.0 == pytest.approx(-0.7103049035093543, abs=0.01)


def test_fork_travel_is_the_same_move_as_tubes_raised() -> None:
    assert stand(MOTORCYCLE, 20.0, 0.0).trail_mm == pytest.approx(105.36902548698227, abs=1e-6)


def test_two_fork_springs_of_9_n_mm_against_vertical_travel() -> None:
    """22.282 N/mm: the frame goes down by fork travel × cos(rake), read off the standing bike itself.

    At the front axle the frame comes down vertically; both wheels at one radius keep it level.
    """
    level = PlaneBike(
        rake_deg=26.0,
        fork_offset_mm=35.0,
        wheelbase_mm=1450.0,
        front_wheel_radius_mm=305.0,
        rear_wheel_radius_mm=305.0,
    )
    step = 1e-3
    moved = stand(level, step, step * math.cos(math.radians(26.0)))
    vertical = 305.0 - moved.height_mm(1450.0, 305.0)
    # Work is the same both ways: k_vertical × vertical² = k_fork × along².
    assert 18.0 * (step / vertical) ** 2 == pytest.approx(22.281895403084804, rel=1e-6)


def test_side_stand_length() -> None:
    length = side_stand_length_mm(STAND, 11.0)
    assert length == pytest.approx(274.97649250923106, rel=1e-9)
    assert lean_on_stand_deg(STAND, length) == pytest.approx(11.0, abs=1e-9)


def test_side_stand_for_30_mm_of_lowering() -> None:
    fit = side_stand_fit(STAND, 11.0, 30.0)
    assert -fit.shorter_mm == pytest.approx(-29.815898692987862, rel=1e-9)
    # dL/dH = cos(lean) / cos(stand angle − lean)
    assert fit.shorter_mm / 30.0 == pytest.approx(math.cos(math.radians(11.0)) / math.cos(math.radians(9.0)))
