"""The bike under a setup: everything the setup says is replaced, everything else stays."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from analysis.effective import effective_bike
from ingest.chassis import Stands
from ingest.errors import UsageError
from ingest.records import Bike, End, EndSetup, Leverage, Measures, Sensor, Setup, Suspension

# One value for every key of a setup, each unlike the bike's.
EVERYTHING = EndSetup(
    travel_mm=180,
    leverage=Leverage(ratio=2.1),
    spring_rate_n_mm=110,
    preload_mm=8,
    spring_free_length_mm=210,
    spring_solid_length_mm=95,
    preload_min_mm=2,
    preload_max_mm=22,
    thread_pitch_mm=1.5,
    axle_load_kg=108,
    unsprung_mass_kg=22,
    air_area_mm2=2900,
    air_column_mm=380,
    target_sag_percent=(30, 33),
    compression_clicks=7,
    rebound_clicks=9,
    oil_level_mm=120,
    raised_in_clamps_mm=10,
    full_bump_room_mm=22,
    clamp_parallel_mm=30,
    shock_length_mm=365,
    shock_stroke_mm=84,
    fork_spacer_mm=25,
    plates_fitted="long plates",
    sensor_calibration=((120, 0), (905, 78)),
    sensor_zero_count=121.5,
)


def test_no_setup_and_an_empty_one_change_nothing(bike: Bike) -> None:
    assert effective_bike(bike, None) == bike
    assert effective_bike(bike, Setup(name="stock")) == bike


def test_a_setup_replaces_what_it_says(bike: Bike) -> None:
    before = replace(bike)
    lowered = effective_bike(bike, Setup(name="lowered", rear=EVERYTHING))
    assert lowered.rear == Suspension(
        kind="linkage",
        travel_mm=180,
        leverage=Leverage(ratio=2.1),
        spring_rate_n_mm=110,
        preload_mm=8,
        spring_free_length_mm=210,
        spring_solid_length_mm=95,
        preload_min_mm=2,
        preload_max_mm=22,
        thread_pitch_mm=1.5,
        axle_load_kg=108,
        unsprung_mass_kg=22,
        air_area_mm2=2900,
        air_column_mm=380,
        target_sag_percent=(30, 33),
        compression_clicks=7,
        rebound_clicks=9,
        oil_level_mm=120,
        raised_in_clamps_mm=10,
        full_bump_room_mm=22,
        clamp_parallel_mm=30,
        shock_length_mm=365,
        shock_stroke_mm=84,
        fork_spacer_mm=25,
        plates_fitted="long plates",
    )
    assert lowered.sensors[End.REAR] == Sensor(
        end=End.REAR,
        channel=1,
        measures=Measures.SHOCK_STROKE,
        calibration=((120, 0), (905, 78)),
        zero_count=121.5,
    )
    assert (lowered.front, lowered.sensors[End.FRONT]) == (bike.front, bike.sensors[End.FRONT])
    assert lowered.identity == bike.identity
    assert bike == before


@pytest.mark.parametrize("name", [field.name for field in fields(EndSetup)])
def test_each_key_alone_arrives(bike: Bike, name: str) -> None:
    value = getattr(EVERYTHING, name)
    assert value is not None
    lowered = effective_bike(bike, Setup(name="one change", rear=EndSetup(**{name: value})))
    assert lowered != bike
    holder = lowered.sensors[End.REAR] if name.startswith("sensor_") else lowered.rear
    assert getattr(holder, name.removeprefix("sensor_")) == value


def test_zero_is_a_value_and_not_an_absence(bike: Bike) -> None:
    assert bike.rear is not None
    wound_in = replace(bike, rear=replace(bike.rear, preload_mm=8.0, compression_clicks=3))
    off = effective_bike(
        wound_in, Setup(name="off", rear=EndSetup(preload_mm=0, compression_clicks=0, sensor_zero_count=0))
    )
    assert off.rear is not None
    assert (off.rear.preload_mm, off.rear.compression_clicks, off.sensors[End.REAR].zero_count) == (0, 0, 0)


def test_a_new_calibration_drops_the_zero_of_the_old_mounting(bike: Bike) -> None:
    zeroed = replace(
        bike, sensors={**bike.sensors, End.REAR: replace(bike.sensors[End.REAR], zero_count=90.0)}
    )
    points = ((120.0, 0.0), (905.0, 78.0))
    kept = effective_bike(zeroed, Setup(name="spring only", rear=EndSetup(spring_rate_n_mm=90)))
    moved = effective_bike(zeroed, Setup(name="sensor moved", rear=EndSetup(sensor_calibration=points)))
    assert kept.sensors[End.REAR].zero_count == 90.0
    assert moved.sensors[End.REAR].zero_count is None


def test_another_spring_has_lengths_of_its_own(bike: Bike) -> None:
    assert bike.rear is not None
    known = replace(
        bike,
        rear=replace(bike.rear, spring_rate_n_mm=105, spring_free_length_mm=210, spring_solid_length_mm=95),
    )
    same = effective_bike(known, Setup(name="same", rear=EndSetup(spring_rate_n_mm=105, preload_mm=3)))
    softer = effective_bike(known, Setup(name="softer", rear=EndSetup(spring_rate_n_mm=85)))
    told = effective_bike(
        known, Setup(name="told", rear=EndSetup(spring_rate_n_mm=85, spring_free_length_mm=205))
    )
    assert same.rear is not None
    assert softer.rear is not None
    assert told.rear is not None
    assert (same.rear.spring_free_length_mm, same.rear.spring_solid_length_mm) == (210, 95)
    assert (softer.rear.spring_free_length_mm, softer.rear.spring_solid_length_mm) == (None, None)
    assert (told.rear.spring_free_length_mm, told.rear.spring_solid_length_mm) == (205, None)


def test_a_setup_for_an_end_that_is_not_there(bike: Bike) -> None:
    half = replace(bike, front=None, sensors={End.REAR: bike.sensors[End.REAR]})
    with pytest.raises(
        UsageError, match=r'setup "low" speaks of the front, but the bike file has no \[front\]'
    ):
        effective_bike(half, Setup(name="low", front=EndSetup(travel_mm=200)))
    deaf = replace(bike, sensors={})
    with pytest.raises(UsageError, match=r"rear sensor, but the bike file has no \[sensors.rear\]"):
        effective_bike(deaf, Setup(name="low", rear=EndSetup(sensor_zero_count=0)))


def test_a_fork_takes_no_leverage(bike: Bike) -> None:
    with pytest.raises(UsageError, match="gives the telescopic fork a leverage"):
        effective_bike(bike, Setup(name="low", front=EndSetup(leverage=Leverage(ratio=1.5))))


def test_seat_and_stands_follow_the_work(bike: Bike) -> None:
    tall = replace(
        bike, seat_height_mm=905.0, stands=Stands(side_stand_length_mm=330, side_stand_lean_deg=11)
    )
    low = effective_bike(tall, Setup(name="low", seat_lowering_mm=15, side_stand_length_mm=300))
    assert low.seat_height_mm == 890.0
    assert low.stands == Stands(side_stand_length_mm=300, side_stand_lean_deg=11)
    assert effective_bike(bike, Setup(name="low", seat_lowering_mm=15)).seat_height_mm is None
