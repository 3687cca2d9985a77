"""Builders shared by all tests."""

from __future__ import annotations

import signal
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from ingest.log import Channel, Kind, Log, Mark, Segment, Unit
from ingest.records import Bike, End, Leverage, Measures, Sensor, Suspension

# A shell that runs the tests in the background has them ignore Ctrl-C, and what they start would as well.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


def build_bike() -> Bike:
    """The tall bike most tests use: 230 mm of fork, 220 mm of linkage rear, 10-bit sensors on 0 and 1."""
    return Bike(
        name="Workshop tall twin",
        id="frame 0001",
        use="adventure",
        wheelbase_mm=1560,
        rake_deg=26.0,
        fork_offset_mm=45,
        front_wheel_radius_mm=345,
        rear_wheel_radius_mm=325,
        front=Suspension(kind="telescopic fork", travel_mm=230),
        rear=Suspension(
            kind="linkage",
            travel_mm=220,
            leverage=Leverage(table=((0, 0), (55, 21), (110, 43.5), (165, 67.3), (220, 92))),
        ),
        sensors={
            End.FRONT: Sensor(end=End.FRONT, channel=0, calibration=((102, 0), (921, 230))),
            End.REAR: Sensor(
                end=End.REAR, channel=1, measures=Measures.SHOCK_STROKE, calibration=((88, 0), (902, 92))
            ),
        },
    )


def build_log(
    front_mm: Sequence[float] | np.ndarray,
    rear_mm: Sequence[float] | np.ndarray,
    *,
    rate_hz: float = 1000.0,
    kind: Kind = Kind.RIDE,
    bike: Bike | None = None,
    marks: Sequence[tuple[float, str]] = (),
) -> Log:
    """A log of already converted wheel travel, in one segment."""
    values = np.column_stack([np.asarray(front_mm, float), np.asarray(rear_mm, float)])
    return Log(
        id="test",
        kind=kind,
        started="2026-01-01T09:00:00+00:00",
        bike=bike or build_bike(),
        channels=(
            Channel(name="front_mm", unit=Unit.WHEEL_MM),
            Channel(name="rear_mm", unit=Unit.WHEEL_MM),
        ),
        segments=(Segment(start_s=0.0, dt_s=1.0 / rate_hz, values=values),),
        marks=tuple(Mark(t_s=t, text=text) for t, text in marks),
    )


@pytest.fixture
def bike() -> Bike:
    return build_bike()


@pytest.fixture
def make_log() -> Callable[..., Log]:
    return build_log
