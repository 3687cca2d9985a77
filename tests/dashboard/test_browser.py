"""The dashboard in a real browser on the demo's book: through a job, its numbers, no outside request."""

from __future__ import annotations

import json
import os
import re
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from urllib.parse import urlsplit

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from waitress import create_server

from dashboard import cli
from dashboard.app import create_app
from dashboard.drawings.svg import TEXT_PX
from ingest.book import Book
from ingest.log_file import write_log
from ingest.port import PortInfo
from ingest.records import EndSetup, Setup
from ingest.virtual_board import VirtualBoard

pytestmark = pytest.mark.browser

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
BENCH = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}


@dataclass
class Watched:
    """A page, and everything it asked for or complained of."""

    page: Page
    base: str
    hosts: set[str] = field(default_factory=set)
    complaints: list[str] = field(default_factory=list)

    def open(self, path: str) -> Page:
        self.page.goto(self.base + path)
        self.page.wait_for_selector(".ff-card")
        return self.page


@dataclass
class Site:
    """A running dashboard."""

    book: Book
    base: str
    path: str


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


@pytest.fixture(scope="module")
def board() -> Iterator[VirtualBoard]:
    at = np.arange(120_000)
    counts = np.column_stack([225 + 40 * np.sin(at / 300), 240 + 30 * np.sin(at / 200)]).astype(np.uint16)
    with VirtualBoard(counts, rate_hz=1000) as playing:
        yield playing


