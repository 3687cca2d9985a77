from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.ride import lost_samples, summarise_ride
from analysis.sections import left_out, sections
from ingest.log import Channel, Gap, Kind, LinkStatistics, Log, Mark, Segment, Unit
from ingest.records import Bike, Suspension

TIME = np.arange(0.0, 40.0, 0.01)
MARKS = ((10.0, "tarmac"), (20.005, "gravel"), (32.0, "tarmac"))


@pytest.fixture
def ride(make_log: Callable[..., Log]) -> Log:
    """A front that swings with 5, 10, 15 and 20 mm in the four parts of the ride."""
    size = np.select([TIME < 10.0, TIME < 20.005, TIME < 32.0], [5.0, 10.0, 15.0], 20.0)
    wave = 70.0 + size * np.sin(2 * np.pi * 2 * TIME)
    return make_log(wave, wave, rate_hz=100.0, marks=MARKS)


def test_a_ride_is_cut_at_its_marks(ride: Log) -> None:
    found = sections(ride)
    assert [section.name for section in found] == ["start", "tarmac", "gravel", "tarmac 2"]
    assert [section.start_s for section in found] == pytest.approx([0.0, 10.0, 20.005, 32.0])
    assert [section.end_s for section in found] == pytest.approx([10.0, 20.005, 32.0, 40.0])
    assert [section.log.rows for section in found] == [1000, 1001, 1199, 800]
    assert [section.log.segments[0].start_s for section in found] == pytest.approx([0.0, 10.0, 20.01, 32.0])
    assert [[mark.text for mark in section.log.marks] for section in found] == [
        [],
        ["tarmac"],
        ["gravel"],
        ["tarmac"],
    ]
    assert left_out(ride) == ()


def test_each_section_has_the_summary_of_its_part(ride: Log) -> None:
    deepest = []
    for section in sections(ride):
        front = summarise_ride(section.log).front
        assert front is not None
        deepest.append(front.travel_used_mm)
    assert deepest == pytest.approx([75.0, 80.0, 85.0, 90.0], abs=0.1)


def test_events_keep_the_time_of_the_whole_ride(make_log: Callable[..., Log]) -> None:
    travel = 80.0 + 5.0 * np.sin(2 * np.pi * 1.3 * TIME)
    bump = np.abs(TIME - 25.0) < 0.5
    travel[bump] += (225.5 - travel[2500]) * np.cos(np.pi * (TIME[bump] - 25.0)) ** 2
    log = make_log(travel, travel, rate_hz=100.0, marks=[(15.0, "gravel")])
    (start, gravel) = (summarise_ride(section.log).front for section in sections(log))
    assert start is not None
    assert gravel is not None
    assert start.bottoming.events == ()
    assert [event.t_s for event in gravel.bottoming.events] == pytest.approx([25.0], abs=0.05)


def test_short_parts_are_left_out_and_said(ride: Log) -> None:
    pressed_twice = replace(ride, marks=(Mark(t_s=3.0, text="mark"), Mark(t_s=3.4, text="mark")))
    assert [section.name for section in sections(pressed_twice)] == ["mark 2"]
    assert left_out(pressed_twice) == ('"mark" at 3 s: 0.4 s are too short for a section, which takes 5 s',)


def test_a_ride_without_marks_has_no_sections(ride: Log) -> None:
    assert sections(replace(ride, marks=())) == ()
    assert sections(replace(ride, segments=())) == ()


def test_losses_belong_to_the_section_they_happened_in(ride: Log) -> None:
    values = ride.segments[0].values
    parts = (
        Segment(start_s=0.0, dt_s=0.01, values=values[:1500]),
        Segment(start_s=16.0, dt_s=0.01, values=values[1600:]),
    )
    gap = Gap(t_s=15.0, duration_s=1.0, lost_samples=100, exact=True, reason="frames lost")
    holed = replace(ride, segments=parts, gaps=(gap,), link=LinkStatistics(lost_samples=100))
    found = sections(holed)
    assert [lost_samples(section.log) for section in found] == [0, 100, 0, 0]
    assert [len(section.log.segments) for section in found] == [1, 2, 1, 1]
    assert found[1].log.rows == 901


@given(
    st.lists(st.floats(-5.0, 60.0), max_size=6),
    st.floats(0.001, 0.05),
    st.lists(st.integers(1, 900), min_size=1, max_size=3),
)
def test_every_row_belongs_to_exactly_one_part(at_s: list[float], dt_s: float, rows: list[int]) -> None:
    """Also marks outside the ride, at the same moment, in gaps and between two rows."""
    segments, start_s, number = [], 0.0, 0
    for count in rows:
        values = np.arange(number, number + count, dtype=float)[:, None]
        segments.append(Segment(start_s=start_s, dt_s=dt_s, values=values))
        start_s, number = segments[-1].end_s + 7.3 * dt_s, number + count
    log = Log(
        id="x",
        kind=Kind.RIDE,
        started="",
        bike=Bike(name="x", front=Suspension(kind="telescopic fork", travel_mm=200)),
        channels=(Channel(name="front_mm", unit=Unit.WHEEL_MM),),
        segments=tuple(segments),
        marks=tuple(Mark(t_s=at, text=f"at {k}") for k, at in enumerate(at_s)),
    )
    from analysis.sections import _all  # short parts too

    found = list(_all(log))
    seen = [int(v) for part in found for s in part.log.segments for v in s.values[:, 0]]
    assert seen == (list(range(number)) if at_s else [])
    for part in found:
        for segment in part.log.segments:
            last_s = segment.start_s + (segment.rows - 1) * segment.dt_s
            assert segment.start_s >= part.start_s - 1e-5 * dt_s
            assert last_s < part.end_s
