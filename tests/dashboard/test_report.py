"""The customer's report: what it says of whole and of half-measured jobs, as a file, as a page, on paper."""

from __future__ import annotations

import json
import os
import re
import shutil
import threading
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, sync_playwright
from waitress import create_server

from analysis.results import Quantity
from dashboard import cli, report_pdf
from dashboard import report_words as words
from dashboard.answers import Answers
from dashboard.app import create_app
from dashboard.report_file import POLICY, report_html
from dashboard.report_job import Asked, Reported, report_of_job
from dashboard.static_html import ELEMENTS, html_text
from dashboard.units import Units, number
from ingest.bike_file import parse_bike
from ingest.book import Book
from ingest.log_file import write_log
from ingest.records import End, EndSetup, Rider, Setup

Caught = pytest.CaptureFixture[str]
HOSTILE = "</style><script>alert('x')</script><img src=//evil.example onerror=\"alert(1)\"> ' \" & "
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
         "--disable-sync", "--no-first-run")  # fmt: skip


class Seen(HTMLParser):
    """What a browser would make of a file: its elements, attributes and text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.said = ""
        self._silent = False
        self.feed(text)
        self.said = " ".join(self.said.replace("\u00a0", " ").split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        self._silent = tag == "style"

    def handle_endtag(self, _: str) -> None:
        self._silent = False

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.said += f" {data}"


@lru_cache(maxsize=4)
def answers_of(book: Book) -> Answers:
    """Work out each log of a book once."""
    return Answers(book)


def reported(book: Book, job_id: str, **asked: Any) -> Reported:
    answers = answers_of(book)
    job = answers.job(job_id)
    assert job is not None
    return report_of_job(answers, job, Asked(**asked))


def seen(book: Book, job_id: str, units: Units = Units.MM, **asked: Any) -> Seen:
    return Seen(report_html(reported(book, job_id, **asked), units))


def half_done(shop: Any, folder: Path, keep: tuple[str, ...], **rider: Any) -> Book:
    """A book with the shop's job, of which only some logs were recorded."""
    book = Book.create(folder / "book", "Kestrel Lane Suspension")
    text = next((shop.book.path / "bikes").glob("*.toml")).read_text(encoding="utf-8")
    job = book.new_job(book.add_bike(text), Rider(**{"name": "Mara L.", "mass_kg": 58.0} | rider), 45.0)
    setups = [Setup(name="stock"), Setup(name="softer springs", front=EndSetup(spring_rate_n_mm=10.5))]
    logs = {"sag 1": shop.sag[0], "ride 1": shop.rides[0], "sag 2": shop.sag[1], "ride 2": shop.rides[1]}
    after = any(name.endswith("2") for name in keep)
    for setup in setups[: 2 if after else 1]:
        book.save_setup(job.id, setup)
    for name in keep:
        log = replace(shop.book.read_log(logs[name]), job=job.id, setup=setups[int(name[-1]) - 1])
        write_log(log, book.log_path(log.id))
    return book


# ----------------------------------------------------------------------------------------- what it says


def test_the_answer_comes_first_and_signatures_last(shop: Any) -> None:
    said = seen(shop.book, shop.job).said
    # Sag moved from 47 to 70 mm in front and from 41.5 to 64.5 mm behind, and no part moved a wheel: with the
    # usual place of the rider 0.35 × 23 × cos 26° + 0.65 × 23 = 22.2 mm at the seat.
    found = reported(shop.book, shop.job).seat_drop_mm
    assert found is not None
    assert found.value == pytest.approx(22.2, abs=0.4)
    order = (
        "Kestrel <Lane> & Suspension",
        f"Job {shop.job} · 2026-11-21",
        "Mara, your seat is 22 ± ",
        "You asked for 45 mm lower at the seat. ",
        "Sag was too little front and rear: the bike stood too high there for 58 kg in gear",
        "Measured, before and after",
        "What we changed",
        "What it costs you",
        "Plan against measurement",
        "Settings now: softer springs for 58 kg in gear",
        "Handed over and ticked",
        "Please mind",
        "for the shop, date",
        "rider: height approved",
        "±: the true value lies inside 95 times in 100",
        f"Logs: {shop.sag[0]}, {shop.rides[0]}, {shop.sag[1]}, {shop.rides[1]}.",
        "flatfoot",
    )
    at = [said.find(text) for text in order]
    assert -1 not in at, [text for text, place in zip(order, at, strict=True) if place < 0]
    assert at == sorted(at)
    for tick in (
        "strapped down",
        "Clamp bolts",
        "Chain slack",
        "Headlight",
        "only when the rider has ridden",
    ):
        assert tick in said


