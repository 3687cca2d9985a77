"""The topped-out readings a ride takes over from the sag check before it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from dashboard.cli import main
from dashboard.commands.place import place_in_book
from dashboard.commands.record import job_zeros
from ingest.book import Book
from ingest.log import Channel, Kind, Log, Mark, Segment, Unit
from ingest.log_file import write_log
from ingest.records import End, Rider, Setup

BIKE = """\
[bike]
name = "Workshop tall twin"
[front]
suspension = "telescopic fork"
travel_mm = 230
[sensors.front]
channel = 0
calibration = [[102, 0], [921, 230]]
"""
MARKS = ("topped out", "unladen, from above", "unladen, from below")


@pytest.fixture
def book(tmp_path: Path) -> Book:
    book = Book.create(tmp_path / "book", "Kestrel Lane")
    job = book.new_job(book.add_bike(BIKE), Rider(name="Mara", mass_kg=58.0))
    book.save_setup(job.id, Setup(name="stock"))
    return book


def keep_sag(book: Book, day: int, channel: Channel, levels: tuple[float, ...]) -> Path:
    """Keep a sag check that stands still for 4 s at each level, a second between them."""
    place = place_in_book(book, "0001", "stock", Kind.SAG)
    knots = [t for k in range(len(levels)) for t in (5.0 * k, 5.0 * k + 4.0)]
    values = np.interp(np.arange(0, knots[-1], 0.005), knots, np.repeat(levels, 2))[:, None]
    log = Log(
        id=place.log_id,
        kind=Kind.SAG,
        started=f"2026-11-{day}T09:00:00+00:00",
        bike=place.bike,
        channels=(channel,),
        segments=(Segment(start_s=0.0, dt_s=0.005, values=values),),
        marks=tuple(Mark(t_s=5.0 * k + 2.0, text=text) for k, text in enumerate(MARKS)),
        setup=place.setup,
        job=place.job_id,
        texts=place.texts(),
    )
    write_log(log, place.log_path)
    return place.log_path


def zeros(book: Book) -> dict[End, float]:
    return dict(job_zeros(place_in_book(book, "0001", "stock", Kind.RIDE), Kind.RIDE, lambda _: None))


def test_a_zero_in_mm_is_never_taken_for_counts(book: Book) -> None:
    keep_sag(book, 21, Channel(name="front_mm", unit=Unit.WHEEL_MM), (0.4, 30.0, 38.0))
    assert zeros(book) == {}
    keep_sag(book, 20, Channel(name="ch0"), (112.0, 210.0, 240.0))
    assert zeros(book) == {End.FRONT: pytest.approx(112.0)}


def test_a_damaged_sag_check_does_not_keep_anybody_from_riding(book: Book) -> None:
    keep_sag(book, 20, Channel(name="ch0"), (112.0, 210.0, 240.0))
    damaged = keep_sag(book, 21, Channel(name="ch0"), (150.0, 210.0, 240.0))
    content = bytearray(damaged.read_bytes())
    with pq.ParquetFile(damaged) as file:
        readings = file.metadata.row_group(0).column(2)
    content[readings.data_page_offset + readings.total_compressed_size - 1] ^= 0xFF  # the header stays good
    damaged.write_bytes(content)
    assert len(book.logs("0001")) == 2
    assert zeros(book) == {End.FRONT: pytest.approx(112.0)}


def test_an_imported_ride_takes_the_zero_over_too(book: Book, tmp_path: Path) -> None:
    keep_sag(book, 20, Channel(name="ch0"), (112.0, 210.0, 240.0))
    csv = tmp_path / "ride.csv"
    csv.write_text("t_us,ch0\n" + "".join(f"{k * 5000},{200 + k % 7}\n" for k in range(400)))
    argv = ["import", str(csv), "--kind", "ride", "--job", "0001", "--book", str(tmp_path / "book")]
    assert main(argv) == 0
    ride = next(log for log in book.logs("0001") if log.kind is Kind.RIDE)
    assert book.read_log(ride.id).zeros == {End.FRONT: pytest.approx(112.0)}
