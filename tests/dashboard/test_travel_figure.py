"""The figure of travel over time: thinned for the screen, every peak kept, everything left out shown."""

from __future__ import annotations

import time
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from analysis.ride_results import RideSummary, Span
from dashboard import travel_points as points
from dashboard.answers import Answers
from dashboard.drawings.svg import text_width_px
from dashboard.drawings.travel import WIDTH_PX, travel_drawing
from dashboard.parts import Look
from dashboard.ride_events import numbered_events
from dashboard.theme import DARK, PRINT, Theme
from dashboard.travel_figure import Scene, travel_figure, zoomed
from dashboard.travel_spans import PHONE_PX, drawn, lanes, mark_words, shortened, span_words
from dashboard.units import Units
from ingest.log import Mark
from ingest.records import End

LOOK = Look(units=Units.MM, theme=Theme.LIGHT)
NS = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def motions(shop):
    return Answers(shop.book).motions(shop.rides[0])


def test_a_trace_stays_small_and_keeps_the_peaks(motions) -> None:
    view = points.whole_view(motions)
    for motion in motions.values():
        _, mm = points.thinned(motion, view, Units.MM)
        assert mm.size <= points.POINTS + 4
        whole = np.concatenate([segment.travel_mm for segment in motion.segments])
        assert np.nanmax(mm) == np.nanmax(whole)
        assert np.nanmin(mm) == np.nanmin(whole)


def test_a_gap_stays_open(motions) -> None:
    at_s, mm = points.thinned(motions[End.FRONT], points.whole_view(motions), Units.MM)
    assert np.isnan(mm).sum() == 1
    inside = at_s[(at_s > 30.0) & (at_s < 32.0)]
    assert inside.size == 0


def test_a_close_look_shows_every_sample(motions) -> None:
    at_s, mm = points.thinned(motions[End.REAR], (19.9, 20.1), Units.IN)
    assert 200 <= mm.size <= 206
    assert np.all(np.diff(at_s) > 0)
    assert np.nanmax(mm) == pytest.approx(219.0 / 25.4, abs=0.1)


def test_an_hour_is_thinned_fast(motions) -> None:
    hour = np.tile(motions[End.FRONT].segments[0].travel_mm, 120)
    segment = replace(motions[End.FRONT].segments[0], travel_mm=hour, speed_mm_s=hour)
    long = replace(motions[End.FRONT], segments=(segment,))
    began = time.perf_counter()
    points.thinned(long, (0.0, 3600.0), Units.MM)
    assert time.perf_counter() - began < 0.5  # measured: 5 ms; generous for a busy machine


@pytest.mark.parametrize(
    ("message", "wanted"),
    [
        ({"xaxis.range[0]": 10, "xaxis.range[1]": 20}, (10.0, 20.0)),
        ({"xaxis.range": [20, 10]}, (10.0, 20.0)),
        ({"xaxis.range[0]": -5, "xaxis.range[1]": 1e9}, (0.0, 60.0)),
        ({"xaxis.autorange": True}, (0.0, 60.0)),
        ({"autosize": True}, None),
        ({"xaxis.range[0]": "x", "xaxis.range[1]": 3}, None),
        ({"xaxis.range": []}, None),
        ({"xaxis.range[0]": 5}, None),
        (None, None),
    ],
)
def test_what_plotly_says_is_read_with_care(message, wanted) -> None:
    assert points.asked_view(message, (0.0, 60.0)) == wanted


def test_events_are_numbered_in_the_order_of_time(shop) -> None:
    events = numbered_events(Answers(shop.book).ride(shop.rides[0]))
    assert [item.number for item in events] == list(range(1, len(events) + 1))
    assert [item.event.t_s for item in events] == sorted(item.event.t_s for item in events)
    assert {(item.end, item.is_topping) for item in events} == {(End.REAR, False), (End.FRONT, True)}


# --------------------------------------------------------------------------------------- what is marked


def span(start_s: float, end_s: float, kind: str = "spike") -> Span:
    return Span(kind=kind, start_s=start_s, end_s=end_s)


def test_a_span_of_one_sample_is_drawn_wide_enough_to_be_seen() -> None:
    (seen,) = drawn([span(8.0, 8.001)], (0.0, 100.0))
    assert seen.end_s - seen.start_s == pytest.approx(0.4)
    assert seen.longest_s == pytest.approx(0.001)
    assert seen.start_s < 8.0 < seen.end_s


