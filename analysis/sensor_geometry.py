"""A sensor whose line is not that of the stroke: the true stroke from three measured lengths.

The moving eye B slides along the stroke's line from a fixed eye A; the sensor runs from its own fixed anchor
C to B. Measured topped out: ``base`` A–C, ``stroke line`` A–B, ``sensor`` C–B. The law of cosines gives the
angle at A; it stays what it is as long as A and C sit on one part that B moves along: a fork leg, a shock
body. Where the shock swings against the frame, fasten both ends of the sensor to the shock.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from analysis.calibration import Floats
from ingest.errors import CannotAnswer

POINTS = 11
WORTH_A_WORD = 0.005
TURNS_BACK_DEG = 75.0
"""Beyond this angle between sensor and stroke a sensor moves so little that its reading says little."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorTriangle:
    """Three lengths measured topped out, mm, and the standard uncertainty ``u_mm`` of each."""

    base_mm: float
    stroke_line_mm: float
    sensor_mm: float
    u_mm: float = 1.0

    @property
    def shortens(self) -> bool:
        """Whether the sensor gets shorter when the stroke does; longer where its anchor is beyond B."""
        return self.stroke_line_mm > self.along_mm

    @property
    def along_mm(self) -> float:
        """How far the anchor C lies from A along the stroke's line, towards B (law of cosines)."""
        squares = self.base_mm**2 + self.stroke_line_mm**2 - self.sensor_mm**2
        return squares / (2 * self.stroke_line_mm)

    @property
    def aside_mm(self) -> float:
        """How far the anchor C lies beside the stroke's line."""
        return math.sqrt(max(self.base_mm**2 - self.along_mm**2, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class GeometryCorrection:
    """Over the travel: what the sensor shows, what the stroke truly is, and the difference with its doubt.

    ``correction_mm`` is to be added to the sensor's movement; ``standard_uncertainty_mm`` is that of the
    correction, from the three lengths.
    """

    triangle: SensorTriangle
    sensor_moved_mm: tuple[float, ...]
    stroke_mm: tuple[float, ...]
    correction_mm: tuple[float, ...]
    standard_uncertainty_mm: tuple[float, ...]
    angle_deg: float
    cautions: tuple[str, ...]

    @property
    def largest_mm(self) -> float:
        """By how much the sensor's movement taken for the stroke is off at the most (cosine error)."""
        return max(abs(off) for off in self.correction_mm)


def sensor_moved(triangle: SensorTriangle, stroke_mm: Floats | float) -> Floats:
    """Give by how much the sensor gets shorter when the stroke gets shorter by ``stroke_mm``.

    >>> side = SensorTriangle(base_mm=30, stroke_line_mm=400, sensor_mm=(30**2 + 400**2) ** 0.5)
    >>> round(float(sensor_moved(side, 200.0)), 4)
    198.8859
    """
    _check(triangle)
    ahead = triangle.stroke_line_mm - np.asarray(stroke_mm, dtype=float) - triangle.along_mm
    return np.asarray(triangle.sensor_mm - np.hypot(ahead, triangle.aside_mm))


def stroke_from_sensor(triangle: SensorTriangle, sensor_moved_mm: Floats | float) -> Floats:
    """Give the true stroke for a sensor that got shorter by ``sensor_moved_mm``; NaN where it cannot get to.

    The sensor must not pass the point nearest to the line: from there on one length stands for two strokes.
    """
    _check(triangle)
    length = triangle.sensor_mm - np.asarray(sensor_moved_mm, dtype=float)
    ahead = triangle.stroke_line_mm - triangle.along_mm
    squares = length**2 - triangle.aside_mm**2
    reached = np.sqrt(np.where((squares >= 0) & (length > 0), squares, np.nan))
    return np.asarray(ahead - math.copysign(1.0, ahead) * reached)


def cosine_error(angle_deg: float) -> float:
    """Give the share a sensor reads short whose own guide stands at a fixed angle to the stroke: 1 − cos.

    >>> round(cosine_error(5.0), 6)
    0.003805
    """
    return 2 * math.sin(math.radians(angle_deg) / 2) ** 2


def geometry_correction(
    triangle: SensorTriangle, stroke_mm: float, *, applied: bool = False
) -> GeometryCorrection:
    """Work out the correction from topped out to a stroke of ``stroke_mm``, with its uncertainty.

    ``applied`` says that readings are put right by it: what it costs to leave it out is no caution then.

    Raises
    ------
    CannotAnswer
        The lengths make no triangle, or the sensor passes its nearest point within the stroke.

    Notes
    -----
    JCGM 100:2008, 5.1: each of the three lengths moved by its uncertainty, one at a time, at the same sensor
    movement; the changes of the stroke add as squares.
    """
    _check(triangle)
    ahead = triangle.stroke_line_mm - triangle.along_mm
    if not 0 < stroke_mm < triangle.stroke_line_mm:
        raise CannotAnswer(f"stroke {stroke_mm:g} mm: it has to be between 0 and the stroke line's length")
    if ahead * (ahead - stroke_mm) <= 0:
        raise CannotAnswer(
            f"the sensor passes its nearest point {abs(ahead):.0f} mm into the stroke and would read "
            "backwards from there: move its anchor along"
        )
    strokes = np.linspace(0.0, stroke_mm, POINTS)
    moved = sensor_moved(triangle, strokes)
    variance = sum((_shift(triangle, name, moved) ** 2 for name in _LENGTHS), np.zeros(POINTS))
    sign = math.copysign(1.0, ahead)
    return GeometryCorrection(
        triangle=triangle,
        sensor_moved_mm=tuple(moved.tolist()),
        stroke_mm=tuple(strokes.tolist()),
        correction_mm=tuple((strokes - sign * moved).tolist()),
        standard_uncertainty_mm=tuple(np.sqrt(variance).tolist()),
        angle_deg=math.degrees(math.atan2(triangle.aside_mm, abs(ahead))),
        cautions=tuple(_cautions(triangle, strokes, sign * moved, np.sqrt(variance), applied)),
    )


_LENGTHS = ("base_mm", "stroke_line_mm", "sensor_mm")


def _shift(triangle: SensorTriangle, name: str, moved: Floats) -> Floats:
    """Half the change of the stroke when one length is off by its uncertainty either way."""
    value = getattr(triangle, name)
    ends = [
        stroke_from_sensor(replace(triangle, **{name: value + off}), moved)
        for off in (triangle.u_mm, -triangle.u_mm)
    ]
    return np.asarray((ends[0] - ends[1]) / 2)


def _cautions(
    triangle: SensorTriangle, strokes: Floats, moved: Floats, doubt: Floats, applied: bool
) -> Iterator[str]:
    largest = float(np.abs(strokes - moved).max())
    if largest > WORTH_A_WORD * strokes[-1] and not applied:
        yield (
            f"the sensor's line costs up to {largest:.1f} mm: calibrate against the stroke itself, at five "
            "positions or more, and a curve takes it out"
        )
    if not np.isfinite(doubt).all():
        yield "the three lengths are not known well enough for a correction: measure them again, finer"
    elif doubt.max() > largest:
        yield "the correction is smaller than its own uncertainty: it is not worth applying"
    end = triangle.stroke_line_mm - triangle.along_mm - strokes[-1]
    if math.degrees(math.atan2(triangle.aside_mm, abs(end))) > TURNS_BACK_DEG:
        yield "at the end of the stroke the sensor stands nearly across it and hardly moves"


def _check(triangle: SensorTriangle) -> None:
    lengths = (triangle.base_mm, triangle.stroke_line_mm, triangle.sensor_mm)
    if min(triangle.stroke_line_mm, triangle.sensor_mm) <= 0 or triangle.base_mm < 0 or triangle.u_mm <= 0:
        raise CannotAnswer("the three lengths and their uncertainty have to be above 0")
    if 2 * max(lengths) > sum(lengths) * (1 + 1e-12):
        said = ", ".join(f"{length:g}" for length in lengths)
        raise CannotAnswer(f"lengths {said} mm make no triangle: the longest exceeds the other two together")
