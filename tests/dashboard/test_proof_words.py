"""The proof and the hand-over list in words."""

from __future__ import annotations

import pytest

from analysis.plan_results import EndPlan, Option, StandPlan
from analysis.proof_results import Estimate, Promise, Proof
from analysis.results import Quantity
from dashboard.as_json import dumps
from dashboard.hand_over import CUT_LAST, hand_over
from dashboard.proof_words import proof_differences, proof_table, proof_verdict
from dashboard.units import Units
from ingest.records import End


def about(value: float, half: float) -> Estimate:
    return Estimate(value=value, interval=(value - half, value + half))


KEPT = Promise(
    name="rider_sag_mm",
    end=End.FRONT,
    unit="mm",
    before=about(46.0, 2.1),
    promised=about(70.0, 2.0),
    measured=about(71.0, 2.0),
    difference=about(1.0, 2.8),
    word="as promised",
)
BROKEN = Promise(
    name="bottoming_per_10_min",
    end=End.REAR,
    unit="per 10 min",
    before=Estimate(value=0.0, interval=(0.0, 1.844)),
    promised=about(0.0, 0.0),
    measured=Estimate(value=1.5, interval=(0.309, 4.384)),
    difference=Estimate(value=1.5, interval=(0.309, 4.384)),
    word="more",
)
SHORT = Promise(
    name="wanted_mm",
    end=None,
    unit="mm",
    before=None,
    promised=about(45.0, 1.0),
    measured=about(38.0, 2.5),
    difference=about(-7.0, 2.7),
    word="less",
)
MISSING = Promise(
    name="rider_sag_mm",
    end=End.REAR,
    unit="mm",
    before=None,
    promised=about(66.0, 2.0),
    measured=None,
    difference=None,
    word="not measured",
)
PROOF = Proof(
    option="plates and tubes",
    promises=(KEPT, MISSING, BROKEN, SHORT),
    verdict="not as promised",
    uses_its_travel="yes",
    cautions=(),
)


def test_each_promise_beside_its_measurement() -> None:
    assert proof_table(PROOF).rows == (
        ("front: rider sag", "46.0 ± 2.1", "70.0 ± 2.0", "71.0 ± 2.0", "+1.0 ± 2.8", "as promised"),
        (
            "rear: rider sag",
            "–",
            "66.0 ± 2.0",
            "–",
            "–",
            "not measured: a sag check with the rider aboard would tell",
        ),
        (
            "rear: bottoming in 10 min",
            "0.0 (0.0 to 1.8)",
            "0",
            "1.5 (0.3 to 4.4)",
            "+1.5 (0.3 to 4.4)",
            "bottoms where none was expected",
        ),
        (
            "seat lower than at the boards",
            "–",
            "45.0 ± 1.0",
            "38.0 ± 2.5",
            "−7.0 ± 2.7",
            "short of what was wanted",
        ),
    )


def test_inches_for_lengths_only() -> None:
    rows = proof_table(PROOF, Units.IN).rows
    assert rows[0][1] == "1.81 ± 0.08"
    assert rows[2][3] == "1.5 (0.3 to 4.4)"


def test_what_differs_is_named() -> None:
    assert proof_differences(PROOF) == (
        "rear: bottoming in 10 min: 1.5 (0.3 to 4.4) measured, 0 promised: bottoms where none was expected",
        "seat lower than at the boards: 38.0 ± 2.5 mm measured, 45.0 ± 1.0 mm promised: "
        "short of what was wanted",
    )
    assert proof_verdict(PROOF).startswith("Not as promised")


def test_the_proof_is_json() -> None:
    assert '"verdict": "not as promised"' in dumps(PROOF)


END = EndPlan(means="linkage plates, 24 mm as stated", amount_mm=24.0, full_bump_room_mm=21.0)
DONE = Option(
    name="plates and tubes",
    kind="plates",
    front=EndPlan(
        means="fork tubes raised 18 mm",
        amount_mm=18.0,
        full_bump_room_mm=13.0,
        rider_sag_mm=Quantity(value=70.0, expanded_uncertainty=2.0, coverage_factor=2.0),
    ),
    rear=END,
    stand=StandPlan(side_stand_now_mm=310.0, side_stand_mm=285.0),
    chain_slack_mm=38.0,
    headlight_drop_at_wall_mm=34.0,
    gives_up=("21 mm of ground clearance.", "3° of lean"),
    way_back="put the old plates back",
)


def test_the_hand_over_list_has_every_check_with_its_figure() -> None:
    said = {tick.what.split(":")[0].split(",")[0]: tick.should_be for tick in hand_over(DONE)}
    assert said["Full bump"] == "room planned: front 13 mm, rear 21 mm"
    assert said["Clamp bolts"] == "fork tubes raised 18 mm, both sides alike"
    assert said["Chain slack at its tightest (sprocket"] == "set 38 mm parked, nobody aboard"
    assert said["Headlight"] == "the beam meets the wall 34 mm lower than before"
    assert said["Side stand on level ground"] == "310 → 285 mm"
    assert said["Sag measured again with the rider aboard"] == "rider sag planned: front 70 mm"
    text = " ".join(tick.what for tick in hand_over(DONE))
    for wanted in (
        "strapped down or springs out",
        "lock to lock",
        "torque",
        "Brake hoses",
        "sensor cables",
        "Stand switch",
        CUT_LAST,
        "21 mm of ground clearance; 3° of lean",
        "The way back: put the old plates back",
    ):
        assert wanted in text
    assert not any("Centre stand" in tick.what for tick in hand_over(DONE))


@pytest.mark.parametrize("units", list(Units))
def test_nothing_known_still_gives_the_list(units: Units) -> None:
    bare = Option(name="?", kind="?", front=EndPlan(means="as it is"), rear=EndPlan(means="as it is"))
    ticks = hand_over(bare, units)
    assert len(ticks) >= 8
    assert all(tick.should_be is None for tick in ticks)


def test_inches_and_a_centre_stand() -> None:
    with_centre = Option(
        name="?",
        kind="?",
        front=END,
        rear=END,
        stand=StandPlan(centre_stand_now_mm=254.0, centre_stand_mm=254.0),
        headlight_drop_at_wall_mm=-127.0,
    )
    said = [tick.should_be for tick in hand_over(with_centre, Units.IN)]
    assert "stays 10.0 in" in said
    assert "the beam meets the wall 5.0 in higher than before" in said
