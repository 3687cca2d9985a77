"""Fork tubes raised, spacers inside, both: limits, travel, and what full bump does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.means import EndNow, as_it_is
from analysis.means_fork import (
    raise_limit_mm,
    raised,
    raised_and_spacer,
    spacer,
    spacer_for_mm,
)
from analysis.results import Quantity
from ingest.records import End, Suspension

FORK = Suspension(kind="telescopic fork", travel_mm=175.0, spring_rate_n_mm=9.0, preload_mm=15.0)


def end(room: float | None = None, **changes: object) -> EndNow:
    return EndNow(
        end=End.FRONT,
        suspension=replace(FORK, **changes),
        vertical=0.9,
        rider=Quantity(value=40.0, expanded_uncertainty=2.0, coverage_factor=2.0),
        unladen=None,
        target_mm=52.5,
        room_mm=room,
    )


@pytest.mark.parametrize("amount", [1.0, 5.0, 20.0])
def test_five_millimetres_of_room_allow_no_raise(amount: float) -> None:
    """Common practice, no source: 175 mm of travel and 5 mm of room left at full bump: not raised at all."""
    assert raised(end(5.0), amount).refused
    assert "nothing may be used" in raised(end(5.0), amount).refused[0]
    assert raise_limit_mm(end(5.0)) == 0.0


def test_with_thirty_five_it_may_up_to_the_room_less_the_margin() -> None:
    """Common practice, no source: with 35 mm of room it may be raised, 10 to 15 mm kept."""
    now = end(35.0)
    assert raise_limit_mm(now) == 20.0
    assert not raised(now, 20.0).refused
    assert not any("of room left at full" in note for note in raised(now, 20.0).notes)
    assert not raised(now, 24.0).refused  # within the margin, and said so
    assert any("only 11 mm of room left" in note for note in raised(now, 24.0).notes)
    assert (
        "35 mm of room is left: keep 10 to 15 mm, so up to 25 mm may be used, better 20 mm"
        in raised(now, 26.0).refused[0]
    )


def test_unknown_room_is_measured_first() -> None:
    (reason,) = raised(end(), 10.0).refused
    for word in ("strap the front down", "lock to lock", "along the fork axis", "full_bump_room_mm"):
        assert word in reason
    assert raise_limit_mm(end()) is None


def test_the_clamps_grip_only_where_the_tube_is_parallel() -> None:
    now = end(60.0, clamp_parallel_mm=12.0)
    assert raise_limit_mm(now) == 12.0
    assert "parallel part of the tubes: 12 mm" in raised(now, 15.0).refused[0]
    assert not raised(now, 12.0).refused


def test_a_raise_moves_the_whole_travel_and_nothing_else() -> None:
    now = end(60.0, raised_in_clamps_mm=4.0)
    fitted = raised(now, 18.0)
    assert fitted.suspension is not None
    assert fitted.suspension.travel_mm == 175.0
    assert fitted.suspension.raised_in_clamps_mm == 22.0
    assert fitted.full_bump_up_mm(now) == 18.0
    assert fitted.axle_up_mm(now) == pytest.approx(18.0 + 52.5 - 40.0)
    assert fitted.parts_up_mm(now) == pytest.approx(18.0)


@pytest.mark.parametrize("length", [10.0, 25.0, 40.0])
def test_a_spacer_takes_travel_and_leaves_full_bump(length: float) -> None:
    now = end(air_column_mm=400.0, air_area_mm2=2900.0)
    fitted = spacer(now, length)
    assert fitted.suspension is not None
    assert fitted.suspension.travel_mm == pytest.approx(175.0 - length)
    assert fitted.suspension.air_column_mm == pytest.approx(400.0 - length)
    assert fitted.full_bump_up_mm(now) == pytest.approx(0.0)
    # Sag at the same share of the travel: ride height comes down by spacer × (1 − share).
    assert fitted.sag_mm == pytest.approx(0.3 * (175.0 - length))
    assert fitted.parts_up_mm(now) == pytest.approx(length * (1 - 0.3))
    assert spacer_for_mm(now, length * 0.7) == pytest.approx(length)


def test_too_long_a_spacer_is_refused() -> None:
    assert "less than half of the" in spacer(end(), 90.0).refused[0]
    assert "past the end of the travel: 0 mm of 175 mm" in spacer(end(), 180.0).refused[0]
    assert not spacer(end(), 60.0).refused


def test_raised_as_far_as_it_goes_and_a_spacer_for_the_rest() -> None:
    now = end(35.0)
    both = raised_and_spacer(now, 20.0, 14.0)
    assert both.parts_up_mm(now) == pytest.approx(20.0 + 14.0 * 0.7)
    assert both.full_bump_up_mm(now) == pytest.approx(20.0)
    assert not both.refused
    assert raised_and_spacer(end(5.0), 20.0, 14.0).refused


def test_a_front_without_a_fork_takes_neither() -> None:
    now = end(kind="A-arm, single shock")
    assert "no telescopic fork" in raised(now, 10.0).refused[0]
    assert "no telescopic fork" in spacer(now, 10.0).refused[0]
    assert as_it_is(now).parts_up_mm(now) == 0.0


def test_without_a_front_in_the_file_only_the_room_is_asked_for() -> None:
    bare = EndNow(
        end=End.FRONT, suspension=None, vertical=0.9, rider=None, unladen=None, target_mm=None, room_mm=35.0
    )
    assert not raised(bare, 20.0).refused
    assert raised(bare, 30.0).refused
    assert "the bike file has no [front]" in spacer(bare, 10.0).refused[0]
