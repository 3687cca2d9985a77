"""The guided check on a board that speaks: readings take themselves, are struck, asked for again, sealed."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable

import numpy as np
import pytest

from analysis.procedure import State
from analysis.sag import check_sag
from dashboard import check_words
from dashboard.guide import CHECKLIST, Guide, View, Wish
from dashboard.recording import Recording
from ingest.book import Book
from ingest.errors import UsageError
from ingest.port import PortInfo
from ingest.virtual_board import VirtualBoard

RATE_HZ = 200
SPEED = 4.0


def counts_of(*legs: tuple[float, float, float]) -> np.ndarray:
    """Go to ``(seconds, front mm, rear mm)`` in half waves of a cosine, by the bike file's own points."""
    pieces, here = [], np.array(legs[0][1:])
    for seconds, *place in legs:
        share = np.linspace(0, 1, round(seconds * RATE_HZ), endpoint=False)[:, None]
        pieces.append(here + (np.array(place) - here) * (0.5 - 0.5 * np.cos(np.pi * share)))
        here = np.array(place)
    mm = np.concatenate(pieces)
    counts = np.column_stack([102 + mm[:, 0] * 819 / 230, 88 + mm[:, 1] * 814 / 220])
    return np.round(counts + np.random.default_rng(0).normal(0, 0.4, counts.shape)).astype(np.uint16)


STANDING = (2.0, 33.0, 20.0)
HANGING = ((1.0, 1.5, 0.8), (3.5, 1.5, 0.8))  # the sensors are clamped a little off
LET_DOWN = ((1.0, 31.5, 18.8), (3.5, 31.5, 18.8))
PUSHED = ((0.7, 90.0, 80.0), (0.3, 90.0, 80.0), (1.0, 39.5, 23.8), (3.5, 39.5, 23.8))
RIDER_DOWN = ((0.7, 10.0, 8.0), (1.0, 42.5, 40.8), (3.5, 42.5, 40.8))
RIDER_PUSHED = ((0.7, 99.0, 99.0), (0.3, 99.0, 99.0), (1.0, 50.5, 45.8), (3.5, 50.5, 45.8))
WHOLE = (STANDING, *HANGING, *LET_DOWN, *PUSHED, *RIDER_DOWN, *RIDER_PUSHED, *HANGING)


@pytest.fixture
def book(tmp_path, shop) -> Book:
    shutil.copytree(shop.book.path, tmp_path / "book")
    return Book.open(tmp_path / "book")


class Check:
    """A check under way, as the server runs it."""

    def __init__(self, book: Book, job: str, board: VirtualBoard, wish: Wish) -> None:
        port = PortInfo(url=board.serve_tcp(), label="virtual board")
        self.recording = Recording(book, [port])
        self.recording.start(job, "stock", "sag", port.url, load_case="rider, no luggage", wish=wish)
        guide = self.recording.guide(job)
        assert guide is not None
        self.guide: Guide = guide

    def until(self, holds: Callable[[View], bool], seconds: float = 20.0) -> View:
        end_s = time.monotonic() + seconds
        while not holds(view := self.guide.view()):
            assert time.monotonic() < end_s, check_words.how_it_stands(view)
            time.sleep(0.01)
        return view


def done(view: View) -> int:
    return sum(row.taken is not None for row in view.rows)


def test_a_whole_check_takes_itself_and_is_what_the_sealed_log_says(book: Book, shop) -> None:
    wish = Wish(confirmed=CHECKLIST[:2])
    with VirtualBoard(counts_of(*WHOLE), rate_hz=RATE_HZ, speed=SPEED) as board:
        check = Check(book, shop.job, board, wish)
        view = check.until(lambda view: view.step is None)
        assert not check.recording.is_sealing(shop.job)
        log_id, _, trouble = check.recording.stop()
    assert trouble is None
    assert check.recording.guide(shop.job) is None
    assert check.recording.sealed(shop.job) == log_id
    assert {row.state for row in view.rows} == {State.DONE}
    log = book.read_log(log_id)
    assert [mark.text for mark in log.marks] == [row.step.mark for row in view.rows]
    assert log.load_case == "rider, no luggage"
    assert log.notes == (
        "confirmed: both brakes off; level floor, wheels free to roll. "
        "not confirmed: in neutral, off the stand; a helper holds the bike upright"
    )
    sag = check_sag(log)
    for end, unladen, rider in ((sag.front, 34.0, 45.0), (sag.rear, 20.5, 42.5)):
        assert end is not None
        assert end.unladen_sag_mm is not None
        assert end.rider_sag_mm is not None
        assert end.unladen_sag_mm.value == pytest.approx(unladen, abs=0.3)
        assert end.rider_sag_mm.value == pytest.approx(rider, abs=0.3)
    for shown, end in zip(view.ends, (sag.front, sag.rear), strict=True):
        assert end is not None
        assert end.rider_sag_mm is not None
        assert shown.rider_mm == pytest.approx(end.rider_sag_mm.value, abs=0.3)
        for row, reading in zip(view.rows[:-1], end.readings[:-1], strict=True):
            assert row.taken is not None
            assert row.taken.mm[shown.end] == pytest.approx(reading.travel_mm, abs=0.3)


