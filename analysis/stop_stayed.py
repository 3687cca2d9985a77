"""Where the travel sits in the bike before and after: was it moved, and which end of it went?"""

from __future__ import annotations

import numpy as np

from analysis.calibration import fit_line
from analysis.effective import effective_bike
from analysis.moved_wheel import MOVES_THE_WHEEL
from ingest.log import Log
from ingest.records import End, Measures, Sensor

AGREES_MM = 3.0
"""A zero is read to a millimetre or two. A sensor mounted anew tops out anywhere: that it would agree by
chance is unlikely."""


def full_bump_stayed(before: Log, after: Log, end: End) -> bool:
    """Say whether full bump stayed where it was, and the travel was taken off at the topped-out end.

    So it is with a spacer inside a fork: the same sensor tops out further in, by as much as the travel lost.

    Parameters
    ----------
    before, after : Log
        Rides before and after the work.
    end : End

    Returns
    -------
    bool
        False also where it cannot be told: no zero on one side, another calibration, wheel travel that was
        imported, a sensor that follows the shock.
    """
    logs = (before, after)
    bikes = [effective_bike(log.bike, log.setup) for log in logs]
    sensors = [bike.sensors.get(end) for bike in bikes]
    travels = [suspension.travel_mm for bike in bikes if (suspension := bike.suspension(end)) is not None]
    tops = [_topped_out_mm(log, sensor) for log, sensor in zip(logs, sensors, strict=True)]
    was, now = tops
    if len(travels) < 2 or was is None or now is None or not _one_scale(sensors):
        return False
    lost_mm = travels[0] - travels[1]
    return abs(lost_mm) > AGREES_MM and abs((now - was) - lost_mm) <= AGREES_MM


def travel_sits_alike(before: Log, after: Log) -> bool:
    """Say whether both setups hold the travel of both wheels at the same place in the bike.

    Only then do ride positions alone say what became of rake and trail.
    """
    bikes = [effective_bike(log.bike, log.setup) for log in (before, after)]
    return all(
        getattr(bikes[0].suspension(end), name, None) == getattr(bikes[1].suspension(end), name, None)
        for end in End
        for name in MOVES_THE_WHEEL
    )


def _one_scale(sensors: list[Sensor | None]) -> bool:
    return len({sensor.calibration for sensor in sensors if sensor is not None}) == 1


def _topped_out_mm(log: Log, sensor: Sensor | None) -> float | None:
    """Give where a sensor of wheel travel tops out on its own scale, mm."""
    if sensor is None or sensor.measures is not Measures.WHEEL_TRAVEL:
        return None
    zero = log.zeros.get(sensor.end, sensor.zero_count)
    if zero is None or f"{sensor.end}_mm" in {channel.name for channel in log.channels}:
        return None
    counts, mm = zip(*sensor.calibration, strict=True)
    return float(fit_line(counts, mm).mm(np.array(zero)))
