"""The pages without a browser: what each answers to its callback, and what it says when it cannot."""

from __future__ import annotations

import json

import pytest

from dashboard import ids
from dashboard.answers import Answers
from dashboard.app import create_app
from dashboard.pages.jobs import found
from dashboard.parts import Look, look_of
from dashboard.recording import Recording
from dashboard.setup_words import side_by_side
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.book import Book
from ingest.errors import UsageError
from ingest.log import Amendment
from ingest.log_file import amend
from ingest.records import Leverage

LOOK = Look(units=Units.MM, theme=Theme.LIGHT)
LOCAL = {"Host": "localhost"}


@pytest.fixture(scope="module")
def app(shop):
    return create_app(shop.book)


@pytest.fixture(scope="module")
def client(app):
    return app.server.test_client()


def ask(client, name: str, asked: dict[str, object], units: str = "mm", theme: str = "light") -> str:
    """Post to the callback that fills a page, as the browser does, and give the answer as text."""
    page = [
        {"id": f"{name}-{ids.ASKED}", "property": "data", "value": asked},
        {"id": ids.UNITS, "property": "value", "value": units},
        {"id": ids.THEME, "property": "value", "value": theme},
    ]
    output = {"id": f"{name}-{ids.SHOWN}", "property": "children"}
    return post(client, f"{name}-{ids.SHOWN}.children", output, page, f"{name}-{ids.ASKED}.data")


def post(
    client, output: str, outputs: object, inputs: list[dict[str, object]], changed: str, state=()
) -> str:
    client.get("/", headers=LOCAL)  # Dash readies its callbacks at the first request
    answer = client.post(
        "/_dash-update-component",
        json={
            "output": output,
            "outputs": outputs,
            "inputs": inputs,
            "changedPropIds": [changed],
            "state": list(state),
        },
        headers=LOCAL,
    )
    assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
    text: str = json.dumps(json.loads(answer.get_data(as_text=True)), ensure_ascii=False)
    return text


def test_jobs_lists_the_job_and_where_it_stands(client, shop) -> None:
    said = ask(client, "jobs", {})
    for wanted in (shop.job, "Workshop tall twin", "45 mm", "2 sag, 2 rides", "read the answer"):
        assert wanted in said
    assert "1.8 in" in ask(client, "jobs", {}, units="in")


def test_an_empty_book_says_what_to_do(tmp_path) -> None:
    client = create_app(Book.create(tmp_path / "book", "New shop")).server.test_client()
    said = ask(client, "jobs", {})
    assert "flatfoot demo" in said
    assert "flatfoot job new" in said


def test_find_keeps_the_jobs_in_which_every_word_occurs(shop) -> None:
    jobs = shop.book.jobs()
    assert found(jobs, "TALL mara") == jobs
    assert found(jobs, "mara quad") == []
    assert found(jobs, None) == jobs


def test_the_find_box_answers(client) -> None:
    inputs = [
        {"id": ids.JOBS_FIND, "property": "value", "value": "nobody"},
        {"id": ids.UNITS, "property": "value", "value": "mm"},
        {"id": ids.THEME, "property": "value", "value": "light"},
    ]
    output = {"id": ids.JOBS_TABLE, "property": "children"}
    assert "No job has these words" in post(
        client, f"{ids.JOBS_TABLE}.children", output, inputs, f"{ids.JOBS_FIND}.value"
    )


def test_a_job_shows_setups_logs_and_what_to_compare(client, shop) -> None:
    said = ask(client, "job", {"job_id": shop.job})
    for wanted in ("front: spring rate", "14.5 N/mm", "10.5 N/mm", "0:25", "2000 samples lost"):
        assert wanted in said
    for log_id in (*shop.sag, *shop.rides):
        assert log_id in said
    assert f"/compare?before={shop.rides[0]}&after={shop.rides[1]}" in said


def test_a_sag_page_says_the_numbers_of_the_analysis(client, shop) -> None:
    check = Answers(shop.book).sag(shop.sag[0])
    said = ask(client, "sag", {"log_id": shop.sag[0]})
    for end in (check.front, check.rear):
        assert end is not None
        assert end.rider_sag_mm is not None
        assert f"{end.rider_sag_mm.value:.1f} ± {end.rider_sag_mm.expanded_uncertainty:.1f}" in said
        assert end.word in said
    for line in check.advice:
        assert json.dumps(line, ensure_ascii=False)[1:-1] in said
    assert f"{check.front.rider_sag_mm.value / 25.4:.2f} ±" in ask(
        client, "sag", {"log_id": shop.sag[0]}, "in"
    )


