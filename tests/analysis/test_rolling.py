"""Rolling sag and feet-down sag: against the virtual bike's balance, and what is said beside rider sag."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.phases import read_mark
from analysis.results import EndSag, Quantity, SagCheck
from analysis.road import road_of_class
from analysis.rolling import scatter
from analysis.sag import check_sag
from analysis.sag_beside import beside_sentences
from analysis.virtual_bike import Load, Scene, demo_bike, record_of, sag_scene, simulate, to_counts
from ingest.log import Channel, Kind, Log, Mark, Segment
from ingest.records import Bike, End

RATE_HZ = 100.0
RIDER_KG, ON_THE_SPRINGS_KG = 80.0, 50.0
# A smooth floor (class B) at a slow jog, 9 km/h; before it the bike is pushed or lifted and let go.
SPEED_M_S, ROLL_S, LET_GO_S = 2.5, 15.0, 2.0
SYNTHETIC = (
    ("topped out", 0.0, 0.0),
    ("unladen, from above", 30.0, 17.5),
    ("unladen, from below", 38.0, 22.5),
    ("rider, from above", 66.0, 63.5),
    ("rider, from below", 74.0, 68.5),
)


def let_go(force_n: float) -> tuple[Load, ...]:
    times = ((0.0, force_n), (0.5, force_n), (LET_GO_S, 0.0))
    return tuple(Load(t_s=t, front_n=f, rear_n=f) for t, f in times)


def logged(make_log: Callable[..., Log], counts: np.ndarray, record: Bike, marks: Sequence[Mark]) -> Log:
    log = make_log(np.zeros(2), np.zeros(2), rate_hz=1000.0, kind=Kind.SAG, bike=record)
    return replace(
        log,
        channels=(Channel(name="ch0", bits=12), Channel(name="ch1", bits=12)),
        segments=(Segment(start_s=0.0, dt_s=0.001, values=counts),),
        marks=tuple(marks),
    )


def ends(check: SagCheck) -> dict[End, EndSag]:
    assert check.front is not None
    assert check.rear is not None
    return {End.FRONT: check.front, End.REAR: check.rear}


@pytest.mark.parametrize("force_n", [-200.0, 300.0])
def test_rolling_finds_the_balance_wherever_friction_held_it(
    make_log: Callable[..., Log], force_n: float
) -> None:
    bike = demo_bike()
    road = road_of_class("B", 1)
    scene = Scene(
        bike=bike,
        rider_mass_kg=RIDER_KG,
        road=road,
        speed_m_s=SPEED_M_S,
        duration_s=ROLL_S,
        loads=let_go(force_n),
    )
    (truth,) = simulate([scene])
    record = record_of(bike, bits=12)
    flat = replace(truth, front_mm=np.zeros(2000), rear_mm=np.zeros(2000))
    zeros = to_counts(flat, record, bits=12).mean(axis=0)
    log = logged(make_log, to_counts(truth, record, bits=12), record, [Mark(t_s=4.0, text="rolling")])
    check = check_sag(replace(log, zeros=dict(zip(End, map(float, zeros), strict=True))))
    for end, found in ends(check).items():
        assert found.rolling_sag_mm is not None
        error = found.rolling_sag_mm.value - truth.rider_sag_mm[end]
        assert abs(error) <= 0.7
        assert abs(error) <= found.rolling_sag_mm.expanded_uncertainty
        assert found.rider_sag_mm is None
        assert found.word == "cannot tell"
    assert sum("does not take its place" in sentence for sentence in check.advice) == 2


def test_feet_down_is_the_sag_of_what_is_left_on_the_springs(make_log: Callable[..., Log]) -> None:
    bike = demo_bike()
    record = record_of(bike, bits=12)
    whole, feet = simulate([sag_scene(bike, RIDER_KG), sag_scene(bike, ON_THE_SPRINGS_KG)])
    first, second = (to_counts(truth, record, bits=12) for truth in (whole, feet))
    later_s = first.shape[0] * 0.001
    marks = [Mark(t_s=(a + b) / 2, text=text) for a, b, text in whole.phases]
    marks += [
        Mark(t_s=later_s + (a + b) / 2, text=text.replace("rider", "feet down")) for a, b, text in feet.phases
    ]
    log = logged(make_log, np.concatenate([first, second]), record, marks)
    check = check_sag(log)
    for end, found in ends(check).items():
        assert found.feet_down_sag_mm is not None
        assert found.rider_sag_mm is not None
        assert found.feet_down_sag_mm.value == pytest.approx(feet.rider_sag_mm[end], abs=1.0)
        assert found.rider_sag_mm.value == pytest.approx(whole.rider_sag_mm[end], abs=1.0)
    rear = next(sentence for sentence in check.advice if sentence.startswith("Rear: feet-down sag"))
    assert "mm less than rider sag; the feet carry the rest." in rear


def synthetic(
    make_log: Callable[..., Log], roll_mm: float, roll_s: float, swing_mm: float, then_s: float = 0.0
) -> Log:
    """The five readings, then a roll about 70 and 66 mm plus ``roll_mm``, then standing ``then_s``."""
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.linspace(0.0, 1.0, int(RATE_HZ)))
    columns, marks = [], []
    for column in (1, 2):
        pieces, marks, now_mm, now_s = [], [], 20.0, 0.0
        for text, *levels in SYNTHETIC:
            level = levels[column - 1]
            way = level + (25.0 if "below" in text else -min(25.0, level))
            for target in (way, level):
                pieces.append(now_mm + (target - now_mm) * ramp)
                now_mm = target
            pieces.append(np.full(int(3 * RATE_HZ), level))
            now_s += 5.0
            marks.append((now_s - 1.5, text))
        middle = (70.0, 66.0)[column - 1] + roll_mm
        at_s = np.arange(round(roll_s * RATE_HZ)) / RATE_HZ
        pieces.append(middle + swing_mm * np.sin(2 * np.pi * 1.5 * at_s))
        marks.append((now_s + 0.2, "rolling"))
        pieces.append(np.full(int(then_s * RATE_HZ), middle - 5.0))
        columns.append(np.concatenate(pieces))
    return make_log(*columns, rate_hz=RATE_HZ, kind=Kind.SAG, marks=marks)


def test_rolling_stands_beside_rider_sag_and_changes_nothing_else(make_log: Callable[..., Log]) -> None:
    log = synthetic(make_log, 0.0, 12.0, 3.0, then_s=6.0)
    check = check_sag(log)
    bare = check_sag(replace(log, marks=log.marks[:-1]))
    for end, found in ends(check).items():
        assert found.rolling_sag_mm is not None
        assert found.rolling_sag_mm.value == pytest.approx({"front": 70.0, "rear": 66.0}[end], abs=0.15)
        assert ends(bare)[end].rider_sag_mm == found.rider_sag_mm
        assert ends(bare)[end].rolling_sag_mm is None
        assert [reading.phase for reading in found.readings][-1] == "rolling"
        # The mark was early, in the still span before: the roll begins where that ends.
        assert found.readings[-1].end_s == pytest.approx(37.0, abs=0.6)
    assert sum("it agrees with rider sag within their doubt" in said for said in check.advice) == 2


def test_rolling_elsewhere_than_rider_sag_is_said(make_log: Callable[..., Log]) -> None:
    check = check_sag(synthetic(make_log, 12.0, 12.0, 3.0))
    assert sum("mm more than rider sag and beyond their doubt" in said for said in check.advice) == 2


@pytest.mark.parametrize(("roll_s", "swing_mm"), [(3.0, 3.0), (12.0, 0.1)])
def test_too_short_or_too_smooth_gives_no_rolling_sag(
    make_log: Callable[..., Log], roll_s: float, swing_mm: float
) -> None:
    check = check_sag(synthetic(make_log, 0.0, roll_s, swing_mm, then_s=5.0))
    assert all(found.rolling_sag_mm is None for found in ends(check).values())
    assert sum("so there is no rolling sag" in caution for caution in check.cautions) == 2


def test_seconds_that_resemble_each_other_count_less() -> None:
    noise = np.random.default_rng(3).normal(size=400)
    alike = np.zeros(400)
    for i in range(1, 400):
        alike[i] = 0.6 * alike[i - 1] + noise[i]
    # A first-order autoregression of 0.6: the standard error of the mean is twice that of as many
    # independent values, sqrt((1 + 0.6) / (1 - 0.6)).
    told = scatter(alike)
    assert told.standard_uncertainty_mm == pytest.approx(2 * alike.std(ddof=1) / 20, rel=0.15)
    assert scatter(noise).standard_uncertainty_mm == pytest.approx(noise.std(ddof=1) / 20, rel=0.1)


def test_marks_and_sentences() -> None:
    said = read_mark("Feet down, rear, from above")
    assert said is not None
    assert (said.name, said.end, said.side) == ("feet down", End.REAR, "from above")
    q = Quantity(value=50.0, expanded_uncertainty=1.0, coverage_factor=2.0)
    found = EndSag(
        travel_mm=200.0,
        unladen_sag_mm=None,
        rider_sag_mm=q,
        unladen_sag_percent=None,
        rider_sag_percent=25.0,
        friction_band_mm=2.0,
        target_sag_mm=None,
        word="cannot tell",
        zero_reading=None,
        readings=(),
    )
    assert beside_sentences(End.FRONT, found) == []
    (more,) = beside_sentences(End.FRONT, replace(found, feet_down_sag_mm=replace(q, value=55.0)))
    assert more.startswith("Front: feet-down sag 55.0 ± 1.0 mm: 5.0 ± 1.4 mm more than rider sag.")
