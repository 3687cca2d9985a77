"""The page of one ride: its numbers, its sections, its events; and that it stands without any record."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from dash.development.base_component import Component

from analysis.ride_results import RideSummary
from dashboard import app as app_module
from dashboard import ids
from dashboard.answers import Answers, Ridden
from dashboard.app import create_app
from dashboard.pages.ride import _view, page_of, section_of
from dashboard.parts import Look
from dashboard.ride_events import numbered_events
from dashboard.section_words import Part, Parts, section_table
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.book import Book
from ingest.log import Amendment, Kind
from ingest.log_file import amend
from ingest.records import End

LOOK = Look(units=Units.MM, theme=Theme.LIGHT)
LOCAL = {"Host": "localhost"}


@pytest.fixture(scope="module")
def client(shop):
    return create_app(shop.book).server.test_client()


def post(client, output: str, outputs: object, inputs: list[object], changed: str, state=()) -> str:
    client.get("/", headers=LOCAL)  # Dash readies its callbacks at the first request
    question = {"output": output, "outputs": outputs, "inputs": inputs, "changedPropIds": [changed]}
    answer = client.post("/_dash-update-component", json=question | {"state": list(state)}, headers=LOCAL)
    assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
    text: str = json.dumps(json.loads(answer.get_data(as_text=True)), ensure_ascii=False)
    return text


def ask(client, asked: object, units: str = "mm") -> str:
    page: list[object] = [
        {"id": f"ride-{ids.ASKED}", "property": "data", "value": asked},
        {"id": ids.UNITS, "property": "value", "value": units},
        {"id": ids.THEME, "property": "value", "value": "light"},
    ]
    output = {"id": f"ride-{ids.SHOWN}", "property": "children"}
    return post(client, f"ride-{ids.SHOWN}.children", output, page, f"ride-{ids.ASKED}.data")


def words(part: object) -> str:
    """All text a part of a page shows, in reading order."""
    if isinstance(part, list | tuple):
        return " ".join(filter(None, map(words, part)))
    if isinstance(part, Component):
        return words(getattr(part, "children", None))
    return "" if part is None else str(part)


def test_a_ride_page_says_the_numbers_of_the_analysis(client, shop) -> None:
    ride = Answers(shop.book).ride(shop.rides[0])
    said = ask(client, {"log_id": shop.rides[0]})
    for end in (ride.front, ride.rear):
        assert end is not None
        for value in (end.mean_mm, end.p50_mm, end.p95_mm, end.p99_mm, end.travel_used_mm):
            assert f"{value:.1f} mm" in said
        assert f'"{end.compression_speed_mm_s.p99:.0f}"' in said
    assert said.count('"number"') >= len(numbered_events(ride))
    order = ("Front uses", "Where the wheel spends its time", "What happened", "All numbers")
    assert sorted(order, key=said.index) == list(order)


def test_rider_sag_comes_from_the_newest_check_of_the_same_setup(shop) -> None:
    answers = Answers(shop.book)
    for sag, ride in zip(shop.sag, shop.rides, strict=True):
        ridden = answers.ridden(ride)
        check = answers.sag(sag)
        assert ridden.sag_log == sag
        assert ridden.rider_sags == {End.FRONT: check.front.rider_sag_mm, End.REAR: check.rear.rider_sag_mm}
        height = ridden.ride.front.height
        if height is not None and height.against_sag_mm is not None:
            against = ridden.ride.front.mean_mm - check.front.rider_sag_mm.value
            assert height.against_sag_mm.value == pytest.approx(against)


def test_every_card_is_there_when_the_ride_says_all_there_is(shop, rich_ride: RideSummary) -> None:
    answers = Answers(shop.book)
    ridden = replace(answers.ridden(shop.rides[0]), ride=rich_ride)
    named = (("whole ride", "–"), ("tarmac", "smoother"), ("woods", "rougher"))
    parts = Parts(
        parts=tuple(
            Part(number=i, name=name, start_s=0.0, duration_s=60.0, ride=rich_ride, road=road)
            for i, (name, road) in enumerate(named)
        ),
        left_out=('"bridge" at 40 s: 2.0 s are too short for a section, which takes 5 s',),
    )
    said = words(page_of(ridden, parts, 0, LOOK))
    for wanted in (
        "Front and rear ride level", "2 woods", "0 · 2", "bridge", "packs down", "as a drop from", "12 cm",
        "hit the hard stop", "touched the rubber", "nose 0.6° down", "45 ± 4 km/h", "loose contact",
        "the zero moved by", "at the shock shaft", "160 and more", "How far to trust this on a real bike",
        "common practice", "off the ground", f"from the sag check {shop.sag[0]}",
    ):  # fmt: skip
        assert wanted in said, wanted
    assert "None" not in said
    assert "nan" not in said.lower().replace("finance", "")


def test_the_page_stands_without_any_record_that_may_be_missing(shop, bare_ride: RideSummary) -> None:
    ridden = replace(Answers(shop.book).ridden(shop.rides[0]), ride=bare_ride, rider_sags={}, sag_log=None)
    for ride in (bare_ride, replace(bare_ride, rear=None), replace(bare_ride, front=None)):
        motions = {end: motion for end, motion in ridden.motions.items() if ride.end(end) is not None}
        shown = replace(ridden, ride=ride, motions=motions)
        said = words(page_of(shown, Parts(), 0, LOOK))
        assert "It neither bottomed nor topped out" in said
        assert "No stretch was long enough to work out a speed" in said
        for title in ("Sensors", "Front against rear", "Strokes by size", "Section by section"):
            assert title not in said
        assert "None" not in said


# -------------------------------------------------------------------------------------------- sections


@pytest.fixture(scope="module")
def marked(tmp_path_factory, shop) -> tuple[Book, str]:
    """A book whose first ride was marked afterwards."""
    folder = tmp_path_factory.mktemp("marked") / "book"
    shutil.copytree(shop.book.path, folder)
    book = Book.open(folder)
    log_id = shop.rides[0]
    for at_s, text in ((0.0, "tarmac"), (25.0, "woods")):
        content = {"do": "add", "t_s": at_s, "text": text}
        mark = Amendment(made="2026-11-25", by=None, what="mark", content=content)
        amend(book.log_path(log_id), mark)
    return book, log_id


def test_a_section_is_a_page_of_its_own(marked: tuple[Book, str], shop) -> None:
    book, log_id = marked
    client = create_app(book).server.test_client()
    whole = ask(client, {"log_id": log_id})
    assert f"/ride/{log_id}?section=2" in whole
    assert "Section by section" in whole
    woods = ask(client, {"log_id": log_id, "section": "2"})
    assert "Ride, 2 woods" in woods
    ride = Answers(book).ride(log_id, 2)
    assert f"{ride.front.mean_mm:.1f} mm" in woods
    assert {event.event.t_s > 25.0 for event in numbered_events(ride)} == {True}
    assert "This ride has no section 9" in ask(client, {"log_id": log_id, "section": "9"})
    create_app(shop.book)  # Dash keeps one set of pages a process; give it back to the others


def test_sections_stand_side_by_side_after_the_whole(marked: tuple[Book, str]) -> None:
    book, log_id = marked
    parts = Answers(book).parts(log_id)
    assert [part.title for part in parts.parts] == ["whole ride", "1 tarmac", "2 woods"]
    whole, *cut = section_table(parts.parts).rows
    assert whole[:2] == ("whole ride", "1:00")
    bottomed = [[int(count) for count in row[4].split(" · ")] for row in (whole, *cut)]
    assert bottomed[0] == [sum(counts) for counts in zip(*bottomed[1:], strict=True)]
    assert {row[5] for row in cut} <= {"rougher", "smoother", "alike", "too short"}


def test_a_ride_without_marks_has_no_sections(shop) -> None:
    assert Answers(shop.book).parts(shop.rides[1]) == Parts()


@pytest.mark.parametrize(
    ("text", "number"), [("2", 2), ("0", 0), ("-1", 0), ("x", 0), ("", 0), ("99999", 0), ("²", 0)]
)
def test_the_section_in_an_address_is_not_trusted(text: str, number: int) -> None:
    assert section_of({"section": text}) == number
    assert section_of({}) == 0


def test_answers_of_a_ride_are_new_when_its_sag_check_changes(tmp_path, shop) -> None:
    shutil.copytree(shop.book.path, tmp_path / "book")
    answers = Answers(Book.open(tmp_path / "book"))
    first = answers.ride(shop.rides[0])
    assert answers.ride(shop.rides[0]) is first
    zero = Amendment(made="2026-11-25", by=None, what="zero", content={"front": 104.0})
    amend(answers.book.log_path(shop.sag[0]), zero)
    assert answers.ride(shop.rides[0]) is not first


def test_only_a_sag_check_of_the_same_setup_and_load_belongs_to_a_ride(shop) -> None:
    from dashboard.sag_at_rest import newest_sag_log

    logs = shop.book.logs(shop.job)
    ride = next(log for log in logs if log.id == shop.rides[0])
    assert newest_sag_log(logs, ride).id == shop.sag[0]
    loaded = replace(ride, load_case="two up")
    assert newest_sag_log(logs, loaded).id == shop.sag[0]  # nobody said what the sag check carried
    logs = [replace(log, load_case="rider only") if log.kind is Kind.SAG else log for log in logs]
    assert newest_sag_log(logs, loaded) is None
    zeroed = replace(ride.setup, front=replace(ride.setup.front, sensor_zero_count=99.0))
    assert newest_sag_log(logs, replace(ride, setup=zeroed)).id == shop.sag[0]
    stiffer = replace(ride.setup, front=replace(ride.setup.front, spring_rate_n_mm=9.0))
    assert newest_sag_log(logs, replace(ride, setup=stiffer)) is None
    assert newest_sag_log(logs, replace(ride, job=None)) is None


# ---------------------------------------------------------------------------------------------- events


def zoom_to(client, shop, number: int) -> str:
    event = {"type": ids.RIDE_EVENT, "number": number}
    name = json.dumps({"number": number, "type": ids.RIDE_EVENT}, separators=(",", ":"))
    inputs: list[object] = [
        {"id": ids.RIDE_ZOOMED, "property": "data"},
        {"id": ids.RIDE_WHOLE, "property": "n_clicks"},
        [{"id": event, "property": "n_clicks", "value": 1}],
    ]
    state = [
        {"id": f"ride-{ids.ASKED}", "property": "data", "value": {"log_id": shop.rides[0]}},
        {"id": ids.UNITS, "property": "value", "value": "mm"},
        {"id": ids.THEME, "property": "value", "value": "light"},
    ]
    output = {"id": ids.RIDE_GRAPH, "property": "figure"}
    return post(client, f"{ids.RIDE_GRAPH}.figure", output, inputs, f"{name}.n_clicks", state)


def test_pressing_an_event_zooms_to_it(client, shop) -> None:
    create_app(shop.book)
    said = zoom_to(client, shop, 1)
    low, high = map(float, re.search(r'"range": \[([\d.]+), ([\d.]+)\]', said).groups())
    assert high - low == pytest.approx(4.0)
    assert low < 20.0 < high
    assert len(said) < 300_000


def test_a_button_counts_when_plotly_speaks_at_the_same_time(shop) -> None:
    ride = Answers(shop.book).ride(shop.rides[0])
    event = {"type": ids.RIDE_EVENT, "number": 1}
    low, high = _view([ids.RIDE_ZOOMED, event], {"autosize": True}, ride, (0.0, 60.0))
    assert low < 20.0 < high
    assert _view([ids.RIDE_ZOOMED, ids.RIDE_WHOLE], {"autosize": True}, ride, (0.0, 60.0)) == (0.0, 60.0)
    assert _view([{"type": ids.RIDE_EVENT, "number": 99}], None, ride, (0.0, 60.0)) is None


def test_every_picture_has_words_data_and_a_drawing_to_save(shop, rich_ride: RideSummary) -> None:
    ridden: Ridden = replace(Answers(shop.book).ridden(shop.rides[0]), ride=rich_ride)
    page = json.dumps(page_of(ridden, Parts(), 0, LOOK), default=lambda one: one.to_plotly_json())
    saves = re.findall(r'"data-save": "([^"]+)"', page)
    for name in (f"travel_{shop.rides[0]}", "ruler_rich_front", "ruler_rich_rear", "speed_rich_front"):
        assert {f"{name}.svg", f"{name}.csv"} <= set(saves)
    assert "5 % of the time past" in page  # the words beside a ruler
    assert "Travel over time. front: rides at" in page


def test_a_long_list_of_events_is_cut_and_the_data_has_all(shop, rich_ride: RideSummary) -> None:
    many = tuple(replace(rich_ride.front.topping.events[0], t_s=float(i)) for i in range(200))
    topping = replace(rich_ride.front.topping, count=200, events=many)
    ride = replace(rich_ride, front=replace(rich_ride.front, topping=topping))
    ridden = replace(Answers(shop.book).ridden(shop.rides[0]), ride=ride)
    page = json.dumps(page_of(ridden, Parts(), 0, LOOK), default=lambda one: one.to_plotly_json())
    assert page.count('"type": "ride-event"') == 60
    assert "… and 143 events more, all in the data." in words(page_of(ridden, Parts(), 0, LOOK))
    saved = next(part for part in _walk(json.loads(page)) if part.get("data-save") == "events_rich.csv")
    assert len(saved["data-csv"].splitlines()) == 1 + 203
    assert page.index("touched the rubber") < page.index("front topped out")  # bottomings come first


def test_the_figure_keeps_its_height_when_it_is_zoomed(shop) -> None:
    page = page_of(Answers(shop.book).ridden(shop.rides[0]), Parts(), 0, LOOK)
    said = json.loads(json.dumps(page[0], default=lambda one: one.to_plotly_json()))
    graph = next(part for part in _walk(said) if part.get("id") == ids.RIDE_GRAPH)
    assert graph["style"]["height"] == f"{graph['figure']['layout']['height']}px"


def _walk(part: object) -> list[dict]:
    if isinstance(part, dict):
        return [part, *(found for value in part.values() for found in _walk(value))]
    return [found for value in part for found in _walk(value)] if isinstance(part, list) else []


@pytest.mark.parametrize("name", ["look.css", "ride.css", "sheet.css"])
def test_rules_for_phones_never_reach_paper(name: str) -> None:
    # A4 between its margins is 703 px wide, narrower than where the phone's rules begin
    css = (Path(app_module.__file__).parent / "assets" / name).read_text(encoding="utf-8")
    for rule in re.findall(r"@media [^{]*max-width[^{]*", css):
        assert rule.startswith("@media screen and"), rule