def test_every_measured_number_is_the_one_the_other_verbs_say(shop: Any, capsys: Caught) -> None:
    said = seen(shop.book, shop.job).said
    path = str(shop.book.path)
    for log_id in shop.sag:
        assert cli.main(["sag", log_id, "--json", "--book", path]) == 0
        sag = json.loads(capsys.readouterr().out)
        for end in End:
            rider = sag[end]["rider_sag_mm"]
            assert f"{rider['value']:.1f} ± {rider['expanded_uncertainty']:.1f}" in said
    assert cli.main(["compare", *shop.rides, "--json", "--book", path]) == 0
    for metric in json.loads(capsys.readouterr().out)["metrics"]:
        if metric["name"].endswith(("mean_mm", "used_percent")):
            change = number(metric["change"], sign=True)
            assert f"{metric['before']:.1f} {metric['after']:.1f} {change}" in said


def test_inches_go_all_through(shop: Any) -> None:
    said = seen(shop.book, shop.job, Units.IN).said
    assert "your seat is 0.9 ± 0.1 in lower" in said
    assert "Rider sag, in" in said
    assert "You asked for 1.8 in lower at the seat" in said
    assert "for 128 lb in gear" in said
    assert not re.search(r"\d mm\b", said)


def test_a_tape_outranks_what_was_worked_out(shop: Any) -> None:
    tape = Quantity(value=31.0, expanded_uncertainty=3.0, coverage_factor=1.96)
    said = seen(shop.book, shop.job, taped_seat_drop_mm=tape).said
    assert "your seat is 31 ± 3 mm lower" in said
    assert "The tape says how much lower; sag and parts say 22 ±" in said
    none = Quantity(value=1.0, expanded_uncertainty=3.0, coverage_factor=1.96)
    found = replace(reported(shop.book, shop.job), taped_seat_drop_mm=none)
    assert "your seat is as high as before, as far as can be told" in words.headline(found)


def test_sag_alone_still_gives_an_honest_report(shop: Any, tmp_path: Path) -> None:
    said = seen(half_done(shop, tmp_path, ("sag 1", "sag 2")), "0001").said
    assert "Mara, your seat is 22 ± " in said
    assert "Whether the bike uses its travel is not shown: no ride before the work." in said
    assert "uses its travel." not in said.split("Whether")[0]
    assert "Mean ride position" not in said


def test_before_the_work_nothing_is_promised(shop: Any, tmp_path: Path) -> None:
    said = seen(half_done(shop, tmp_path, ("sag 1", "ride 1")), "0001").said
    assert "Mara, this is how your bike stands before any work." in said
    assert "Nothing was changed yet." in said
    assert "Measured: stock" in said
    assert "Mean ride position" in said
    # All that a sag check alone tells: from 47 to 70.2 and from 41.5 to 67.1 mm, the middles of the targets.
    alone = re.search(
        r"At correct sag the seat is ([\d.]+) ± [\d.]+ mm lower, before any lowering part", said
    )
    assert alone is not None
    assert float(alone[1]) == pytest.approx(0.35 * 0.899 * 23.2 + 0.65 * 25.6, abs=0.4)
    for later in ("What we changed", "What it costs you", "Handed over", "height approved"):
        assert later not in said


def test_rides_alone_cannot_tell_the_seat(shop: Any, tmp_path: Path) -> None:
    said = seen(half_done(shop, tmp_path, ("ride 1", "ride 2")), "0001").said
    assert "how much lower your seat is cannot be told" in said
    assert "front rider sag was not measured before the work" in said
    assert "Sag was not measured after the work." in said


