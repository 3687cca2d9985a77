"""The sag check on logs whose every level is known, and what it says when a procedure went wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.kinematics import WheelTravel
from analysis.results import EndSag, SagCheck
from analysis.sag import check_sag, reckon
from ingest.errors import CannotAnswer
from ingest.log import Channel, Kind, Log, Mark, Segment
from ingest.records import Bike, End, EndSetup, Leverage, Rider, Setup

RATE_HZ = 500.0
STILL_S, MOVE_S = 3.0, 1.0

# What is done, and where front and rear come to rest: unladen 34 and 20, rider 70 and 66,
# half bands 4 and 2.5.
TOPPED = ("topped out", 0.0, 0.0)
UNLADEN = (("unladen, from above", 30.0, 17.5), ("unladen, from below", 38.0, 22.5))
RIDER = (("rider, from above", 66.0, 63.5), ("rider, from below", 74.0, 68.5))
WHOLE = (TOPPED, *UNLADEN, *RIDER)

Step = tuple[str, float, float]


def played(steps: Sequence[Step], end: int) -> np.ndarray:
    """Travel of one end: before each reading lifted or pushed by 25 mm, as its name says, then still."""
    pieces: list[np.ndarray] = []
    now = 20.0
    for text, *levels in steps:
        level = levels[end]
        way = level + (25.0 if "below" in text else -min(25.0, level))
        for target in (way, level):
            share = np.linspace(0.0, 1.0, int(MOVE_S * RATE_HZ))
            pieces.append(now + (target - now) * (0.5 - 0.5 * np.cos(np.pi * share)))
            now = target
        pieces.append(np.full(int(STILL_S * RATE_HZ), level))
    return np.concatenate(pieces)


def marks(steps: Sequence[Step]) -> tuple[tuple[float, str], ...]:
    each = 2 * MOVE_S + STILL_S
    return tuple((each * i + 2 * MOVE_S + STILL_S / 2, text) for i, (text, *_) in enumerate(steps))


def sag_log(make_log: Callable[..., Log], steps: Sequence[Step] = WHOLE, **more: object) -> Log:
    more.setdefault("marks", marks(steps))
    return make_log(played(steps, 0), played(steps, 1), rate_hz=RATE_HZ, kind=Kind.SAG, **more)


def counts_log(make_log: Callable[..., Log], steps: Sequence[Step], bike: Bike, offset: float = 0.0) -> Log:
    """The same as raw counts of the bike's sensors, each mounted ``offset`` counts further along."""
    log = sag_log(make_log, steps, bike=bike)
    assert bike.rear is not None
    assert bike.rear.leverage is not None
    linkage = WheelTravel(bike.rear.leverage)
    lengths = (played(steps, 0), linkage.stroke_mm(played(steps, 1)))
    columns = []
    for end, length in zip(End, lengths, strict=True):
        (c0, mm0), *_, (c1, mm1) = bike.sensors[end].calibration
        columns.append(c0 + (length - mm0) * (c1 - c0) / (mm1 - mm0) + offset)
    noise = np.random.default_rng(7).normal(0.0, 0.5, (columns[0].size, 2))
    values = np.rint(np.column_stack(columns) + noise).astype(np.uint16)
    return replace(
        log,
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
        segments=(Segment(start_s=0.0, dt_s=1 / RATE_HZ, values=values),),
    )


def ends(check: SagCheck) -> tuple[EndSag, EndSag]:
    assert check.front is not None
    assert check.rear is not None
    return check.front, check.rear


@pytest.mark.parametrize("marked", [True, False])
def test_imported_travel(make_log: Callable[..., Log], marked: bool) -> None:
    log = sag_log(make_log) if marked else sag_log(make_log, marks=())
    front, rear = ends(check_sag(log))
    assert front.unladen_sag_mm is not None
    assert front.rider_sag_mm is not None
    assert rear.rider_sag_mm is not None
    assert front.unladen_sag_mm.value == pytest.approx(34.0, abs=0.05)
    assert front.rider_sag_mm.value == pytest.approx(70.0, abs=0.05)
    assert rear.rider_sag_mm.value == pytest.approx(66.0, abs=0.05)
    assert (front.friction_band_mm, rear.friction_band_mm) == pytest.approx((4.0, 2.5), abs=0.05)
    assert front.rider_sag_percent == pytest.approx(100 * 70 / 230, abs=0.05)
    assert front.target_sag_mm == pytest.approx((64.4, 75.9))
    assert front.word == "right"


