"""``flatfoot plan`` from the terminal: tables, JSON as the contract has it, a job, slips of the pen."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from dashboard import cli, safety
from ingest.bike_file import parse_bike
from ingest.book import Book
from ingest.records import Rider
from ingest.setup_file import parse_setup

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
TWIN = SAMPLES / "tall_twin.toml"
SAG = ("--front-rider-sag-mm", "45", "--rear-rider-sag-mm", "41")
ROOM = ("--full-bump-gap-mm", "45", "--rear-full-bump-gap-mm", "40")
Said = Callable[..., tuple[int, str, str]]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    def run(*words: str) -> tuple[int, str, str]:
        status = cli.main(["plan", *words])
        out, err = capsys.readouterr()
        return status, out, err

    return run


@pytest.fixture
def asked(said: Said) -> Callable[..., dict]:
    def run(*words: str) -> dict:
        status, out, err = said(*words, "--json")
        assert (status, err) == (0, "")
        return json.loads(out)

    return run


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("more", [(), SAG, (*SAG, *ROOM), (*SAG, *ROOM, "--all")])
def test_it_fits_80_columns(said: Said, units: str, more: tuple[str, ...]) -> None:
    status, out, err = said("--bike", str(TWIN), "--board-stack-mm", "50", *more, "--units", units)
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80


def test_what_people_read(said: Said) -> None:
    _, out, _ = said("--bike", str(TWIN), "--board-stack-mm", "50", *SAG, *ROOM)
    text = " ".join(out.split())
    assert "wanted at the seat 50.0 ± 2.3" in text
    assert "the seat drops 75 mm where 50 mm was wanted" in text
    assert "linkage plates, fork tubes raised: serves:" in text
    assert "A tired stock shock stays tired" in text
    assert "leaves the spring loose with the wheel hanging" in text
    assert "Matching front drop" in text
    for sentence in safety.SAFETY:
        assert sentence in text


def test_inches_all_through(said: Said) -> None:
    words = ("--bike", str(TWIN), "--board-stack-mm", "50", *SAG, *ROOM, "--all", "--units", "in")
    text = " ".join(said(*words)[1].split())
    assert re.findall(r"\d mm", text) == []
    assert "the seat drops 3.0 in where 2.0 in was wanted" in text


def test_the_contract_of_the_json(asked: Callable[..., dict]) -> None:
    plan = asked("--bike", str(TWIN), "--board-stack-mm", "50", *SAG, *ROOM)
    assert {
        "wanted_lowering_mm",
        "from_correct_sag_mm",
        "hardware_lowering_mm",
        "warnings",
        "options",
    } <= set(plan)
    assert plan["wanted_lowering_mm"] == 50.0
    assert plan["hardware_lowering_mm"] == pytest.approx(50.0 - plan["from_correct_sag_mm"])
    for option in plan["options"]:
        for key in ("name", "front", "rear", "rake_deg", "trail_mm", "wheelbase_mm", "clearance", "stand"):
            assert key in option
        assert isinstance(option["allowed"], bool)
        assert isinstance(option["because"], list)
        assert option["allowed"] or option["because"]
        assert isinstance(option["front"], dict)
        assert isinstance(option["clearance"], dict)


def test_the_trade_in_inches(asked: Callable[..., dict]) -> None:
    """Common practice, no source: 1.0 in of sag where 2.5 in is right, 1.5 in wanted: correct sag alone."""
    inch = 25.4
    plan = asked(
        "--bike", str(TWIN), "--boards", "3", "--board-in", "0.5",
        "--front-rider-sag-mm", f"{inch}", "--rear-rider-sag-mm", f"{inch}",
        "--front-target-sag-mm", f"{2.5 * inch}", "--rear-target-sag-mm", f"{2.5 * inch}",
    )  # fmt: skip
    assert plan["wanted_lowering_mm"] == pytest.approx(1.5 * inch)
    assert plan["hardware_lowering_mm"] == 0
    assert plan["how_much"]["trap_mm"] == pytest.approx(3.0 * inch, abs=2.0)


@pytest.mark.parametrize(
    ("room", "up", "allowed"), [("5", "5", False), ("35", "20", True), ("35", "30", False)]
)
def test_fork_tubes_asked_about(asked: Callable[..., dict], room: str, up: str, allowed: bool) -> None:
    words = ("--bike", str(TWIN), "--fork-tubes-raised-mm", up, "--full-bump-gap-mm", room)
    (option,) = asked(*words)["options"]
    assert "fork tubes" in option["name"]
    assert option["allowed"] is allowed
    with_boards = asked(*words, "--board-stack-mm", "50", *SAG)["options"]
    tubes = [one for one in with_boards if "fork tubes" in one["name"]]
    assert tubes[0]["allowed"] is allowed


def test_unknown_sag_is_no_failure(asked: Callable[..., dict]) -> None:
    plan = asked("--bike", str(TWIN), "--board-stack-mm", "50")
    assert plan["hardware_lowering_mm"] is None
    assert "Measure sag first" in plan["warnings"][0]
    assert len(plan["options"]) >= 8


def test_a_bike_of_which_little_is_known(asked: Callable[..., dict], tmp_path: Path) -> None:
    bike = tmp_path / "bike.toml"
    bike.write_text('[bike]\nname = "bare"\n', encoding="utf-8")
    targets = ("--front-target-sag-mm", "70", "--rear-target-sag-mm", "66")
    plan = asked("--bike", str(bike), "--board-stack-mm", "50", *SAG, *targets)
    assert plan["hardware_lowering_mm"] == pytest.approx(25, abs=3)
    assert all(option["trail_mm"] is None for option in plan["options"])
    assert any("lacks rake_deg" in text for text in plan["warnings"])


def test_inseam_reach_and_stature(said: Said, asked: Callable[..., dict], tmp_path: Path) -> None:
    bike = tmp_path / "bike.toml"
    text = TWIN.read_text(encoding="utf-8")
    seat = 'seat_height_mm = 880\nseat_height_state = "topped out"\n'
    bike.write_text(text.replace('use = "adventure"\n', f'use = "adventure"\n{seat}'), encoding="utf-8")
    aboard = 880 - (0.35 * 0.899 * 45 + 0.65 * 41)
    plan = asked("--bike", str(bike), *SAG, "--inseam-mm", "790")
    assert plan["wanted_lowering_mm"] == pytest.approx(aboard - 790, abs=1)
    plan = asked("--bike", str(bike), *SAG, "--reach-mm", "800")
    assert plan["wanted_lowering_mm"] == pytest.approx(aboard - 800, abs=1)
    status, out, err = said("--bike", str(bike), *SAG, "--stature-mm", "1690")
    assert (status, out) == (1, "")
    assert "± 47 mm" in err
    status, _, err = said("--bike", str(TWIN), *SAG, "--inseam-mm", "790")
    assert status == 1
    assert "seat_height_mm" in err


def test_a_spring_at_hand(asked: Callable[..., dict]) -> None:
    words = ("--bike", str(TWIN), "--board-stack-mm", "50", *SAG)
    for spring, allowed in (("78,230,95", True), ("78,190,110", False)):
        options = asked(*words, "--front-spring", "10.5", "--rear-spring", spring)["options"]
        (option,) = [one for one in options if one["kind"] == "springs"]
        assert option["allowed"] is allowed
        if not allowed:
            assert any("coils touch" in text for text in option["because"])


@pytest.fixture
def book(tmp_path: Path) -> Path:
    made = Book.create(tmp_path / "book", "Workshop")
    bike = made.add_bike(TWIN.read_text(encoding="utf-8"))
    job = made.new_job(bike, Rider(name="Lena", mass_kg=58), 50.0)
    made.save_setup(job.id, parse_setup('[setup]\nname = "stock"\n'))
    return tmp_path / "book"


def test_a_job_of_the_book(said: Said, asked: Callable[..., dict], book: Path) -> None:
    plan = asked("--job", "0001", "--book", str(book))
    assert plan["wanted_lowering_mm"] == 50.0
    assert plan["hardware_lowering_mm"] is None
    plan = asked("--job", "0001", "--book", str(book), *SAG, "--boards", "3", "--board-mm", "12")
    assert plan["wanted_lowering_mm"] == 36.0
    assert plan["hardware_lowering_mm"] is not None
    status, _, err = said("--job", "0001", "--book", str(book), "--setup", "other")
    assert status == 2
    assert "no setup called 'other'" in err


def test_it_plans_from_the_setup_the_job_began_with(
    said: Said, asked: Callable[..., dict], book: Path
) -> None:
    from dataclasses import replace

    from ingest.log_file import read_log, write_log

    opened = Book.open(book)
    bike = parse_bike(TWIN.read_text(encoding="utf-8"))
    for hour, name in (("08", "sag_stock"), ("09", "sag_lowered")):
        log = read_log(SAMPLES / f"{name}.parquet")
        log = replace(log, id=name, job="0001", started=f"2026-05-04T{hour}:00:00+00:00")
        write_log(log, opened.log_path(name))
    assert bike.name == "Workshop tall twin"
    plan = asked("--job", "0001", "--book", str(book))
    front = plan["how_much"]["front"]["rider_sag_mm"]
    assert front["value"] == pytest.approx(44.5, abs=1.5)
    assert 0 < front["expanded_uncertainty"] < 4
    assert plan["hardware_lowering_mm"] == pytest.approx(26, abs=3)
    assert plan["setup"] == "stock"
    assert "`flatfoot prove --job 0001`" in plan["warnings"][0]
    assert "planned from setup 'stock'" in said("--job", "0001", "--book", str(book))[1]
    opened.save_setup("0001", parse_setup('[setup]\nname = "lowered"\n'))
    lowered = asked("--job", "0001", "--book", str(book), "--setup", "lowered")
    assert lowered["setup"] == "lowered"
    assert not any("flatfoot prove" in text for text in lowered["warnings"])


def test_a_way_is_kept_by_its_number(asked: Callable[..., dict], book: Path) -> None:
    words = ("--job", "0001", "--book", str(book), *SAG, *ROOM)
    options = asked(*words)["options"]
    number = next(number for number, one in enumerate(options, 1) if one["serves"])
    asked(*words, "--keep", str(number))
    kept = Book.open(book).job("0001").kept
    assert kept is not None
    assert kept.option == options[number - 1]["name"]


@pytest.mark.parametrize("more", [("--inseam-mm", "780"), ("--reach-mm", "840")])
def test_long_reasons_fold(said: Said, tmp_path: Path, more: tuple[str, ...]) -> None:
    text = TWIN.read_text(encoding="utf-8")
    seat = 'seat_height_mm = 890\nseat_height_state = "rider aboard"\n'
    (tmp_path / "twin.toml").write_text(text.replace("[bike]\n", f"[bike]\n{seat}", 1), encoding="utf-8")
    status, out, _ = said("--bike", str(tmp_path / "twin.toml"), *SAG, *more)
    assert status == 0
    assert max(map(len, out.splitlines())) <= 80


def test_the_example_of_the_readme_is_what_comes_out(said: Said, tmp_path: Path) -> None:
    readme = (SAMPLES.parent / "README.md").read_text(encoding="utf-8")
    bike = re.search(r"^```toml\n(\[bike\]\nname = \"Hillside.*?)^```", readme, re.MULTILINE | re.DOTALL)
    shown = re.search(r"^\$ flatfoot (plan .*?)^```", readme, re.MULTILINE | re.DOTALL)
    assert bike is not None
    assert shown is not None
    command, _, text = shown[1].replace("\\\n", " ").partition("\n")
    (tmp_path / "hillside.toml").write_text(bike[1], encoding="utf-8")
    words = [str(tmp_path / word) if word == "hillside.toml" else word for word in command.split()[1:]]
    _, out, _ = said(*words)
    table, option = text.strip().split("\n\n4 ")
    assert table in out
    assert f"\n4 {option}\n" in out


@pytest.mark.parametrize(
    ("words", "said_so"),
    [
        ((), "plan needs --bike BIKE.toml, or --job ID"),
        (("--bike", str(TWIN)), "how much lower? Put boards under the rider's feet"),
        (
            ("--bike", str(TWIN), "--board-stack-mm", "9", *SAG, "--front-unladen-sag-mm", "60"),
            "front unladen sag of 60 mm is more than rider sag",
        ),
        (
            ("--bike", str(TWIN), "--board-stack-mm", "9", "--seat-ahead-of-rear-axle-mm", "2500"),
            "the rider sits between the axles",
        ),
        (
            ("--bike", str(TWIN), "--boards", "3", "--board-mm", "13", "--board-in", "0.5"),
            "give --board-mm or --board-in, not both",
        ),
        (("--bike", str(TWIN), "--boards", "3"), "--boards and --board-mm (or --board-in) go together"),
        (("--bike", str(TWIN), "--board-stack-mm", "50", "--boards", "3"), "not both"),
        (("--bike", str(TWIN), "--board-stack-mm", "-5"), "'-5': a plain number, 0 to 3000"),
        (("--bike", str(TWIN), "--board-stack-mm", "nan"), "'nan': a plain number"),
        (("--bike", str(TWIN), "--board-stack-mm", "900"), "0 to 300 mm is allowed"),
        (
            ("--bike", str(TWIN), "--board-stack-mm", "50", "--front-rider-sag-mm", "240"),
            "front rider sag of 240 mm: it lies between 0 and the travel, 230 mm",
        ),
        (("--bike", str(TWIN), "--board-stack-mm", "50", "--rear-spring", "80,90"), "rate and both lengths"),
        (("--bike", str(TWIN), "--board-stack-mm", "50", "--rear-spring", "80,90,95"), "longer free"),
        (("--bike", str(TWIN), "--fork-tubes-raised-mm", "400"), "0 to 150 mm is allowed"),
        (("--bike", "missing.toml", "--board-stack-mm", "50"), "there is no bike file missing.toml"),
    ],
)
def test_slips_get_one_line(said: Said, words: tuple[str, ...], said_so: str) -> None:
    status, out, err = said(*words)
    assert (status, out) == (2, "")
    assert err.startswith("flatfoot: ")
    assert said_so in err
    assert len(err.splitlines()) == 1