@pytest.fixture(scope="module")
def site(demo, board: VirtualBoard, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("site") / "book"
    shutil.copytree(demo[0], folder)
    book = Book.open(folder)
    app = create_app(book, ports=[PortInfo(url=board.serve_tcp(), label="virtual board")])
    server = create_server(app.server, host="127.0.0.1", port=0, threads=16)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield Site(book=book, base=f"http://127.0.0.1:{server.effective_port}", path=str(folder))
    server.close()
    thread.join(5)


def watched(browser: Browser, site: Site, size: dict[str, int]) -> Watched:
    page = browser.new_page(viewport=size)
    watch = Watched(page=page, base=site.base)
    page.on("request", lambda request: watch.hosts.add(urlsplit(request.url).netloc))
    page.on("console", lambda said: watch.complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: watch.complaints.append(str(error)))
    return watch


@pytest.fixture
def bench(browser: Browser, site: Site) -> Iterator[Watched]:
    watch = watched(browser, site, BENCH)
    yield watch
    watch.page.close()
    assert watch.hosts <= {urlsplit(site.base).netloc, ""}, watch.hosts  # "" are data: addresses
    assert watch.complaints == []


@pytest.fixture
def phone(browser: Browser, site: Site) -> Iterator[Watched]:
    watch = watched(browser, site, PHONE)
    yield watch
    watch.page.close()
    assert watch.hosts <= {urlsplit(site.base).netloc, ""}, watch.hosts
    assert watch.complaints == []


def told(capsys: pytest.CaptureFixture[str], site: Site, *args: str) -> dict:
    """What the command line answers in JSON."""
    assert cli.main([*args, "--json", "--book", site.path]) == 0
    answer: dict = json.loads(capsys.readouterr().out)
    return answer


def ids(site: Site, kind: str) -> tuple[str, str]:
    newest, oldest = (log.id for log in site.book.logs() if log.kind == kind)
    return oldest, newest


def test_from_job_to_ride_to_before_and_after(bench: Watched, site: Site, capsys) -> None:
    before, after = ids(site, "ride")
    ride = told(capsys, site, "ride", before)
    compared = told(capsys, site, "compare", before, after)
    page = bench.open("/")
    page.get_by_role("link", name="Open job 0001").click()
    page.wait_for_selector("text=Bike and rider >> nth=0")
    page.get_by_role("link", name=f"Open ride {before}").click()
    page.wait_for_selector("text=Where the wheel spends its time")
    for fold in page.locator("details.ff-fold > summary").all():
        fold.click()
    said = page.inner_text("main")
    for end in ("front", "rear"):
        assert f"{ride[end]['mean_mm']:.0f} ±" in said
        for name in ("p50_mm", "p95_mm", "p99_mm", "travel_used_mm"):
            assert f"{ride[end][name]:.1f} mm" in said, name
        assert f"{ride[end]['compression_speed_mm_s']['p99']:.0f}" in said
        count = ride[end]["bottoming"]["count"]
        assert ("never" if count == 0 else f"{count} times" if count > 1 else "once") in said
    page.get_by_role("link", name="Before / after").click()
    page.wait_for_selector("text=Measured while riding")
    head = page.inner_text("h1")
    assert head.startswith(
        {"yes": "Yes.", "no": "No."}.get(compared["answer"]["uses_its_travel"], "Cannot tell.")
    )
    said = page.inner_text("main")
    for line in compared["answer"]["because"]:
        assert line in said
    page.locator("summary", has_text="The other numbers").click()
    rows = page.locator("tbody tr").all_inner_texts()
    for metric in compared["metrics"]:
        if metric["unit"] != "mm":
            continue
        numbers = f"{metric['before']:.1f}\t{metric['after']:.1f}\t"
        assert any(numbers in row for row in rows), metric["name"]


def test_the_sag_card_says_what_the_command_line_says(bench: Watched, site: Site, capsys) -> None:
    for log_id in ids(site, "sag"):
        sag = told(capsys, site, "sag", log_id)
        said = bench.open(f"/sag/{log_id}").inner_text("main")
        for end in ("front", "rear"):
            rider = sag[end]["rider_sag_mm"]
            assert f"{rider['value']:.1f} ± {rider['expanded_uncertainty']:.1f}" in said
            assert sag[end]["word"] in said
        pictures = bench.page.locator("figure img.ff-screen").all()
        assert len(pictures) == 2
        for picture in pictures:
            assert "rider" in (picture.get_attribute("alt") or "")
            assert picture.evaluate("image => image.naturalWidth") == 340


def test_units_and_theme_stay_chosen(bench: Watched, site: Site) -> None:
    log_id, _ = ids(site, "sag")
    page = bench.open(f"/sag/{log_id}")
    page.get_by_role("radio", name="in", exact=True).check()
    page.get_by_role("radio", name="Dark").check()
    page.wait_for_selector("text=rider in")
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    page.reload()
    page.wait_for_selector("text=rider in")
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(14, 21, 21)"


def shown(page: Page) -> list[float]:
    span: list[float] = page.evaluate(
        "document.querySelector('#ride-graph .js-plotly-plot')._fullLayout.xaxis.range"
    )
    return span


def points(page: Page) -> int:
    count: int = page.evaluate("document.querySelector('#ride-graph .js-plotly-plot')._fullData[0].x.length")
    return count


def first_time(page: Page) -> float:
    at_s: float = page.evaluate("document.querySelector('#ride-graph .js-plotly-plot')._fullData[0].x[0]")
    return at_s


def until(holds: Callable[[], bool], seconds: float = 10.0) -> None:
    """Wait for something; playwright's own wait evaluates text, which the page's policy forbids."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it never came to that"
        time.sleep(0.05)


def test_events_and_drawing_zoom_and_send_little(bench: Watched, site: Site) -> None:
    log_id, _ = ids(site, "ride")
    page = bench.open(f"/ride/{log_id}")
    page.wait_for_selector("#ride-graph .main-svg")
    whole = shown(page)
    assert points(page) <= 2004
    page.locator("button.ff-event").first.click()
    until(lambda: shown(page)[1] - shown(page)[0] < 5)
    assert points(page) > 1000  # a thousand samples a second, and every one of them
    page.get_by_role("button", name="Whole ride").click()
    until(lambda: shown(page) == pytest.approx(whole))
    box = page.locator("#ride-graph .nsewdrag").first.bounding_box()
    assert box is not None
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.5 * box["width"], y)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], y, steps=5)
    page.mouse.up()
    until(lambda: shown(page)[1] - shown(page)[0] < 0.2 * whole[1])
    until(lambda: first_time(page) > 0.4 * whole[1])
    assert points(page) <= 2004


def test_drawings_and_numbers_can_be_saved(bench: Watched, site: Site) -> None:
    log_id, _ = ids(site, "ride")
    page = bench.open(f"/ride/{log_id}")
    for text, ending, first in (("SVG", ".svg", "<svg"), ("Data", ".csv", "end,time_s,travel_mm")):
        with page.expect_download() as waiting:
            page.get_by_role("button", name=text, exact=True).first.click()
        saved = waiting.value
        assert saved.suggested_filename.endswith(ending)
        assert saved.path().read_text(encoding="utf-8").startswith(first)


@pytest.mark.parametrize(
    "kind",
    ["/", "/job/0001", "sag", "card", "/plan/0001", "ride", "compare", "/record", "/no/such/page"],
)
def test_a_phone_never_scrolls_sideways_and_has_one_first_heading(
    phone: Watched, site: Site, kind: str
) -> None:
    path = kind
    if kind in ("sag", "ride"):
        path = f"/{kind}/{ids(site, kind)[0]}"
    elif kind == "card":
        path = f"/sag/{ids(site, 'sag')[0]}/card"
    elif kind == "compare":
        before, after = ids(site, "ride")
        path = f"/compare?before={before}&after={after}"
    page = phone.open(path)
    page.wait_for_timeout(400)
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    small = page.evaluate(
        """[...document.querySelectorAll('main *, header *')].filter(e => e.offsetParent
        && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())
        && parseFloat(getComputedStyle(e).fontSize) < 16).map(e => e.textContent)"""
    )
    assert small == []
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3')].map(h => Number(h.tagName[1]))")
    assert levels.count(1) <= 1
    assert all(b - a <= 1 for a, b in pairwise(levels)), levels


def test_the_plan_follows_the_slider_and_shows_the_way_chosen(bench: Watched, site: Site, capsys) -> None:
    page = bench.open("/plan/0001?setup=stock")
    page.wait_for_selector("#plan-drawing figure img.ff-screen")
    picture = page.locator(".ff-plan-wide img.ff-screen")
    begun = picture.get_attribute("alt")
    page.locator("#plan-amount").focus()
    first = int(page.locator("#plan-amount").input_value())
    page.keyboard.press("ArrowRight")  # a millimetre a key
    until(lambda: f"{first + 1} mm from parts" in page.inner_text("#plan-read"))
    until(lambda: picture.get_attribute("alt") != begun)
    assert page.locator("#plan-number").input_value() == str(first + 1)
    page.locator("#plan-number").fill("30")
    page.keyboard.press("Enter")
    until(lambda: page.locator("#plan-amount").input_value() == "30")
    told = told_plan(capsys, site, 30)
    for way in (told["options"][1]["name"], told["options"][-1]["name"]):
        button = page.locator(f"button[data-way='{way}']")
        button.focus()
        page.keyboard.press("Enter")
        until(lambda way=way: way in (picture.get_attribute("alt") or ""))
        assert button.get_attribute("aria-pressed") == "true"
        assert page.evaluate("document.activeElement.dataset.way") == way
    chosen = told["options"][-1]
    assert f"rake {chosen['rake_now_deg']:.1f}° → {chosen['rake_deg']:.1f}°" in (
        picture.get_attribute("alt") or ""
    )
    page.get_by_role("radio", name="in", exact=True).check()
    until(lambda: "1.2 in from parts" in page.inner_text("#plan-read"))
    assert way in (picture.get_attribute("alt") or "")
    page.emulate_media(media="print")
    assert page.locator(".ff-plan-wide img.ff-print").is_visible()
    assert not page.locator("#plan-amount").is_visible()
    assert not page.locator("#plan-save").is_visible()


def told_plan(capsys: pytest.CaptureFixture[str], site: Site, amount_mm: float) -> dict:
    return told(capsys, site, "plan", "--job", "0001", "--setup", "stock", "--hardware-mm", f"{amount_mm:g}")


def test_the_keyboard_reaches_the_page(bench: Watched) -> None:
    page = bench.open("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#page"
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent").startswith("Open job"):
            break
    assert page.evaluate("document.activeElement.textContent") == "Open job 0001"
    width = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
    assert width == "3px"


def test_what_is_not_there_is_said(bench: Watched) -> None:
    assert "no such job" in bench.open("/job/4711").inner_text("main")
    assert "no page under this address" in bench.open("/not/here").inner_text("main")


def test_paper_gets_black_drawings_and_no_controls(bench: Watched, site: Site) -> None:
    log_id, _ = ids(site, "sag")
    page = bench.open(f"/sag/{log_id}")
    page.emulate_media(media="print")
    assert page.locator("figure img.ff-print").first.is_visible()
    assert not page.locator("figure img.ff-screen").first.is_visible()
    assert not page.get_by_role("radio", name="Dark").is_visible()
    assert not page.get_by_role("button", name="SVG").first.is_visible()


def sheets(pdf: bytes) -> int:
    """Count the pages of a PDF of this browser, which writes its page objects uncompressed."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


