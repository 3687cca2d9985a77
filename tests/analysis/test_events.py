from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from analysis.distribution import of_samples
from analysis.events import bottomings, counted_events, toppings
from analysis.excursions import runs
from analysis.motion import EndMotion, MotionSegment
from analysis.speed import differentiator
from ingest.records import End

FULL = 200.0
Motion = Callable[..., EndMotion]


@pytest.fixture
def motion() -> Motion:
    """Motion of a front end with 200 mm of travel from arrays of travel, one for each segment.

    Built by hand, so that steps no sensor would be believed may stand for excursions.
    """

    def build(*stretches: Sequence[float], rate_hz: float = 1000.0) -> EndMotion:
        tool = differentiator(1 / rate_hz)
        parts, start = [], 0.0
        for stretch in stretches:
            travel = np.asarray(stretch, dtype=float)
            parts.append(
                MotionSegment(
                    start_s=start, dt_s=1 / rate_hz, travel_mm=travel, speed_mm_s=tool.speed(travel)
                )
            )
            start += travel.size / rate_hz + 0.02
        return EndMotion(
            end=End.FRONT,
            travel_mm=FULL,
            segments=tuple(parts),
            bandwidth_hz=tool.bandwidth_hz,
            distribution=of_samples(np.concatenate([part.travel_mm for part in parts])),
            masked_samples=0,
            zero_known=True,
            cautions=(),
        )

    return build


def hump(peak: float, width_s: float = 0.2, base: float = 60.0, rate_hz: float = 1000.0) -> np.ndarray:
    """Half a sine from `base` up to `peak`, with 300 ms of rest on both sides."""
    n = round(width_s * rate_hz)
    rest = np.full(round(0.3 * rate_hz), base)
    return np.concatenate([rest, base + (peak - base) * np.sin(np.pi * np.arange(n + 1) / n), rest])


def test_grades_by_how_far_the_peak_goes(motion: Motion) -> None:
    travel = np.concatenate([hump(peak) for peak in (189.0, 193.0, 197.0, 199.5)])
    events = bottomings(motion(travel), FULL)
    assert [event.grade for event in events] == ["rubber", "near full", "hard stop"]
    assert [event.peak_mm for event in events] == pytest.approx([193, 197, 199.5])
    counted = counted_events(events, duration_s=60.0)
    assert (counted.count, counted.per_10_min, len(counted.events)) == (2, 20.0, 3)


def test_time_peak_and_entry_speed_are_those_of_the_closed_form(motion: Motion) -> None:
    base, peak, width = 60.0, 199.0, 0.2
    (event,) = bottomings(motion(hump(peak, width, base)), FULL)
    assert event.t_s == pytest.approx(0.3 + width / 2)
    assert event.peak_mm == pytest.approx(peak)
    # x = base + a sin(πt/w): the speed on passing 190 mm is a π/w √(1 − ((190 − base)/a)²).
    a = peak - base
    speed = a * np.pi / width * np.sqrt(1 - ((190 - base) / a) ** 2)
    assert event.entry_speed_mm_s == pytest.approx(speed, rel=0.01)


@pytest.mark.parametrize(("gap_s", "count"), [(0.05, 1), (0.095, 1), (0.105, 2), (0.3, 2)])
def test_excursions_less_than_100_ms_apart_are_one(motion: Motion, gap_s: float, count: int) -> None:
    up = np.full(40, 197.0)
    down = np.full(round(gap_s * 1000), 150.0)
    travel = np.concatenate([np.full(200, 100.0), up, down, up + 1, np.full(200, 100.0)])
    events = bottomings(motion(travel), FULL)
    assert len(events) == count
    assert events[-1].peak_mm == 198


def test_events_never_reach_across_a_gap(motion: Motion) -> None:
    travel = np.concatenate([np.full(50, 100.0), np.full(40, 197.0)])
    events = bottomings(motion(travel, travel[::-1]), FULL)
    assert len(events) == 2
    # The second one was under way when its stretch began: its entry was not recorded.
    assert events[0].entry_speed_mm_s is not None
    assert events[1].entry_speed_mm_s is None


def test_long_masked_span_breaks_an_excursion_and_a_lone_glitch_does_not(motion: Motion) -> None:
    travel = np.concatenate([np.full(100, 100.0), np.full(400, 197.0), np.full(100, 100.0)])
    glitch = travel.copy()
    glitch[300] = np.nan
    assert len(bottomings(motion(glitch), FULL)) == 1
    travel[200:320] = np.nan
    assert len(bottomings(motion(travel), FULL)) == 2


def test_topping_needs_five_mm_before_and_counts_hovering_once(motion: Motion) -> None:
    def level(*steps: tuple[float, int]) -> np.ndarray:
        return np.concatenate([np.full(n, value) for value, n in steps])

    travel = level(
        (60, 100), (0.5, 50), (3, 50), (0.2, 50), (4.9, 50), (0.8, 50),  # one, hovering
        (6, 50), (1.0, 20), (30, 100),  # another
        (2, 50), (30, 100),  # came near only
    )  # fmt: skip
    events = toppings(motion(travel))
    assert [event.peak_mm for event in events] == [0.2, 1.0]
    assert {event.grade for event in events} == {"topped out"}
    assert events[0].t_s == pytest.approx(0.2)
    assert counted_events(events, 600.0).count == 2


def test_topping_entry_speed_is_positive_and_exact_on_a_ramp(motion: Motion) -> None:
    t = np.arange(0, 1.0, 0.001)
    travel = np.maximum(100 - 400 * t, -0.2)
    (event,) = toppings(motion(travel))
    assert event.entry_speed_mm_s == pytest.approx(400, rel=0.02)
    assert event.peak_mm == pytest.approx(-0.2)


def test_starting_topped_out_is_no_topping(motion: Motion) -> None:
    rest = np.zeros(200)
    assert toppings(motion(rest)) == ()
    assert toppings(motion(np.concatenate([rest, hump(80.0, base=3.0)]))) == ()


def test_topping_after_a_long_masked_span_came_from_nowhere_known(motion: Motion) -> None:
    travel = np.concatenate([np.full(100, 60.0), np.full(150, np.nan), np.full(100, 0.5), np.full(50, 60.0)])
    assert toppings(motion(travel)) == ()
    travel[100:249] = 3.0
    assert len(toppings(motion(travel))) == 1


def test_slow_logs_recognise_no_contacts_but_count_peaks(motion: Motion) -> None:
    t = np.arange(0, 2, 0.01)
    travel = 100 + 97 * np.sin(2 * np.pi * t)
    events = bottomings(motion(travel, rate_hz=100.0), FULL)
    assert [event.grade for event in events] == ["near full", "near full"]


def test_nothing_valid_has_no_events(motion: Motion) -> None:
    empty = motion(np.full(50, np.nan))
    assert bottomings(empty, FULL) == ()
    assert toppings(empty) == ()


@pytest.mark.parametrize("text", ["", "0", "1", "0110", "1001101", "111", "10"])
def test_runs_of_true(text: str) -> None:
    true = np.array([c == "1" for c in text], dtype=bool)
    found = runs(true)
    rebuilt = np.zeros(true.size, dtype=bool)
    for first, end in zip(found.first, found.end, strict=True):
        assert first == 0 or not true[first - 1]
        rebuilt[first:end] = True
    assert rebuilt.tolist() == true.tolist()
