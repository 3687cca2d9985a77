"""Wrong procedures played on purpose, and how often the sag check names them; good checks beside them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.sag import check_sag
from analysis.virtual_hands import LOADED, Step, usual_steps
from analysis.virtual_shop import Shop, random_shop, take_check
from ingest.errors import CannotAnswer
from ingest.log import Log
from ingest.records import End

pytestmark = pytest.mark.evidence

EACH, GOOD = 100, 300
WORDS = {
    "never hung free": ("hang free", "hung free", "topped out was not read"),
    "never settled": ("never quite settled", "not still at the mark"),
    "feet on the ground": ("feet on the ground",),
    "sensor moved": ("topped-out readings differ",),
    "counts reversed": ("wrong way",),
    "past the calibrated range": ("past the calibrated range",),
}
Random = np.random.Generator


def said(log: Log) -> str:
    try:
        check = check_sag(log)
    except CannotAnswer as refused:
        return str(refused)
    ends = [end.cautions for end in (check.front, check.rear) if end is not None]
    return " ".join([*check.cautions, *(text for cautions in ends for text in cautions)])


def good(shop: Shop, random: Random) -> Log:
    steps = usual_steps(
        int(random.integers(1, 4)), together=random.random() < 0.7, in_rounds=random.random() < 0.5
    )
    log = take_check(shop, [*steps, Step(phase="topped out")], random).log
    return log if random.random() < 0.5 else replace(log, marks=())


def never_hung(shop: Shop, random: Random) -> Log:
    """Not lifted far enough: seen where it was once, where it was known before, or where nobody read it."""
    half = Step(phase="topped out", lifted=float(random.uniform(0.1, 0.3)))
    kind = int(random.integers(3))
    if kind == 0:
        return take_check(shop, LOADED, random).log
    if kind == 1:
        return take_check(shop, [half, *LOADED, Step(phase="topped out"), *LOADED], random).log
    check = take_check(shop, [half, *LOADED], random)
    zeros = {
        end: float(shop.sensors[end].counts(np.array([shop.sensors[end].topped_out_at_mm]))[0]) for end in End
    }
    return replace(check.log, zeros=zeros)


def never_settled(shop: Shop, random: Random) -> Log:
    """More load comes on while it is read, from the side on which friction does not hold it up."""
    restless = 2 * int(random.integers(2))
    steps = [
        replace(step, creep_n=float(random.uniform(170, 320))) if k == restless else step
        for k, step in enumerate(LOADED)
    ]
    return take_check(shop, [Step(phase="topped out"), *steps], random).log


def feet_down(shop: Shop, random: Random) -> Log:
    share = float(random.uniform(0.35, 0.7))
    steps = [replace(step, aboard=share) for step in usual_steps(1, together=True, in_rounds=True)]
    return take_check(shop, steps * int(random.integers(1, 3)), random).log


def moved(shop: Shop, random: Random) -> Log:
    steps = [*usual_steps(1, together=True, in_rounds=True), Step(phase="topped out")]
    end = End(random.choice(list(End)))
    slip = float(random.choice([-1, 1]) * random.uniform(1.5, 6.0))
    slips = {end: (float(random.uniform(0.3, 0.75)), slip)}
    return take_check(shop, steps, random, slips=slips).log


def reversed_counts(shop: Shop, random: Random) -> Log:
    check = take_check(shop, usual_steps(1, together=True, in_rounds=True), random)
    end = End(random.choice(list(End)))
    log = check.log if random.random() < 0.6 else replace(check.log, marks=())
    sensor = log.bike.sensors[end]
    points = tuple((counts, -mm) for counts, mm in sensor.calibration)
    sensors = {**log.bike.sensors, end: replace(sensor, calibration=points)}
    return replace(log, bike=replace(log.bike, sensors=sensors))


def past_range(shop: Shop, random: Random) -> Log:
    """The sensor was calibrated to less than where the rider brings it."""
    sensor, end = shop.sensors[End.FRONT], shop.bike.front
    deepest = sensor.topped_out_at_mm + float(
        end.stroke_mm(np.array([shop.bike.sag_mm(shop.rider_kg)[End.FRONT]]))[0]
    )
    covers = {End.FRONT: (0.0, float(random.uniform(0.4, 0.85)) * deepest / sensor.range_mm)}
    return take_check(replace(shop, covers=covers), usual_steps(1, together=True, in_rounds=True), random).log


WRONG: dict[str, Callable[[Shop, Random], Log]] = {
    "never hung free": never_hung,
    "never settled": never_settled,
    "feet on the ground": feet_down,
    "sensor moved": moved,
    "counts reversed": reversed_counts,
    "past the calibrated range": past_range,
}


def test_wrong_procedures_are_named_and_good_ones_are_not() -> None:
    random = np.random.default_rng(95)
    texts = [said(good(random_shop(random), random)) for _ in range(GOOD)]
    print(f"\n{'wrong procedure':28}{'played':>8}{'named':>8}{'false on ' + str(GOOD) + ' good checks':>29}")
    failed = []
    for name, play in WRONG.items():
        wrong = [said(play(random_shop(random), random)) for _ in range(EACH)]
        found = [any(w in text for w in WORDS[name]) for text in wrong]
        false = np.mean([any(w in text for w in WORDS[name]) for text in texts])
        print(f"{name:28}{EACH:8d}{np.mean(found):8.0%}{false:29.1%}")
        if np.mean(found) < 0.95 or false > 0.02:
            failed.append(name)
    assert not failed