@pytest.mark.parametrize("offset", [0.0, 25.0, -30.0])
def test_counts_with_the_sensor_mounted_anew(make_log: Callable[..., Log], bike: Bike, offset: float) -> None:
    front, rear = ends(check_sag(counts_log(make_log, WHOLE, bike, offset)))
    assert rear.unladen_sag_mm is not None
    assert rear.rider_sag_mm is not None
    assert front.rider_sag_mm is not None
    assert front.rider_sag_mm.value == pytest.approx(70.0, abs=0.15)
    assert rear.unladen_sag_mm.value == pytest.approx(20.0, abs=0.15)
    assert rear.rider_sag_mm.value == pytest.approx(66.0, abs=0.15)
    assert front.zero_reading == pytest.approx(102 + offset, abs=0.2)


def test_lowered_setup_converts_with_its_own_travel_and_leverage(
    make_log: Callable[..., Log], bike: Bike
) -> None:
    table = ((0.0, 0.0), (97.5, 42.0), (195.0, 84.0))
    setup = Setup(
        name="lowered",
        front=EndSetup(travel_mm=205.0),
        rear=EndSetup(travel_mm=195.0, leverage=Leverage(table=table)),
    )
    assert bike.rear is not None
    as_lowered = replace(bike, rear=replace(bike.rear, leverage=Leverage(table=table), travel_mm=195.0))
    log = replace(counts_log(make_log, WHOLE, as_lowered), bike=bike, setup=setup)
    front, rear = ends(check_sag(log))
    assert rear.rider_sag_mm is not None
    assert rear.rider_sag_mm.value == pytest.approx(66.0, abs=0.15)
    assert rear.rider_sag_percent == pytest.approx(100 * 66 / 195, abs=0.1)
    assert front.travel_mm == 205.0


def test_one_end_only(make_log: Callable[..., Log], bike: Bike) -> None:
    log = counts_log(make_log, WHOLE, bike)
    rear_only = replace(bike, sensors={End.REAR: bike.sensors[End.REAR]})
    check = check_sag(replace(log, bike=rear_only))
    assert check.front is None
    assert check.rear is not None
    assert check.rear.rider_sag_mm is not None
    assert "front: no sensor in this log" in check.cautions


def test_one_side_only_gives_a_wide_doubt(make_log: Callable[..., Log]) -> None:
    both, _ = ends(check_sag(sag_log(make_log)))
    one, _ = ends(check_sag(sag_log(make_log, (TOPPED, UNLADEN[0], RIDER[0]))))
    assert both.rider_sag_mm is not None
    assert one.rider_sag_mm is not None
    assert one.friction_band_mm is None
    assert one.rider_sag_mm.value == pytest.approx(66.0, abs=0.05)
    # The true sag, 70, must be inside.
    assert one.rider_sag_mm.expanded_uncertainty > 4.0 > both.rider_sag_mm.expanded_uncertainty
    assert any("rider was settled from above only" in caution for caution in one.cautions)


def test_load_not_measured_is_none_with_its_reason(make_log: Callable[..., Log]) -> None:
    front, rear = ends(check_sag(sag_log(make_log, (TOPPED, *UNLADEN))))
    assert front.rider_sag_mm is None
    assert front.rider_sag_percent is None
    assert front.word == "cannot tell"
    assert front.friction_band_mm == pytest.approx(4.0, abs=0.05)
    assert "rear: rider sag was not measured: no still span was named rider" in rear.cautions


def test_topped_out_missing_is_said(make_log: Callable[..., Log], bike: Bike) -> None:
    front, _ = ends(check_sag(counts_log(make_log, WHOLE[1:], bike)))
    whole, _ = ends(check_sag(counts_log(make_log, WHOLE, bike)))
    assert front.rider_sag_mm is not None
    assert whole.rider_sag_mm is not None
    assert front.rider_sag_mm.expanded_uncertainty > whole.rider_sag_mm.expanded_uncertainty + 1.0
    assert any("topped out was not read in this log" in caution for caution in front.cautions)


def test_wheel_that_never_hung_free_is_suspected(make_log: Callable[..., Log], bike: Bike) -> None:
    never = replace(counts_log(make_log, WHOLE[1:], bike), marks=())
    hung = replace(counts_log(make_log, WHOLE, bike, 25.0), marks=())

    def suspected(log: Log) -> list[bool]:
        return [any("hang free there" in caution for caution in end.cautions) for end in ends(check_sag(log))]

    assert suspected(never) == [True, True]
    assert suspected(hung) == [False, False]
    assert [end.word for end in ends(check_sag(never))] == ["cannot tell", "cannot tell"]


def test_sensor_moved_during_the_check(make_log: Callable[..., Log]) -> None:
    front, rear = ends(check_sag(sag_log(make_log, (*WHOLE, ("topped out", 5.0, 0.0)))))
    assert any("topped-out readings differ by 5.0 mm" in caution for caution in front.cautions)
    assert not any("topped-out readings differ" in caution for caution in rear.cautions)


