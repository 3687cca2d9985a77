"""The book: what is kept comes back, nothing is lost on the way, and no name leads out of the folder."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.bike_file import bike_text
from ingest.book import Book
from ingest.book_folder import default_book_path
from ingest.capture import CaptureWriter, StartNotes
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.log import Kind, Log
from ingest.log_file import write_log
from ingest.records import Bike, EndSetup, Job, Rider, Setup
from ingest.slugs import is_safe_name, slug

RIDER = Rider(name="Rider A", mass_kg=58)


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return Book.create(tmp_path / "book", "Invented shop")


def everything(folder: Path) -> dict[str, bytes]:
    return {str(f.relative_to(folder)): f.read_bytes() for f in sorted(folder.rglob("*")) if f.is_file()}


# ------------------------------------------------------------------------------------------- the book


def test_a_new_book_opens(tmp_path: Path) -> None:
    Book.create(tmp_path / "deep" / "er", 'Shop "Ö" № 1')
    book = Book.open(tmp_path / "deep" / "er")
    assert book.shop == 'Shop "Ö" № 1'
    assert (book.bikes(), book.jobs(), book.logs(), book.unfinished(), book.problems()) == (
        [],
        [],
        [],
        [],
        (),
    )


def test_no_book_is_made_over_another_folder(book: Book, tmp_path: Path) -> None:
    before = everything(tmp_path)
    with pytest.raises(FileProblem, match="is not empty: a new book needs a folder of its own"):
        Book.create(book.path, "Other shop")
    (tmp_path / "file").write_text("x")
    with pytest.raises(FileProblem, match="is not empty"):
        Book.create(tmp_path / "file", "Other shop")
    with pytest.raises(FileProblem, match=re.escape("the new book: [book] needs shop, a text")):
        Book.create(tmp_path / "new", " ")
    (tmp_path / "file").unlink()
    assert everything(tmp_path) == before


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, r"is not a book \(it has no book.toml\): `flatfoot job new` starts one"),
        (
            '[book]\nshop = "S"\nschema = 2\nnew_key = 1',
            r"a newer flatfoot \(schema 2, this one reads up to 1\)",
        ),
        ('[book]\nshop = "S"\n', r"\[book\] needs schema"),
        ('[book]\nshop = "S"\nschema = "1"\n', 'book.schema is "1", which is text'),
        ('[book]\nship = "S"\nschema = 1\n', "book.ship is not a known key; did you mean shop?"),
        ("", r"needs a \[book\] table"),
    ],
)
def test_what_is_not_a_book_here(tmp_path: Path, text: str | None, said: str) -> None:
    if text is not None:
        (tmp_path / "book.toml").write_text(text)
    with pytest.raises(FileProblem, match=said):
        Book.open(tmp_path)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="there is no such folder"):
        Book.open(tmp_path / "nowhere")


def test_a_disk_that_takes_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StorageError, match="cannot write in"):
        Book.create(tmp_path / "file" / "book", "Shop")


def test_where_the_book_is() -> None:
    home = Path("home")
    assert default_book_path({"FLATFOOT_BOOK": "there"}, home) == Path("there")
    assert default_book_path({"FLATFOOT_BOOK": " "}, home) == home / "Documents" / "flatfoot"
    assert default_book_path({}, home) == home / "Documents" / "flatfoot"


# ------------------------------------------------------------------------------------------- bikes, jobs


def test_a_bike_is_kept_as_it_is_written(book: Book, bike: Bike) -> None:
    text = f"# my notes\n{bike_text(bike)}"
    assert book.add_bike(text) == bike
    assert book.bikes() == [bike]
    assert (book.path / "bikes" / "workshop-tall-twin.toml").read_text() == text


def test_a_corrected_bike_replaces_the_old_one_which_is_kept(book: Book, bike: Bike) -> None:
    book.add_bike(bike_text(bike))
    corrected = replace(bike, wheelbase_mm=1555)
    book.add_bike(bike_text(corrected))
    book.add_bike(bike_text(corrected))  # nothing new: nothing more is kept
    assert book.bikes() == [corrected]
    (kept,) = (book.path / "earlier" / "bikes").iterdir()
    assert kept.read_text() == bike_text(bike)
    assert re.fullmatch(r"workshop-tall-twin until \d{4}-\d\d-\d\d \d{6}\.toml", kept.name)


def test_each_of_many_corrections_is_kept(book: Book, bike: Bike) -> None:
    for wheelbase in range(1500, 1510):
        book.add_bike(bike_text(replace(bike, wheelbase_mm=wheelbase)))
    kept = [f.read_text() for f in (book.path / "earlier" / "bikes").iterdir()]
    assert sorted(kept) == [bike_text(replace(bike, wheelbase_mm=w)) for w in range(1500, 1509)]


def test_two_bikes_of_one_name_are_two_bikes(book: Book, bike: Bike) -> None:
    other = replace(bike, id="frame 0002")
    book.add_bike(bike_text(bike))
    book.add_bike(bike_text(other))
    assert book.bikes() == [other, bike]  # by file name: …-2.toml sorts before ….toml
    assert book.new_job(other, RIDER).bike == other


def test_a_wrong_bike_file_changes_nothing(book: Book) -> None:
    before = everything(book.path)
    with pytest.raises(FileProblem, match=r"bike.nam is not a known key"):
        book.add_bike('[bike]\nnam = "x"')
    assert everything(book.path) == before


def test_a_job_comes_back(book: Book, bike: Bike) -> None:
    first = book.new_job(bike, RIDER, 40)
    second = book.new_job(bike, Rider(name="Rider B"))
    assert (first.id, second.id) == ("0001", "0002")
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", first.opened or "")
    assert book.job("0001") == first
    assert book.jobs() == [first, second]
    assert first == Job(id="0001", bike=bike, rider=RIDER, wanted_lowering_mm=40, opened=first.opened)
    assert book.bikes() == [bike]


def test_a_job_uses_the_bike_as_the_book_has_it(book: Book, bike: Bike) -> None:
    book.add_bike(bike_text(bike))
    assert book.new_job(replace(bike, wheelbase_mm=1400), RIDER).bike == bike


def test_a_refused_job_leaves_the_bike_as_it_was(book: Book, bike: Bike) -> None:
    text, other = bike_text(bike), bike_text(replace(bike, wheelbase_mm=1400))
    book.add_bike(text)
    with pytest.raises(FileProblem, match="mass_kg"):
        book.new_job(replace(bike, wheelbase_mm=1400), replace(RIDER, mass_kg=5800), bike_file=other)
    assert book.bikes() == [bike]
    job = book.new_job(replace(bike, wheelbase_mm=1400), RIDER, bike_file=other)
    assert job.bike.wheelbase_mm == 1400
    assert len(list((book.path / "earlier" / "bikes").iterdir())) == 1


def test_setups_keep_their_order_and_their_past(book: Book, bike: Bike) -> None:
    job = book.new_job(bike, RIDER)
    stock, lowered = Setup(name="stock"), Setup(name="Lowered 40", rear=EndSetup(travel_mm=180))
    book.save_setup(job.id, stock)
    book.save_setup(job.id, lowered)
    book.save_setup(job.id, replace(stock, notes="as it came"))
    assert book.job(job.id).setups == (replace(stock, notes="as it came"), lowered)
    names = sorted(file.name for file in (book.path / "jobs" / "0001" / "setups").iterdir())
    assert names == ["01-stock.toml", "02-lowered-40.toml"]
    assert len(list((book.path / "earlier" / "jobs" / "0001" / "setups").iterdir())) == 1


def test_the_texts_in_force_are_exact(book: Book, bike: Bike) -> None:
    text = f"# my notes\n{bike_text(bike)}"
    job = book.new_job(book.add_bike(text), RIDER)
    book.save_setup(job.id, Setup(name="stock"))
    texts = book.texts(job.id, "stock")
    assert texts["bike"] == text
    assert texts["setup"] == (book.path / "jobs/0001/setups/01-stock.toml").read_text()
    assert texts["job"] == (book.path / "jobs/0001/job.toml").read_text()
    with pytest.raises(UsageError, match=r'job 0001 has no setup "low" \(it has: stock\)'):
        book.texts(job.id, "low")


def test_what_could_not_be_read_back_is_not_written(book: Book, bike: Bike) -> None:
    job = book.new_job(bike, RIDER)
    before = everything(book.path)
    with pytest.raises(FileProblem, match=re.escape("the new job: rider.mass_kg is 5, out of range")):
        book.new_job(bike, Rider(name="x", mass_kg=5))
    with pytest.raises(FileProblem, match=re.escape("the setup: setup.name has to be one line")):
        book.save_setup(job.id, Setup(name="a\nb"))
    assert everything(book.path) == before


def test_a_job_that_is_not_there(book: Book, bike: Bike) -> None:
    with pytest.raises(FileProblem, match=r"there is no job 0007 in .* \(it has: none yet\)"):
        book.job("0007")
    book.new_job(bike, RIDER)
    with pytest.raises(FileProblem, match=r"\(it has: 0001\)"):
        book.save_setup("0002", Setup(name="stock"))


def test_jobs_opened_by_several_programs_at_once(book: Book) -> None:
    program = """
