"""A sensor aslant to the stroke: from the bike file's three lengths to true wheel travel.

The counts are made here with plane geometry of their own: the sensor's fixed end at a point beside the
stroke's line, the moving end on it, Pythagoras between the two.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.motion import end_motion
from analysis.position import converter
from analysis.sag import check_sag
from analysis.slant import slant
from analysis.virtual_counts import to_counts
from analysis.virtual_scene import Truth
from ingest.errors import CannotAnswer
from ingest.log import Channel, Kind, Log, Mark, Segment, Unit
from ingest.records import Bike, End, Leverage, Measures, Sensor, SensorLine, Suspension

STROKE_LINE_MM = 340.0
COUNTS_PER_MM, FIRST_COUNTS = 400.0, 9000.0  # 16 bits and more than the test asks of them
WHEEL_MM = (0.0, 55.0, 110.0, 165.0, 220.0)
STROKE_MM = (0.0, 21.0, 43.5, 67.3, 92.0)

# Where the sensor's fixed end is: along the stroke's line from its fixed end, and beside it.
BESIDE, NEAR, BEYOND = (20.0, 65.0), (-40.0, 90.0), (620.0, 80.0)


def sensor_length(anchor: tuple[float, float], stroke_mm: np.ndarray | float) -> np.ndarray:
    along, beside = anchor
    return np.sqrt((STROKE_LINE_MM - stroke_mm - along) ** 2 + beside**2)


def lengths(anchor: tuple[float, float], give_or_take_mm: float | None = 0.1) -> SensorLine:
    return SensorLine(
        fixed_ends_apart_mm=math.hypot(*anchor),
        stroke_line_mm=STROKE_LINE_MM,
        sensor_mm=float(sensor_length(anchor, 0.0)),
        give_or_take_mm=give_or_take_mm,
    )


def counts_at(anchor: tuple[float, float], stroke_mm: np.ndarray, clamped_mm: float = 0.0) -> np.ndarray:
    """Whole counts of a sensor whose own calibration is exact; ``clamped_mm`` further along at topped out."""
    moved = np.abs(sensor_length(anchor, stroke_mm) - sensor_length(anchor, 0.0))
    return np.rint(FIRST_COUNTS + COUNTS_PER_MM * (moved + clamped_mm)).astype(np.uint16)


def on_the_shock(line: SensorLine | None, **changes: object) -> Bike:
    calibration = ((FIRST_COUNTS, 0.0), (FIRST_COUNTS + 120 * COUNTS_PER_MM, 120.0))
    sensor = Sensor(
        end=End.REAR,
        channel=0,
        measures=Measures.SHOCK_STROKE,
        calibration=calibration,
        line=line,
    )
    return Bike(
        name="Workshop tall twin",
        rear=Suspension(
            kind="linkage",
            travel_mm=220,
            leverage=Leverage(table=tuple(zip(WHEEL_MM, STROKE_MM, strict=True))),
        ),
        sensors={End.REAR: replace(sensor, **changes)},
    )


def log_of(bike: Bike, counts: np.ndarray, zeros: dict[End, float] | None = None) -> Log:
    return Log(
        id="test",
        kind=Kind.RIDE,
        started="2026-01-01T09:00:00+00:00",
        bike=bike,
        channels=(Channel(name="ch0", unit=Unit.COUNT),),
        segments=(Segment(start_s=0.0, dt_s=0.001, values=counts[:, None]),),
        zeros=zeros or {},
    )


def ride() -> tuple[np.ndarray, np.ndarray]:
    """Stroke from end to end and back, and the wheel travel by the leverage that was written down."""
    stroke = 46.0 - 46.0 * np.cos(np.linspace(0, 4 * np.pi, 4000))
    bike = on_the_shock(None)
    linkage = converter(bike, End.REAR, None).linkage
    assert linkage is not None
    return stroke, linkage.wheel_mm(stroke)


@pytest.mark.parametrize("anchor", [BESIDE, NEAR, BEYOND], ids=["beside", "near", "beyond"])
@pytest.mark.parametrize("clamped_mm", [0.0, 7.5])
def test_a_ride_comes_out_within_two_hundredths(anchor: tuple[float, float], clamped_mm: float) -> None:
    stroke, wheel = ride()
    zero = None if clamped_mm == 0 else {End.REAR: FIRST_COUNTS + COUNTS_PER_MM * clamped_mm}
    counts = counts_at(anchor, stroke, clamped_mm)
    found = end_motion(log_of(on_the_shock(lengths(anchor)), counts, zero), End.REAR)
    assert found is not None
    np.testing.assert_allclose(found.segments[0].travel_mm, wheel, atol=0.02)
    assert not [text for text in found.cautions if "line" in text]
    crooked = end_motion(log_of(on_the_shock(None), counts, zero), End.REAR)
    assert crooked is not None
    assert np.nanmax(np.abs(crooked.segments[0].travel_mm - wheel)) > 3


def test_numbers_that_are_not_whole_go_the_same_way() -> None:
    stroke, wheel = ride()
    counts = counts_at(BESIDE, stroke).astype(float)
    found = end_motion(log_of(on_the_shock(lengths(BESIDE)), counts), End.REAR)
    assert found is not None
    np.testing.assert_allclose(found.segments[0].travel_mm, wheel, atol=0.02)


def test_a_sensor_that_follows_the_wheel() -> None:
    bike = Bike(
        name="Workshop tall twin",
        front=Suspension(kind="telescopic fork", travel_mm=200),
        sensors={
            End.FRONT: Sensor(
                end=End.FRONT,
                channel=0,
                calibration=((60_000.0, 0.0), (60_000.0 - 200 * 250, 200.0)),  # falling counts
                zero_count=59_000.0,
                line=lengths(BESIDE),
            )
        },
    )
    stroke = np.linspace(0, 180, 50)
    moved = sensor_length(BESIDE, 0.0) - sensor_length(BESIDE, stroke)
    travel = converter(bike, End.FRONT, None).positions(59_000.0 - 250 * moved).travel_mm
    np.testing.assert_allclose(travel, stroke, atol=1e-6)


def test_what_the_angle_costs_and_what_doubt_is_left() -> None:
    found = slant(on_the_shock(lengths(BESIDE)), End.REAR)
    assert found is not None
    read = float(sensor_length(BESIDE, 0.0) - sensor_length(BESIDE, 92.0))
    assert found.correction.largest_mm == pytest.approx(92 - read, abs=1e-6)
    assert found.triangle.u_mm == pytest.approx(0.1 / math.sqrt(3))
    assert float(found.stroke_mm(found.length_mm(50.0))) == pytest.approx(50, abs=1e-9)
    assert list(found.cautions(End.REAR)) == []


def test_doubt_at_the_wheel_against_random_lengths() -> None:
    """The three lengths drawn between their limits, the wheel travel of each worked out anew."""
    line = lengths(NEAR, give_or_take_mm=3.0)
    found = slant(on_the_shock(line), End.REAR)
    assert found is not None
    random, read = np.random.default_rng(3), float(found.length_mm(92.0))
    leverage = (220 - 165) / (92 - 67.3)
    draws = []
    for off in random.uniform(-3, 3, (2000, 3)):
        measured = SensorLine(
            fixed_ends_apart_mm=line.fixed_ends_apart_mm + off[0],
            stroke_line_mm=line.stroke_line_mm + off[1],
            sensor_mm=line.sensor_mm + off[2],
        )
        other = slant(on_the_shock(measured), End.REAR)
        assert other is not None
        draws.append(leverage * float(other.stroke_mm(read)))
    assert found.doubt_mm == pytest.approx(2 * np.std(draws), rel=0.15)
    assert any("line leave ±" in text for text in found.cautions(End.REAR))


def test_lengths_by_tape_reach_the_ride_as_a_caution() -> None:
    stroke, _ = ride()
    found = end_motion(log_of(on_the_shock(lengths(NEAR, None)), counts_at(NEAR, stroke)), End.REAR)
    assert found is not None
    assert any(text.startswith("rear: the three lengths of the sensor's line") for text in found.cautions)


def test_a_sensor_that_turns_back_within_the_stroke_is_refused() -> None:
    across = lengths((300.0, 80.0))
    with pytest.raises(
        CannotAnswer, match=r"\[sensors.rear\] line: the sensor passes its nearest point 40 mm"
    ):
        converter(on_the_shock(across), End.REAR, None)


def test_lengths_that_cannot_tell_whether_it_turns_back_are_refused() -> None:
    nearly = lengths((245.0, 80.0), give_or_take_mm=10.0)
    with pytest.raises(CannotAnswer, match=r"\[sensors.rear\] line: the sensor may turn back"):
        slant(on_the_shock(nearly), End.REAR)


def test_a_sag_is_put_right_and_carries_the_doubt_of_the_lengths() -> None:
    bike = on_the_shock(lengths(NEAR, give_or_take_mm=3.0))
    linkage = converter(bike, End.REAR, None).linkage
    assert linkage is not None
    steps = (
        (0.0, "topped out"),
        (38.0, "unladen, from above"),
        (42.0, "unladen, from below"),
        (98.0, "rider, from above"),
        (102.0, "rider, from below"),
    )
    wheel = np.interp(
        np.arange(0, 40, 0.005),
        [second for number in range(5) for second in (8 * number, 8 * number + 7)],
        [mm for mm, _ in steps for _ in range(2)],
    )
    noise = np.random.default_rng(4).normal(0.0, 4.0, wheel.size)
    counts = counts_at(NEAR, linkage.stroke_mm(wheel), clamped_mm=6.0) + np.rint(noise).astype(int)
    log = replace(
        log_of(bike, counts.astype(np.uint16)),
        kind=Kind.SAG,
        segments=(Segment(start_s=0.0, dt_s=0.005, values=counts.astype(np.uint16)[:, None]),),
        marks=tuple(Mark(t_s=8 * number + 4, text=text) for number, (_, text) in enumerate(steps)),
    )
    rear = check_sag(log).rear
    assert rear is not None
    assert rear.unladen_sag_mm is not None
    assert rear.rider_sag_mm is not None
    assert (rear.unladen_sag_mm.value, rear.rider_sag_mm.value) == pytest.approx((40, 100), abs=0.1)
    assert any("line leave ±" in text for text in rear.cautions)
    assert rear.rider_budget is not None
    causes = {line.cause: line for line in rear.rider_budget.lines}
    found = slant(bike, End.REAR)
    assert found is not None
    stroke = float(linkage.stroke_mm(100.0))
    expected = float(linkage.leverage(stroke)) * np.interp(
        stroke, found.correction.stroke_mm, found.correction.standard_uncertainty_mm
    )
    assert causes["sensor's line"].standard_uncertainty_mm == pytest.approx(expected, rel=0.01)
    straight = check_sag(replace(log, bike=on_the_shock(None))).rear
    assert straight is not None
    assert straight.rider_budget is not None
    assert "sensor's line" not in {line.cause for line in straight.rider_budget.lines}


def test_a_reading_no_such_sensor_can_give_is_masked() -> None:
    """Just before it stands across the stroke the sensor hardly moves; a reading beyond that is no travel."""
    nearly = on_the_shock(lengths((245.0, 80.0)))
    longest = float(sensor_length((245.0, 80.0), 0.0)) - 80.0
    found = converter(nearly, End.REAR, None).positions(
        FIRST_COUNTS + COUNTS_PER_MM * np.array([0.0, 20.0, longest + 1])
    )
    assert np.isnan(found.travel_mm).tolist() == [False, False, True]


def test_virtual_counts_follow_the_same_sensor() -> None:
    _, wheel = ride()
    bike = on_the_shock(lengths(BESIDE))
    truth = Truth(
        dt_s=0.001,
        front_mm=np.zeros_like(wheel),
        rear_mm=wheel,
        front_speed_mm_s=np.zeros_like(wheel),
        rear_speed_mm_s=np.zeros_like(wheel),
        unladen_sag_mm={},
        rider_sag_mm={},
        phases=(),
        ends={},
    )
    front = Sensor(end=End.FRONT, channel=1, calibration=((0.0, 0.0), (1000.0, 100.0)))
    both = replace(
        bike,
        front=Suspension(kind="telescopic fork", travel_mm=100),
        sensors={**bike.sensors, End.FRONT: front},
    )
    straight = replace(both, sensors={**both.sensors, End.REAR: on_the_shock(None).sensors[End.REAR]})
    aslant, along = (
        to_counts(truth, one, bits=16, noise_counts=0.0)[:, 0].astype(float) for one in (both, straight)
    )
    expected = counts_at(BESIDE, (along - FIRST_COUNTS) / COUNTS_PER_MM)
    assert np.abs(aslant - expected).max() <= 1
    assert np.abs(aslant - along).max() > 500