def test_reversed_sensor_gives_no_number(make_log: Callable[..., Log]) -> None:
    backwards = [(text, 80.0 - front, rear) for text, front, rear in WHOLE]
    front, rear = ends(check_sag(sag_log(make_log, backwards, marks=marks(WHOLE))))
    assert front.rider_sag_mm is None
    assert any("runs the wrong way" in caution for caution in front.cautions)
    assert rear.rider_sag_mm is not None


def test_mark_in_motion_gives_no_reading(make_log: Callable[..., Log]) -> None:
    moving = [
        (t - STILL_S / 2 - 1.5, text) if text.startswith("rider") else (t, text) for t, text in marks(WHOLE)
    ]
    log = sag_log(make_log, marks=moving)
    shaken = log.segments[0].values.copy()
    at = np.arange(shaken.shape[0]) / RATE_HZ
    shaken[at > 15.0] += 8 * np.sin(2 * np.pi * 1.0 * at[at > 15.0])[:, None]
    front, _ = ends(check_sag(replace(log, segments=(replace(log.segments[0], values=shaken),))))
    assert front.unladen_sag_mm is not None
    assert front.rider_sag_mm is None
    assert any("never" in caution or "rider sag was not measured" in caution for caution in front.cautions)


def test_repeats_narrow_the_doubt(make_log: Callable[..., Log]) -> None:
    once, _ = ends(check_sag(sag_log(make_log)))
    thrice, _ = ends(check_sag(sag_log(make_log, (TOPPED, *UNLADEN * 3, *RIDER * 3))))
    assert once.rider_sag_mm is not None
    assert thrice.rider_sag_mm is not None
    assert once.unladen_sag_mm is not None
    assert thrice.unladen_sag_mm is not None
    assert thrice.unladen_sag_mm.expanded_uncertainty < 0.9 * once.unladen_sag_mm.expanded_uncertainty
    # One sitting stays one sitting, however often the bike is pushed.
    assert thrice.rider_sag_mm.expanded_uncertainty < once.rider_sag_mm.expanded_uncertainty
    assert len([reading for reading in thrice.readings if reading.phase == "rider"]) == 6


def test_budget_names_every_cause_and_adds_up(make_log: Callable[..., Log], bike: Bike) -> None:
    log = counts_log(make_log, WHOLE, bike)
    work, _ = reckon(log, bike)
    rider = work[End.FRONT].rider
    assert rider is not None
    parts = {part.cause: part.standard_uncertainty_mm for part in rider.budget}
    assert set(parts) == {
        "resolution", "noise and movement", "repeatability", "how the rider sits", "friction",
        "calibration", "topped-out reading",
    }  # fmt: skip
    assert all(u > 0 for u in parts.values())
    total = np.sqrt(sum(u**2 for u in parts.values()))
    quantity = rider.quantity
    assert quantity.expanded_uncertainty == pytest.approx(quantity.coverage_factor * total)
    assert 1.9 < quantity.coverage_factor < 3.3


def test_getting_off_and_on_again_narrows_how_the_rider_sits(
    make_log: Callable[..., Log], bike: Bike
) -> None:
    work, _ = reckon(sag_log(make_log, (*WHOLE, *WHOLE)), bike)
    once, _ = reckon(sag_log(make_log, (TOPPED, *UNLADEN * 2, *RIDER * 2)), bike)
    sitting = []
    for found in (work, once):
        rider = found[End.FRONT].rider
        assert rider is not None
        sitting += [p.standard_uncertainty_mm for p in rider.budget if p.cause == "how the rider sits"]
    assert sitting[0] == pytest.approx(sitting[1] / np.sqrt(2))


def test_budget_is_laid_out_with_monte_carlo_beside_it(make_log: Callable[..., Log], bike: Bike) -> None:
    front, _ = ends(check_sag(counts_log(make_log, WHOLE, bike)))
    budget, sag = front.rider_budget, front.rider_sag_mm
    assert budget is not None
    assert sag is not None
    assert sum(line.share_percent for line in budget.lines) == pytest.approx(100.0)
    shares = [line.share_percent for line in budget.lines]
    assert shares == sorted(shares, reverse=True)
    assert all(line.remedy for line in budget.lines)
    assert budget.expanded_uncertainty_mm == pytest.approx(sag.expanded_uncertainty)
    low, high = budget.monte_carlo.interval_mm
    assert low < sag.value < high
    assert budget.monte_carlo.half_width_mm == pytest.approx(sag.expanded_uncertainty, rel=0.15)


def test_two_calibration_points_are_named(make_log: Callable[..., Log], bike: Bike) -> None:
    front, _ = ends(check_sag(counts_log(make_log, WHOLE, bike)))
    assert any("two calibration points cannot show" in caution for caution in front.cautions)


