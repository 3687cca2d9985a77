"""The lowering plan's page without a browser: it says the plan's numbers, keeps what is typed or refuses."""

from __future__ import annotations

import json
import math
import re
import shutil
import time

import pytest

from analysis.kept_plan import keep
from dashboard import cli, ids
from dashboard.answers import Answers
from dashboard.app import create_app
from dashboard.pages import plan_form, plan_parts
from dashboard.pages.plan import ASKED, SHOWN
from dashboard.pages.plan_proof import proof_card
from dashboard.parts import Look
from dashboard.plan_measures import on_a_page
from dashboard.plan_shown import shown, views
from dashboard.plan_ways import rows_of
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.book import Book
from ingest.errors import FlatfootError, UsageError
from ingest.job_file import parse_job_file
from ingest.records import Rider

LOOK = Look(units=Units.MM, theme=Theme.LIGHT)
LOCAL = {"Host": "localhost"}
TYPED = {
    "job.boards": "3",
    "job.board_mm": "15,0",
    "front.full_bump_room_mm": "44",
    "rear.full_bump_room_mm": "38",
    "bike.seat_ahead_of_rear_axle_mm": "570",
    "bike.seat_height_mm": "905",
    "bike.seat_height_state": "topped out",
    "bike.measured_state": "topped out",
    "bike.belly_height_mm": "304",
    "bike.belly_ahead_of_rear_axle_mm": "760",
    "bike.front_wheel_radius_mm": "345",
    "bike.rear_wheel_radius_mm": "325",
    "stands.side_stand_length_mm": "358",
    "stands.side_stand_pivot_height_mm": "352",
    "stands.side_stand_pivot_offset_mm": "110",
    "stands.side_stand_pivot_ahead_of_rear_axle_mm": "640",
    "stands.side_stand_lean_deg": "11",
}


