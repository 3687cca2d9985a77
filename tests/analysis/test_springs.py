"""Springs foretold against the virtual bike's own statics, and the choice between them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.results import Quantity
from analysis.springs import SpringAdvice, choose_spring
from analysis.virtual_bike import VirtualBike, VirtualEnd, demo_bike, record_of
from ingest.errors import CannotAnswer
from ingest.records import Bike, End, Suspension

REAR_RATES = (65.0, 75.0, 85.0, 95.0)
RIDER_KG = 58.0


def q(value: float, doubt: float = 1.6) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.0)


def with_end(bike: Bike, end: End, **changes: object) -> Bike:
    suspension = bike.suspension(end)
    assert isinstance(suspension, Suspension)
    return replace(bike, **{str(end): replace(suspension, **changes)})


def advised(
    true: VirtualBike, record: Bike, end: End, rates: tuple[float, ...], rider_kg: float = RIDER_KG
) -> SpringAdvice:
    """Ask about springs with the sags the virtual bike truly has."""
    return choose_spring(record, end, q(true.sag_mm(0.0)[end]), q(true.sag_mm(rider_kg)[end]), rates)


def test_a_middling_spring_serves_best() -> None:
    bike = demo_bike()
    advice = advised(bike, record_of(bike), End.REAR, REAR_RATES, rider_kg=100.0)
    assert [choice.rate_n_mm for choice in advice.choices] == [*REAR_RATES, 105.0]
    assert advice.choices[-1].in_the_bike
    assert advice.best_n_mm == 85.0
    best = next(choice for choice in advice.choices if choice.rate_n_mm == 85.0)
    assert best.word == "fits"
    assert 95.0 in advice.as_good_n_mm
    assert best.rider_sag_mm.value == pytest.approx(sum(advice.target_mm) / 2, abs=0.01)
    # Softer springs want more preload and leave less unladen sag.
    preloads = [choice.preload_mm for choice in advice.choices]
    assert preloads == sorted(preloads, reverse=True)
    unladen = [choice.unladen_sag_mm.value for choice in advice.choices if choice.unladen_sag_mm]
    assert unladen == sorted(unladen)


def test_all_are_too_stiff_for_a_light_rider() -> None:
    bike = demo_bike()
    advice = advised(bike, record_of(bike), End.REAR, (*REAR_RATES, 150.0))
    assert {choice.word for choice in advice.choices} == {"too stiff"}
    assert (advice.best_n_mm, advice.nearest_n_mm, advice.as_good_n_mm) == (None, 65.0, ())


def test_foretold_sags_hold_the_simulator() -> None:
    """Sixty changed springs, printed rates and preloads a little wrong: the balance lies within the doubt."""
    random = np.random.default_rng(7)
    inside: list[bool] = []
    for _ in range(60):
        end = End.REAR if random.random() < 0.5 else End.FRONT
        stock = demo_bike()
        true: VirtualEnd = stock.front if end is End.FRONT else stock.rear
        true = replace(
            true,
            spring_rate_n_mm=true.spring_rate_n_mm * random.uniform(0.8, 1.1),
            preload_mm=true.preload_mm + random.uniform(-5, 5),
        )
        bike = replace(stock, **{str(end): true})
        rider_kg = float(random.uniform(55, 110))
        printed = float(true.spring_rate_n_mm / (1 + random.normal(0, 0.02)))
        changes: dict[str, object] = {
            "spring_rate_n_mm": printed,
            "preload_mm": max(true.preload_mm + random.uniform(-1, 1), 0.0),
        }
        if end is End.FRONT and random.random() < 0.5:
            changes |= {"air_area_mm2": 2900.0, "air_column_mm": 400.0}
        record = with_end(record_of(bike), end, **changes)
        u_mm = 0.8
        unladen, rider = (
            q(bike.sag_mm(kg)[end] + random.normal(0, u_mm), 2 * u_mm) for kg in (0.0, rider_kg)
        )
        rate = printed * float(random.uniform(0.75, 1.1))
        advice = choose_spring(record, end, unladen, rider, (rate,))
        for choice in advice.choices:
            fitted = replace(true, preload_mm=true.preload_mm + choice.preload_mm - advice.preload_now_mm)
            if not choice.in_the_bike:
                fitted = replace(
                    true,
                    spring_rate_n_mm=choice.rate_n_mm * (1 + random.normal(0, 0.02)),
                    preload_mm=choice.preload_mm + random.uniform(-1, 1),
                )
            then = replace(bike, **{str(end): fitted})
            for kg, sag in ((0.0, choice.unladen_sag_mm), (rider_kg, choice.rider_sag_mm)):
                assert sag is not None
                inside.append(abs(then.sag_mm(kg)[end] - sag.value) <= sag.expanded_uncertainty + 0.2)
    assert len(inside) == 240
    assert np.mean(inside) >= 0.93


def test_preload_that_is_out_of_reach_is_limited() -> None:
    bike = demo_bike()
    stiff = advised(bike, record_of(bike), End.REAR, (150.0,)).choices[-1]
    assert (stiff.preload_mm, stiff.limited, stiff.word) == (0.0, "least", "too stiff")
    record = with_end(record_of(bike), End.REAR, preload_min_mm=5.0, preload_max_mm=9.0)
    soft, _, _, _, now = advised(bike, record, End.REAR, REAR_RATES, rider_kg=110.0).choices
    assert (soft.preload_mm, soft.limited, soft.word) == (9.0, "most", "too soft")
    assert (now.preload_mm, now.limited) == (9.0, "most")
    assert now.rider_sag_mm.value > 72.6


def test_two_springs_side_by_side_are_one_rate_each() -> None:
    bike = demo_bike()
    both = with_end(record_of(bike), End.FRONT, springs=2, spring_rate_n_mm=7.25)
    one = advised(bike, record_of(bike), End.FRONT, (11.0,))
    two = advised(bike, both, End.FRONT, (5.5,))
    assert [choice.rate_n_mm for choice in two.choices] == [5.5, 7.25]
    for left, right in zip(one.choices, two.choices, strict=True):
        assert left.preload_mm == pytest.approx(right.preload_mm)
        assert left.rider_sag_mm == right.rider_sag_mm
    assert any("both legs together" in caution for caution in one.cautions)
    assert not any("both legs together" in caution for caution in two.cautions)


def test_a_coarse_reading_cannot_choose() -> None:
    bike = demo_bike()
    record = record_of(bike)
    coarse = choose_spring(record, End.REAR, q(20.0, 9.0), q(42.0, 9.0), REAR_RATES)
    assert coarse.best_n_mm is None
    assert coarse.as_good_n_mm


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"spring_rate_n_mm": None}, "rear: the rate of the spring in the bike is not known"),
        (
            {"preload_mm": None},
            "rear: the preload now is not known: measure the spring with the wheel hanging",
        ),
    ],
)
def test_one_clear_line_for_what_is_missing(changes: dict[str, object], words: str) -> None:
    record = with_end(record_of(demo_bike()), End.REAR, **changes)
    with pytest.raises(CannotAnswer, match=words):
        choose_spring(record, End.REAR, q(20.0), q(42.0), REAR_RATES)
    useless = replace(record_of(demo_bike()), use=None)
    with pytest.raises(CannotAnswer, match="rear: no target for rider sag"):
        choose_spring(useless, End.REAR, q(20.0), q(42.0), REAR_RATES)
    with pytest.raises(CannotAnswer, match=r"has no \[rear\]"):
        choose_spring(replace(useless, rear=None), End.REAR, q(20.0), q(42.0), REAR_RATES)