def test_a_struck_reading_is_asked_for_again_and_does_not_count(book: Book, shop) -> None:
    legs = (STANDING, *HANGING, (1.0, 40.0, 25.0), (3.5, 40.0, 25.0), (0.7, 5.0, 4.0), *LET_DOWN, *PUSHED)
    with VirtualBoard(counts_of(*legs), rate_hz=RATE_HZ, speed=SPEED) as board:
        check = Check(book, shop.job, board, Wish())
        check.until(lambda view: done(view) == 2)
        check.guide.again()
        view = check.guide.view()
        assert done(view) == 1
        assert view.step is not None
        assert view.step.mark == "unladen, from above"
        check.until(lambda view: done(view) == 3)
        log_id, *_ = check.recording.stop()
    log = book.read_log(log_id)
    assert [mark.text for mark in log.marks] == [
        "topped out",
        "unladen, from above",
        "again, unladen, from above",
        "unladen, from above",
        "unladen, from below",
    ]
    front = check_sag(log).front
    assert front is not None
    assert front.unladen_sag_mm is not None
    assert front.unladen_sag_mm.value == pytest.approx(34.0, abs=0.3)  # with the struck one: 36.1


def test_a_repeat_that_disagrees_is_said_with_its_number(book: Book, shop) -> None:
    off = ((0.7, 5.0, 4.0), (1.0, 35.5, 18.8), (3.5, 35.5, 18.8))
    legs = (STANDING, *HANGING, *LET_DOWN, *PUSHED, *off, (0.7, 5.0, 4.0), *LET_DOWN)
    with VirtualBoard(counts_of(*legs), rate_hz=RATE_HZ, speed=SPEED) as board:
        check = Check(book, shop.job, board, Wish(rounds=2))
        view = check.until(lambda view: view.disagrees is not None)
        said = check_words.disagreement(view)
        assert said is not None
        assert said.startswith("Front lies ")
        assert float(said.split()[2]) == pytest.approx(4.0, abs=0.2)
        assert view.step is not None
        assert view.step.repeat == 3
        view = check.until(lambda view: done(view) == 5)
        assert view.disagrees is None
        check.recording.stop()


def test_one_after_the_other_and_by_hand(book: Book, shop) -> None:
    front_up = ((1.0, 1.5, 24.0), (3.5, 1.5, 24.0))
    rear_up = ((1.0, 40.0, 0.8), (3.5, 40.0, 0.8))
    legs = (STANDING, *front_up, *rear_up, (60.0, 40.0, 0.8))
    with VirtualBoard(counts_of(*legs), rate_hz=RATE_HZ, speed=SPEED) as board:
        check = Check(book, shop.job, board, Wish(apart=True))
        with pytest.raises(UsageError, match="no reading was taken yet"):
            check.guide.again()
        view = check.until(lambda view: done(view) == 2)
        assert [row.step.mark for row in view.rows[:2]] == ["topped out, front", "topped out, rear"]
        for row, end in zip(view.rows, ("front", "rear"), strict=False):
            assert row.taken is not None
            assert set(row.taken.mm) == {end}
        check.guide.take()
        view = check.guide.view()
        assert view.rows[2].taken is not None  # taken anyway, though it was not let down
        check.guide.another_round()
        assert len(check.guide.view().rows) == len(view.rows) + 4
        check.recording.stop()
        with pytest.raises(UsageError, match="nothing is being recorded"):
            check.guide.take()


def test_a_wish_out_of_range() -> None:
    with pytest.raises(UsageError, match="1 to 9"):
        Wish(rounds=0)


def test_a_bike_without_sensors_is_refused_before_anything_is_recorded(book: Book) -> None:
    from ingest.records import Rider, Setup

    bike = book.add_bike('[bike]\nname = "Bare"\n[rear]\nsuspension = "direct"\ntravel_mm = 200\n')
    job = book.new_job(bike, Rider(name="Mara L."))
    book.save_setup(job.id, Setup(name="stock"))
    with VirtualBoard(counts_of(STANDING), rate_hz=RATE_HZ) as board:
        recording = Recording(book, [PortInfo(url=board.serve_tcp(), label="virtual board")])
        with pytest.raises(ValueError, match="no sensor at either end"):
            recording.start(job.id, "stock", "sag", recording.ports()[0].url, wish=Wish())
        assert recording.now() is None
