"""The shop's sag procedure, the demo bikes and rides, and the sensors of the virtual bike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.phases import read_mark
from analysis.position import converter
from analysis.targets import target_sag
from analysis.virtual_bike import (
    LIGHT_RIDER_KG,
    Truth,
    VirtualBike,
    demo_bike,
    lowered,
    record_of,
    ride_scene,
    sag_scene,
    simulate,
    to_counts,
    varied_scenes,
)
from ingest.errors import UsageError
from ingest.records import End

STOCK, LOWERED = demo_bike(), lowered(demo_bike())


@pytest.fixture(scope="module")
def played() -> dict[str, Truth]:
    scenes = [
        sag_scene(STOCK, LIGHT_RIDER_KG),
        sag_scene(LOWERED, LIGHT_RIDER_KG),
        ride_scene(STOCK),
        ride_scene(LOWERED),
    ]
    return dict(
        zip(("stock sag", "lowered sag", "stock ride", "lowered ride"), simulate(scenes), strict=True)
    )


def readings(truth: Truth, end: End) -> dict[str, np.ndarray]:
    """The still spans by name; the last of a name where there are several."""
    return {
        text: truth.travel_mm(end)[round(start / truth.dt_s) : round(stop / truth.dt_s)]
        for start, stop, text in truth.phases
    }


@pytest.mark.parametrize("name", ["stock sag", "lowered sag"])
@pytest.mark.parametrize("end", End)
def test_settled_readings_straddle_the_equilibrium(played: dict[str, Truth], name: str, end: End) -> None:
    truth = played[name]
    found = {text: float(values.mean()) for text, values in readings(truth, end).items()}
    assert found["topped out"] == pytest.approx(0.0, abs=0.2)
    for load, true_mm in (("unladen", truth.unladen_sag_mm[end]), ("rider", truth.rider_sag_mm[end])):
        above, below = found[f"{load}, from above"], found[f"{load}, from below"]
        assert above < true_mm - 1.0
        assert below > true_mm + 1.0
        assert (above + below) / 2 == pytest.approx(true_mm, abs=0.3)


@pytest.mark.parametrize("end", End)
def test_still_spans_are_still_and_named_in_the_grammar_of_marks(played: dict[str, Truth], end: End) -> None:
    truth = played["stock sag"]
    spans = readings(truth, end)
    assert list(spans) == [
        "topped out",
        "unladen, from above",
        "unladen, from below",
        "rider, from above",
        "rider, from below",
    ]
    for text, values in spans.items():
        assert np.ptp(values) < 0.05
        assert values.size * truth.dt_s == pytest.approx(3.0)
        words = read_mark(text)
        assert words is not None
        assert words.unknown == ()


def test_repeats_play_the_procedure_again() -> None:
    once, twice = sag_scene(STOCK, 58), sag_scene(STOCK, 58, repeats=2)
    assert len(twice.phases) == 2 * len(once.phases)
    assert twice.duration_s == pytest.approx(2 * once.duration_s)


def test_fidgeting_within_friction_does_not_move_the_reading() -> None:
    truth = simulate([sag_scene(STOCK, 58, fidget_n=8.0, seed=3)])[0]
    moved = {text: np.ptp(values) for text, values in readings(truth, End.FRONT).items()}
    assert max(moved.values()) < 1.0


def percent(bike: VirtualBike, end: End) -> float:
    travel_mm = bike.front.travel_mm if end is End.FRONT else bike.rear.travel_mm
    return 100 * bike.sag_mm(LIGHT_RIDER_KG)[end] / travel_mm


@pytest.mark.parametrize("end", End)
def test_stock_sag_is_far_short_of_target_and_lowered_sag_is_in_it(end: End) -> None:
    target = target_sag(record_of(STOCK), end)
    assert target is not None
    low, high = target.percent
    assert percent(STOCK, end) < low - 5.0
    assert low < percent(LOWERED, end) < high


def test_stock_never_bottoms_but_tops_out_and_lowered_uses_its_travel(played: dict[str, Truth]) -> None:
    stock, short = played["stock ride"], played["lowered ride"]
    for end, travel_mm, short_mm in ((End.FRONT, 230, 205), (End.REAR, 220, 195)):
        assert stock.ends[end].max_mm < 0.95 * travel_mm
        assert len(stock.ends[end].toppings) > len(short.ends[end].toppings)
        assert short.ends[end].max_mm / short_mm > stock.ends[end].max_mm / travel_mm + 0.05
    assert short.ends[End.REAR].above_95_percent
    assert short.ends[End.REAR].rubber_s > 0.1


def test_varied_scenes_are_the_same_for_the_same_seed() -> None:
    assert varied_scenes(4, seed=9) == varied_scenes(4, seed=9)
    assert varied_scenes(4, seed=9) != varied_scenes(4, seed=8)
    assert {scene.bike.name for scene in varied_scenes(3, bike=replace(STOCK, name="mine"))} == {"mine"}


@pytest.mark.parametrize("bike", [STOCK, LOWERED], ids=["stock", "lowered"])
@pytest.mark.parametrize("bits", [10, 12, 16])
def test_counts_read_back_as_the_travel_they_came_from(bike: VirtualBike, bits: int) -> None:
    scene = replace(ride_scene(bike), duration_s=5.0)
    truth = simulate([scene])[0]
    record = record_of(bike, bits)
    counts = to_counts(truth, record, bits, noise_counts=0.0)
    for end in End:
        sensor = record.sensors[end]
        turn = converter(record, end, None)
        travel_mm = turn.positions(counts[:, sensor.channel].astype(float)).travel_mm
        one_count = np.abs(turn.line.slope) * (2.7 if end is End.REAR else 1.0)
        # Half a count, and what two cubics through the same leverage table may differ by.
        assert np.nanmax(np.abs(travel_mm - truth.travel_mm(end))) < 0.5 * one_count + 0.04


def test_lowered_sensors_are_topped_out_somewhere_else() -> None:
    stock, short = record_of(STOCK), record_of(LOWERED)
    for end in End:
        assert stock.sensors[end].zero_count is None
        assert short.sensors[end].calibration == stock.sensors[end].calibration
    # 25 mm of 230 mm on 819 counts above 102.
    assert short.sensors[End.FRONT].zero_count == pytest.approx(102 + 819 * 25 / 230)


def test_noise_is_seeded_and_counts_end_where_the_converter_ends() -> None:
    truth = simulate([replace(ride_scene(STOCK), duration_s=1.0)])[0]
    record = record_of(STOCK)
    assert np.array_equal(to_counts(truth, record, seed=4), to_counts(truth, record, seed=4))
    noise = to_counts(truth, record, noise_counts=3.0).astype(float) - to_counts(
        truth, record, noise_counts=0
    )
    assert noise.std() == pytest.approx(3.0, rel=0.1)
    loud = to_counts(truth, record, noise_counts=900.0)
    assert loud.dtype == np.uint16
    assert (loud.min(), loud.max()) == (0, 1023)


def test_counts_need_a_sensor_at_both_ends() -> None:
    truth = simulate([replace(ride_scene(STOCK), duration_s=0.5)])[0]
    record = record_of(STOCK)
    deaf = replace(record, sensors={End.FRONT: record.sensors[End.FRONT]})
    with pytest.raises(UsageError, match="rear: a virtual recording needs a suspension and a sensor"):
        to_counts(truth, deaf)
