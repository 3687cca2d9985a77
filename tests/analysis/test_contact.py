from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.contact import CERTAIN_M_S2, excess_deceleration, found_stop
from analysis.events import bottomings
from analysis.motion import EndMotion, end_motion
from ingest.log import Log
from ingest.records import Bike, End, Suspension

FULL = 200.0
SPRINGY_PER_S = 350.0
Motion = Callable[..., EndMotion]


@pytest.fixture
def motion(make_log: Callable[..., Log], bike: Bike) -> Motion:
    """Motion of a front end with 200 mm of travel."""
    short = replace(bike, front=Suspension(kind="telescopic fork", travel_mm=FULL))

    def build(travel: Sequence[float], rate_hz: float = 1000.0) -> EndMotion:
        built = end_motion(make_log(travel, travel, bike=short, rate_hz=rate_hz), End.FRONT)
        assert built is not None
        return built

    return build


def into_stop(stop: float, speed: float, back: float = 0.3, rate_hz: float = 1000.0) -> np.ndarray:
    """At a speed (mm/s) into a stop of 2400 N/mm under 20 kg, and off again at a share of it.

    Pressed in by speed / ω · sin(ωt) with ω² = rate / mass, ω = 350 per s; two thirds of that is lost.
    """
    t = np.arange(-0.3, 0.4, 1 / rate_hz)
    flex = 0.5 * speed / SPRINGY_PER_S
    touching = np.pi / SPRINGY_PER_S
    travel = np.select(
        [t < 0, t < touching],
        [stop + speed * t, stop + flex * np.sin(SPRINGY_PER_S * t)],
        stop - back * speed * (t - touching),
    )
    return travel.clip(min=60.0)


def slowed(peak: float, speed: float, within: float, rate_hz: float = 1000.0) -> np.ndarray:
    """Brought to rest by a steady force within so many mm, and off again by the same force."""
    t = np.arange(-0.3, 0.4, 1 / rate_hz)
    rest_s = 2 * within / speed
    down = np.where(
        np.abs(t) < rest_s,
        0.5 * (speed / rest_s) * t**2,
        within + speed * (np.abs(t) - rest_s),
    )
    return (peak - down).clip(min=60.0)


def deepest(motion: EndMotion) -> np.ndarray:
    return np.array([int(np.argmax(motion.segments[0].travel_mm))])


@pytest.mark.parametrize("rate_hz", [200.0, 500.0, 1000.0, 2000.0])
@pytest.mark.parametrize("speed", [1000.0, 2000.0])
def test_a_stop_stands_out_and_a_steady_push_cancels(motion: Motion, rate_hz: float, speed: float) -> None:
    stopped = motion(into_stop(194.0, speed, rate_hz=rate_hz), rate_hz)
    assert excess_deceleration(stopped.segments[0], deepest(stopped))[0] >= 60.0 * speed / 1000
    pushed = motion(slowed(194.0, speed, 40.0, rate_hz), rate_hz)
    assert excess_deceleration(pushed.segments[0], deepest(pushed))[0] == pytest.approx(0.0, abs=1.0)


def test_excess_is_that_of_the_closed_form(motion: Motion) -> None:
    """x = a cos(ωt) has the deceleration aω² at the peak and aω² cos(0.01 ω) 10 ms beside it."""
    t = np.arange(-0.1, 0.1, 0.0005)
    omega, size = 2 * np.pi * 10, 50.0
    swing = motion(100 + size * np.cos(omega * t), 2000.0)
    expected = size * omega**2 * (1 - np.cos(0.01 * omega)) / 1e3
    got = excess_deceleration(swing.segments[0], np.array([200]))[0]
    assert got == pytest.approx(expected, rel=0.05)


def test_nothing_is_recognised_below_200_hz_near_a_mask_or_at_the_end_of_a_stretch(motion: Motion) -> None:
    slow = motion(into_stop(194.0, 2000.0, rate_hz=100.0), 100.0)
    assert np.isnan(excess_deceleration(slow.segments[0], deepest(slow))[0])
    travel = into_stop(194.0, 2000.0)
    whole = motion(travel)
    at = deepest(whole)
    assert excess_deceleration(whole.segments[0], at)[0] >= CERTAIN_M_S2
    assert np.isnan(excess_deceleration(motion(travel[: at[0] + 5]).segments[0], at)[0])
    travel[at[0] - 10] = np.nan
    assert np.isnan(excess_deceleration(motion(travel).segments[0], at)[0])