def test_advice_says_what_to_do_first(make_log: Callable[..., Log]) -> None:
    high = [(text, front * 0.6, rear * 0.6) for text, front, rear in WHOLE]
    check = check_sag(sag_log(make_log, high, marks=marks(WHOLE)))
    assert check.front is not None
    assert check.front.word == "too little"
    assert check.advice[0].startswith("Front: rider sag 42.0 ± ")
    assert check.advice[0].endswith("(18 %), target 64–76 mm: too little. The bike sits high.")
    assert check.advice[1] == (
        "Front: at correct sag the axle would sit 28 mm deeper before any lowering part."
    )
    assert any("qualified technician" in sentence for sentence in check.advice)


def test_right_sag_needs_no_safety_line(make_log: Callable[..., Log], bike: Bike) -> None:
    assert bike.front is not None
    assert bike.rear is not None
    # Without a use there is no target for unladen sag, so nothing is said about the springs.
    own = replace(
        bike,
        use=None,
        front=replace(bike.front, target_sag_percent=(28, 33)),
        rear=replace(bike.rear, target_sag_percent=(28, 33)),
    )
    check = check_sag(replace(sag_log(make_log), bike=own))
    assert [sentence.split(":")[0] for sentence in check.advice] == ["Front", "Rear"]


def test_ride_without_marks_is_refused(make_log: Callable[..., Log]) -> None:
    with pytest.raises(CannotAnswer, match="recorded as a ride and has no marks"):
        check_sag(replace(sag_log(make_log, marks=()), kind=Kind.RIDE))


def test_log_without_rest_cannot_answer(make_log: Callable[..., Log]) -> None:
    sway = 40 + 20 * np.sin(np.arange(10_000) / RATE_HZ * 6)
    with pytest.raises(CannotAnswer, match="no still span"):
        check_sag(make_log(sway, sway, rate_hz=RATE_HZ, kind=Kind.SAG))


def test_empty_log_cannot_answer(make_log: Callable[..., Log]) -> None:
    with pytest.raises(CannotAnswer, match="no sag can be read"):
        check_sag(make_log([], [], kind=Kind.SAG))


def test_button_marks_without_words_do_not_stop_the_search(make_log: Callable[..., Log]) -> None:
    log = replace(sag_log(make_log, marks=()), marks=(Mark(t_s=3.0, text="button"),))
    front, _ = ends(check_sag(log))
    assert front.rider_sag_mm is not None


def test_wheel_that_came_further_out_elsewhere_is_named(make_log: Callable[..., Log]) -> None:
    steps = (("topped out", 12.0, 0.0), *WHOLE[1:])
    high = [(text, front + 15.0 if text != "topped out" else front, rear) for text, front, rear in steps]
    front, rear = ends(check_sag(sag_log(make_log, high, marks=marks(steps))))
    assert any("further out than where topped out was read" in text for text in front.cautions)
    assert not any("further out" in text for text in rear.cautions)


def test_reading_past_the_calibration_is_named(make_log: Callable[..., Log], bike: Bike) -> None:
    log = counts_log(make_log, WHOLE, bike)
    short = replace(bike.sensors[End.FRONT], calibration=((102.0, 0.0), (302.0, 56.17)))
    front, _ = ends(check_sag(replace(log, bike=replace(bike, sensors={**bike.sensors, End.FRONT: short}))))
    assert any("rider was read 18 mm past the calibrated range" in text for text in front.cautions)


def test_ends_that_move_against_each_other_are_named_without_marks(make_log: Callable[..., Log]) -> None:
    log = sag_log(make_log, WHOLE, marks=())
    values = log.segments[0].values.copy()
    values[:, 0] = 110.0 - values[:, 0]
    check = check_sag(replace(log, segments=(replace(log.segments[0], values=values),)))
    assert any("move against each other" in text for text in check.cautions)


@pytest.mark.parametrize(("mass_kg", "named"), [(96.0, False), (160.0, True)])
def test_feet_that_carry_a_part_of_the_rider_are_named(
    make_log: Callable[..., Log], bike: Bike, mass_kg: float, named: bool
) -> None:
    # 36 mm of fork at 10 N/mm along 26°, and 46 mm of rear wheel at 60 N/mm of shock: some 940 N, 96 kg.
    assert bike.front is not None
    assert bike.rear is not None
    sprung = replace(
        bike,
        front=replace(bike.front, spring_rate_n_mm=10.0, preload_mm=10.0),
        rear=replace(bike.rear, spring_rate_n_mm=60.0, preload_mm=8.0),
    )
    log = replace(sag_log(make_log, bike=sprung), rider=Rider(name="somebody", mass_kg=mass_kg))
    assert any("feet on the ground" in text for text in check_sag(log).cautions) is named
