"""A small book for the pages: one job, sag and rides before and after, made from closed forms."""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from dashboard.commands.place import place_in_book
from ingest.book import Book
from ingest.log import Channel, Gap, Kind, LinkStatistics, Log, Mark, Segment
from ingest.log_file import write_log
from ingest.records import EndSetup, Rider, Setup

# A name that would be markup if anything forgot to escape it.
NASTY = 'Mara <b>L.</b> & "co" \''

BIKE = """
[bike]
name = "Workshop tall twin"
id = "frame 0001"
use = "adventure"
wheelbase_mm = 1560
rake_deg = 26.0
fork_offset_mm = 45

[front]
suspension = "telescopic fork"
travel_mm = 230
spring_rate_n_mm = 14.5

[rear]
suspension = "linkage"
travel_mm = 220
leverage = [[0, 0], [55, 21], [110, 43.5], [165, 67.3], [220, 92]]

[sensors.front]
channel = 0
calibration = [[102, 0], [921, 230]]

[sensors.rear]
channel = 1
calibration = [[88, 0], [902, 220]]
"""

RATE_HZ = 1000


@dataclass(frozen=True)
class Shop:
    """The book and the ids of what is in it."""

    book: Book
    job: str
    sag: tuple[str, str]
    rides: tuple[str, str]


def counts_of(front_mm: np.ndarray, rear_mm: np.ndarray) -> np.ndarray:
    """Turn wheel travel into readings of the two sensors, with a little noise as every converter has."""
    rng = np.random.default_rng(1)
    rows = np.column_stack([102 + front_mm * 819 / 230, 88 + rear_mm * 814 / 220])
    return np.clip(np.round(rows + rng.normal(0, 0.5, rows.shape)), 0, 1023).astype(np.uint16)


def sag_counts(front: tuple[float, ...], rear: tuple[float, ...]) -> tuple[np.ndarray, list[Mark]]:
    """Hold still for 4 s in each of the five places, with a second in between."""
    names = (
        "topped out",
        *(f"{who}, from {side}" for who in ("unladen", "rider") for side in ("above", "below")),
    )
    at_s = np.arange(len(names) * 5 * RATE_HZ) / RATE_HZ
    knots = [t for i in range(len(names)) for t in (5.0 * i, 5.0 * i + 4.0)]
    places = [np.interp(at_s, knots, np.repeat(end, 2)) for end in (front, rear)]
    return counts_of(*places), [Mark(t_s=5.0 * i + 2.0, text=name) for i, name in enumerate(names)]


def ride_counts(mean_mm: float, seed: int) -> np.ndarray:
    """Ride 60 s around a place, touch the stop once at the rear and top out once in front."""
    rng = np.random.default_rng(seed)
    at_s = np.arange(60 * RATE_HZ) / RATE_HZ
    ends = []
    for _ in range(2):
        waves = [
            rng.uniform(2, 7) * np.sin(2 * np.pi * (hz * at_s + rng.uniform()))
            for hz in rng.uniform(0.5, 6.0, 12)
        ]
        ends.append(np.clip(mean_mm + np.sum(waves, axis=0), 6.0, 200.0))
    pulse = np.exp(-(((at_s - 20) / 0.05) ** 2))
    rear = ends[1] + (219.0 - ends[1]) * pulse
    front = ends[0] * (1 - np.exp(-(((at_s - 40) / 0.05) ** 2)))
    return counts_of(front, rear)


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, float]:
    """Run the demo as a person does; give its book, what it printed and how long it took, s."""
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


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A book with one job: sag and a ride at stock, sag and a ride lowered."""
    book = Book.create(Path(tmp_path_factory.mktemp("shop")) / "book", "Kestrel <Lane> & Suspension")
    job = book.new_job(book.add_bike(BIKE), Rider(name=NASTY, mass_kg=58.0), 45.0)
    book.save_setup(job.id, Setup(name="stock"))
    book.save_setup(job.id, Setup(name="softer springs", front=EndSetup(spring_rate_n_mm=10.5)))
    sags, rides = [], []
    for day, (setup, mean_mm, sag_mm) in enumerate((("stock", 55.0, 0.0), ("softer springs", 79.0, 23.0))):
        counts, marks = sag_counts((0, 30 + sag_mm, 38 + sag_mm, 43 + sag_mm, 51 + sag_mm),
                                   (0, 10 + sag_mm, 14 + sag_mm, 39 + sag_mm, 44 + sag_mm))  # fmt: skip
        sags.append(_keep(book, job.id, setup, Kind.SAG, day, [counts], marks))
        ride = ride_counts(mean_mm, seed=day)
        rides.append(_keep(book, job.id, setup, Kind.RIDE, day, [ride[:30000], ride[32000:]], []))
    return Shop(book=book, job=job.id, sag=(sags[0], sags[1]), rides=(rides[0], rides[1]))


def _keep(
    book: Book, job: str, setup: str, kind: Kind, day: int, parts: list[np.ndarray], marks: list[Mark]
) -> str:
    place = place_in_book(book, job, setup, kind)
    hour = 9 if kind is Kind.SAG else 10
    segments = [Segment(start_s=0.0, dt_s=1 / RATE_HZ, values=parts[0])]
    gaps: tuple[Gap, ...] = ()
    if len(parts) > 1:
        start_s = parts[0].shape[0] / RATE_HZ
        segments.append(Segment(start_s=start_s + 2.0, dt_s=1 / RATE_HZ, values=parts[1]))
        gaps = (Gap(t_s=start_s, duration_s=2.0, lost_samples=2000, exact=True, reason="frames lost"),)
    log = Log(
        id=place.log_id,
        kind=kind,
        started=f"2026-11-{20 + day}T{hour:02d}:00:00+00:00",
        bike=place.bike,
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
        segments=tuple(segments),
        marks=tuple(marks),
        gaps=gaps,
        link=LinkStatistics(lost_samples=sum(gap.lost_samples for gap in gaps)),
        setup=place.setup,
        rider=place.rider,
        job=job,
        texts=place.texts(),
    )
    write_log(log, place.log_path)
    return place.log_id
