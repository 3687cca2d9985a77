"""Linkage plates and a shorter shock: where the wheel hangs, where full bump goes, leverage and refusals."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.four_bar import RearLinkage, position, whole_travel
from analysis.link_plates import plate_effect
from analysis.means import EndNow
from analysis.means_plates import measured_leverage, plates_for, stated_plates, stroke_mm
from analysis.means_shock import shorter, wheel_at
from analysis.results import Quantity
from analysis.spring_statics import linkage
from ingest.chassis import LinkagePoints, Plates
from ingest.records import End, Leverage, Suspension

TABLE = ((0.0, 0.0), (55.0, 21.0), (110.0, 43.5), (165.0, 67.3), (220.0, 92.0))
POINTS = LinkagePoints(
    rocker_on="frame",
    rear_axle=(-560, -150),
    rocker_pivot=(-84, -135),
    plate_at_rocker=(-149, -163),
    shock_at_rocker=(-169, -138),
    plate_at_other_end=(-188, -44),
    shock_at_frame=(-93, 154),
)
PLACES = RearLinkage(
    swingarm_pivot_mm=(0, 0),
    axle_mm=(-560, -150),
    rocker_pivot_mm=(-84, -135),
    rocker_plate_mm=(-149, -163),
    rocker_shock_mm=(-169, -138),
    plate_end_mm=(-188, -44),
    shock_mount_mm=(-93, 154),
)


def end(room: float | None = 60.0, **changes: object) -> EndNow:
    rear = Suspension(
        kind="linkage",
        travel_mm=220.0,
        leverage=Leverage(table=TABLE),
        spring_rate_n_mm=105.0,
        preload_mm=16.0,
    )
    return EndNow(
        end=End.REAR,
        suspension=replace(rear, **changes),
        vertical=1.0,
        rider=Quantity(value=41.0, expanded_uncertainty=2.0, coverage_factor=2.0),
        unladen=None,
        target_mm=66.0,
        room_mm=room,
    )


def test_stated_plates_move_the_whole_travel() -> None:
    now = end()
    fitted = stated_plates(now, Plates(name="long", drop_mm=25.0))
    assert not fitted.refused
    assert (fitted.parts_up_mm(now), fitted.full_bump_up_mm(now)) == (25.0, 25.0)
    assert fitted.topped_up_u_mm == pytest.approx(0.15 * 25.0 / 3**0.5)
    assert "25 mm as stated" in fitted.means


@pytest.mark.parametrize("kind", ["direct", "twin shock"])
def test_no_linkage_no_plates(kind: str) -> None:
    for fitted in (
        plates_for(end(kind=kind), 25.0),
        stated_plates(end(kind=kind), Plates(name="x", drop_mm=25)),
    ):
        assert fitted.refused == (f"rear: it has no linkage ({kind}), so there are no plates to change",)


def test_the_tyre_at_full_bump_is_asked_for() -> None:
    assert "straight up what is left at full bump between tyre" in plates_for(end(None), 25.0).refused[0]
    assert "25 mm further up at full bump where 30 mm" in plates_for(end(30.0), 25.0).refused[0]


def test_measured_pivots_give_the_exact_effect() -> None:
    extended = position(PLACES, 0.0).shock_mm
    whole = whole_travel(PLACES, extended, 92.0)
    now = end(linkage=POINTS, shock_stroke_mm=92.0, leverage=whole.leverage, travel_mm=whole.travel_mm)
    assert now.suspension is not None
    fitted = stated_plates(now, Plates(name="longer", longer_mm=4.0))
    assert fitted.suspension is not None
    stroke = linkage(whole.leverage).stroke_at(66.0)
    effect = plate_effect(PLACES, 4.0, extended_mm=extended, stroke_mm=92.0, at_stroke_mm=stroke)
    assert fitted.topped_up_mm == pytest.approx(effect.axle_up_topped_out_mm)
    assert fitted.suspension.travel_mm == pytest.approx(effect.after.travel_mm)
    assert fitted.full_bump_up_mm(now) == pytest.approx(effect.axle_up_at_full_bump_mm, abs=0.01)
    then = linkage(fitted.suspension.leverage or Leverage(ratio=1.0))
    exact = linkage(effect.after.leverage)
    for travel in (20.0, 66.0, 150.0):
        assert then.stroke_at(travel) == pytest.approx(exact.stroke_at(travel), abs=0.05)
    assert any("leverage at ride position" in note for note in fitted.notes)


def test_plates_are_found_for_a_drop_where_the_pivots_are_known() -> None:
    now = end(linkage=POINTS, shock_stroke_mm=92.0)
    fitted = plates_for(now, 20.0)
    assert not fitted.refused
    assert fitted.parts_up_mm(now) == pytest.approx(20.0, abs=1.0)
    assert "hole to hole" in fitted.means
    assert measured_leverage(now.suspension or Suspension(kind="direct", travel_mm=1)) is not None
    assert stroke_mm(end().suspension or Suspension(kind="direct", travel_mm=1)) == pytest.approx(92.0)


def test_a_shorter_stroke_keeps_full_bump_where_it_was() -> None:
    now = end(None)
    fitted = shorter(now, 21.0)
    assert not fitted.refused
    assert fitted.suspension is not None
    assert fitted.full_bump_up_mm(now) == pytest.approx(0.0)
    assert fitted.parts_up_mm(now) == pytest.approx(21.0)
    # Sag stays at 30 %, so the wheel hangs 21 / 0.7 = 30 mm further up: the shock is shorter by that stroke.
    assert fitted.topped_up_mm == pytest.approx(30.0)
    assert fitted.amount_mm == pytest.approx(linkage(Leverage(table=TABLE)).stroke_at(30.0))
    assert fitted.suspension.travel_mm == pytest.approx(190.0)
    assert fitted.suspension.shock_stroke_mm == pytest.approx(92.0 - (fitted.amount_mm or 0.0))


def test_the_same_stroke_moves_full_bump_up() -> None:
    now = end()
    fitted = shorter(now, 21.0, same_stroke=True)
    assert fitted.suspension is not None
    follows = linkage(Leverage(table=TABLE))
    full = wheel_at(follows, 92.0 + (fitted.amount_mm or 0.0))
    assert fitted.full_bump_up_mm(now) == pytest.approx(full - 220.0)
    assert fitted.parts_up_mm(now) == pytest.approx(21.0)
    assert fitted.suspension.shock_stroke_mm == pytest.approx(92.0)
    assert (fitted.amount_mm or 0.0) < (shorter(now, 21.0).amount_mm or 0.0)
    assert shorter(end(None), 21.0, same_stroke=True).refused
    assert shorter(end(12.0), 21.0, same_stroke=True).refused


def test_the_shifted_leverage_is_the_old_one_further_in() -> None:
    fitted = shorter(end(), 21.0)
    assert fitted.suspension is not None
    assert fitted.suspension.leverage is not None
    old, new = linkage(Leverage(table=TABLE)), linkage(fitted.suspension.leverage)
    for travel in (0.0, 40.0, 100.0, 180.0):
        assert new.stroke_at(travel) == pytest.approx(
            old.stroke_at(30.0 + travel) - old.stroke_at(30.0), abs=0.02
        )
        assert new.ratio_at(travel) == pytest.approx(old.ratio_at(30.0 + travel), rel=0.01)


def test_what_keeps_a_shock_from_being_told() -> None:
    assert "leverage survey" in shorter(end(leverage=None), 20.0).refused[0]
    assert "no target sag" in shorter(replace(end(), target_mm=None, rider=None), 20.0).refused[0]
    assert "less than half" in shorter(end(), 120.0).refused[0]
    assert (
        "past the end" in shorter(end(), 400.0).refused[0]
        or "less than half" in shorter(end(), 400.0).refused[0]
    )


def test_a_constant_ratio_stays_one() -> None:
    fitted = shorter(end(leverage=Leverage(ratio=2.4)), 21.0)
    assert fitted.suspension is not None
    assert fitted.suspension.leverage == Leverage(ratio=2.4)
    assert fitted.amount_mm == pytest.approx(30.0 / 2.4)


def test_nothing_wanted_takes_nothing_and_the_wheel_follows_past_the_table() -> None:
    for same in (False, True):
        fitted = shorter(end(travel_mm=260.0), 0.0, same_stroke=same)  # the table ends at 220 mm
        assert (fitted.amount_mm, fitted.topped_up_mm) == (0.0, 0.0)
    follows = linkage(Leverage(table=TABLE))
    assert wheel_at(follows, 92.0) == pytest.approx(220.0)
    assert wheel_at(follows, 96.0) == pytest.approx(220.0 + 4.0 / follows.ratio_at(220.0))
    assert follows.stroke_at(wheel_at(follows, 96.0)) == pytest.approx(96.0)
