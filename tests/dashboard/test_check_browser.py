"""A whole guided sag check in a real browser, on the counts of a sample log whose truth is known."""

from __future__ import annotations

import json
import os
import re
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from waitress import create_server

from analysis.sag import check_sag
from dashboard.app import create_app
from ingest.book import Book
from ingest.log_file import read_log
from ingest.port import PortInfo
from ingest.records import End, Rider, Setup
from ingest.virtual_board import VirtualBoard

pytestmark = pytest.mark.browser

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
TRUTH = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))["sag_stock.parquet"]
SPEED = 1.2
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run")
BENCH = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    names = ("chromium", "chromium-browser", "google-chrome")
    found = next((path for name in names if (path := shutil.which(name))), None)
    if found is None and "CI" not in os.environ:
        pytest.skip("no Chromium on this machine: install it to run the tests in a browser too")
    assert found, "these tests need Chromium, and it is not installed"
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=found, args=list(FLAGS))
        yield chromium
        chromium.close()


class Site:
    """A dashboard with one job, and a board that plays the sample's counts."""

    def __init__(self, folder: Path, board: VirtualBoard, url: str) -> None:
        self.board = board
        self.book = Book.create(folder / "book", "Kestrel Lane Suspension")
        bike = self.book.add_bike((SAMPLES / "tall_twin.toml").read_text(encoding="utf-8"))
        self.job = self.book.new_job(bike, Rider(name="Mara L.", mass_kg=58.0), 45.0)
        self.book.save_setup(self.job.id, Setup(name="stock"))
        app = create_app(self.book, ports=[PortInfo(url=url, label="virtual board")])
        self.server = create_server(app.server, host="127.0.0.1", port=0, threads=16)
        self.base = f"http://127.0.0.1:{self.server.effective_port}"
        threading.Thread(target=self.server.run, daemon=True).start()


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    log = read_log(SAMPLES / "sag_stock.parquet")
    counts = np.concatenate([segment.values for segment in log.segments]).astype(np.uint16)
    with VirtualBoard(counts, rate_hz=1 / log.segments[0].dt_s, speed=SPEED) as board:
        url = board.serve_pty() if os.name != "nt" else board.serve_tcp()
        site = Site(tmp_path, board, url)
        yield site
        site.server.close()


class Window:
    """One browser window, and what it asked for or complained of."""

    def __init__(self, browser: Browser, site: Site, size: dict[str, int]) -> None:
        self.page: Page = browser.new_page(viewport=size)
        self.hosts: set[str] = set()
        self.complaints: list[str] = []
        self.answers = 0
        self.page.on("request", lambda request: self.hosts.add(urlsplit(request.url).netloc))
        self.page.on(
            "console", lambda said: self.complaints.append(said.text) if said.type == "error" else None
        )
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("response", lambda got: self._count(got.url))
        self.page.goto(f"{site.base}/check/{site.job.id}")
        self.page.wait_for_selector(".ff-card")

    def _count(self, url: str) -> None:
        self.answers += "_dash-update-component" in url

    def readings(self) -> list[str]:
        """The second lines of the list: what was read."""
        lines: list[str] = self.page.locator("#check-readings .ff-second").all_inner_texts()
        return [line for line in lines if re.search(r"\d", line)]

    def fits(self) -> bool:
        """Nothing sideways, and no text too small for the bench."""
        wide: int = self.page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        small: list[str] = self.page.evaluate(
            """[...document.querySelectorAll('main *')].filter(e => e.offsetParent
            && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())
            && parseFloat(getComputedStyle(e).fontSize) < 16).map(e => e.textContent)"""
        )
        assert small == []
        return wide <= 0


def start(window: Window) -> None:
    page = window.page
    page.get_by_role("radio", name="virtual board").check()
    page.get_by_role("textbox").fill("rider in gear, half a tank")
    page.get_by_label("Both brakes off").check()
    page.get_by_role("button", name="Start the sag check").click()
    page.wait_for_selector("#check-rulers img")


def wait_for(page: Page, text: str) -> None:
    page.wait_for_selector(f"text={text}", timeout=30_000)


def test_a_whole_check_with_a_reload_in_the_middle(browser: Browser, site: Site) -> None:
    bench = Window(browser, site, BENCH)
    page = bench.page
    start(bench)
    wait_for(page, "reading 2 of 6")
    before = bench.answers
    page.wait_for_timeout(2000)
    assert (bench.answers - before) / 2 >= 5
    wait_for(page, "reading 4 of 6")
    seen = bench.readings()
    assert len(seen) == 3
    page.reload()
    page.wait_for_selector("#check-rulers img")
    assert bench.readings()[:3] == seen
    phone = Window(browser, site, PHONE)  # the phone on the seat shows the same check
    phone.page.wait_for_selector("#check-rulers img")
    assert phone.readings()[:3] == seen
    phone.page.wait_for_timeout(700)
    assert phone.fits()
    assert phone.page.locator("#check-rulers img").first.evaluate("image => image.naturalWidth") == 152
    wait_for(page, "reading 6 of 6")
    shown = bench.readings()
    assert len(shown) == 5
    page.get_by_role("button", name="Stop").click()
    for window in (bench, phone):
        wait_for(window.page, "What this says")
        assert "/sag/" in window.page.url
        window.page.wait_for_timeout(100)
    (log,) = site.book.logs(site.job.id)
    sealed = site.book.read_log(log.id)
    assert [mark.text for mark in sealed.marks] == [
        "topped out",
        "unladen, from above",
        "unladen, from below",
        "rider, from above",
        "rider, from below",
    ]
    assert sealed.load_case == "rider in gear, half a tank"
    assert sealed.notes is not None
    assert sealed.notes.startswith("confirmed: both brakes off. not confirmed: level floor")
    assert sealed.link.lost_samples == 0
    sag = check_sag(sealed)
    said = page.inner_text("main")
    for end in End:
        one = sag.front if end is End.FRONT else sag.rear
        assert one is not None
        for name in ("unladen", "rider"):
            quantity = getattr(one, f"{name}_sag_mm")
            assert f"{quantity.value:.1f} ± {quantity.expanded_uncertainty:.1f}" in said
            assert quantity.value == pytest.approx(TRUTH[end.value][f"{name}_sag_mm"], abs=0.7)
        for line, reading in zip(shown, one.readings, strict=True):
            number = re.search(rf"{end} (−?[\d.]+)", line)
            assert number is not None
            value = float(number[1].replace("−", "-"))
            assert value == pytest.approx(reading.travel_mm, abs=0.3)
    for window in (bench, phone):
        assert window.hosts <= {urlsplit(site.base).netloc, ""}
        assert window.complaints == []
        window.page.close()


def test_taken_by_the_space_key_done_again_and_kept_out_of_the_recorder(browser: Browser, site: Site) -> None:
    bench = Window(browser, site, BENCH)
    page = bench.page
    start(bench)
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Space")
    wait_for(page, "reading 2 of 6")
    page.get_by_role("button", name="Do 1 again").click()
    wait_for(page, "reading 1 of 6")
    page.goto(f"{site.base}/record")
    wait_for(page, "Something is being recorded already")
    page.get_by_role("link", name="Show it").click()
    page.wait_for_selector("#check-rulers img")
    page.get_by_role("button", name="One round more").click()
    wait_for(page, "10 readings")
    page.get_by_role("button", name="Stop").click()
    page.wait_for_url("**/sag/*")
    (log,) = site.book.logs(site.job.id)
    marks = [mark.text for mark in site.book.read_log(log.id).marks]
    assert marks[:2] == ["topped out", "again, topped out"]
    assert bench.complaints == []
    page.close()
