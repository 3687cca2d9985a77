"""Recording from the pages: one at a time, from a listed port, into the book."""

from __future__ import annotations

import shutil
import time

import numpy as np
import pytest

from dashboard.recording import Recording
from ingest.book import Book
from ingest.errors import UsageError
from ingest.log import Kind
from ingest.port import PortInfo
from ingest.virtual_board import VirtualBoard


@pytest.fixture
def book(tmp_path, shop) -> Book:
    shutil.copytree(shop.book.path, tmp_path / "book")
    return Book.open(tmp_path / "book")


def test_start_watch_mark_stop(book: Book, shop) -> None:
    counts = np.column_stack([np.full(20000, 225), np.full(20000, 240)]).astype(np.uint16)
    with VirtualBoard(counts, rate_hz=1000, speed=4.0) as board:
        port = PortInfo(url=board.serve_tcp(), label="virtual board")
        recording = Recording(book, [port])
        assert port in recording.ports()
        with pytest.raises(UsageError, match="sag check or a ride"):
            recording.start(shop.job, "stock", "race", port.url)
        recording.start(shop.job, "stock", "sag", port.url)
        with pytest.raises(UsageError, match="being recorded already"):
            recording.start(shop.job, "stock", "ride", port.url)
        time.sleep(0.5)
        recording.mark("topped out")
        now = recording.now()
        assert now is not None
        assert (now.kind, now.job_id, now.setup, now.port) == (Kind.SAG, shop.job, "stock", "virtual board")
        assert now.marks == ("topped out",)
        front, rear = now.wheels
        assert front.counts == 225
        assert front.now_mm == pytest.approx((225 - 102) * 230 / 819, abs=0.5)  # the bike file's own points
        assert rear.travel_mm == 220
        assert front.recent_mm[0] == pytest.approx(front.recent_mm[1])
        log_id, kind, trouble = recording.stop()
    assert trouble is None
    assert kind is Kind.SAG
    log = book.read_log(log_id)
    assert log.job == shop.job
    assert [mark.text for mark in log.marks] == ["topped out"]
    assert log.rows == board.sent or log.rows > 1000
    assert recording.now() is None
    assert not book.unfinished()


def test_a_port_that_says_nothing_leaves_the_recorder_free(book: Book, shop) -> None:
    recording = Recording(book, [PortInfo(url="loop://", label="nothing there")])
    with pytest.raises(OSError, match="came from loop://"):
        recording.start(shop.job, "stock", "sag", "loop://")
    assert recording.now() is None
    assert not book.unfinished()
