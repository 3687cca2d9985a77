"""The demo's own promises: only its own book is made anew, and its numbers come over the port."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from dashboard.demo import MARKER, SHOP, fresh_book
from ingest.book import Book
from ingest.errors import UsageError
from ingest.log import Kind


def test_a_demo_book_is_made_anew_and_no_other(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    assert fresh_book(folder).shop == SHOP
    (folder / "old").write_text("from the last time", encoding="utf-8")
    fresh_book(folder)
    assert not (folder / "old").exists()
    (folder / MARKER).unlink()
    with pytest.raises(UsageError, match="was not made by the demo"):
        fresh_book(folder)
    assert Book.open(folder).shop == SHOP


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, float]:
    book = tmp_path_factory.mktemp("demo") / "book"
    begun = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "dashboard", "demo", "--no-serve", "--book", book],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=280,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return book, done.stdout, time.monotonic() - begun


def test_everything_is_in_the_book(demo: tuple[Path, str, float]) -> None:
    book = Book.open(demo[0])
    (job,) = book.jobs()
    assert [setup.name for setup in job.setups] == ["stock", "lowered"]
    logs = book.logs(job.id)
    assert sorted((log.setup.name, log.kind) for log in logs) == [
        ("lowered", Kind.RIDE),
        ("lowered", Kind.SAG),
        ("stock", Kind.RIDE),
        ("stock", Kind.SAG),
    ]
    assert book.unfinished() == []
    for log in logs:
        assert log.link.lost_samples == 0
        assert log.ending.status == "complete"
        assert [mark.text for mark in log.marks[:1]] == (["topped out"] if log.kind is Kind.SAG else [])


def test_the_numbers_are_near_the_truth(demo: tuple[Path, str, float]) -> None:
    """The errors printed are within what the truth tables allow: sag 0.7 mm, travel 1.0 mm or 0.5 %."""
    rows = [line for line in demo[1].splitlines() if "(mm)" in line]
    assert len(rows) == 10
    for row in rows:
        cells = row.split(")")[1].replace("−", "-").split()
        for error in (float(cells[2]), float(cells[5])):
            assert abs(error) <= (0.7 if "sag" in row else 1.1), row


def test_the_answer_is_the_one_of_compare(demo: tuple[Path, str, float]) -> None:
    book = Book.open(demo[0])
    rides = [log.id for log in reversed(book.logs()) if log.kind is Kind.RIDE]
    done = subprocess.run(
        [sys.executable, "-m", "dashboard", "compare", *rides, "--book", demo[0], "--json"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
        timeout=120,
    )
    said = json.loads(done.stdout)
    assert said["answer"]["verdict"] == "changed"
    for sentence in said["answer"]["because"]:
        assert sentence.split()[0] in demo[1]
    mean = next(metric for metric in said["metrics"] if metric["name"] == "front_mean_mm")
    assert f"{mean['before']:.1f}" in demo[1]
    assert f"{mean['after']:.1f}" in demo[1]


def test_output_fits_80_columns_and_90_seconds(demo: tuple[Path, str, float]) -> None:
    assert max(map(len, demo[1].splitlines())) <= 80
    assert demo[2] < 90
