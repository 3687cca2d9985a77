"""A sensor that does not run along the stroke, against closed forms of plane geometry.

Source: elementary geometry (the cosine error of dimensional metrology), worked out with other arithmetic:
cos, a string to an anchor beside the stroke, and the law of cosines.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.sensor_geometry import (
    SensorTriangle,
    cosine_error,
    geometry_correction,
    sensor_moved,
    stroke_from_sensor,
)
from ingest.errors import CannotAnswer


@pytest.mark.parametrize(
    ("angle_deg", "error"),
    [
        (1.0, 0.00015230484360873042),
        (2.0, 0.0006091729809042379),
        (5.0, 0.003805301908254455),
        (10.0, 0.01519224698779198),
    ],
)
def test_cosine_error(angle_deg: float, error: float) -> None:
    assert cosine_error(angle_deg) == pytest.approx(error, rel=1e-12)
    # A very long sensor at that angle hardly turns, and so errs by just as much.
    length, line = 1e7, 1000.0
    ahead, aside = length * math.cos(math.radians(angle_deg)), length * math.sin(math.radians(angle_deg))
    far = SensorTriangle(base_mm=math.hypot(line - ahead, aside), stroke_line_mm=line, sensor_mm=length)
    assert 1 - float(sensor_moved(far, 100.0)) / 100.0 == pytest.approx(error, rel=1e-2)


def test_string_30_mm_beside_a_200_mm_start_over_200_mm() -> None:
    """s = √(a² + (b + z)²): 198.886 mm are read for 200 mm, 1.114 mm short. The string gets longer."""
    string = SensorTriangle(base_mm=30.0, stroke_line_mm=400.0, sensor_mm=math.hypot(30.0, 400.0))
    assert float(sensor_moved(string, 200.0)) == pytest.approx(198.88593824106474, rel=1e-8)
    found = geometry_correction(string, 200.0)
    assert found.correction_mm[-1] == pytest.approx(1.1140617589352753, rel=1e-6)
    assert float(stroke_from_sensor(string, 198.88593824106474)) == pytest.approx(200.0, rel=1e-9)


def test_law_of_cosines() -> None:
    """Sides 150 and 250 mm at 60° are closed by 217.945 mm."""
    triangle = SensorTriangle(base_mm=150.0, stroke_line_mm=250.0, sensor_mm=217.94494717703367)
    angle = math.degrees(math.acos(triangle.along_mm / triangle.base_mm))
    assert angle == pytest.approx(60.0, rel=1e-12)
    for stroke in (10.0, 60.0, 120.0):
        line = 250.0 - stroke
        sensor = math.sqrt(150**2 + line**2 - 2 * 150 * line * math.cos(math.radians(60)))
        assert float(sensor_moved(triangle, stroke)) == pytest.approx(217.94494717703367 - sensor, abs=1e-9)


@pytest.mark.parametrize("along", [20.0, -60.0, 600.0])
def test_there_and_back_again(along: float) -> None:
    """From movement to stroke and back, for anchors this side of the fixed eye, and beyond the moving one."""
    base, line = math.hypot(along, 45.0), 380.0
    triangle = SensorTriangle(
        base_mm=base, stroke_line_mm=line, sensor_mm=math.hypot(line - along, 45.0), u_mm=0.5
    )
    strokes = np.linspace(0, 92, 24)
    assert stroke_from_sensor(triangle, sensor_moved(triangle, strokes)) == pytest.approx(strokes, abs=1e-9)


def test_uncertainty_of_the_correction_against_random_rules() -> None:
    """JCGM 101: the three lengths drawn at random give the standard uncertainty stated."""
    triangle = SensorTriangle(base_mm=60.0, stroke_line_mm=380.0, sensor_mm=350.0, u_mm=0.5)
    found = geometry_correction(triangle, 90.0)
    random = np.random.default_rng(8)
    draws = []
    for base, line, sensor in random.normal((60.0, 380.0, 350.0), 0.5, (4000, 3)):
        measured = SensorTriangle(base_mm=base, stroke_line_mm=line, sensor_mm=sensor)
        draws.append(float(stroke_from_sensor(measured, found.sensor_moved_mm[-1])))
    assert found.standard_uncertainty_mm[-1] == pytest.approx(np.std(draws), rel=0.05)
    assert found.standard_uncertainty_mm[0] == pytest.approx(0.0, abs=1e-9)
    assert np.mean(draws) == pytest.approx(90.0, abs=0.1)


def test_what_it_says_about_a_crooked_sensor() -> None:
    crooked = geometry_correction(SensorTriangle(base_mm=130, stroke_line_mm=300, sensor_mm=310), 90.0)
    assert any("calibrate against the stroke itself" in text for text in crooked.cautions)
    straight = geometry_correction(
        SensorTriangle(base_mm=20, stroke_line_mm=400, sensor_mm=math.hypot(20, 400), u_mm=0.2), 60.0
    )
    assert straight.cautions == ()
    assert straight.angle_deg == pytest.approx(math.degrees(math.atan2(20, 400)), rel=1e-9)


@pytest.mark.parametrize(
    ("lengths", "stroke", "words"),
    [
        ((10, 300, 400), 50, "make no triangle"),
        ((60, 100, 100), 90, "passes its nearest point 82 mm into the stroke"),
        ((60, 300, 300), 300, "between 0 and the stroke line's length"),
        ((60, -300, 300), 30, "have to be above 0"),
    ],
)
def test_lengths_that_cannot_be(lengths: tuple[float, ...], stroke: float, words: str) -> None:
    base, line, sensor = lengths
    with pytest.raises(CannotAnswer, match=words):
        geometry_correction(SensorTriangle(base_mm=base, stroke_line_mm=line, sensor_mm=sensor), stroke)
