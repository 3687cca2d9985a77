"""A sensor that needs a curve: said in the bike file, carried through to the motion."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.effective import effective_bike
from analysis.motion import end_motion
from analysis.position import converter
from analysis.sensor import loaded_ratio
from ingest.bike_file import bike_text, parse_bike
from ingest.errors import FileProblem
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import Bike, End, EndSetup, Setup

PLACES_MM = np.linspace(0, 230, 9)


def reads(mm: np.ndarray) -> np.ndarray:
    """A potentiometer loaded by five times its resistance: 3 % off in the middle."""
    return 50 + 900 * loaded_ratio(np.asarray(mm) / 230, 1.0, 5.0)


@pytest.fixture
def curved(bike: Bike) -> Bike:
    points = tuple(zip(reads(PLACES_MM).tolist(), PLACES_MM.tolist(), strict=True))
    sensor = replace(bike.sensors[End.FRONT], calibration=points, curve="cubic")
    return replace(bike, sensors={**bike.sensors, End.FRONT: sensor})


def test_the_curve_is_read_from_the_bike_file_and_written_back(curved: Bike) -> None:
    text = bike_text(curved)
    assert 'curve = "cubic"' in text
    assert parse_bike(text) == curved


@pytest.mark.parametrize(
    ("curve", "words"),
    [
        ("wavy", 'sensors.front.curve is "wavy"; allowed: "straight", "quadratic", "cubic"'),
        ("quadratic", 'sensors.front.curve is "quadratic", which needs 3 calibration points'),
    ],
)
def test_a_curve_that_cannot_be_is_refused(bike: Bike, curve: str, words: str) -> None:
    text = bike_text(bike).replace("[sensors.front]\n", f'[sensors.front]\ncurve = "{curve}"\n')
    with pytest.raises(FileProblem) as problem:
        parse_bike(text)
    assert words in str(problem.value)


def motion_mm(bike: Bike, counts: np.ndarray, zero: float | None) -> np.ndarray:
    values = np.column_stack([counts, counts])
    channels = (Channel(name="ch0"), Channel(name="ch1"))
    log = Log(
        id="t",
        kind=Kind.RIDE,
        started="",
        bike=bike,
        channels=channels,
        segments=(Segment(start_s=0.0, dt_s=0.001, values=values),),
    )
    motion = end_motion(log, End.FRONT, zero=zero)
    assert motion is not None
    return motion.segments[0].travel_mm


def test_motion_follows_the_curve(curved: Bike, bike: Bike) -> None:
    truth = np.linspace(0, 230, 600)
    assert np.abs(motion_mm(curved, reads(truth), None) - truth).max() < 0.3
    straight = replace(
        curved,
        sensors={**curved.sensors, End.FRONT: replace(curved.sensors[End.FRONT], curve=None)},
    )
    assert np.abs(motion_mm(straight, reads(truth), None) - truth).max() > 3


def test_whole_counts_and_numbers_agree(curved: Bike) -> None:
    counts = np.rint(reads(np.linspace(0, 230, 400)))
    np.testing.assert_allclose(
        motion_mm(curved, counts.astype(np.uint16), None), motion_mm(curved, counts, None), atol=1e-9
    )


def test_the_zero_is_taken_off_along_the_curve(curved: Bike) -> None:
    """The sensor clamped so that topped out is at its 10 mm: what moves 100 mm has moved 100 mm."""
    zero = float(reads(np.array(10.0)))
    found = motion_mm(curved, reads(np.linspace(10.0, 110.0, 201)), zero)
    assert found[[0, 100, 200]] == pytest.approx([0, 50, 100], abs=0.3)


def test_beyond_its_points_it_carries_on_and_is_masked_as_a_line_is(curved: Bike) -> None:
    found = converter(curved, End.FRONT, None).positions(np.array([1000.0, 970.0, 950.0]))
    assert np.isnan(found.travel_mm[0])
    assert found.carried.tolist() == [False, True, False]
    assert 230 < found.travel_mm[1] < 240


def test_new_points_of_a_setup_drop_the_old_curve(curved: Bike) -> None:
    setup = Setup(name="other sensor", front=EndSetup(sensor_calibration=((100, 0), (900, 230))))
    assert effective_bike(curved, setup).sensors[End.FRONT].curve is None
    assert effective_bike(curved, Setup(name="same")).sensors[End.FRONT].curve == "cubic"
