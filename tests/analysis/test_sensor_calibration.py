"""A sensor's calibration: fit, linearity, hysteresis, curve, and whether the stated doubt holds the truth."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.calibration import fit_line
from analysis.curve import fit_curve
from analysis.curve_choice import choose_curve
from analysis.sensor import loaded_ratio
from analysis.sensor_calibration import Calibration, ReferencePoint, Way, calibrate
from ingest.errors import CannotAnswer, UsageError

MM = np.linspace(0.0, 200.0, 9)


def taken(counts: np.ndarray, mm: np.ndarray, way: Way | None = None) -> list[ReferencePoint]:
    return [ReferencePoint(counts=float(c), mm=float(p), way=way) for c, p in zip(counts, mm, strict=True)]


def said(calibration: Calibration, words: str) -> bool:
    return any(words in caution for caution in calibration.cautions)


def test_two_points_work_and_say_what_they_cannot_show() -> None:
    found = calibrate(taken(np.array([102, 921]), np.array([0, 230])), u_ref_mm=0.5)
    assert found.scale_mm_per_count == pytest.approx(230 / 819)
    assert (found.linearity_error_mm, found.hysteresis_mm, found.curve) == (None, None, "straight")
    assert said(found, "two positions cannot show whether the sensor is linear")
    by_cause = {p.cause: p.standard_uncertainty_mm for p in found.at(102).contributions}
    assert by_cause["reference points"] == pytest.approx(0.5, rel=0.02)  # at the point itself: the block
    assert by_cause["linearity"] == pytest.approx(0.003 * 230 / 3**0.5)
    # In the middle the two blocks average.
    middle = {p.cause: p.standard_uncertainty_mm for p in found.at(511.5).contributions}
    assert middle["reference points"] == pytest.approx(0.5 / 2**0.5, rel=0.02)


def test_two_points_without_a_reference_uncertainty_say_so() -> None:
    found = calibrate(taken(np.array([102, 921]), np.array([0, 230])))
    assert found.covariance is None
    assert said(found, "no uncertainty of the reference positions was given")


def test_without_a_stated_reference_the_doubt_is_that_of_least_squares() -> None:
    counts = np.array([100.0, 300.0, 500.0, 700.0, 900.0])
    mm = np.array([0.0, 50.0, 100.0, 150.0, 200.0])
    counts_read = counts + np.array([1.2, -2.0, 0.4, 1.9, -1.1])
    found, line = calibrate(taken(counts_read, mm)), fit_line(counts_read, mm)
    np.testing.assert_allclose(found.covariance, line.covariance, rtol=1e-9)
    part = found.at(700.0).contributions[0]
    assert (part.standard_uncertainty_mm, part.dof) == (pytest.approx(line.standard_error(700.0)), 3)


def test_up_and_down_show_hysteresis_and_are_no_new_blocks() -> None:
    up = taken(100 + 4 * MM + 3, MM, Way.UP)
    down = taken(100 + 4 * MM - 3, MM, Way.DOWN)
    both = calibrate([*up, *down], u_ref_mm=0.5)
    assert both.hysteresis_mm == pytest.approx(6 / 4, rel=1e-3)
    assert said(both, "up and down differ by 1.5 mm")
    assert both.positions == 9
    assert both.residuals_mm[0] == pytest.approx(-both.residuals_mm[9], abs=0.05)
    alone = calibrate(up, u_ref_mm=0.5)
    assert said(alone, "taken one way only")
    assert both.point_sd_mm == pytest.approx(alone.point_sd_mm, rel=1e-4)


def test_scatter_beyond_the_reference_counts_instead_of_it() -> None:
    rough = MM + np.array([2, -3, 1, 3, -2, -3, 2, 3, -3.0])
    found = calibrate(taken(100 + 4 * MM, rough), u_ref_mm=0.2)
    assert found.point_sd_mm == pytest.approx(fit_line(100 + 4 * MM, rough).residual_sd)
    assert found.dof == 7
    assert said(found, "more than references good to 0.2 mm explain")


def test_one_slip_of_the_tape_is_named() -> None:
    mm = MM.copy()
    mm[5] += 10
    found = calibrate(taken(100 + 4 * MM + np.array([0, 1, -1, 0, 1, 0, -1, 1, 0]), mm), u_ref_mm=0.5)
    assert said(found, "the point at 135 mm lies")
    swapped = mm.copy()
    swapped[[2, 6]] = swapped[[6, 2]]
    assert said(calibrate(taken(100 + 4 * MM, swapped)), "do not go one way")


def test_a_loaded_potentiometer_gets_a_curve_and_a_good_one_does_not() -> None:
    position = np.linspace(0, 200, 11)
    bent = 1023 * loaded_ratio(position / 200, 10_000, 50_000)
    found = calibrate(taken(np.rint(bent), position), u_ref_mm=0.2)
    assert found.curve == "cubic"
    assert said(found, "bend away from the straight line")
    between = np.linspace(10, 190, 50)
    readings = 1023 * loaded_ratio(between / 200, 10_000, 50_000)
    assert np.abs(found.fit.mm(readings) - between).max() < 0.35
    assert np.abs(fit_line(bent, position).mm(readings) - between).max() > 2
    straight = calibrate(taken(np.rint(1023 * position / 200), position), u_ref_mm=0.2)
    assert straight.curve == "straight"
    assert calibrate(taken(bent, position), curve="quadratic").curve == "quadratic"


def test_chance_rarely_bends_a_straight_sensor() -> None:
    random = np.random.default_rng(5)
    counts = 100 + 4 * MM
    bent = sum(
        choose_curve(counts, MM + random.normal(0, 0.5, MM.size)).curve != "straight" for _ in range(1000)
    )
    assert bent <= 20


def test_beyond_its_points_a_curve_carries_on_straight() -> None:
    curve = fit_curve([0, 100, 200, 300, 400], [0, 11, 24, 39, 56], 2)
    ends = curve.mm(np.array([400.0, 410.0, 420.0]))
    assert np.diff(ends) == pytest.approx([float(curve.slope(400.0)) * 10] * 2)


def test_stated_intervals_hold_the_truth() -> None:
    """Random sensors: 2 to 9 positions, tape of ±0.3 to 1 mm, a bend the data sheet allows, 10 to 14 bits."""
    random = np.random.default_rng(11)
    inside, between = [], []
    for _ in range(600):
        places = random.integers(2, 10)
        range_mm, bits = random.uniform(60, 250), random.integers(10, 15)
        u_ref, bend = random.uniform(0.3, 1.0), random.uniform(-0.003, 0.003)
        play = random.uniform(0, 0.6)
        phase = random.uniform(0, np.pi)

        def reads(mm, way, range_mm=range_mm, bits=bits, bend=bend, play=play, phase=phase):
            share = mm / range_mm
            off = bend * range_mm * np.sin(2 * np.pi * share + phase) + way * play / 2
            return np.rint((0.1 + 0.8 * (share + off / range_mm)) * 2**bits)

        set_mm = np.linspace(0, range_mm, places)
        true_mm = set_mm + random.normal(0, u_ref, places)
        points = [*taken(reads(true_mm, 1), set_mm, Way.UP), *taken(reads(true_mm, -1), set_mm, Way.DOWN)]
        found = calibrate(points, u_ref_mm=u_ref)
        truth = random.uniform(0, range_mm)
        later = found.at(float(reads(truth, random.choice([-1, 1])))).position_mm
        inside.append(abs(later.value - truth) <= later.expanded_uncertainty)
        zero = random.uniform(0, 0.1) * range_mm
        moved = found.between(float(reads(zero, -1)), float(reads(truth, random.choice([-1, 1]))))
        off = moved.position_mm.value - (truth - zero)
        between.append(abs(off) <= moved.position_mm.expanded_uncertainty)
    print(f"inside their stated interval: positions {np.mean(inside):.1%}, travels {np.mean(between):.1%}")
    assert 0.93 <= np.mean(inside) <= 0.99
    assert 0.93 <= np.mean(between) <= 0.99


def test_what_two_readings_share_cancels() -> None:
    found = calibrate(taken(np.array([102, 921]), np.array([0, 230])), u_ref_mm=0.5)
    moved = found.between(102, 512)
    assert moved.position_mm.value == pytest.approx(410 * 230 / 819)
    by_cause = {p.cause: p.standard_uncertainty_mm for p in moved.contributions}
    # Only the scale is left: two blocks over the whole stroke, half of that over half of it.
    assert by_cause["reference points"] == pytest.approx(0.5 * 2**0.5 * 410 / 819, rel=0.02)
    assert {p.cause: p.standard_uncertainty_mm for p in found.between(500, 500).contributions}[
        "reference points"
    ] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("points", "options", "error", "words"),
    [
        ([(500, 0)], {}, CannotAnswer, "two or more are needed"),
        ([(500, 0), (500, 10)], {}, CannotAnswer, "two positions or more"),
        ([(500, 0), (600, 10)], {"u_ref_mm": 0.0}, UsageError, "has to be above 0"),
        ([(500, 0), (600, 10)], {"step_counts": -1.0}, UsageError, "resolution -1 counts"),
        ([(500, 0), (600, 10)], {"curve": "wavy"}, UsageError, "allowed are straight, quadratic, cubic"),
        ([(500, 0), (600, 10)], {"curve": "cubic"}, CannotAnswer, "needs 4 or more"),
    ],
)
def test_what_cannot_be_fitted_is_refused(points, options, error, words) -> None:
    with pytest.raises(error, match=words):
        calibrate([ReferencePoint(counts=c, mm=mm) for c, mm in points], **options)
