"""The linkage rear: the whole travel, other plates, and where it cannot close."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.four_bar import RearLinkage, at_shock_length, position, whole_travel
from analysis.kinematics import WheelTravel
from analysis.link_plates import plate_effect, plates_for_drop_mm
from ingest.errors import CannotAnswer, UsageError

USUAL = RearLinkage(
    swingarm_pivot_mm=(0, 0),
    axle_mm=(-560, -150),
    rocker_pivot_mm=(-84, -135),
    rocker_plate_mm=(-149, -163),
    rocker_shock_mm=(-169, -138),
    plate_end_mm=(-188, -44),
    shock_mount_mm=(-93, 154),
)
EXTENDED_MM = position(USUAL, 0.0).shock_mm
STROKE_MM = 92.0


def test_as_measured_every_place_is_where_it_was() -> None:
    now = position(USUAL, 0.0)
    assert now.axle_mm == pytest.approx(USUAL.axle_mm)
    assert now.rocker_plate_mm == pytest.approx(USUAL.rocker_plate_mm)
    assert now.rocker_shock_mm == pytest.approx(USUAL.rocker_shock_mm)


@pytest.mark.parametrize("on_swingarm", [False, True])
@pytest.mark.parametrize("change_mm", [-4.0, 0.0, 4.0])
def test_plates_rocker_and_swingarm_keep_their_lengths(on_swingarm: bool, change_mm: float) -> None:
    linkage = replace(USUAL, rocker_on_swingarm=on_swingarm, plate_change_mm=change_mm)

    def apart(a: tuple[float, float], b: tuple[float, float]) -> float:
        return abs(complex(*a) - complex(*b))

    for turn in (0.0, 0.05, 0.1):
        now = position(linkage, turn)
        assert apart(now.rocker_plate_mm, now.plate_end_mm) - change_mm == pytest.approx(
            apart(USUAL.rocker_plate_mm, USUAL.plate_end_mm)
        )
        for name in ("rocker_plate_mm", "rocker_shock_mm"):
            assert apart(getattr(now, name), now.rocker_pivot_mm) == pytest.approx(
                apart(getattr(USUAL, name), USUAL.rocker_pivot_mm)
            )
        held = now.plate_end_mm if on_swingarm else now.rocker_pivot_mm
        assert held == pytest.approx(USUAL.plate_end_mm if on_swingarm else USUAL.rocker_pivot_mm)
        assert apart(now.axle_mm, USUAL.swingarm_pivot_mm) == pytest.approx(580, abs=0.5)
        assert now.axle_mm[1] >= USUAL.axle_mm[1]


def test_the_table_serves_as_a_leverage() -> None:
    found = whole_travel(USUAL, EXTENDED_MM, STROKE_MM)
    assert found.leverage.table is not None
    assert found.leverage.table[0] == (0.0, 0.0)
    assert found.leverage.table[-1] == pytest.approx((found.travel_mm, STROKE_MM))
    assert found.travel_mm == pytest.approx(216, abs=1)
    curve = WheelTravel(found.leverage)
    effect = plate_effect(USUAL, 5.0, extended_mm=EXTENDED_MM, stroke_mm=STROKE_MM, at_stroke_mm=40.0)
    assert float(curve.leverage(40.0)) == pytest.approx(effect.leverage_before, rel=0.002)


def test_a_longer_plate_moves_the_whole_travel_up() -> None:
    found = plate_effect(
        USUAL, 5.0, extended_mm=EXTENDED_MM, stroke_mm=STROKE_MM, at_stroke_mm=28.0, preload_mm=12.0
    )
    # Common practice, no source: 1.5 to 4 mm lower for each mm of plate.
    assert 1.5 < found.axle_up_per_plate_mm < 4.0
    assert found.axle_up_mm.value == pytest.approx(
        at_shock_length(found_linkage(5.0), EXTENDED_MM - 28.0).axle_mm[1]
        - at_shock_length(USUAL, EXTENDED_MM - 28.0).axle_mm[1]
    )
    assert 0.0 < found.axle_up_mm.expanded_uncertainty < 1.0
    assert found.axle_up_at_full_bump_mm > 0.0
    assert found.after.stroke_mm == found.before.stroke_mm
    assert found.wheel_rate_percent is not None
    assert -10.0 < found.wheel_rate_percent < 10.0


def found_linkage(change_mm: float) -> RearLinkage:
    return replace(USUAL, plate_change_mm=change_mm)


def test_shorter_plates_raise_the_bike_again() -> None:
    found = plate_effect(found_linkage(5.0), -5.0, extended_mm=EXTENDED_MM, stroke_mm=STROKE_MM)
    there = plate_effect(USUAL, 5.0, extended_mm=EXTENDED_MM, stroke_mm=STROKE_MM)
    assert found.axle_up_mm.value == pytest.approx(-there.axle_up_mm.value)
    assert found.wheel_rate_percent is None


@pytest.mark.parametrize("drop_mm", [-12.0, 0.0, 12.0, 25.0])
def test_plates_for_a_drop_give_that_drop(drop_mm: float) -> None:
    change = plates_for_drop_mm(USUAL, drop_mm, extended_mm=EXTENDED_MM, at_stroke_mm=28.0)
    found = plate_effect(USUAL, change, extended_mm=EXTENDED_MM, stroke_mm=STROKE_MM, at_stroke_mm=28.0)
    assert found.axle_up_mm.value == pytest.approx(drop_mm, abs=1e-6)


def test_the_wheel_rate_is_the_second_derivative_of_the_energy() -> None:
    """Spring of 1 N/mm preloaded by 12 mm: energy (12 + s)²/2 over the wheel's travel, done numerically."""
    found = plate_effect(
        USUAL, 6.0, extended_mm=EXTENDED_MM, stroke_mm=STROKE_MM, at_stroke_mm=30.0, preload_mm=12.0
    )

    def rate(linkage: RearLinkage) -> float:
        here = at_shock_length(linkage, EXTENDED_MM - 30.0)
        force = []
        for turn in (here.turn_rad - 2e-3, here.turn_rad + 2e-3):
            low, high = position(linkage, turn - 1e-4), position(linkage, turn + 1e-4)
            energy = [(12.0 + EXTENDED_MM - where.shock_mm) ** 2 / 2 for where in (low, high)]
            force.append((energy[1] - energy[0]) / (high.axle_mm[1] - low.axle_mm[1]))
        wide = position(linkage, here.turn_rad + 2e-3).axle_mm[1]
        wide -= position(linkage, here.turn_rad - 2e-3).axle_mm[1]
        return (force[1] - force[0]) / wide

    assert found.wheel_rate_percent == pytest.approx(
        100 * (rate(found_linkage(6.0)) / rate(USUAL) - 1), abs=0.02
    )


def test_plates_that_cannot_close_are_refused() -> None:
    with pytest.raises(CannotAnswer, match=r"linkage: with plates of 3\d\d\.\d mm it cannot close"):
        plate_effect(USUAL, 250.0, extended_mm=EXTENDED_MM, stroke_mm=STROKE_MM)
    with pytest.raises(CannotAnswer, match="none within ± 40 mm move the axle by 300 mm"):
        plates_for_drop_mm(USUAL, 300.0, extended_mm=EXTENDED_MM, at_stroke_mm=28.0)


def test_a_shock_length_out_of_reach_is_refused() -> None:
    with pytest.raises(CannotAnswer, match=r"a shock 40\.0 mm long cannot be reached"):
        at_shock_length(USUAL, 40.0)
    with pytest.raises(UsageError, match="a stroke of 400 mm in a length of"):
        whole_travel(USUAL, EXTENDED_MM, 400.0)


def test_a_rocker_without_an_arm_is_refused() -> None:
    with pytest.raises(CannotAnswer, match="rocker pivot and plate hole are one and the same place"):
        position(replace(USUAL, rocker_plate_mm=USUAL.rocker_pivot_mm), 0.0)