def test_work_that_was_not_measured_says_so(shop: Any, tmp_path: Path) -> None:
    book = half_done(shop, tmp_path, ("sag 1",))
    book.save_setup("0001", Setup(name="lowered", notes="spacers in the fork"))
    said = seen(book, "0001").said
    assert "the work is not measured yet." in said
    assert "Done: spacers in the fork. It was not measured after the work" in said


def test_one_end_alone_leaves_the_other_out(shop: Any, tmp_path: Path) -> None:
    book = half_done(shop, tmp_path, ("sag 1", "sag 2"))
    text = next((book.path / "bikes").glob("*.toml")).read_text(encoding="utf-8")
    only_front = re.sub(r"\[sensors\.rear\].*", "", text, flags=re.S)
    bike = parse_bike(only_front)
    for header in book.logs():
        log = book.read_log(header.id)
        log = replace(log, bike=bike, texts={**log.texts, "bike": only_front})
        book.log_path(log.id).unlink()
        write_log(log, book.log_path(log.id))
    said = seen(book, "0001").said
    assert "how much lower your seat is cannot be told" in said
    assert "rear rider sag was not measured before the work" in said
    assert "Rider sag now: front right. The rear was not measured." in said


def test_the_foot_names_what_was_amended(shop: Any, tmp_path: Path) -> None:
    book = half_done(shop, tmp_path, ("sag 1", "sag 2"))
    path = str(book.path)
    assert "Amended" not in seen(book, "0001").said
    assert cli.main(["amend", shop.sag[0], "--zero", "front=103", "--book", path]) == 0
    said = seen(Book.open(book.path), "0001").said
    assert f"Amended: zero of {shop.sag[0]}." in said.split("Logs: ")[1]


# ------------------------------------------------------------------------------------------ as a file


def test_a_hostile_text_stays_text(shop: Any, tmp_path: Path) -> None:
    book = half_done(shop, tmp_path, ("sag 1", "sag 2"), name=HOSTILE + 110 * "x")
    book.save_setup(
        "0001",
        Setup(name="softer springs", notes=HOSTILE + "long " * 900, front=EndSetup(spring_rate_n_mm=10.5)),
    )
    found = replace(reported(book, "0001"), shop=HOSTILE + 900 * "y")
    text = report_html(found, Units.MM)
    page = Seen(text)
    assert set(page.tags) <= ELEMENTS | {"html", "head", "meta", "title", "style", "body"}
    assert not [one for one in page.attributes if one[1].startswith("on") or one[1] in ("href", "srcset")]
    sources = [value for _, name, value in page.attributes if name == "src"]
    assert sources
    assert all(value.startswith("data:image/svg+xml,") for value in sources)
    assert not any("script" in value.lower() for value in sources)
    assert ("meta", "content", POLICY) in page.attributes
    assert "script" not in POLICY
    assert "<script>alert('x')</script>" in page.said  # as text
    assert text.lower().count("<script") == 0
    assert text.count("</style") == 1
    assert "http" not in re.sub(
        r"http-equiv|http%3A//www\.w3\.org/2000/svg|http://www\.w3\.org/2000/svg", "", text
    )
    assert len(text) < 200_000  # long texts are cut


def test_only_what_a_report_is_made_of_is_written() -> None:
    from dash import html

    assert html_text([html.P("a"), None, 3]) == "<p>a</p>3"
    for wrong, said in (
        (html.Script("x"), "element <script>"),
        (html.Img(src="https://example.org/x.png"), "never an address"),
        (html.P("a", style={"color": "red"}), "attribute style"),
        ({"a": 1}, "dict"),
    ):
        with pytest.raises(ValueError, match=said):
            html_text(wrong)


@pytest.fixture(scope="module")
def sags(shop: Any, tmp_path_factory: pytest.TempPathFactory) -> Book:
    """A small book: sag before and after, no ride."""
    return half_done(shop, tmp_path_factory.mktemp("sags"), ("sag 1", "sag 2"))


