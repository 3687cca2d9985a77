"""The sensors of the virtual bike: true travel in, raw counts out, and the bike file that describes them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from analysis.slant import slant
from analysis.virtual_parts import VirtualBike, VirtualEnd
from analysis.virtual_scene import Truth
from ingest.errors import UsageError
from ingest.records import Bike, End, Leverage, Measures, Sensor, Suspension

Floats = npt.NDArray[np.float64]

# Two sensors as they might be calibrated on the bench: counts of a 10-bit converter, mm of their own stroke.
FRONT_POINTS = ((102.0, 0.0), (921.0, 230.0))
REAR_POINTS = ((88.0, 0.0), (902.0, 92.0))


def record_of(bike: VirtualBike, bits: int = 10) -> Bike:
    """Describe a virtual bike as its owner's bike file would: with its present travel, leverage and zeros.

    The sensors stay what they are when the bike is lowered; only their topped-out readings move.
    """
    return Bike(
        name=bike.name,
        id=bike.id,
        use="adventure",
        wheelbase_mm=bike.wheelbase_mm,
        rake_deg=bike.rake_deg,
        fork_offset_mm=bike.fork_offset_mm,
        front_wheel_radius_mm=bike.front_wheel_radius_mm,
        rear_wheel_radius_mm=bike.rear_wheel_radius_mm,
        front=_suspension("telescopic fork", bike.front),
        rear=_suspension("linkage" if bike.rear.leverage else "direct", bike.rear),
        sensors={
            End.FRONT: _sensor(End.FRONT, 0, bike.front, FRONT_POINTS, bits),
            End.REAR: _sensor(End.REAR, 1, bike.rear, REAR_POINTS, bits),
        },
    )


def _suspension(kind: str, end: VirtualEnd) -> Suspension:
    return Suspension(
        kind=kind,
        travel_mm=end.travel_mm,
        leverage=Leverage(table=end.leverage) if end.leverage else None,
        spring_rate_n_mm=end.spring_rate_n_mm,
        preload_mm=end.preload_mm,
    )


def _sensor(
    name: End, channel: int, end: VirtualEnd, points: tuple[tuple[float, float], ...], bits: int
) -> Sensor:
    scale = 2.0 ** (bits - 10)
    calibration = tuple((counts * scale, mm) for counts, mm in points)
    offset = float(
        np.interp(end.sensor_offset_mm, [mm for _, mm in calibration], [c for c, _ in calibration])
    )
    return Sensor(
        end=name,
        channel=channel,
        measures=Measures.SHOCK_STROKE if end.leverage else Measures.WHEEL_TRAVEL,
        calibration=calibration,
        zero_count=offset if end.sensor_offset_mm else None,
    )


def to_counts(
    truth: Truth, record: Bike, bits: int = 10, noise_counts: float = 0.5, seed: int = 0
) -> npt.NDArray[np.uint16]:
    """Turn true travel into what the converter would have given, shape (samples, 2).

    ``noise_counts`` is the standard deviation of the noise before rounding. Counts end where the converter
    ends, at 0 and ``2**bits - 1``.
    """
    random = np.random.default_rng(seed)
    counts = clean_counts(truth, record)
    counts += random.normal(0.0, noise_counts, counts.shape)
    return np.clip(np.rint(counts), 0, 2**bits - 1).astype(np.uint16)


def clean_counts(truth: Truth, record: Bike) -> Floats:
    """Turn true travel into counts without noise, rounding or ends, shape (samples, 2)."""
    counts = np.zeros((truth.front_mm.size, 2))
    for end in End:
        sensor, suspension = record.sensors.get(end), record.suspension(end)
        if sensor is None or suspension is None or not 0 <= sensor.channel < 2:
            raise UsageError(f"{end}: a virtual recording needs a suspension and a sensor on channel 0 or 1")
        position_mm = truth.travel_mm(end)
        if sensor.measures is Measures.SHOCK_STROKE:
            position_mm = _stroke_mm(suspension, position_mm)
        if (aslant := slant(record, end)) is not None:
            position_mm = aslant.length_mm(position_mm)
        counts[:, sensor.channel] = _counts(sensor, position_mm)
    return counts


def _stroke_mm(suspension: Suspension, travel_mm: Floats) -> Floats:
    leverage = suspension.leverage
    if leverage is None:
        return travel_mm
    if leverage.table is None:
        return travel_mm / (leverage.ratio or 1.0)
    wheel, stroke = np.array(leverage.table, dtype=float).T
    curve = PchipInterpolator(wheel, stroke)
    inside = np.clip(travel_mm, wheel[0], wheel[-1])
    return np.asarray(curve(inside) + curve.derivative()(inside) * (travel_mm - inside), dtype=float)


def _counts(sensor: Sensor, position_mm: Floats) -> Floats:
    points = np.array(sensor.calibration, dtype=float)
    mm_per_count, mm_at_zero = np.polyfit(points[:, 0], points[:, 1], 1)
    zero = sensor.zero_count if sensor.zero_count is not None else -mm_at_zero / mm_per_count
    return np.asarray(zero + position_mm / mm_per_count, dtype=float)