def text_of(part: object) -> str:
    """All of a component as text, as a browser gets it."""
    return json.dumps(part, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def files(book: Book) -> dict[str, bytes]:
    texts = (
        *book.path.glob("bikes/*"),
        *book.path.glob("jobs/*/job.toml"),
        *book.path.glob("earlier/**/*.toml"),
    )
    return {str(path.relative_to(book.path)): path.read_bytes() for path in texts}


@pytest.fixture
def book(shop, tmp_path) -> Book:
    shutil.copytree(shop.book.path, tmp_path / "book")
    return Book.open(tmp_path / "book")


@pytest.fixture(scope="module")
def measured(shop, tmp_path_factory) -> Answers:
    """The shop's book with all measures typed into the form."""
    folder = tmp_path_factory.mktemp("measured") / "book"
    shutil.copytree(shop.book.path, folder)
    book = Book.open(folder)
    assert plan_form.write(book, book.job(shop.job), TYPED, Units.MM) == len(TYPED)
    return Answers(book)


def stock(answers: Answers, shop, **wish: object):
    job = answers.job(shop.job)
    assert job is not None
    return shown(answers, job, setup="stock", **wish)


# ------------------------------------------------------------------------------------------ what is shown


def test_the_card_and_the_ways_say_the_numbers_of_the_plan(measured: Answers, shop, capsys) -> None:
    state = stock(measured, shop)
    arguments = ["plan", "--job", shop.job, "--setup", "stock", "--book", str(measured.book.path)]
    asked = ["--hardware-mm", f"{state.amount_mm:g}", "--json"]
    assert cli.main([*arguments, *asked]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["wanted_lowering_mm"] == 45.0
    said = text_of(plan_parts.how_much(state, LOOK))
    left = told["how_much"]["left_over_mm"]
    assert f"{left['value']:.1f} ± {left['expanded_uncertainty']:.1f}" in said
    assert "3 boards of 15 mm" in said
    assert f"the seat drops {told['how_much']['trap_mm']:.0f} mm where 45 mm was wanted" in said
    rows = rows_of(state.plan, Units.MM)
    assert [row.name for row in rows] == [one["name"] for one in told["options"]]
    for row, one in zip(rows, told["options"], strict=True):
        assert row.word == ("allowed" if one["allowed"] else "refused")
        assert row.why
        assert row.figures[3] == f"{one['rake_deg']:.1f}°"
        assert row.figures[5] == f"{one['clearance']['belly_mm']:.0f}"
    table = text_of(plan_parts.ways(state, LOOK))
    assert table.count('"data-way"') == len(rows)
    assert table.count('"aria-pressed": "true"') == 1


def test_the_drawing_says_in_words_what_it_shows(measured: Answers, shop) -> None:
    state = stock(measured, shop)
    before, after, standing = views(state)
    assert standing == "rider aboard"
    assert after is not None
    alt = plan_parts.alt_text(state, before, after, standing, Units.MM)
    assert f"seat {before.seat_mm[1]:.0f} → {after.seat_mm[1]:.0f} mm" in alt
    assert f"trail {before.trail_mm:.0f} → {after.trail_mm:.0f} mm" in alt
    drop = before.seat_mm[1] - after.seat_mm[1]
    assert drop == pytest.approx(state.option.seat_drop_mm.value, abs=0.01)
    assert f"{before.seat_mm[1] / 25.4:.1f} →" in plan_parts.alt_text(
        state, before, after, standing, Units.IN
    )
    picture = text_of(plan_parts.picture(state, LOOK))
    assert picture.count("ff-plan-wide") == picture.count("ff-plan-narrow") == 1
    assert "before,after" in picture


def test_the_slider_moves_drawing_and_table_in_time(measured: Answers, shop) -> None:
    """A change has 100 ms in the server; measured as CPU time, for other work shares the machine."""
    lowest = stock(measured, shop, amount_mm=5.0)
    spent = []
    for amount in (10.0, 20.0, 30.0, 40.0):
        begun = time.process_time()
        state = stock(measured, shop, amount_mm=amount, way=lowest.option.name)
        text_of([plan_parts.picture(state, LOOK), plan_parts.ways(state, LOOK), plan_parts.told(state, LOOK)])
        spent.append(time.process_time() - begun)
        assert state.plan.from_parts_mm == amount
    assert min(spent) < 0.1
    deeper = stock(measured, shop, amount_mm=40.0, way=lowest.option.name)
    if deeper.option.kind not in ("preload", "springs"):
        assert deeper.option.seat_drop_mm.value > lowest.option.seat_drop_mm.value + 25


def test_refused_ways_stay_with_their_reasons_and_cannot_be_kept(measured: Answers, shop) -> None:
    state = stock(measured, shop, amount_mm=60.0)
    refused = [row for row in rows_of(state.plan, Units.MM) if row.word == "refused"]
    assert refused
    assert all(row.why for row in refused)
    chosen = stock(measured, shop, amount_mm=60.0, way=refused[0].name)
    assert chosen.option.name == refused[0].name
    assert "First: a way that is allowed" in text_of(plan_parts.offer(chosen))
    with pytest.raises(UsageError, match="refused and cannot be kept"):
        keep(chosen.plan, refused[0].name, setup="stock", kept="today")


def test_without_geometry_the_page_says_what_is_missing(book: Book, shop) -> None:
    answers = Answers(book)
    state = stock(answers, shop)
    assert "No drawing yet" in text_of(plan_parts.picture(state, LOOK))
    form = text_of(plan_form.form(state.job, LOOK))
    assert form.index("Room at full bump, front") < form.index("known: change them here")
    assert form.index("Wheelbase") > form.index("known: change them here")


def test_without_a_sag_check_it_says_measure_first(tmp_path, measured: Answers) -> None:
    book = Book.create(tmp_path / "new", "Shop")
    job = book.new_job(measured.book.bikes()[0], Rider(name="Mara L."), 45.0)
    answers = Answers(book)
    state = shown(answers, job)
    assert state.amount_mm is None
    assert state.plan.hardware_lowering_mm is None
    assert "Measure first." in text_of(plan_parts.slider(state, LOOK))
    assert 'type": "range' not in text_of(plan_parts.slider(state, LOOK))
    _, after, standing = views(state)
    assert (after, standing) == (None, "topped out")
    assert "The bike as it is, topped out." in text_of(plan_parts.picture(state, LOOK))


@pytest.mark.parametrize("measure", ["bike.rake_deg", "bike.seat_ahead_of_rear_axle_mm"])
def test_what_a_sentence_says_to_a_terminal_is_not_said_on_a_page(measure: str) -> None:
    said = on_a_page(f"Measure {measure.partition('.')[2]} and wheelbase_mm.", Units.MM)
    assert "_mm" not in said
    assert "_deg" not in said


# ------------------------------------------------------------------------------------------- what is typed


def test_typed_measures_stand_in_the_files_and_the_former_ones_are_kept(measured: Answers, shop) -> None:
    job = measured.book.job(shop.job)
    assert (job.boards, job.board_mm, job.wanted_lowering_mm) == (3.0, 15.0, 45.0)
    assert job.bike.front.full_bump_room_mm == 44.0
    assert job.bike.stands.side_stand_lean_deg == 11.0
    text = (measured.book.path / "jobs" / shop.job / "job.toml").read_text(encoding="utf-8")
    assert "boards = 3" in text
    assert "wanted_lowering_mm" not in text  # said once
    earlier = [path.read_text(encoding="utf-8") for path in measured.book.path.glob("earlier/**/*.toml")]
    assert any("wanted_lowering_mm = 45" in one for one in earlier)
    assert any("[bike]" in one and "seat_height_mm" not in one for one in earlier)


def test_inches_are_stored_as_millimetres_and_what_was_not_touched_stays(book: Book, shop) -> None:
    job = book.job(shop.job)
    assert plan_form.write(book, job, {"job.boards": "3", "job.board_mm": "0.49"}, Units.IN) == 2
    assert book.job(shop.job).board_mm == pytest.approx(12.446)
    shown_again = {"bike.wheelbase_mm": "61.417"}  # what the form shows for 1560 mm
    assert plan_form.write(book, book.job(shop.job), shown_again, Units.IN) == 0
    assert book.job(shop.job).bike.wheelbase_mm == 1560.0


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"front.full_bump_room_mm": "5000"}, "out of range"),
        ({"front.full_bump_room_mm": "-9"}, "out of range"),
        ({"bike.belly_height_mm": "about 20"}, "no plain number"),
        ({"bike.belly_height_mm": "9" * 4000}, "no plain number"),
        ({"bike.belly_height_mm": "1e3"}, "no plain number"),
        ({"bike.belly_height_mm": "nan"}, "no plain number"),
        ({"bike.seat_height_mm": '900"\n[rider]'}, "no plain number"),
        ({"bike.measured_state": "upside down"}, "choose one of"),
        ({"bike.wheelbase_mm": ""}, "not erased"),
        ({"job.boards": "3"}, "go together"),
        ({"job.boards": "40", "job.board_mm": "99"}, "300 mm is allowed"),
        ({"job.boards": "3", "job.board_mm": "15", "job.wanted_lowering_mm": "44"}, "not both"),
        (
            {"bike.seat_height_mm": "900", "job.boards": "3"},
            "go together",
        ),  # the good one is not written either
    ],
)
def test_hostile_input_is_refused_in_one_line_and_nothing_is_written(
    book: Book, shop, typed: dict[str, str], says: str
) -> None:
    was = files(book)
    with pytest.raises(FlatfootError, match=says) as told:
        plan_form.write(book, book.job(shop.job), typed, Units.MM)
    assert "\n" not in str(told.value)
    assert len(str(told.value)) < 200
    assert files(book) == was