@pytest.fixture
def wordy(site: Site) -> Iterator[str]:
    """The id of a sag check whose notes, names, settings and marks are longer than any sheet has room for."""
    log = site.book.read_log(ids(site, "sag")[0])
    said = EndSetup(
        preload_mm=3.5, compression_clicks=12, rebound_clicks=14, oil_level_mm=120.5, thread_pitch_mm=1.5
    )
    words = "what was aboard <b> and "
    written = replace(
        log,
        id="a-wordy-sag",
        notes=30 * words,
        load_case=10 * words,
        setup=Setup(name=8 * words, front=said, rear=replace(said, oil_level_mm=None)),
        marks=tuple(replace(mark, text=f"{mark.text}, {5 * words}") for mark in log.marks),
    )
    path = site.book.log_path(written.id)
    write_log(written, path)
    yield written.id
    path.unlink()


def test_before_and_after_is_two_sheets_and_a_phone_folds_the_rest(
    bench: Watched, phone: Watched, site: Site
) -> None:
    before, after = ids(site, "ride")
    path = f"/compare?before={before}&after={after}"
    page = bench.open(path)
    page.wait_for_selector("text=Measured while riding")
    roomy = page.locator("details.ff-roomy")
    assert roomy.evaluate_all("all => all.map(one => one.open)") == [True] * roomy.count()
    assert [sheets(page.pdf(format=paper)) for paper in ("A4", "Letter")] == [2, 2]
    small = phone.open(path)
    small.wait_for_selector("text=Measured while riding")
    folded = small.locator("details.ff-roomy")
    assert folded.evaluate_all("all => all.map(one => one.open)") == [False] * roomy.count()
    small.locator("summary", has_text="How often it bottoms").click()
    assert small.get_by_text("Would bottom, in an hour").is_visible()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_sag_card_is_one_sheet_however_much_there_is_to_say(
    bench: Watched, site: Site, wordy: str, paper: str
) -> None:
    sags = [log.id for log in site.book.logs() if log.kind == "sag"]
    assert len(sags) == 3
    assert wordy in sags
    for log_id in sags:
        page = bench.open(f"/sag/{log_id}/card")
        page.wait_for_selector(".ff-sheet-sign")
        assert sheets(page.pdf(format=paper)) == 1, log_id
    page.evaluate("document.querySelector('.ff-sheet').style.minHeight = '300mm'")
    assert sheets(page.pdf(format=paper)) == 2  # the count sees a second sheet


