"""The leverage measured: synthetic linkages whose truth is known, play, noise, and stated intervals."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from analysis.kinematics import WheelTravel
from analysis.leverage_survey import LeverageSurvey, SurveyPoint, survey_leverage
from analysis.sensor_calibration import Way
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Leverage

Curve = tuple[np.ndarray, np.ndarray]


def rocker(random: np.random.Generator) -> Curve:
    """Wheel travel and shock stroke of a shock worked by an arm on the swingarm: a triangle, closed form."""
    swingarm = random.uniform(520, 600)
    arm = swingarm / random.uniform(2.0, 3.0)
    anchor = arm * random.uniform(1.2, 2.0)
    turn = np.linspace(0, 0.5, 2001)
    wheel = swingarm * (np.sin(turn - 0.25) - np.sin(-0.25))
    angle = np.radians(random.uniform(60, 85)) - turn * random.uniform(0.8, 1.2)
    shock = np.sqrt(arm**2 + anchor**2 - 2 * arm * anchor * np.cos(angle))
    used = wheel <= random.uniform(180, 260)
    return wheel[used], (shock[0] - shock)[used]


def survey(
    curve: Curve,
    random: np.random.Generator,
    *,
    steps: int = 9,
    play: float = 0.0,
    u_axle: float = 0.5,
    ways: Sequence[Way | None] = tuple(Way),
) -> list[SurveyPoint]:
    """What a mechanic would write down, with tape and jack as they are."""
    wheel, stroke = curve
    points = []
    for way in ways:
        at = np.linspace(0, wheel[-1], steps)
        at[1:-1] += random.normal(0, 3.0, steps - 2)
        lead = play * {Way.UP: 0.5, Way.DOWN: -0.5, None: 0.0}[way]
        heights = 310 + at + lead + random.normal(0, u_axle, steps)
        strokes = np.interp(at, wheel, stroke) + random.normal(0, 0.05, steps)
        points += [
            SurveyPoint(stroke_mm=float(s), axle_mm=float(h), way=way)
            for s, h in zip(strokes, heights, strict=True)
        ]
    return points


def said(found: LeverageSurvey, words: str) -> bool:
    return any(words in caution for caution in found.cautions)


def test_stated_intervals_hold_the_truth() -> None:
    """400 random linkages, 8 to 10 steps both ways, tape of 0.3 to 1 mm, up to 3 mm of play."""
    random = np.random.default_rng(4)
    leverage, travel, plays, width = [], [], [], []
    for _ in range(400):
        wheel, stroke = curve = rocker(random)
        play, u_axle = random.uniform(0, 3), random.uniform(0.3, 1.0)
        points = survey(curve, random, steps=random.integers(8, 11), play=play, u_axle=u_axle)
        found = survey_leverage(points, u_axle_mm=u_axle)
        truth = np.interp([row.stroke_mm for row in found.leverage], stroke, np.gradient(wheel, stroke))
        for row, true in zip(found.leverage, truth, strict=True):
            leverage.append(abs(row.leverage.value - true) <= row.leverage.expanded_uncertainty)
            width.append(row.leverage.expanded_uncertainty)
        travel.append(abs(found.travel_mm.value - wheel[-1]) <= found.travel_mm.expanded_uncertainty)
        assert found.play_mm is not None
        plays.append(abs(found.play_mm.value - play) <= found.play_mm.expanded_uncertainty)
    shares = [float(np.mean(inside)) for inside in (leverage, travel, plays)]
    print("inside the stated interval: leverage {:.1%}, travel {:.1%}, play {:.1%}".format(*shares))
    print(f"median expanded uncertainty of the leverage {np.median(width):.3f}")
    for share in shares:
        assert 0.92 <= share <= 0.98
    assert np.median(width) < 0.05


def test_the_table_serves_the_bike_file() -> None:
    random = np.random.default_rng(7)
    wheel, stroke = curve = rocker(random)
    found = survey_leverage(survey(curve, random, u_axle=0.3), u_axle_mm=0.3)
    assert found.table[0] == (0.0, 0.0)
    assert found.table[-1][1] == pytest.approx(stroke[-1], abs=0.3)
    measured = WheelTravel(Leverage(table=found.table))
    at = np.linspace(0, found.table[-1][1], 60)
    assert measured.wheel_mm(at) == pytest.approx(np.interp(at, stroke, wheel), abs=0.8)


def test_play_is_measured_and_named() -> None:
    random = np.random.default_rng(1)
    curve = rocker(random)
    loose = survey_leverage(survey(curve, random, play=3.0), u_axle_mm=0.5)
    assert loose.play_mm is not None
    assert loose.play_mm.value == pytest.approx(3.0, abs=loose.play_mm.expanded_uncertainty)
    assert said(loose, "before the shock follows: look at bearings and bushes")
    swapped = survey_leverage(survey(curve, random, play=-3.0), u_axle_mm=0.5)
    assert said(swapped, "were up and down swapped?")
    one_way = survey_leverage(survey(curve, random, ways=[Way.UP]), u_axle_mm=0.5)
    assert one_way.play_mm is None
    assert said(one_way, "taken one way only")


def test_three_points_do_not_support_a_wheel_rate() -> None:
    random = np.random.default_rng(2)
    wheel, stroke = curve = rocker(random)
    for ways in (tuple(Way), [None]):
        found = survey_leverage(survey(curve, random, steps=3, ways=ways), u_axle_mm=0.5)
        assert not found.supports_wheel_rate
        assert (found.leverage, found.table, found.positions) == ((), (), 3)
        assert said(found, "3 positions do not support a wheel rate")
        assert found.mean_leverage.value == pytest.approx(wheel[-1] / stroke[-1], rel=0.02)
    few = survey_leverage(survey(curve, random, steps=6), u_axle_mm=0.5)
    assert few.supports_wheel_rate
    assert said(few, "6 positions are few")


def test_the_sensors_scale_is_part_of_the_doubt() -> None:
    random = np.random.default_rng(3)
    points = survey(rocker(random), random)
    plain, doubtful = (
        survey_leverage(points, u_axle_mm=0.5, stroke_scale_share=share) for share in (0, 0.02)
    )
    for one, other in zip(plain.leverage, doubtful.leverage, strict=True):
        u = other.leverage.expanded_uncertainty / other.leverage.coverage_factor
        before = one.leverage.expanded_uncertainty / one.leverage.coverage_factor
        assert u == pytest.approx(np.hypot(before, 0.02 * one.leverage.value))
    assert plain.travel_mm == doubtful.travel_mm


def test_a_slip_and_a_gap_are_named() -> None:
    random = np.random.default_rng(5)
    curve = rocker(random)
    points = survey(curve, random)
    slip = points[4]
    points[4] = SurveyPoint(stroke_mm=slip.stroke_mm, axle_mm=slip.axle_mm + 10, way=slip.way)
    assert said(
        survey_leverage(points, u_axle_mm=0.5), f"the row at {points[4].axle_mm:g} mm lies furthest off"
    )
    gap = [point for point in survey(curve, random, steps=10) if not 350 < point.axle_mm < 450]
    assert said(survey_leverage(gap, u_axle_mm=0.5), "leave a long stretch of the travel out")


def rows(*pairs: tuple[float, float]) -> list[SurveyPoint]:
    return [SurveyPoint(stroke_mm=stroke, axle_mm=axle) for stroke, axle in pairs]


@pytest.mark.parametrize(
    ("points", "u_axle_mm", "error", "words"),
    [
        (rows((0, 300), (50, 420)), 0.5, CannotAnswer, r"2 position\(s\): a leverage needs three"),
        (rows((0, 300), (0, 350), (0, 400)), 0.5, CannotAnswer, "the stroke did not change"),
        (rows((50, 300), (25, 350), (0, 400)), 0.5, CannotAnswer, "stroke falls while the axle rises"),
        (
            rows((0, 300), (20, 360), (40, 410), (60, 415), (80, 380)),
            0.5,
            CannotAnswer,
            "does not rise steadily",
        ),
        (rows((0, 300), (25, 350), (50, 400)), -1.0, UsageError, "has to be above 0"),
    ],
)
def test_surveys_that_say_nothing(points, u_axle_mm, error, words) -> None:
    with pytest.raises(error, match=words):
        survey_leverage(points, u_axle_mm=u_axle_mm)