# ------------------------------------------------------------------------------- through the browser's door


def call(app, client, about: str, inputs: dict[str, object], state: dict[str, object], changed: str) -> str:
    """Post to the callback whose outputs name ``about``."""
    client.get("/", headers=LOCAL)
    key = next(one for one in app.callback_map if about in one)
    outputs = [one.rpartition(".") for one in key.strip(".").split("...")]

    def asked(values: dict[str, object]) -> list[dict[str, object]]:
        return [
            {"id": name.rpartition(".")[0], "property": name.rpartition(".")[2], "value": value}
            for name, value in values.items()
        ]

    named = [{"id": name, "property": prop} for name, _, prop in outputs]
    question = {
        "output": key,
        "outputs": named if key.startswith("..") else named[0],
        "inputs": asked(inputs),
        "state": asked(state),
        "changedPropIds": [changed],
    }
    answer = client.post("/_dash-update-component", json=question, headers=LOCAL)
    assert answer.status_code in (200, 204), answer.get_data(as_text=True)[:300]
    return answer.get_data(as_text=True).encode().decode("unicode_escape", errors="ignore")


@pytest.fixture
def moved(measured: Answers, shop):
    app = create_app(measured.book)
    client = app.server.test_client()
    asked = {"job_id": shop.job, "setup": "stock"}

    def move(amount: object, number: object = None, way: object = None, by: str = ids.PLAN_AMOUNT) -> str:
        return call(
            app,
            client,
            ids.PLAN_DRAWING,
            {
                f"{ids.PLAN_AMOUNT}.value": amount,
                f"{ids.PLAN_NUMBER}.value": number,
                f"{ids.PLAN_WAY}.data": way,
            },
            {
                f"{ids.PLAN_STATE}.data": None,
                f"{ids.PLAN_FILLED}.data": "x",
                f"{ASKED}.data": asked,
                "units.value": "mm",
                "theme.value": "light",
            },
            f"{by}.value",
        )

    return move