import sys
from pathlib import Path
from ingest.book import Book
from ingest.records import Bike, Rider
book = Book.open(Path(sys.argv[1]))
for n in range(8):
    book.new_job(Bike(name="Twin", id="f1"), Rider(name=f"rider {sys.argv[2]} {n}"))
"""
    at_once = [subprocess.Popen([sys.executable, "-c", program, str(book.path), str(n)]) for n in range(3)]
    assert [one.wait(60) for one in at_once] == [0, 0, 0]
    jobs = book.jobs()
    assert [job.id for job in jobs] == [f"{n:04d}" for n in range(1, 25)]
    assert sorted(job.rider.name for job in jobs) == [f"rider {p} {n}" for p in range(3) for n in range(8)]
    assert len(book.bikes()) == 1
    assert book.problems() == ()


def test_a_job_half_made_is_named_and_its_number_not_used_again(book: Book, bike: Bike) -> None:
    (book.path / "jobs" / "0003").mkdir()
    assert book.new_job(bike, RIDER).id == "0004"
    assert book.problems() == (
        f"{book.path / 'jobs' / '0003'} has no job.toml: it was never finished and can be removed",
    )


# ---------------------------------------------------------------------------------------------- logs


@pytest.fixture
def rides(book: Book, bike: Bike, make_log: Callable[..., Log]) -> list[str]:
    """Three logs, two of job 0001, started in an order that is not the one of their names."""
    job = book.new_job(bike, RIDER)
    ids = []
    for hour, of in ((9, job.id), (11, None), (10, job.id)):
        log_id = book.new_log_id(Kind.RIDE)
        log = make_log(np.linspace(0, 100, 50), np.linspace(0, 90, 50))
        started = f"2026-01-01T{hour:02d}:00:00+00:00"
        write_log(replace(log, id=log_id, started=started, job=of), book.log_path(log_id))
        ids.append(log_id)
    return ids


def test_logs_newest_first_and_by_job(book: Book, rides: list[str]) -> None:
    assert [log.id for log in book.logs()] == [rides[1], rides[2], rides[0]]
    assert [log.id for log in book.logs("0001")] == [rides[2], rides[0]]
    assert book.logs("0009") == []
    assert all(log.rows == 0 and log.duration_s > 0 for log in book.logs())
    assert book.read_log(rides[0]).rows == 50


def test_log_ids_are_given_once(book: Book, rides: list[str]) -> None:
    assert len(set(rides)) == 3
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\d-\d{4}-ride-\d+", one) for one in rides)
    more = {book.new_log_id("ride") for _ in range(5)}
    assert len(more) == 5
    assert not more & set(rides)
    with pytest.raises(ValueError, match="walk"):
        book.new_log_id("walk")


def test_a_capture_holds_its_id(book: Book) -> None:
    log_id = book.new_log_id(Kind.SAG)
    book.capture_path(log_id).mkdir()
    for _ in range(3):
        assert book.new_log_id(Kind.SAG) != log_id


def test_a_log_that_is_not_there(book: Book) -> None:
    with pytest.raises(FileProblem, match="there is no log 2026-01-01-0900-ride-1 in"):
        book.read_log("2026-01-01-0900-ride-1")


def test_a_renamed_log_answers_to_its_new_name(book: Book, rides: list[str]) -> None:
    book.log_path(rides[0]).rename(book.log_path("Sunday ride (2)"))
    assert "Sunday ride (2)" in [log.id for log in book.logs()]
    assert book.read_log("Sunday ride (2)").id == "Sunday ride (2)"


def test_damaged_files_are_left_out_and_named(book: Book, bike: Bike, rides: list[str]) -> None:
    path = book.log_path(rides[0])
    path.write_bytes(path.read_bytes()[:-20])
    (book.path / "bikes" / "typo.toml").write_text('[bike]\nnme = "x"')
    (book.path / "bikes" / "._twin.toml").write_bytes(b"\x00\x05")  # other systems leave such files on sticks
    second = book.new_job(bike, RIDER)
    (book.path / "jobs" / second.id / "job.toml").write_text("[job")
    (book.path / "jobs" / "0001" / "setups").mkdir()
    (book.path / "jobs" / "0001" / "setups" / "01-x.toml").write_text("[setup]")
    assert [log.id for log in book.logs()] == [rides[1], rides[2]]
    assert book.bikes() == [bike]
    assert [(job.id, job.setups) for job in book.jobs()] == [("0001", ())]
    problems = book.problems()
    assert len(problems) == 4
    for file, problem in zip(("typo.toml", "job.toml", "01-x.toml", path.name), problems, strict=True):
        assert file in problem
        assert "\n" not in problem


def test_a_job_of_a_bike_that_is_gone_is_named(book: Book, bike: Bike) -> None:
    book.new_job(bike, RIDER)
    (book.path / "bikes" / "workshop-tall-twin.toml").unlink()
    assert book.jobs() == []
    assert "there is no bike file" in book.problems()[0]


def test_an_unfinished_recording_is_found_and_finished(book: Book, bike: Bike) -> None:
    job = book.new_job(bike, RIDER)
    book.save_setup(job.id, Setup(name="stock"))
    texts = book.texts(job.id, "stock")
    log_id = book.new_log_id(Kind.SAG)
    notes = StartNotes(
        log_id=log_id,
        kind=Kind.SAG,
        bike_text=texts["bike"],
        setup_text=texts["setup"],
        job_text=texts["job"],
        zeros={},
        port="socket://127.0.0.1:1",
        baud=115200,
        started="2026-01-01T09:00:00+00:00",
    )
    writer = CaptureWriter(book.capture_path(log_id), notes)
    writer.append(b"".join(b"%d,%d,%d\n" % (i * 1000, 100 + i, 200 + i) for i in range(500)))
    writer.note({"what": "dialect", "dialect": "lines", "offset": 0})
    writer.sync()
    assert book.unfinished() == []  # it is still being written
    writer.close()
    assert book.unfinished() == [book.capture_path(log_id)]
    assert book.finish(book.capture_path(log_id)) == book.log_path(log_id)
    assert book.unfinished() == []
    (log,) = book.logs(job.id)
    assert (log.id, log.rider, log.setup, log.bike) == (log_id, RIDER, Setup(name="stock"), bike)
    assert book.read_log(log_id).rows == 500


def test_only_captures_of_this_book_are_finished(book: Book, tmp_path: Path) -> None:
    (tmp_path / "other.capture").mkdir()
    for capture in (
        tmp_path / "other.capture",
        book.path / "logs" / "x",
        book.path / "logs" / ".." / "x.capture",
    ):
        with pytest.raises(UsageError, match="is not a capture of the book"):
            book.finish(capture)


# ---------------------------------------------------------------------------------------------- names

HOSTILE = [
    "../../etc/passwd",
    "..",
    ".",
    "",
    "/etc/passwd",
    "C:\\Windows\\x",
    "a/b",
    "a\\b",
    "a\0b",
    "a\nb",
    "nul",
    "COM1.toml",
    "LPT1 .x",
    "x" * 5000,
    "trailing.",
    "trailing ",
    ".hidden",
    "a:stream",
    "~/x",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_never_leave_the_book(book: Book, bike: Bike, tmp_path: Path, name: str) -> None:
    for ask in (book.job, book.read_log, book.log_path, book.capture_path):
        with pytest.raises(UsageError, match="is no name of a"):
            ask(name)
    outside = {file for file in tmp_path.rglob("*") if book.path not in (file, *file.parents)}
    if name.strip() and name.isprintable() and len(name) <= 200:
        book.add_bike(bike_text(replace(bike, name=name, id=None)))
        job = book.new_job(bike, Rider(name=name))
        book.save_setup(job.id, Setup(name=name))
        assert [one.name for one in book.job(job.id).setups] == [name.strip()]
        assert name.strip() in [one.name for one in book.bikes()]
        assert book.problems() == ()
    assert {file for file in tmp_path.rglob("*") if book.path not in (file, *file.parents)} == outside


def test_a_job_file_cannot_point_out_of_the_book(book: Book, bike: Bike, tmp_path: Path) -> None:
    job = book.new_job(bike, RIDER)
    (tmp_path / "secret.toml").write_text(bike_text(bike))
    file = book.path / "jobs" / job.id / "job.toml"
    file.write_text(file.read_text().replace("workshop-tall-twin.toml", "../../secret.toml"))
    with pytest.raises(UsageError, match="is no name of a bike file"):
        book.job(job.id)
    assert book.jobs() == []


@given(st.text(max_size=300))
def test_any_text_makes_a_plain_file_name(text: str) -> None:
    name = slug(text)
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]{0,63}", name)
    assert is_safe_name(name)
    assert is_safe_name(f"{name}.toml")
