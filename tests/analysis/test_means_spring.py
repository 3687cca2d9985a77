"""Preload, other springs, lowering springs; seat and tyres."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.means import EndNow
from analysis.means_seat import seat_reasons, smaller_tyre, tyre_reasons
from analysis.means_spring import (
    SpringAtHand,
    by_preload,
    by_spring,
    carried_n,
    lowering_spring,
    preload_needed_mm,
    rate_for_n_mm,
)
from analysis.plan_ends import end_plan, foretold_sag
from analysis.results import Quantity
from analysis.ride_results import EndRide
from analysis.spring_statics import spring_end
from ingest.records import End, Leverage, Suspension

TABLE = ((0.0, 0.0), (55.0, 21.0), (110.0, 43.5), (165.0, 67.3), (220.0, 92.0))


def end(sag: float = 50.0, target: float | None = 66.0, **changes: object) -> EndNow:
    rear = Suspension(
        kind="linkage",
        travel_mm=220.0,
        leverage=Leverage(table=TABLE),
        spring_rate_n_mm=90.0,
        preload_mm=18.0,
    )
    return EndNow(
        end=End.REAR,
        suspension=replace(rear, **changes),
        vertical=1.0,
        rider=Quantity(value=sag, expanded_uncertainty=2.0, coverage_factor=1.96),
        unladen=None,
        target_mm=target,
    )


def test_preload_carries_the_same_load_at_the_target() -> None:
    now = end()
    fitted = by_preload(now)
    assert not fitted.refused
    assert now.suspension is not None
    before = spring_end(now.suspension, 90.0, 18.0)
    after = spring_end(now.suspension, 90.0, 18.0 + (fitted.amount_mm or 0.0))
    assert after.sag_mm(before.force_n(50.0)) == pytest.approx(66.0, abs=1e-4)
    assert (fitted.amount_mm or 0.0) < 0


def test_preload_out_of_reach_is_refused() -> None:
    assert "leaves the spring loose" in by_preload(end(sag=20.0)).refused[0]
    assert "the adjuster ends at 16 mm" in by_preload(end(preload_min_mm=16.0)).refused[0]
    # 33 mm of sag to come up, on a spring whose coils touch: 150 − 45 − 92 leaves 13 mm of preload.
    deep = end(sag=99.0, spring_free_length_mm=150.0, spring_solid_length_mm=45.0)
    assert "over 13.0 mm the coils touch before full bump" in by_preload(deep).refused[0]


def test_unknown_preload_is_to_be_measured() -> None:
    fitted = by_preload(end(preload_mm=None))
    assert not fitted.refused
    assert "measure the spring with the wheel hanging" in fitted.notes[0]


def test_the_rate_that_suits_the_preload_of_now() -> None:
    now = end()
    rate = rate_for_n_mm(now, 66.0)
    assert rate is not None
    assert now.suspension is not None
    other = spring_end(now.suspension, rate, 18.0)
    assert other.force_n(66.0) == pytest.approx(carried_n(now) or 0.0)
    fitted = by_spring(now)
    assert preload_needed_mm(now, fitted) == pytest.approx(18.0)
    assert "from free to solid" in fitted.notes[0]


def test_a_spring_that_coil_binds_is_refused() -> None:
    now = end()
    good = by_spring(now, SpringAtHand(rate_n_mm=80.0, free_length_mm=230.0, solid_length_mm=95.0))
    assert not good.refused
    bound = by_spring(now, SpringAtHand(rate_n_mm=80.0, free_length_mm=195.0, solid_length_mm=110.0))
    assert bound.refused
    assert "coils touch" in bound.refused[0]
    stiff = by_spring(now, SpringAtHand(rate_n_mm=300.0, free_length_mm=230.0, solid_length_mm=95.0))
    assert "loose with the wheel hanging" in stiff.refused[0]


def test_a_lowering_spring_runs_deeper_on_the_same_travel() -> None:
    now = end()
    fitted = lowering_spring(now, 20.0)
    assert not fitted.refused
    assert (fitted.parts_up_mm(now), fitted.full_bump_up_mm(now)) == (20.0, 0.0)
    assert any("134 mm of compression travel" in note for note in fitted.notes)
    assert "55.0 % deep in its travel" in lowering_spring(now, 55.0).refused[0]
    assert any("past the end of the travel" in reason for reason in lowering_spring(now, 160.0).refused)


def test_doubt_of_the_foretold_sag_grows_with_what_is_changed() -> None:
    now = end()
    turned, other, lowered = (
        foretold_sag(now, fitted) for fitted in (by_preload(now), by_spring(now), lowering_spring(now, 20.0))
    )
    assert turned is not None
    assert other is not None
    assert lowered is not None
    assert turned.value == pytest.approx(66.0)
    assert 1.0 < turned.expanded_uncertainty < other.expanded_uncertainty < lowered.expanded_uncertainty


def test_without_springs_sag_is_set_by_measuring() -> None:
    now = end(leverage=None)
    found = foretold_sag(now, by_preload(now))
    assert found is not None
    assert (found.value, found.expanded_uncertainty) == (66.0, 2.0)
    told = end_plan(now, by_preload(now))
    assert (told.preload_mm, told.leverage, told.wheel_rate_n_mm, told.spring_word) == (
        None,
        None,
        None,
        None,
    )


def test_numbers_of_one_end() -> None:
    now = end()
    told = end_plan(now, by_preload(now))
    assert told.leverage_now == pytest.approx(2.58, abs=0.1)
    assert told.wheel_rate_n_mm is not None
    assert told.axle_up_mm == pytest.approx(16.0)
    assert told.drop_mm == pytest.approx(16.0)
    assert told.parts_drop_mm == pytest.approx(0.0)
    assert (told.travel_left_now_mm, told.travel_left_mm) == (170.0, pytest.approx(154.0))
    assert told.spring_word == "fits"
    assert end_plan(end(sag=20.0), by_preload(end(sag=20.0))).spring_word == "too stiff"
    limited = end(sag=90.0, preload_max_mm=20.0)
    assert end_plan(limited, by_preload(limited)).spring_word == "too soft"


@pytest.mark.parametrize(
    ("used", "word"), [(120.0, "not expected"), (190.0, "cannot tell"), (205.0, "expected")]
)
def test_bottoming_to_expect_from_a_ride(used: float, word: str, ride_of: object) -> None:
    now = end()
    told = end_plan(now, by_preload(now), ride_of(used))  # type: ignore[operator]
    assert told.deepest_expected_mm == pytest.approx(used + 16.0)
    assert told.bottoming_word == word


@pytest.fixture
def ride_of(make_log: object) -> object:
    import numpy as np

    from analysis.ride import summarise_ride

    def made(used: float) -> EndRide | None:
        wave = 50.0 + (used - 50.0) * np.sin(np.arange(0, 60, 0.001) * 2 * np.pi) ** 3
        return summarise_ride(make_log(wave, np.maximum(wave, 0.0))).rear  # type: ignore[operator]

    return made


def test_seat_and_tyres_have_only_so_much_to_give() -> None:
    assert seat_reasons(20.0) == ()
    assert "25 mm" in seat_reasons(40.0)[0]
    assert tyre_reasons(10.0) == ()
    assert "15 mm" in tyre_reasons(20.0)[0]
    told = end_plan(end(), smaller_tyre(end(), 10.0))
    assert told.parts_drop_mm == pytest.approx(10.0)
    assert told.full_bump_up_mm == 0.0