def test_slider_field_and_way_answer(moved) -> None:
    assert "30 mm from parts" in moved(30)
    assert "12 mm from parts" in moved(30, 12, by=ids.PLAN_NUMBER)
    chosen = moved(10, way="smaller tyres")
    pressed = re.search(r'"aria-pressed": ?"true"[^}]*|[^{]*"aria-pressed": ?"true"', chosen)
    assert pressed is not None
    assert "Smaller tyres" in pressed[0]


@pytest.mark.parametrize("amount", [-5, 1e9, "text", [], {}, True, math.nan])
def test_hostile_amounts_are_answered_in_a_line(moved, amount: object) -> None:
    said = moved(0, amount, by=ids.PLAN_NUMBER)
    assert "is allowed" in said or "plain number" in said
    assert "Traceback" not in said


def test_keep_writes_what_was_promised_and_the_verb_does_the_same(measured: Answers, shop, capsys) -> None:
    app = create_app(measured.book)
    client = app.server.test_client()
    state = stock(measured, shop)
    asked = {"job_id": shop.job, "setup": "stock"}
    call(
        app,
        client,
        ids.PLAN_NOTE,
        {f"{ids.PLAN_KEEP}.n_clicks": 1},
        {
            f"{ids.PLAN_AMOUNT}.value": state.amount_mm,
            f"{ids.PLAN_STATE}.data": {"of": [shop.job, "stock"], "way": state.option.name},
            f"{ASKED}.data": asked,
            "units.value": "mm",
            "theme.value": "light",
        },
        f"{ids.PLAN_KEEP}.n_clicks",
    )
    path = measured.book.path / "jobs" / shop.job / "job.toml"
    by_page = parse_job_file(path.read_text(encoding="utf-8")).kept
    assert by_page is not None
    assert by_page.option == state.option.name
    assert by_page.seat_drop_mm[0] == pytest.approx(state.option.seat_drop_mm.value, abs=0.01)
    arguments = ["plan", "--job", shop.job, "--setup", "stock", "--hardware-mm", f"{state.amount_mm:g}"]
    assert cli.main([*arguments, "--keep", state.option.name, "--book", str(measured.book.path)]) == 0
    assert "kept in job" in capsys.readouterr().out
    by_verb = parse_job_file(path.read_text(encoding="utf-8")).kept
    assert by_verb == type(by_page)(
        **{name: getattr(by_page, name) for name in by_page.__slots__} | {"kept": by_verb.kept}
    )
    job = measured.job(shop.job)
    said = text_of(proof_card(measured, job, LOOK))
    for wanted in ("Promised and measured", "front: rider sag", "promised", state.option.name):
        assert wanted in said
    front = by_page.front_rider_sag_mm
    assert f"{front[0]:.0f}" in said
    assert text_of(plan_parts.kept(shown(measured, job), LOOK)).count("agreed") == 1


def test_every_page_of_a_job_leads_to_the_plan(measured: Answers, shop) -> None:
    client = create_app(measured.book).server.test_client()
    client.get("/", headers=LOCAL)
    for name, asked in (
        ("job", {"job_id": shop.job}),
        ("plan", {"job_id": shop.job}),
        ("sag", {"log_id": shop.sag[0]}),
    ):
        question = {
            "output": f"{name}-{ids.SHOWN}.children",
            "outputs": {"id": f"{name}-{ids.SHOWN}", "property": "children"},
            "inputs": [
                {"id": f"{name}-{ids.ASKED}", "property": "data", "value": asked},
                {"id": ids.UNITS, "property": "value", "value": "mm"},
                {"id": ids.THEME, "property": "value", "value": "light"},
            ],
            "changedPropIds": [f"{name}-{ids.ASKED}.data"],
        }
        said = client.post("/_dash-update-component", json=question, headers=LOCAL).json
        said = json.dumps(said, ensure_ascii=False)
        assert f"/plan/{shop.job}" in said
        for number, step in enumerate(
            ("Bike and rider", "Sag", "Plan", "Ride", "Before / after", "Report"), 1
        ):
            assert f"{number} {step}" in said
    assert SHOWN == "plan-shown"
