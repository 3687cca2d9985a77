"""The bike as it is under a setup: everything that converts, judges or draws uses this one function."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TypeVar

from ingest.chassis import Stands
from ingest.errors import UsageError
from ingest.records import Bike, End, EndSetup, Sensor, Setup, Suspension

Value = TypeVar("Value")

SHARED = tuple(field.name for field in fields(EndSetup) if not field.name.startswith("sensor_"))
"""What a setup says about a suspension, under the same names as the bike file."""


def effective_bike(bike: Bike, setup: Setup | None) -> Bike:
    """Give the bike with everything replaced that the setup says.

    Parameters
    ----------
    bike : Bike
        The bike as its file has it.
    setup : Setup or None
        What the work changed; ``None`` gives the bike as it is.

    Returns
    -------
    Bike
        The same bike (its identity does not change) in the state of the setup. Where the setup gives a
        sensor a new calibration but no new zero, the old zero is dropped: it belonged to the old mounting;
        the old curve likewise, it belonged to the old points. A new spring rate without new lengths of the
        spring drops the old lengths for the same reason.

    Raises
    ------
    UsageError
        The setup speaks of an end or a sensor that the bike file does not have, or gives a telescopic fork
        a leverage.
    """
    if setup is None:
        return bike
    return replace(
        bike,
        seat_height_mm=None
        if bike.seat_height_mm is None
        else bike.seat_height_mm - (setup.seat_lowering_mm or 0.0),
        stands=_stands(bike.stands, setup),
        front=_suspension(bike, setup, End.FRONT),
        rear=_suspension(bike, setup, End.REAR),
        sensors={end: _sensor(sensor, setup.end(end)) for end, sensor in bike.sensors.items()},
    )


def _suspension(bike: Bike, setup: Setup, end: End) -> Suspension | None:
    said, suspension = setup.end(end), bike.suspension(end)
    if suspension is None:
        if said != EndSetup():
            raise UsageError(f'setup "{setup.name}" speaks of the {end}, but the bike file has no [{end}]')
        return None
    if end not in bike.sensors and (said.sensor_calibration or said.sensor_zero_count is not None):
        raise UsageError(
            f'setup "{setup.name}" speaks of the {end} sensor, but the bike file has no [sensors.{end}]'
        )
    if said.leverage is not None and suspension.kind == "telescopic fork":
        raise UsageError(f'setup "{setup.name}" gives the telescopic fork a leverage: a fork has none')
    changes = {key: value for key in SHARED if (value := getattr(said, key)) is not None}
    if said.spring_rate_n_mm not in (None, suspension.spring_rate_n_mm):
        # Another spring: the lengths in the bike file were those of the old one.
        suspension = replace(suspension, spring_free_length_mm=None, spring_solid_length_mm=None)
    return replace(suspension, **changes)


def _stands(stands: Stands | None, setup: Setup) -> Stands | None:
    said = {
        key: value
        for key in ("side_stand_length_mm", "centre_stand_length_mm")
        if (value := getattr(setup, key)) is not None
    }
    return replace(stands or Stands(), **said) if said else stands


def _sensor(sensor: Sensor, said: EndSetup) -> Sensor:
    zero = said.sensor_zero_count
    if said.sensor_calibration is None:
        return replace(sensor, zero_count=_or(zero, sensor.zero_count))
    return replace(sensor, calibration=said.sensor_calibration, curve=None, zero_count=zero)


def _or(said: Value | None, otherwise: Value) -> Value:
    return otherwise if said is None else said
