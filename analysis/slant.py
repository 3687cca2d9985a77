"""A sensor that stands aslant to the stroke: its three lengths from the bike file, put to use.

The calibration of such a sensor gives the length of the sensor itself; the closed form of
`analysis.sensor_geometry` makes the stroke of it, before the leverage makes wheel travel of the stroke.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analysis.calibration import Floats
from analysis.gum import rectangular
from analysis.kinematics import WheelTravel
from analysis.sensor_geometry import (
    GeometryCorrection,
    SensorTriangle,
    geometry_correction,
    sensor_moved,
    stroke_from_sensor,
)
from ingest.errors import CannotAnswer
from ingest.records import Bike, End, Measures, SensorLine

TAPE_MM = 2.0
"""What a length between two eyes measured with a tape is good to, where nobody says (judgement)."""

WORTH_A_WORD_MM = 0.5
"""Doubt of wheel travel (95 in 100) from which on the lengths are a reason to measure again (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slant:
    """How one sensor lies to its stroke, and what that does over the whole stroke.

    ``doubt_mm`` is the expanded uncertainty (k = 2) at full travel that the three lengths leave, mm of the
    wheel.
    """

    triangle: SensorTriangle
    correction: GeometryCorrection
    doubt_mm: float

    def stroke_mm(self, length_mm: Floats | float) -> Floats:
        """Give the stroke where the sensor has moved by ``length_mm`` since topped out.

        ``length_mm`` rises with the stroke, whether the sensor gets shorter or longer. NaN where a sensor
        hung like this cannot get to.
        """
        return stroke_from_sensor(self.triangle, self._way * np.asarray(length_mm, dtype=float))

    def length_mm(self, stroke_mm: Floats | float) -> Floats:
        """Give how far the sensor moves for a stroke: the way back of `stroke_mm`."""
        return self._way * sensor_moved(self.triangle, stroke_mm)

    @property
    def _way(self) -> float:
        return 1.0 if self.triangle.shortens else -1.0

    def cautions(self, end: End) -> Iterator[str]:
        """Say what the three lengths leave open in every position."""
        for text in self.correction.cautions:
            yield f"{end}: {text}"
        if self.doubt_mm > WORTH_A_WORD_MM:
            yield (
                f"{end}: the three lengths of the sensor's line leave ±{self.doubt_mm:.1f} mm at full "
                "travel; measure them finer, or calibrate along the stroke and take line out of the bike file"
            )


def triangle_of(line: SensorLine) -> SensorTriangle:
    """Give the triangle of a bike file's ``line``; its limits count as equally likely throughout."""
    return SensorTriangle(
        base_mm=line.fixed_ends_apart_mm,
        stroke_line_mm=line.stroke_line_mm,
        sensor_mm=line.sensor_mm,
        u_mm=rectangular(TAPE_MM if line.give_or_take_mm is None else line.give_or_take_mm),
    )


def slant(bike: Bike, end: End) -> Slant | None:
    """Work out how the sensor of one end lies; ``None`` where it runs along what it measures.

    Raises
    ------
    CannotAnswer
        The sensor would turn back within the stroke, the three lengths make no triangle, or they are not
        known well enough to tell whether it would.
    """
    sensor, suspension = bike.sensors[end], bike.suspension(end)
    if sensor.line is None or suspension is None:
        return None
    stroke, leverage = suspension.travel_mm, 1.0
    if sensor.measures is Measures.SHOCK_STROKE and suspension.leverage is not None:
        linkage = WheelTravel(suspension.leverage)
        stroke = float(linkage.stroke_mm(suspension.travel_mm))
        if not np.isfinite(stroke) and linkage.span is not None:
            stroke = linkage.span.high  # the table ends short of the travel in the book
        leverage = float(linkage.leverage(stroke))
    triangle = triangle_of(sensor.line)
    try:
        correction = geometry_correction(triangle, stroke, applied=True)
    except CannotAnswer as problem:
        raise CannotAnswer(f"[sensors.{end}] line: {problem}") from problem
    if not np.isfinite(correction.standard_uncertainty_mm).all():
        raise CannotAnswer(
            f"[sensors.{end}] line: the sensor may turn back within the stroke, and the three lengths are "
            "not known well enough to tell: measure them finer, or move its fixed end along"
        )
    doubt = 2 * leverage * correction.standard_uncertainty_mm[-1]
    return Slant(triangle=triangle, correction=correction, doubt_mm=doubt)
