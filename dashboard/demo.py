"""An invented job from the board to the answer, on the virtual bike, with its truth beside it.

A virtual board sends the counts of a simulated bike over a real port, and everything after the port is what
a shop uses: `pyserial`, the recorder, the book, the sag check, the ride, the comparison. The numbers printed
come from the bytes that came over the port; what the simulator knows is printed beside them.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from analysis.against_truth import Compared, compare_ride, compare_sag
from analysis.compare import compare_rides
from analysis.compare_results import Comparison
from analysis.plan import plan
from analysis.results import SagCheck
from analysis.ride import summarise_ride
from analysis.ride_results import RideSummary
from analysis.sag import check_sag
from analysis.virtual_bike import (
    LIGHT_RIDER_KG,
    Truth,
    demo_bike,
    lowered,
    record_of,
    ride_scene,
    sag_scene,
    simulate,
    to_counts,
)
from dashboard.commands.place import place_in_book
from dashboard.commands.record import job_zeros, start_notes
from dashboard.plan_job import keep_plan, request_of_job
from ingest.bike_file import bike_text
from ingest.book import Book
from ingest.chassis import Chain, Headlight, Lean, Stands, TouchPoint
from ingest.errors import UsageError
from ingest.job_edit import with_wanted
from ingest.port import port_source
from ingest.recorder import Recorder
from ingest.records import Bike, EndSetup, Job, Rider, Setup, Suspension
from ingest.virtual_board import VirtualBoard

SHOP = "Kestrel Lane Suspension"
RIDER = Rider(name="Mara L.", mass_kg=LIGHT_RIDER_KG)
BOARDS, BOARD_MM = 4, 10.0
AGREED, FROM_PARTS_MM = "shorter shock, spacers in the fork", 16.5
ROOM_MM, ROOM_LOWERED_MM = (
    (44.0, 38.0),
    (43.0, 37.0),
)  # at full bump, front and rear, before and after the work
MARKER = "made by flatfoot demo.txt"
MARKER_TEXT = "Everything in this folder is invented. `flatfoot demo` makes it anew, so keep nothing here.\n"

RATE_HZ = 1000
RIDE_S = 60.0
SAG_SPEED = 8.0  # times real time; a mark has to find its still span of three seconds
RIDE_SPEED = 20.0
BAUD = 115200

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One state of the bike: how it was played, and what was measured of it."""

    setup: Setup
    sag: SagCheck
    ride: RideSummary
    compared: tuple[Compared, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """The whole job: the book it is in, both visits, and the answer."""

    book: Book
    job: Job
    visits: tuple[Visit, ...]
    comparison: Comparison


@dataclass(frozen=True, slots=True, kw_only=True)
class _Played:
    """A setup, and what the virtual bike does in it on the stand and on the road."""

    setup: Setup
    record: Bike
    sag: Truth
    ride: Truth


def run_demo(folder: Path, say: Say) -> Demo:
    """Play the job into a fresh book at ``folder``; ``say`` hears a line for each step."""
    book = fresh_book(folder)
    say("riding the virtual bike: sag and a rough road, stock and lowered ...")
    played = play()
    stock = played[0].record
    job = book.new_job(book.add_bike(bike_text(measured_around(stock))), RIDER, BOARDS * BOARD_MM)
    book.change_job(job.id, partial(with_wanted, total_mm=None, boards=BOARDS, board_mm=BOARD_MM))
    visits = []
    rides = []
    for each in played:
        book.save_setup(job.id, each.setup)
        sag_id = record(book, job.id, each, "sag", say)
        ride_id = record(book, job.id, each, "ride", say)
        sag, ride_log = check_sag(book.read_log(sag_id)), book.read_log(ride_id)
        ride = summarise_ride(ride_log)
        compared = (*compare_sag(sag, each.sag), *compare_ride(ride, each.ride))
        visits.append(Visit(setup=each.setup, sag=sag, ride=ride, compared=compared))
        rides.append(ride_log)
        if len(visits) == 1:
            agree(book, job.id, each.setup.name)
    return Demo(
        book=book,
        job=book.job(job.id),
        visits=tuple(visits),
        comparison=compare_rides(rides[:1], rides[1:]),
    )


def agree(book: Book, job_id: str, setup_name: str) -> None:
    """Keep one way of the plan, as it is agreed on before the work."""
    request = request_of_job(book, job_id, setup_name=setup_name)
    keep_plan(book, job_id, plan(replace(request, hardware_mm=FROM_PARTS_MM)), AGREED, setup_name)


def fresh_book(folder: Path) -> Book:
    """Make an empty demo book; a book that is not a demo's is never touched."""
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder} is a file: name a folder for the demo with --book DIR")
    if folder.is_dir() and any(folder.iterdir()):
        if not (folder / MARKER).is_file():
            raise UsageError(
                f"{folder} is not empty and was not made by the demo, so it stays as it is: "
                "name another folder with --book DIR"
            )
        shutil.rmtree(folder)
    book = Book.create(folder, SHOP)
    (folder / MARKER).write_text(MARKER_TEXT, encoding="utf-8")
    return book