def test_a_contact_makes_a_hard_stop_of_a_peak_below_98_percent(motion: Motion) -> None:
    (event,) = bottomings(motion(into_stop(192.0, 2500.0)), FULL)
    assert (event.grade, event.contact) == ("hard stop", True)
    (soft,) = bottomings(motion(slowed(195.0, 2500.0, 20.0)), FULL)
    assert (soft.grade, soft.contact) == ("rubber", False)


def test_what_another_peak_went_far_beyond_was_no_stop(motion: Motion) -> None:
    events = bottomings(motion(np.concatenate([into_stop(187.5, 2500.0), slowed(199.9, 900.0, 30.0)])), FULL)
    assert [(event.grade, event.contact) for event in events] == [("rubber", False), ("hard stop", False)]


def three(stop: float) -> list[np.ndarray]:
    return [into_stop(stop, speed) for speed in (1200.0, 1800.0, 2600.0)]


@pytest.mark.parametrize("stop", [197.0, 188.0, 178.0, 160.0])
def test_three_contacts_show_where_the_stop_is(motion: Motion, stop: float) -> None:
    """3 mm, 6 %, 11 % and 20 % short of what the bike file says."""
    found = found_stop(motion(np.concatenate([slowed(stop - 15, 900.0, 30.0), *three(stop)])))
    assert found is not None
    assert found.travel_mm == pytest.approx(stop, abs=0.8)
    assert found.contacts == 3


def test_two_contacts_smooth_peaks_and_the_nominal_stop_show_nothing(motion: Motion) -> None:
    two = [slowed(150.0, 900.0, 30.0), *three(181.0)[:2]]
    assert found_stop(motion(np.concatenate(two))) is None
    assert found_stop(motion(np.concatenate([slowed(181.0, 2000.0, 25.0)] * 5))) is None
    assert found_stop(motion(np.concatenate(three(200.0)))) is None
    assert found_stop(motion(np.concatenate(three(140.0)))) is None


def test_contacts_at_depths_no_stop_has_show_nothing(motion: Motion) -> None:
    """A plug that jerks reads like a stop, but at a new depth each time; more smooth peaks lie beyond."""
    jerks = [into_stop(stop, 2000.0) for stop in (165.0, 170.0, 176.0, 181.0)]
    smooth = [slowed(184.0 + k / 4, 2000.0, 30.0) for k in range(4)]
    assert found_stop(motion(np.concatenate([*jerks, *smooth]))) is None


def test_nothing_valid_shows_no_stop(motion: Motion) -> None:
    assert found_stop(motion(np.full(50, np.nan))) is None


def leant_on(level: float, speed: float, dwell_s: float) -> np.ndarray:
    """Run into something that gives nothing, stay there, and come off as slowly as it came."""
    t = np.arange(-0.6, 0.8, 0.001)
    off = np.maximum(np.maximum(-t, t - dwell_s), 0.0)
    return (level - speed * off).clip(min=level - 50.0)


def cut_off(level: float, would_reach: float, within_s: float) -> np.ndarray:
    """A swing of which a hundredth of what lies beyond a level is left: a stop leant on for 30 to 110 ms."""
    t = np.arange(-0.4, 0.4, 0.001)
    swing = 60.0 + (would_reach - 60.0) * np.where(
        np.abs(t) < within_s, np.cos(np.pi * t / within_s / 2) ** 2, 0
    )
    return np.where(swing > level, level + 0.01 * (swing - level), swing)


def test_peaks_that_pile_up_however_fast_they_came_show_a_stop_that_gives_nothing(motion: Motion) -> None:
    hits = [cut_off(197.0, would_reach, 0.2) for would_reach in (203.0, 215.0, 230.0, 245.0)]
    for built in (hits, [np.round(hit / 0.28) * 0.28 for hit in hits]):
        found = found_stop(motion(np.concatenate(built)))
        assert found is not None
        assert (found.travel_mm, found.contacts) == (pytest.approx(197.0, abs=0.3), 4)
    leant = [leant_on(194.0, v, 0.2) for v in (90.0, 120.0, 160.0, 200.0, 240.0)]
    found = found_stop(motion(np.concatenate(leant)))
    assert found is not None
    assert (found.travel_mm, found.contacts) == (pytest.approx(194.0, abs=0.3), 5)
    assert found_stop(motion(np.concatenate(leant[:4]))) is None


def test_peaks_of_a_spring_or_of_one_bump_again_and_again_are_no_pile(motion: Motion) -> None:
    same = [slowed(194.0 + k / 20, 2000.0, 30.0) for k in range(8)]
    assert found_stop(motion(np.concatenate(same))) is None
    spring = [slowed(190.0 + k, 900.0 + 250.0 * k, 30.0) for k in range(6)]
    assert found_stop(motion(np.concatenate(spring))) is None