def report(capsys: Caught, book: Book, *argv: str) -> tuple[int, str, str]:
    status = cli.main(["report", "--book", str(book.path), "--job", "0001", *argv])
    said = capsys.readouterr()
    return status, said.out, said.err


def test_the_verb_writes_a_file_and_never_over_another(
    sags: Book, capsys: Caught, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    status, out, err = report(capsys, sags)
    assert (status, err) == (0, "")
    assert out.startswith("Mara, your seat is 22")
    assert "written: report-0001.html" in out
    path = tmp_path / "report-0001.html"
    assert Seen(path.read_text(encoding="utf-8")).said == seen(sags, "0001").said
    path.write_text("mine", encoding="utf-8")
    status, out, err = report(capsys, sags)
    assert (status, out) == (2, "")
    assert "is there already: name another file, or write over it with --force" in err
    assert path.read_text(encoding="utf-8") == "mine"
    assert report(capsys, sags, "--force", "--units", "in")[0] == 0
    assert "Rider sag, in" in path.read_text(encoding="utf-8")
    assert [one.name for one in tmp_path.iterdir()] == [path.name]  # nothing is left beside it


def test_json_says_what_is_in_it_and_writes_only_what_was_named(
    sags: Book, shop: Any, capsys: Caught, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    status, out, _ = report(capsys, sags, "--json")
    assert status == 0
    said = json.loads(out)
    assert said["seat_drop_mm"]["value"] == pytest.approx(22.2, abs=0.4)
    assert said["uses_its_travel"] is None
    assert said["not_compared"] == "no ride before the work"
    assert said["logs"] == list(shop.sag)
    assert said["written"] == []
    assert list(tmp_path.iterdir()) == []
    assert json.loads(report(capsys, sags, "--json", "--out", "a.html")[1])["written"] == ["a.html"]


@pytest.mark.parametrize(
    ("argv", "status", "said"),
    [
        (["--out", "nowhere/a.html"], 2, "there is no folder nowhere"),
        (["--out", "."], 2, "is a folder: name a file in it"),
        (["--after", "racing"], 2, "has no setup 'racing'; it has stock, softer springs"),
        (["--before", "stock", "--after", "stock"], 2, "stands on both sides"),
        (["--option", "magic"], 2, "the plan has no option 'magic'"),
        (["--seat-drop-mm", "4000"], 2, "up to 300 mm"),
    ],
)
def test_wrong_use_is_told_in_one_line(
    sags: Book,
    capsys: Caught,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    argv: list[str],
    status: int,
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    found, out, err = report(capsys, sags, *argv)
    assert (found, out) == (status, "")
    assert said in err
    assert len(err.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def test_nothing_measured_is_nothing_to_report(shop: Any, capsys: Caught, tmp_path: Path) -> None:
    book = half_done(shop, tmp_path, ())
    assert cli.main(["report", "--book", str(book.path), "--job", "0001", "--json"]) == 1
    assert "nothing was measured yet" in capsys.readouterr().err


def test_without_a_browser_the_file_is_written_and_the_pdf_is_not(
    sags: Book, capsys: Caught, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path))
    status, _, err = report(capsys, sags, "--pdf", "a.pdf")
    assert status == 1
    assert err == f"flatfoot: {report_pdf.NO_BROWSER}\n"
    assert [one.suffix for one in tmp_path.iterdir()] == [".html"]


@pytest.mark.parametrize(
    ("seat", "travel", "said"),
    [
        (-8.0, "no", "your seat is 8 ± 3 mm higher, but the bike does not use its travel as it should."),
        (22.0, "cannot tell", "your seat is 22 ± 3 mm lower."),
    ],
)
def test_the_headline_follows_what_was_measured(shop: Any, seat: float, travel: str, said: str) -> None:
    tape = Quantity(value=seat, expanded_uncertainty=3.0, coverage_factor=1.96)
    found = replace(reported(shop.book, shop.job), taped_seat_drop_mm=tape)
    assert found.comparison is not None
    answer = replace(found.comparison.answer, uses_its_travel=travel)
    found = replace(found, comparison=replace(found.comparison, answer=answer))
    assert words.headline(found).replace("\u00a0", " ").endswith(said)
    if travel == "cannot tell":
        assert "cannot be told from these rides" in words.travel_line(found)


# ---------------------------------------------------------------------------------------- in a browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = report_pdf.browser()
    if found is None and "CI" not in os.environ:
        pytest.skip("no Chromium on this machine: install it to run the tests in a browser too")
    assert found, "these tests need Chromium, and it is not installed"
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=found, args=list(FLAGS))
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def base(demo: tuple[Path, str, float], tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("report") / "book"
    shutil.copytree(demo[0], folder)
    book = Book.open(folder)
    book.new_job(book.bikes()[0], Rider(name="Sara"), 30.0)
    server = create_server(create_app(book).server, host="127.0.0.1", port=0, threads=8)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    thread.join(5)


def sheets(pdf: bytes) -> int:
    """Count the pages of a PDF of this browser, which writes its page objects uncompressed."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


PARTS = """[...document.querySelectorAll('.ff-report > *, .ff-report-halves > *')]
           .map(e => getComputedStyle(e).breakInside)"""
SMALL = """[...document.querySelectorAll('.ff-report *')].filter(e => e.offsetParent
           && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
           .map(e => [parseFloat(getComputedStyle(e).fontSize), getComputedStyle(e).color])"""


@pytest.mark.browser
def test_the_page_saves_a_file_that_prints_on_two_sheets(browser: Browser, base: str, tmp_path: Path) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    trouble: list[str] = []
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.goto(f"{base}/job/0001")
    page.get_by_role("link", name="6 Report").click()
    page.wait_for_selector(".ff-report")
    shown = page.inner_text(".ff-report")
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save for the customer").click()
    assert waiting.value.suggested_filename == "report-0001.html"
    saved = tmp_path / "saved.html"
    waiting.value.save_as(saved)
    assert sheets(page.pdf(format="A4")) == 2
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    assert min(size for size, _ in page.evaluate(SMALL)) >= 16
    page.get_by_role("radio", name="in", exact=True).check()
    page.wait_for_selector("text=Rider sag, in")
    assert "in lower" in page.inner_text(".ff-report h1")
    page.goto(f"{base}/report/0002")
    page.wait_for_selector("text=Nothing to report yet")
    assert page.get_by_role("link", name="Sag check").is_visible()
    assert trouble == []
    page.close()

    asked: list[str] = []
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.on("request", lambda request: asked.append(request.url.split(":")[0]))
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    page.goto(saved.as_uri())
    assert page.inner_text(".ff-report") == shown  # the same content
    assert set(asked) <= {"file", "data"}
    assert page.evaluate("[...document.images].every(i => i.naturalWidth > 0)")
    assert [sheets(page.pdf(format=paper)) for paper in ("A4", "Letter")] == [2, 2]
    page.emulate_media(media="print")
    found = page.evaluate(SMALL)
    assert min(size for size, _ in found) >= 12  # 9 pt
    assert {colour for _, colour in found} == {"rgb(0, 0, 0)", "rgb(255, 255, 255)"}  # white on the plates
    broken = page.evaluate(PARTS)
    assert broken.count("auto") <= 2, broken  # the tops of pairs, which are held by what is around them
    assert trouble == []
    page.close()


@pytest.mark.browser
def test_the_verb_prints_a_pdf(
    demo: tuple[Path, str, float], browser: Browser, tmp_path: Path, capsys: Caught
) -> None:
    out = tmp_path / "a.pdf"
    argv = ["report", "--book", str(demo[0]), "--job", "0001", "--json", "--option", "7", "--pdf", str(out)]
    assert cli.main(argv) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["written"] == [str(out)]
    assert (
        said["proof"]["option"]
        in Seen(report_html(reported(Book.open(demo[0]), "0001", option="7"), Units.MM)).said
    )
    assert out.read_bytes().startswith(b"%PDF-")
    assert sheets(out.read_bytes()) == 2
    assert [one.name for one in tmp_path.iterdir()] == ["a.pdf"]
