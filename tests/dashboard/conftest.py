"""A small book for the pages: one job, sag and rides before and after, made from closed forms."""

from __future__ import annotations

import math
import subprocess
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from analysis.results import Quantity
from analysis.ride_results import (
    Attitude,
    EndRide,
    Events,
    Exceedance,
    FaultSpan,
    RideHeight,
    RideSpeed,
    RideSummary,
    ShaftSpeeds,
    Span,
    Speeds,
    StrokeClass,
    TravelEvent,
    ZeroDrift,
)
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


def quantity(value: float, doubt: float) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.0)


def event(t_s: float, peak_mm: float, speed_mm_s: float, grade: str, *, contact: bool = False) -> TravelEvent:
    return TravelEvent(
        t_s=t_s,
        peak_mm=peak_mm,
        entry_speed_mm_s=speed_mm_s,
        grade=grade,
        dwell_s=0.04,
        drop_height_mm=speed_mm_s**2 / (2 * 9806.65),
        contact=contact,
    )


def rich_end(travel_mm: float, mean_mm: float, deepest_mm: float, **changes: object) -> EndRide:
    """One end with everything a ride can say of it."""
    seen = Exceedance(speed_mm_s=(0.0, 25.0, 200.0, 800.0), share=(0.5, 0.4, 0.1, 0.002))
    speeds = Speeds(p50=90.0, p95=640.0, p99=1210.0, max=2210.0)
    made = EndRide(
        duration_s=60.0,
        samples=60_000,
        lost_samples=0,
        travel_mm=travel_mm,
        travel_used_mm=deepest_mm,
        travel_used_percent=100 * deepest_mm / travel_mm,
        mean_mm=mean_mm,
        p50_mm=mean_mm - 2,
        p95_mm=mean_mm + 60,
        p99_mm=mean_mm + 100,
        bottoming=Events(count=0, per_10_min=0.0, events=()),
        topping=Events(count=0, per_10_min=0.0, events=()),
        compression_speed_mm_s=speeds,
        rebound_speed_mm_s=replace(speeds, max=1480.0),
        bandwidth_hz=74.0,
        grains_mm=tuple(mean_mm - 50 + k for k in range(100)),
        compression_exceedance=seen,
        rebound_exceedance=seen,
        dead_band_mm_s=18.0,
        height=RideHeight(
            mean_mm=mean_mm,
            interval_mm=(mean_mm - 3.1, mean_mm + 3.1),
            against_sag_mm=quantity(8.0, 3.4),
            smooth_mm=mean_mm - 5,
            rough_mm=mean_mm + 4,
            rough_change_mm=quantity(9.1, 3.6),
            rough_word="packs down",
            left_mm=travel_mm - mean_mm,
            left_at_deepest_mm=travel_mm - deepest_mm,
        ),
        strokes=(
            StrokeClass(from_mm=5.0, to_mm=10.0, count=412.0, per_10_min=4120.0),
            StrokeClass(from_mm=160.0, to_mm=math.inf, count=0.5, per_10_min=5.0),
        ),
        off_ground=(Span(kind="off the ground", start_s=12.0, end_s=12.4),),
        shaft=ShaftSpeeds(compression=speeds, rebound=speeds, leverage_at_ride=1.0),
    )
    return replace(made, **changes)


@pytest.fixture
def rich_ride() -> RideSummary:
    """A ride that says all there is to say: faults, drift, a found stop, dives, speed, every grade."""
    topped = event(6.0, 0.4, 310.0, "topped out")
    front = rich_end(
        230.0,
        79.0,
        209.0,
        topping=Events(count=1, per_10_min=10.0, events=(topped,)),
        faults=(
            FaultSpan(kind="spike", start_s=8.0, end_s=8.001, samples=1),
            FaultSpan(kind="dropout", start_s=25.0, end_s=26.2, samples=1200),
            FaultSpan(kind="spike", start_s=31.0, end_s=31.001, samples=1),
        ),
        masked_samples=1202,
        zero_drift=ZeroDrift(drift_mm=quantity(1.4, 0.5), sightings=4, seen="topping"),
    )
    rear = rich_end(
        220.0,
        75.0,
        212.0,
        found_travel_mm=213.0,
        bottoming=Events(
            count=2,
            per_10_min=20.0,
            events=(
                event(40.0, 208.0, 940.0, "near full"),
                event(50.5, 212.0, 1534.0, "hard stop", contact=True),
                event(55.0, 203.0, 400.0, "rubber"),
            ),
        ),
        shaft=ShaftSpeeds(
            compression=Speeds(p50=39.0, p95=277.0, p99=524.0, max=957.0), rebound=None, leverage_at_ride=2.31
        ),
    )
    attitude = Attitude(
        front_percent=34.3,
        rear_percent=34.1,
        level_word="level",
        pitch_deg=0.62,
        pitch_p5_deg=-1.2,
        pitch_p95_deg=2.5,
        rake_deg=25.4,
        trail_mm=114.2,
        measured_state="topped out",
        dives=(Span(kind="dive", start_s=33.0, end_s=35.0),),
        squats=(Span(kind="squat", start_s=3.0, end_s=4.2), Span(kind="squat", start_s=36.0, end_s=37.2)),
    )
    speed = RideSpeed(
        speed_m_s=quantity(12.5, 1.1),
        slowest_m_s=8.1,
        fastest_m_s=17.0,
        pieces=22,
        pieces_tried=30,
        unknown_because=None,
    )
    return RideSummary(log_id="rich", front=front, rear=rear, attitude=attitude, speed=speed)


@pytest.fixture
def bare_ride(rich_ride: RideSummary) -> RideSummary:
    """A ride that says only what every ride says: no record that may be missing is there."""

    def bare(end: EndRide | None) -> EndRide | None:
        if end is None:
            return None
        nothing = Exceedance(speed_mm_s=(), share=())
        return replace(
            end,
            height=None, strokes=(), off_ground=(), shaft=None, faults=(), zero_drift=None,
            found_travel_mm=None, dead_band_mm_s=0.0, compression_speed_mm_s=None, rebound_speed_mm_s=None,
            compression_exceedance=nothing, rebound_exceedance=nothing, masked_samples=0,
            bottoming=Events(count=0, per_10_min=0.0, events=()),
            topping=Events(count=0, per_10_min=0.0, events=()),
        )  # fmt: skip

    return replace(
        rich_ride, front=bare(rich_ride.front), rear=bare(rich_ride.rear), attitude=None, speed=None
    )