def play() -> tuple[_Played, _Played]:
    """Simulate sag and ride, stock and lowered, in one batch; the same road twice."""
    tall = demo_bike()
    short = lowered(tall)
    scenes = [
        scene
        for bike in (tall, short)
        for scene in (
            sag_scene(bike, LIGHT_RIDER_KG),
            ride_scene(bike, LIGHT_RIDER_KG, duration_s=RIDE_S),
        )
    ]
    truths = simulate(scenes, RATE_HZ)
    stock, changed = record_of(tall), record_of(short)
    return (
        _Played(setup=Setup(name="stock"), record=stock, sag=truths[0], ride=truths[1]),
        _Played(setup=lowered_setup(changed), record=changed, sag=truths[2], ride=truths[3]),
    )


def measured_around(bike: Bike) -> Bike:
    """Add what a tape says of the bike: where the rider sits, what is under it, what may touch in a lean."""
    assert bike.front is not None
    assert bike.rear is not None
    return replace(
        bike,
        measured_state="topped out",
        seat_ahead_of_rear_axle_mm=570,
        seat_height_mm=905,
        seat_height_state="unladen",
        belly_height_mm=304,
        belly_ahead_of_rear_axle_mm=760,
        stands=Stands(
            side_stand_length_mm=358,
            side_stand_pivot_height_mm=352,
            side_stand_pivot_offset_mm=110,
            side_stand_pivot_ahead_of_rear_axle_mm=640,
            side_stand_lean_deg=11,
        ),
        lean=Lean(
            front_crown_radius_mm=50,
            rear_crown_radius_mm=74,
            touch=(TouchPoint(name="peg", out_mm=350, height_mm=412, ahead_of_rear_axle_mm=600),),
        ),
        chain=Chain(
            front_teeth=16,
            rear_teeth=42,
            pitch_mm=15.875,
            sprocket_height_mm=402,
            sprocket_ahead_of_rear_axle_mm=668,
            pivot_height_mm=396,
            pivot_ahead_of_rear_axle_mm=590,
        ),
        headlight=Headlight(height_mm=1085, ahead_of_rear_axle_mm=1420, wall_distance_mm=5000),
        front=replace(bike.front, full_bump_room_mm=ROOM_MM[0]),
        rear=replace(bike.rear, full_bump_room_mm=ROOM_MM[1]),
    )


def lowered_setup(bike: Bike) -> Setup:
    """Write down the lowered bike as a mechanic does: what was changed, end by end."""
    return Setup(
        name="lowered",
        notes="softer springs for the rider's weight, spacers in the fork, other shock and linkage plates",
        front=_end_setup(bike.front, ROOM_LOWERED_MM[0]),
        rear=_end_setup(bike.rear, ROOM_LOWERED_MM[1]),
    )


def _end_setup(suspension: Suspension | None, room_mm: float) -> EndSetup:
    assert suspension is not None
    return EndSetup(
        travel_mm=suspension.travel_mm,
        leverage=suspension.leverage,
        spring_rate_n_mm=suspension.spring_rate_n_mm,
        preload_mm=suspension.preload_mm,
        full_bump_room_mm=room_mm,
    )


def record(book: Book, job_id: str, played: _Played, kind: str, say: Say) -> str:
    """Record one run through a port into the book, as `flatfoot record` does, and give the log's id."""
    truth, speed = (played.sag, SAG_SPEED) if kind == "sag" else (played.ride, RIDE_SPEED)
    counts = to_counts(truth, played.record)
    place = place_in_book(book, job_id, played.setup.name, kind)
    zeros = job_zeros(place, kind, say)
    with VirtualBoard(counts, rate_hz=RATE_HZ, speed=speed) as board:
        url = board.serve_tcp() if os.name == "nt" else board.serve_pty()
        say(f"{place.log_id}: {counts.shape[0] / RATE_HZ:.0f} s from {url}, {speed:.0f} times real speed ...")
        notes = start_notes(place, kind, zeros, url, BAUD, f"{RIDER.name} in gear")
        recorder = Recorder(port_source(url, BAUD), place.capture_path, notes)
        recorder.start()
        _mark_phases(recorder, truth, board)
        recorder.stop("stopped")
    book.finish(place.capture_path)
    return place.log_id


def _mark_phases(recorder: Recorder, truth: Truth, board: VirtualBoard) -> None:
    """Call out each still span while it lasts, until the board has sent everything."""
    waiting = [((start_s + end_s) / 2, text) for start_s, end_s, text in truth.phases]
    while not board.finished.is_set():
        now_s = recorder.live().duration_s
        while waiting and waiting[0][0] <= now_s:
            recorder.mark(waiting.pop(0)[1])
        if recorder.wait(0.01):
            return