def test_the_record_page_offers_jobs_and_ports_and_nothing_to_type(client, shop) -> None:
    said = ask(client, "record", {"job": shop.job})
    assert "Start recording" in said
    assert '"type": "text"' not in said
    assert "dcc.Input" not in said
    assert '"type": "Input"' not in said


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        ("job", {"job_id": "9999"}),
        ("job", {"job_id": "../../etc"}),
        ("job", {}),
        ("sag", {"log_id": "nothing"}),
        ("ride", {"log_id": "..%2F..%2Fbook"}),
        ("ride", {"log_id": "<script>alert(1)</script>"}),
        ("compare", {}),
        ("compare", {"before": "a", "after": "b"}),
        ("compare", {"before": ["a"], "after": 7}),
        ("sag", "no object"),
        ("sag", None),
    ],
)
def test_what_the_book_does_not_have_is_said_plainly(client, name: str, asked: object) -> None:
    said = ask(client, name, asked)
    assert "This cannot be shown" in said
    assert "in this book" in said
    assert "Traceback" not in said
    assert "script>alert" not in said


def test_a_sag_log_is_no_ride_and_the_other_way_round(client, shop) -> None:
    assert "no such ride" in ask(client, "ride", {"log_id": shop.sag[0]})
    assert "no such sag check" in ask(client, "sag", {"log_id": shop.rides[0]})


def test_what_the_data_cannot_answer_is_a_card_not_a_traceback(client, shop) -> None:
    said = ask(client, "compare", {"before": shop.sag[0], "after": shop.rides[0]})
    assert "This cannot be shown" in said
    assert shop.sag[0] in said


def test_a_damaged_log_is_a_card(tmp_path, shop, client) -> None:
    import shutil

    copy = tmp_path / "book"
    shutil.copytree(shop.book.path, copy)
    book = Book.open(copy)
    path = book.log_path(shop.rides[0])
    data = bytearray(path.read_bytes())
    data[2000:3000] = bytes(1000)
    path.write_bytes(data)
    answered = ask(create_app(book).server.test_client(), "ride", {"log_id": shop.rides[0]})
    assert "This cannot be shown" in answered
    assert "Traceback" not in answered
    create_app(shop.book)  # Dash keeps one set of pages a process; give it back to the others


def test_units_and_theme_from_the_browser_are_not_trusted() -> None:
    assert look_of("furlong", None) == LOOK
    assert look_of("in", "dark") == Look(units=Units.IN, theme=Theme.DARK)
    assert look_of({"a": 1}, ["dark"]) == LOOK


def test_text_of_people_reaches_the_page_as_text(client, shop) -> None:
    # React writes strings as text; nothing of ours may turn one into markup.
    for name, asked in (("jobs", {}), ("job", {"job_id": shop.job})):
        assert "Mara <b>L.</b>" in ask(client, name, asked)
        assert "dangerously" not in ask(client, name, asked)


def test_answers_are_kept_until_an_amendment_changes_the_log(tmp_path, shop) -> None:
    import shutil

    copy = tmp_path / "book"
    shutil.copytree(shop.book.path, copy)
    answers = Answers(Book.open(copy))
    first = answers.ride(shop.rides[0])
    assert answers.ride(shop.rides[0]) is first
    moved = Amendment(made="2026-11-25", by=None, what="zero", content={"front": 112.0, "rear": 88.0})
    amend(answers.book.log_path(shop.rides[0]), moved)
    second = answers.ride(shop.rides[0])
    assert second is not first
    assert second.front.mean_mm == pytest.approx(first.front.mean_mm - 10 * 230 / 819, abs=0.2)


# --------------------------------------------------------------------------------------- small parts


def test_setups_side_by_side_show_what_differs(bike) -> None:
    from dataclasses import replace

    other = Leverage(table=((0, 0), (55, 20), (110, 43.5), (165, 67.3), (220, 92)))
    lowered = replace(bike, rear=replace(bike.rear, leverage=other, spring_rate_n_mm=74.0))
    made = side_by_side([("before", bike), ("after", lowered)], only_changes=True)
    assert made.head == ("", "before", "after")
    rows = {name: cells for name, *cells in made.rows}
    assert rows["rear: spring rate"] == ["–", "74.0 N/mm"]
    assert rows["rear: leverage"][1] == f"{rows['rear: leverage'][0]}, other points between"
    assert "rear: travel" not in rows


def test_only_a_listed_port_is_opened_and_only_a_known_kind(shop) -> None:
    recording = Recording(shop.book)
    with pytest.raises(UsageError, match="not there any more"):
        recording.start(shop.job, "stock", "sag", "socket://192.0.2.1:9")
    with pytest.raises(UsageError, match="nothing is being recorded"):
        recording.stop()
    with pytest.raises(UsageError, match="nothing is being recorded"):
        recording.mark("topped out")
    assert recording.now() is None
