"""The proof on virtual bikes: work done as planned comes out as promised, work not done is named.

Each case is a shop at random (bike, friction, rider, hands, sensors, calibration): sag is checked, a plan
made from that check, the collars turned as the plan says (read off to 0.5 mm), sensors mounted anew, and sag
checked again. Then the same with the work at the rear left undone. Truth is the balance without friction.
Nothing was tuned on these bikes or any other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.how_much import SagNow
from analysis.plan import PlanRequest, plan
from analysis.plan_results import EndPlan, Option, Plan
from analysis.proof import Visit, prove
from analysis.proof_results import Proof
from analysis.results import EndSag, SagCheck
from analysis.sag import check_sag
from analysis.virtual_hands import usual_steps
from analysis.virtual_parts import VirtualBike
from analysis.virtual_shop import Check, Shop, random_shop, take_check
from analysis.wanted import from_stack
from ingest.records import Bike, End

pytestmark = pytest.mark.evidence

CASES, SEED = 60, 88213
COLLAR_MM = 0.5


@dataclass(frozen=True)
class Work:
    """One job: how it was before, the plan, and what the plan says of each collar."""

    shop: Shop
    bike: Bike
    check: Check
    before: SagCheck
    plan: Plan
    option: Option


def job(random: np.random.Generator) -> Work | None:
    """Check sag and plan; ``None`` where collars alone cannot do it on these springs."""
    shop = random_shop(random)
    check = take_check(shop, usual_steps(3, together=True, in_rounds=False), random)
    log = replace(check.log, id="before")
    before = check_sag(log)
    ends = {End.FRONT: before.front, End.REAR: before.rear}
    sags = {}
    for end, found in ends.items():
        if found is None or found.rider_sag_mm is None:
            return None
        sags[end] = SagNow(rider=found.rider_sag_mm, unladen=found.unladen_sag_mm)
    made = plan(PlanRequest(bike=log.bike, wanted=from_stack(45.0), sags=sags))
    option = next(one for one in made.options if one.kind == "preload")
    if any(one.spring_word != "fits" for one in (option.front, option.rear)):
        return None
    return Work(shop=shop, bike=log.bike, check=check, before=before, plan=made, option=option)


def turned(work: Work, shares: dict[End, float], random: np.random.Generator) -> VirtualBike:
    """Turn the collars by a share of what the plan says."""
    bike = work.shop.bike
    parts = {}
    for end, part, told in zip(End, bike.ends, (work.option.front, work.option.rear), strict=True):
        by = shares[end] * _collar_mm(told)
        by = round(by / COLLAR_MM) * COLLAR_MM + float(random.uniform(-0.1, 0.1))
        parts[str(end)] = replace(part, preload_mm=part.preload_mm + by)
    return replace(bike, **parts)


def _collar_mm(told: EndPlan) -> float:
    assert told.preload_mm is not None
    assert told.preload_now_mm is not None
    return told.preload_mm.value - told.preload_now_mm


def after(work: Work, bike: VirtualBike, random: np.random.Generator) -> tuple[Proof, Check]:
    """Mount the sensors anew, check sag again, and hold the plan against it."""
    sensors = {
        end: replace(sensor, topped_out_at_mm=sensor.topped_out_at_mm + float(random.uniform(-1.0, 1.0)))
        for end, sensor in work.shop.sensors.items()
    }
    check = take_check(
        replace(work.shop, bike=bike, sensors=sensors), usual_steps(3, together=True, in_rounds=False), random
    )
    measured = check_sag(replace(check.log, id="after"))
    proof = prove(
        work.plan,
        Visit(sag=work.before),
        Visit(sag=measured),
        bike=work.bike,
        option=work.option.name,
    )
    return proof, check


def word_of(proof: Proof, name: str, end: End | None) -> str:
    return next(one.word for one in proof.promises if one.name == name and one.end == end)


def true_seat_mm(work: Work, check: Check) -> float:
    """How much lower the seat truly is: collars move both ends by the change of the true sags."""
    share = work.plan.how_much.seat_share
    rake = work.bike.rake_deg or 0.0
    front = check.rider_mm[End.FRONT] - work.check.rider_mm[End.FRONT]
    rear = check.rider_mm[End.REAR] - work.check.rider_mm[End.REAR]
    return share * front * math.cos(math.radians(rake)) + (1 - share) * rear


def test_work_done_as_planned_and_work_left_undone() -> None:
    random = np.random.default_rng(SEED)
    works = []
    while len(works) < CASES:
        work = job(random)
        if work is not None:
            works.append(work)
    verdicts, sag_words, seat_inside = [], [], []
    for work in works:
        proof, check = after(work, turned(work, dict.fromkeys(End, 1.0), random), random)
        verdicts.append(proof.verdict)
        sag_words += [word_of(proof, "rider_sag_mm", end) for end in End]
        seat = next(one for one in proof.promises if one.name == "seat_drop_mm").measured
        assert seat is not None
        assert seat.interval is not None
        seat_inside.append(seat.interval[0] <= true_seat_mm(work, check) <= seat.interval[1])
    named = np.mean([word in ("more", "less") for word in sag_words])
    kept = np.mean([word == "as promised" for word in sag_words])
    print(f"\n{CASES} jobs done as planned: {verdicts.count('as promised')} as promised, ", end="")
    print(f"{verdicts.count('cannot tell')} cannot tell, {verdicts.count('not as promised')} not as promised")
    print(f"  rider sag: {100 * kept:.1f} % as promised, {100 * named:.1f} % named though kept")
    print(f"  true drop of the seat inside what is measured: {100 * np.mean(seat_inside):.1f} %")
    caught = []
    for work in works:
        proof, check = after(work, turned(work, {End.FRONT: 1.0, End.REAR: 0.0}, random), random)
        told = work.option.rear.rider_sag_mm
        assert told is not None
        if abs(check.rider_mm[End.REAR] - told.value) > 10.0:
            caught.append(word_of(proof, "rider_sag_mm", End.REAR) in ("more", "less"))
    print(f"  rear left undone and over 10 mm off: {len(caught)} jobs, {100 * np.mean(caught):.0f} % named")
    assert len(caught) >= 20
    assert np.mean(caught) >= 0.9
    assert named <= 0.08
    assert np.mean(seat_inside) >= 0.93


def test_a_proof_needs_both_ends() -> None:
    """Sag of the front alone proves nothing of the seat."""
    random = np.random.default_rng(SEED + 1)
    work = None
    while work is None:
        work = job(random)
    front: EndSag | None = work.before.front
    half = replace(work.before, log_id="after", rear=None, front=front)
    proof = prove(work.plan, Visit(sag=work.before), Visit(sag=half), bike=work.bike, option=work.option.name)
    assert word_of(proof, "seat_drop_mm", None) == "not measured"
    assert proof.verdict != "as promised"
