"""Preload: the change against the virtual bike's own statics, what is refused, and what sag then says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.preload import coil_bind_mm, end_with_preload, preload_change
from analysis.results import PreloadChange, Quantity
from analysis.virtual_bike import VirtualEnd, demo_bike, record_of
from ingest.records import Leverage, Suspension

FRONT_TARGET, FRONT_UNLADEN = (64.4, 75.9), (39.1, 59.8)
REAR_TARGET, REAR_UNLADEN = (61.6, 72.6), (11.0, 30.8)


def q(value: float, doubt: float = 1.6) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.0)


@pytest.fixture
def shock() -> Suspension:
    rear = record_of(demo_bike()).rear
    assert rear is not None
    return replace(rear, spring_rate_n_mm=70.0, preload_mm=16.0)


@pytest.fixture
def fork() -> Suspension:
    front = record_of(demo_bike()).front
    assert front is not None
    return replace(front, springs=2, spring_rate_n_mm=7.25, preload_mm=20.0)


def rear_change(shock: Suspension, rider_mm: float, unladen_mm: float = 30.0) -> PreloadChange:
    return preload_change(shock, q(unladen_mm), q(rider_mm), REAR_TARGET, REAR_UNLADEN)


def test_the_virtual_bike_agrees(shock: Suspension) -> None:
    """Turn the simulator's own spring by what was said: its balance comes to the middle of the target."""
    true: VirtualEnd = replace(demo_bike().rear, spring_rate_n_mm=70.0, preload_mm=16.0)
    rider_n, bike_n = 1250.0, 830.0
    change = preload_change(
        shock, q(true.equilibrium_mm(bike_n)), q(true.equilibrium_mm(rider_n)), REAR_TARGET, REAR_UNLADEN
    )
    assert change.preload_after_mm == pytest.approx(16.0 + change.change_mm.value)
    turned = replace(true, preload_mm=16.0 + change.change_mm.value)
    # The table is read the other way round here than in the simulator: a few tenths between its rows.
    assert turned.equilibrium_mm(rider_n) == pytest.approx(sum(REAR_TARGET) / 2, abs=0.5)
    assert change.unladen_after_mm is not None
    assert turned.equilibrium_mm(bike_n) == pytest.approx(change.unladen_after_mm.value, abs=0.5)


def test_a_fork_moves_as_far_as_it_is_turned(fork: Suspension) -> None:
    change = preload_change(fork, q(50.0), q(60.15), FRONT_TARGET, FRONT_UNLADEN)
    assert change.change_mm.value == pytest.approx(-10.0)
    assert change.sag_mm_per_mm == pytest.approx(1.0)
    assert change.one_leg_mm == pytest.approx(-20.0)
    assert change.turns is None
    assert change.unladen_after_mm is not None
    assert change.unladen_after_mm.value == pytest.approx(60.0)


def test_a_millimetre_at_the_collar_is_leverage_at_the_wheel(shock: Suspension) -> None:
    plain = replace(shock, leverage=Leverage(ratio=2.5), thread_pitch_mm=1.5)
    change = rear_change(plain, 77.1)
    assert change.sag_mm_per_mm == pytest.approx(2.5)
    assert change.change_mm.value == pytest.approx(4.0)  # 10 mm at the wheel
    assert change.change_mm.expanded_uncertainty == pytest.approx(1.6 / 2.5, rel=0.02)
    assert change.turns == pytest.approx(4.0 / 1.5)
    assert change.one_leg_mm is None


def test_the_rate_does_not_matter_and_does_not_change(shock: Suspension) -> None:
    changes = {rear_change(replace(shock, spring_rate_n_mm=rate), 80.0).change_mm for rate in (50, 90, None)}
    assert len({round(change.value, 6) for change in changes}) == 1


def test_a_loose_spring_is_refused(shock: Suspension) -> None:
    change = rear_change(replace(shock, preload_mm=3.0), 42.7, 20.4)
    assert not change.allowed
    assert change.preload_after_mm is not None
    assert change.preload_after_mm < 0
    assert any(
        "leaves the spring loose with the wheel hanging" in reason for reason in change.refused_because
    )
    assert change.spring_word == "too stiff"
    # As far as it may go, rider sag still falls short.
    assert change.rider_at_limit_mm is not None
    assert 42.7 < change.rider_at_limit_mm < REAR_TARGET[0]


def test_touching_coils_are_refused(shock: Suspension) -> None:
    bound = replace(shock, spring_free_length_mm=210.0, spring_solid_length_mm=98.0)
    end = end_with_preload(bound)
    assert coil_bind_mm(bound, end) == pytest.approx(20.0)  # 210 − 98 − 92 mm of stroke
    change = rear_change(bound, 95.0)
    assert not change.allowed
    assert "over 20.0 mm the coils touch before full bump" in change.refused_because
    assert change.spring_word == "too soft"
    assert rear_change(bound, 70.0).allowed


def test_the_adjuster_ends(shock: Suspension) -> None:
    limits = replace(shock, preload_min_mm=12.0, preload_max_mm=18.0)
    assert rear_change(limits, 95.0).refused_because == ("the adjuster ends at 18 mm",)
    assert rear_change(limits, 45.0).refused_because == ("the adjuster ends at 12 mm",)
    assert rear_change(limits, 67.0).allowed


def test_unladen_sag_then_tells_the_spring(shock: Suspension) -> None:
    assert rear_change(shock, 67.1, 20.0).spring_word == "fits"
    assert rear_change(shock, 67.1, 4.0).spring_word == "too soft"
    assert rear_change(shock, 67.1, 45.0).spring_word == "too stiff"
    assert rear_change(shock, 67.1, 11.5).spring_word == "cannot tell"
    assert preload_change(shock, None, q(67.1), REAR_TARGET, REAR_UNLADEN).spring_word == "cannot tell"


def test_what_is_not_known_is_said(shock: Suspension, fork: Suspension) -> None:
    unknown = rear_change(replace(shock, preload_mm=None), 80.0)
    assert unknown.preload_after_mm is None
    assert unknown.allowed
    assert any("preload now is not known" in caution for caution in unknown.cautions)
    known = rear_change(shock, 80.0)
    assert unknown.change_mm.expanded_uncertainty > known.change_mm.expanded_uncertainty
    assert any("free and solid lengths" in caution for caution in known.cautions)
    airless = preload_change(fork, q(50.0), q(45.0), FRONT_TARGET, FRONT_UNLADEN)
    assert any("air above the fork oil" in caution for caution in airless.cautions)
    aired = preload_change(
        replace(fork, air_area_mm2=2900.0, air_column_mm=400.0),
        q(50.0), q(45.0), FRONT_TARGET, FRONT_UNLADEN,
    )  # fmt: skip
    assert aired.change_mm.expanded_uncertainty < airless.change_mm.expanded_uncertainty
    assert abs(aired.change_mm.value - airless.change_mm.value) < airless.change_mm.expanded_uncertainty
