"""Whether rides may be compared: what differs is said, what is unknown stays so, the hopeless is refused."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.comparable import cautions_about, likeness, what_is_missing
from analysis.compare_results import Likeness
from analysis.motion import end_motion
from analysis.results import Quantity
from analysis.ride_results import RideSpeed, RideSummary
from analysis.roughness import roughness
from ingest.errors import CannotAnswer
from ingest.log import Log, Mark
from ingest.records import End, EndSetup, Rider, Setup
from ingest.run_notes import RunNotes

NOTES = RunNotes(route="forest loop", front_tyre_kpa=220, rear_tyre_kpa=250, warmed_up=True)


@pytest.fixture
def ride(make_log: Callable[..., Log]) -> Callable[..., Log]:
    def build(seconds: float = 60.0, hour: int = 9, rough: float = 1.0, **changed: object) -> Log:
        t = np.arange(0.0, seconds, 0.01)
        wave = 90 + rough * 10 * np.sin(2 * np.pi * 5 * t) + 20 * np.sin(2 * np.pi * 0.3 * t)
        log = make_log(wave, wave, rate_hz=100.0)
        known = {"run": NOTES, "rider": Rider(name="Jo"), "load_case": "solo", **changed}
        return replace(log, started=f"2026-01-01T{hour:02d}:00:00+00:00", **known)

    return build


def summary(speed: float | None, doubt: float = 0.3) -> RideSummary:
    known = None if speed is None else Quantity(value=speed, expanded_uncertainty=doubt, coverage_factor=2.0)
    return RideSummary(
        log_id="x",
        front=None,
        rear=None,
        speed=RideSpeed(
            speed_m_s=known,
            slowest_m_s=None,
            fastest_m_s=None,
            pieces=0,
            pieces_tried=0,
            unknown_because=None if known else "too smooth",
        ),
    )


def found(
    before: Sequence[Log],
    after: Sequence[Log],
    speeds: tuple[float | None, float | None] = (None, None),
    *,
    with_motion: bool = False,
) -> dict[str, Likeness]:
    summaries = [[summary(speed) for _ in side] for side, speed in zip((before, after), speeds, strict=True)]
    rough = [
        [
            {end: roughness(motion) for end in End if (motion := end_motion(log, end)) is not None}
            for log in side
        ]
        for side in (before, after)
    ]
    listed = likeness(before, after, summaries, rough if with_motion else None)
    return {one.what: one for one in listed}


def test_two_rides_alike(ride) -> None:
    same = found([ride()], [ride(hour=10)], (14.0, 14.2), with_motion=True)
    assert {what: one.word for what, one in same.items() if one.word != "alike"} == {"sections": "unknown"}
    assert all(one.says is None for one in same.values())
    assert same["tyre pressures"].before == "220/250 kPa"
    assert same["roughness"].before.startswith("front 2")


def test_what_nobody_noted_is_unknown(make_log) -> None:
    log = make_log(np.zeros(9000), np.zeros(9000), rate_hz=100.0)
    unknown = found([log], [log])
    assert {one.word for what, one in unknown.items() if what != "length"} == {"unknown"}
    assert all(one.says is None for one in unknown.values())
    assert unknown["route"].before == "not noted"


@pytest.mark.parametrize(
    ("changed", "what", "says"),
    [
        ({"seconds": 200.0}, "length", "60 s before and 200 s after"),
        ({"load_case": "two up"}, "load case", "the load case differs: solo before, two up after"),
        ({"rider": Rider(name="Al")}, "rider", "Jo before, Al after"),
        ({"run": replace(NOTES, route="gravel pit")}, "route", "forest loop before, gravel pit after"),
        (
            {"run": replace(NOTES, front_tyre_kpa=180)},
            "tyre pressures",
            "220/250 kPa before, 180/250 kPa after",
        ),
        ({"run": replace(NOTES, warmed_up=False)}, "warmed up", "warm before, cold after"),
        ({"rough": 1.6}, "roughness", "the road was rougher after"),
        ({"marks": (Mark(t_s=1.0, text="whoops"),)}, "sections", "no marks before, “whoops” after"),
    ],
)
def test_each_difference_is_said(ride, changed: dict[str, object], what: str, says: str) -> None:
    one = found([ride()], [ride(hour=10, **changed)], with_motion=True)[what]
    assert one.word == "differs"
    assert one.says is not None
    assert says in one.says


def test_case_and_spaces_make_no_other_route(ride) -> None:
    other = ride(run=replace(NOTES, route="Forest  Loop", front_tyre_kpa=225))
    same = found([ride()], [other])
    assert same["route"].word == "alike"
    assert same["tyre pressures"].word == "alike"


def test_a_section_ridden_faster_is_seen_by_its_marks(ride) -> None:
    marks = [Mark(t_s=5.0, text="Gate"), Mark(t_s=45.0, text="bridge")]
    slow, fast = ride(marks=tuple(marks)), ride(marks=(marks[0], replace(marks[1], t_s=35.0)))
    assert found([slow], [slow])["sections"].word == "alike"
    unlike = found([slow], [fast])["sections"]
    assert unlike.word == "differs"
    assert "from “gate” to “bridge” took 40 s before and 30 s after" in str(unlike.says)


def test_pace_warns_then_refuses(ride) -> None:
    before, after = [ride()], [ride()]
    assert found(before, after, (14.0, 15.0))["pace"].word == "alike"
    assert "ridden faster after: 14.0 m/s before, 16.8 m/s" in str(
        found(before, after, (14.0, 16.8))["pace"].says
    )
    assert found(before, after, (14.0, None))["pace"].word == "unknown"
    with pytest.raises(CannotAnswer, match=r"14.0 m/s before and 20.0 m/s after"):
        found(before, after, (14.0, 20.0))


def test_another_road_is_refused_but_not_another_setup(ride) -> None:
    with pytest.raises(CannotAnswer, match="ride both on the same route"):
        found([ride()], [ride(rough=2.6)], with_motion=True)
    rough, smooth = ride(rough=2.6), ride()
    both = [seg.values.copy() for seg in smooth.segments]
    both[0][:, 1] = rough.segments[0].values[:, 1]
    one_end = replace(smooth, segments=(replace(smooth.segments[0], values=both[0]),))
    assert found([smooth], [one_end], with_motion=True)["roughness"].word == "alike"


@pytest.mark.parametrize(
    ("front", "rear", "word"),
    [
        ((128.0, 130.0), (120.0, 118.0), "alike"),
        ((128.0, 140.0), (120.0, 131.0), "alike"),
        ((128.0, 154.0), (120.0, 147.0), "unknown"),
        ((128.0, 160.0), (120.0, 121.0), "alike"),
        ((128.0, 175.0), (120.0, 164.0), "unknown"),
        ((128.0, 235.0), (120.0, 220.0), "differs"),
        ((235.0, 128.0), (220.0, 120.0), "differs"),
    ],
)
def test_a_road_in_doubt_is_not_called_alike(
    ride, front: tuple[float, float], rear: tuple[float, float], word: str
) -> None:
    rough = [
        [
            {
                end: Quantity(value=both[k], expanded_uncertainty=0.2 * both[k], coverage_factor=2.0)
                for end, both in ((End.FRONT, front), (End.REAR, rear))
            }
        ]
        for k in (0, 1)
    ]
    one = ride()
    said = next(
        like
        for like in likeness([one], [one], [[summary(None)], [summary(None)]], rough)
        if like.what == "roughness"
    )
    assert said.word == word
    begins = {
        "alike": "None",
        "unknown": "cannot tell whether the road was rougher",
        "differs": "the road was",
    }
    assert str(said.says).startswith(begins[word])
    if word != "alike":
        said_by = cautions_about([one], [one], [[summary(None)], [summary(None)]], [said])
        assert said_by[0] == said.says


def test_a_gap_is_no_riding(ride) -> None:
    whole = ride(60.0)
    (part,) = whole.segments
    parts = (
        replace(part, values=part.values[:2000]),
        replace(part, start_s=part.start_s + 40.0, values=part.values[4000:]),
    )
    length = found([replace(whole, segments=parts)], [whole])["length"]
    assert (length.before, length.after) == ("40 s", "60 s")


def test_what_to_ride_next(ride) -> None:
    good = [ride(300.0, hour) for hour in (9, 10, 14)], [ride(300.0, hour) for hour in (11, 12, 13)]
    assert what_is_missing(*good) == ()
    assert what_is_missing(good[0], good[1][:1]) == (
        "ride the setup after two more times on the same route: "
        "3 runs a side show how far two runs of one setup differ",
    )
    bare = replace(ride(60.0), run=RunNotes(), load_case=None)
    said = " ".join(what_is_missing([bare], [replace(bare, started="2026-01-01T10:00:00+00:00")]))
    for wanted in (
        "before, after, before again",
        "warm up",
        "tyre pressures",
        "route",
        "aboard",
        "5 minutes",
    ):
        assert wanted in said
    assert any(
        "put the first setup back" in one for one in what_is_missing([bare], [replace(bare, started="")])
    )


def test_a_zero_measured_anew_is_no_other_setup(ride) -> None:
    stock = Setup(name="stock")
    anew = Setup(name="stock", notes="second day", front=EndSetup(sensor_zero_count=120.0))
    softer = Setup(name="stock", front=EndSetup(rebound_clicks=9))

    def said(other: Setup) -> bool:
        before = [ride(setup=stock), ride(setup=other)]
        summaries = [[summary(None)] * 2, [summary(None)]]
        return any("one and the same setup" in one for one in cautions_about(before, [ride()], summaries, ()))

    assert not said(anew)
    assert said(softer)