def test_spans_that_would_touch_are_one_and_named_after_the_longest() -> None:
    (seen,) = drawn([span(8.0, 8.001), span(8.2, 8.9, "stuck"), span(8.95, 9.0)], (0.0, 100.0))
    assert seen.kind == "stuck"
    assert seen.end_s >= 9.0
    assert drawn([span(8.0, 9.0)], (10.0, 20.0)) == []


def test_words_of_spans_cover_neither_each_other_nor_the_edge() -> None:
    spans = [span(t, t + 0.5) for t in (1.0, 1.5, 99.0)]
    words = span_words(drawn(spans, (0.0, 100.0)), (0.0, 100.0))
    assert [(word.at_s, word.side) for word in words] == [(1.0, "right"), (99.0, "left")]
    assert words[0].text == "spike, 0.5 s"
    words = span_words(drawn([span(t, t + 0.5) for t in (1.0, 70.0)], (0.0, 100.0)), (0.0, 100.0))
    assert [word.text for word in words] == ["spike, 0.5 s", "spike"]  # no room for the second's length


def test_names_of_marks_are_cut_to_the_room_they_have() -> None:
    words = mark_words(
        [(0.0, "forest track"), (20.0, "tarmac"), (21.0, "x"), (60.0, "way home")], (0.0, 100.0)
    )
    assert [word.text for word in words] == ["for…", "x", "way home"]
    for word, until in zip(words, (20.0, 60.0, 100.0), strict=True):
        assert text_width_px(word.text) <= (until - word.at_s) / 100.0 * PHONE_PX
    assert shortened("anything", 3.0) == ""


@pytest.fixture
def scene(shop, motions, rich_ride: RideSummary) -> Scene:
    log = replace(
        shop.book.read_log(shop.rides[0]),
        marks=(Mark(t_s=2.0, text="tarmac <b>"), Mark(t_s=30.0, text="forest")),
    )
    return Scene(motions=motions, ride=rich_ride, log=log, look=LOOK, names={2.0: "1 tarmac <b>"})


def said_by(figure) -> str:
    return " ".join(str(text) for trace in figure.data if trace.text for text in trace.text)


def test_the_figure_names_what_was_left_out_and_where_sections_begin(scene: Scene) -> None:
    said = said_by(travel_figure(scene))
    assert "not recorded" in said
    assert "spike" in said
    assert "1 tarm" in said
    assert "<b>" not in said
    assert [lane.name for lane in lanes(scene.ride)] == ["air F", "air R", "dive", "squat"]
    ticks = travel_figure(scene).layout.yaxis3.ticktext
    assert list(ticks) == ["air F", "air R", "dive", "squat"]


def test_beyond_a_stop_that_was_found_the_figure_is_hatched(scene: Scene) -> None:
    assert scene.stop(End.REAR) == 213.0
    assert scene.stop(End.FRONT) == 230.0


def test_zooming_changes_the_traces_there_are_and_adds_none(scene: Scene) -> None:
    whole = travel_figure(scene)
    change = zoomed(scene, (7.5, 8.5)).to_plotly_json()["operations"]
    places = {operation["location"][1] for operation in change if operation["location"][0] == "data"}
    assert places == set(range(len(whole.data)))


def test_a_bare_ride_has_a_figure_without_lanes(scene: Scene, bare_ride: RideSummary) -> None:
    bare = replace(scene, ride=bare_ride, log=replace(scene.log, marks=(), gaps=()))
    figure = travel_figure(bare)
    assert "yaxis3" not in figure.layout
    assert not said_by(figure).strip()
    assert figure.layout.height < travel_figure(scene).layout.height


@pytest.mark.parametrize("units", list(Units))
def test_the_drawing_for_paper_is_xml_and_keeps_its_words_inside(scene: Scene, units: Units) -> None:
    drawing = travel_drawing(replace(scene, look=replace(LOOK, units=units)), PRINT, title="t <&>")
    root = ET.fromstring(drawing)
    height = float(root.attrib["height"])
    texts = list(root.iter(f"{NS}text"))
    assert {"FRONT", "REAR", "air F", "squat", "spike"} <= {node.text for node in texts}
    for node in texts:
        needs = text_width_px(node.text, float(node.attrib["font-size"]), bold="font-weight" in node.attrib)
        left = (
            float(node.attrib["x"])
            - {"start": 0.0, "middle": 0.5, "end": 1.0}[node.attrib["text-anchor"]] * needs
        )
        assert left >= -4, node.text
        assert left + needs <= WIDTH_PX + 4, node.text
        assert 0 <= float(node.attrib["y"]) <= height, node.text
    assert drawing != travel_drawing(replace(scene, look=replace(LOOK, units=units)), DARK, title="t <&>")