def test_the_sheet_on_paper_is_black_and_large_enough_to_read(bench: Watched, site: Site, capsys) -> None:
    log_id = ids(site, "sag")[0]
    sag = told(capsys, site, "sag", log_id)
    page = bench.open(f"/sag/{log_id}")
    shown = page.inner_text("main")
    for row in ("wheel rate, secant", "preload now", "preload change", "the spring"):
        assert row in shown
    page.get_by_role("link", name="Print card").click()
    page.wait_for_selector(".ff-sheet-sign")
    page.get_by_role("radio", name="Dark").check()
    page.emulate_media(media="print")
    for name in ("Print", "Back to the sag check", "Record"):
        assert not page.get_by_text(name, exact=True).first.is_visible()
    said = page.inner_text("main")
    for end in ("front", "rear"):
        rider = sag[end]["rider_sag_mm"]
        assert f"{rider['value']:.1f} ± {rider['expanded_uncertainty']:.1f} mm" in said
    sizes_px, inks = page.evaluate(
        """(() => { const shown = [...document.querySelectorAll('.ff-sheet *')].filter(e => e.offsetParent
        && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
        .map(e => getComputedStyle(e));
        return [shown.map(s => parseFloat(s.fontSize)), shown.map(s => s.color)]; })()"""
    )
    assert min(sizes_px) >= 12  # 9 pt
    assert set(inks) == {"rgb(0, 0, 0)"}
    shrunk = page.evaluate(
        "[...document.querySelectorAll('.ff-sheet-rulers img')].map(i => i.clientWidth / i.naturalWidth)"
    )
    assert len(shrunk) == 2
    assert min(shrunk) * TEXT_PX >= 12


def test_a_recording_is_started_watched_reloaded_marked_and_kept(bench: Watched, site: Site) -> None:
    page = bench.open("/record?job=0001")
    page.get_by_role("radio", name="virtual board").check()
    page.get_by_role("radio", name="a ride").check()
    page.get_by_role("button", name="Start recording").click()
    page.wait_for_selector("text=nothing lost", timeout=10_000)
    answers = []
    page.on("response", lambda got: answers.append(got) if "_dash-update-component" in got.url else None)
    page.wait_for_timeout(3000)
    assert len(answers) / 3 >= 5, f"{len(answers) / 3:.1f} updates a second"
    page.reload()
    page.wait_for_selector("text=nothing lost")
    page.get_by_role("button", name="mark", exact=True).click()
    page.wait_for_selector("text=Marked so far: mark")
    page.get_by_role("button", name="Stop and keep it").click()
    page.wait_for_selector("text=Recorded and sealed")
    page.get_by_role("link", name="Open the ride").click()
    page.wait_for_selector("text=Where the wheel spends its time")
    newest = site.book.logs("0001")[0]
    assert [mark.text for mark in newest.marks] == ["mark"]
    assert newest.link.lost_samples == 0
    site.book.log_path(newest.id).unlink()  # the other tests compare what the demo recorded
