"""Wheel rate measured on virtual bikes against the one they have: does the stated interval hold it?

Each case is a whole sag check at random (bike, springs, friction, hands, sensors, calibration), recorded and
read as any other. The change of load is told in one of three ways, and what is told is wrong by amounts that
are not drawn from what the budget assumes: scales and shares err by a normal law where the budget takes a
rectangular one. The springs are drawn from 0.8 to 1.2 of the demo bike's, about which the analysis knows
nothing. Truth is the change of load over the change of balance without friction, along the wheel's travel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.load_change import LoadChange, known_load, load_change
from analysis.results import EndSag
from analysis.sag import check_sag
from analysis.spring_statics import STANDARD_GRAVITY_M_S2, along_travel
from analysis.virtual_hands import usual_steps
from analysis.virtual_shop import Check, random_shop, take_check
from analysis.wheel_rate import measured_rate
from ingest.records import Bike, End, Rider

pytestmark = pytest.mark.evidence

CASES = 240
WAYS = ("scales", "share given", "known load")


@dataclass(frozen=True)
class Rate:
    end: End
    way: str
    true_n_mm: float
    value_n_mm: float
    doubt_n_mm: float
    word: str

    @property
    def inside(self) -> bool:
        return abs(self.value_n_mm - self.true_n_mm) <= self.doubt_n_mm


def told(
    random: np.random.Generator, way: str, bike: Bike, end: End, check: Check, true_kg: float
) -> LoadChange:
    """What the shop believes of the change of load."""
    rider_kg = check.shop.rider_kg
    if way == "known load":
        return known_load(true_kg + float(random.normal(0.0, 0.3)), 0.5)
    if way == "scales":
        alone_kg = float(random.uniform(80, 140))
        readings = [round(2 * (kg + random.normal(0.0, 0.55))) / 2 for kg in (alone_kg, alone_kg + true_kg)]
        suspension = bike.suspension(end)
        assert suspension is not None
        bike = replace(bike, **{str(end): replace(suspension, axle_load_kg=readings[0])})
        rider = Rider(name="weighed", front_axle_load_kg=readings[1], rear_axle_load_kg=readings[1])
    else:
        doubt = float(random.choice([2.0, 4.0, 8.0]))
        share = 100 * check.shop.bike.rider_front_share + float(random.normal(0.0, 0.55 * doubt))
        rider = Rider(
            name="shared",
            mass_kg=rider_kg + float(random.normal(0.0, 1.0)),
            front_share_percent=share,
            front_share_doubt_percent=doubt,
        )
    change = load_change(bike, end, rider)
    assert change is not None
    return change


def rates_of(case: int) -> list[Rate]:
    random = np.random.default_rng([33, case])
    check = take_check(
        random_shop(random),
        usual_steps(1 + case % 4, together=case % 2 == 0, in_rounds=case % 3 == 0),
        random,
    )
    bike, found = check.log.bike, check_sag(check.log)
    rates = []
    for end, sag in ((End.FRONT, found.front), (End.REAR, found.rear)):
        assert isinstance(sag, EndSag)
        along = along_travel(bike, end)
        share = check.shop.bike.rider_front_share
        true_kg = check.shop.rider_kg * (share if end is End.FRONT else 1 - share)
        moved_mm = check.rider_mm[end] - check.unladen_mm[end]
        way = WAYS[case % 3]
        rate = measured_rate(sag, told(random, way, bike, end, check, true_kg), along)
        assert rate is not None, sag.cautions
        assert rate.secant_n_mm is not None
        rates.append(
            Rate(
                end=end,
                way=way,
                true_n_mm=true_kg * STANDARD_GRAVITY_M_S2 * along / moved_mm,
                value_n_mm=rate.secant_n_mm.value,
                doubt_n_mm=rate.secant_n_mm.expanded_uncertainty,
                word=rate.word,
            )
        )
    return rates


def test_the_interval_of_the_wheel_rate_holds_the_truth() -> None:
    rates = [rate for case in range(CASES) for rate in rates_of(case)]
    print(f"\nWheel rate measured, {CASES} virtual checks, both ends")
    print(f"{'':22}{'rates':>7}{'inside ±':>10}{'median error':>14}{'median ±':>10}{'cannot tell':>13}")
    for end in End:
        for way in WAYS:
            of = [rate for rate in rates if rate.end is end and rate.way == way]
            errors = [abs(rate.value_n_mm / rate.true_n_mm - 1) for rate in of]
            doubts = [rate.doubt_n_mm / rate.value_n_mm for rate in of]
            print(
                f"{f'{end}, {way}':22}{len(of):7d}{np.mean([rate.inside for rate in of]):10.1%}"
                f"{np.median(errors):14.1%}{np.median(doubts):10.1%}"
                f"{np.mean([rate.word == 'cannot tell' for rate in of]):13.0%}"
            )
    pooled = float(np.mean([rate.inside for rate in rates]))
    print(f"{'pooled':22}{len(rates):7d}{pooled:10.1%}")
    assert 0.92 <= pooled <= 0.974
    for end in End:
        of = [rate.inside for rate in rates if rate.end is end]
        assert len(of) >= 200
        assert 0.92 <= float(np.mean(of)) <= 0.974
    assert all(math.isfinite(rate.doubt_n_mm) for rate in rates)
