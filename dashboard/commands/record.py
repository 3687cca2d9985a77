"""``flatfoot record``: from the board to a sealed log, with a live line and marks."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from dashboard.commands.amend import number, pair
from ingest.errors import UsageError

if TYPE_CHECKING:
    from dashboard.commands.live_line import Console
    from dashboard.commands.place import Place
    from ingest.capture import StartNotes
    from ingest.recorder import Recorder
    from ingest.records import End
    from ingest.run_notes import RunNotes

NAME = "record"
HELP = "record a sag check or a ride from the board; Ctrl-C ends it and keeps everything"
EXAMPLE = """\
  flatfoot record --port /dev/ttyUSB0 --job 0001 --setup stock --kind sag
  flatfoot record --port COM3 --bike twin.toml --kind ride --out ride.parquet
  flatfoot record --port COM3 --job 0001 --setup stock --kind ride \\
    --route "forest loop" --tyres-kpa 220,250 --warm yes
while it records, a line and Enter set a mark; in a sag recording Enter alone
takes the mark that is suggested. Beside topped out, unladen and rider a mark
may be “feet down” (rider aboard, feet on the ground, still) or “rolling” (a
slow straight run of some 50 m; mark it when the wheels roll)"""

DRAW_EVERY_S = 0.2


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a port, what is recorded, and where it belongs."""
    parser.add_argument(
        "--port", metavar="PORT", required=True, help="the port (`flatfoot ports` lists them)"
    )
    parser.add_argument("--baud", metavar="N", type=int, default=115200, help="speed of the port (115200)")
    parser.add_argument("--kind", choices=("sag", "ride"), required=True, help="what is recorded")
    parser.add_argument("--job", metavar="ID", help="the job of the book it belongs to")
    parser.add_argument("--setup", metavar="NAME", help="the setup of that job, or a setup file")
    parser.add_argument("--bike", metavar="BIKE.toml", type=Path, help="without a book: the bike file")
    parser.add_argument("--out", metavar="LOG.parquet", type=Path, help="without a book: the log to write")
    parser.add_argument("--seconds", metavar="N", type=float, help="end by itself after this long")
    parser.add_argument("--load-case", metavar="TEXT", help="what is aboard: rider, luggage, fuel")
    common.takes_run_notes(parser)
    parser.add_argument(
        "--zero",
        metavar="END=COUNTS",
        action="append",
        default=[],
        help="topped-out reading of one end, where no sag check of this job gives it",
    )
    common.takes_book(parser)


def run(args: argparse.Namespace) -> int:
    """Record until Ctrl-C, the time is up or the board is gone; then seal."""
    from dashboard.commands.live_line import Console
    from dashboard.commands.place import place_for
    from ingest.port import port_source
    from ingest.recorder import Recorder

    if args.seconds is not None and args.seconds <= 0:
        raise UsageError(f"--seconds {args.seconds:g}: a recording takes more than 0 s")
    said = common.run_notes(args)
    place = place_for(args)
    zeros = {**job_zeros(place, args.kind), **typed_zeros(args.zero)}
    notes = start_notes(place, args.kind, zeros, args.port, args.baud, args.load_case, said)
    recorder = Recorder(port_source(args.port, args.baud), place.capture_path, notes)
    with Console(place.bike, place.setup, zeros, sag=args.kind == "sag") as console:
        follow(recorder, console, args.seconds)
    return finish(place)


def start_notes(
    place: Place,
    kind: str,
    zeros: Mapping[End, float],
    port: str,
    baud: int,
    load_case: str | None,
    run: RunNotes | None = None,
) -> StartNotes:
    """Write down what is known before the first sample."""
    from ingest.capture import StartNotes
    from ingest.log import Kind
    from ingest.run_notes import RunNotes

    return StartNotes(
        log_id=place.log_id,
        kind=Kind(kind),
        bike_text=place.bike_text,
        setup_text=place.setup_text,
        job_text=place.job_text,
        load_case=load_case,
        run=run or RunNotes(),
        zeros=zeros,
        port=port,
        baud=baud,
        started=datetime.now(UTC).isoformat(timespec="seconds"),
    )


def follow(recorder: Recorder, console: Console, seconds: float | None) -> None:
    """Show the live line and pass marks on until the recording ends."""
    recorder.start()
    reason = "stopped"
    try:
        while not recorder.wait(DRAW_EVERY_S):
            live = recorder.live()
            console.draw(live)
            for text in console.marks():
                with suppress(UsageError):  # the recording ended while it was typed; it is sealed below
                    recorder.mark(text)
            if seconds is not None and live.duration_s >= seconds:
                reason = "time is up"
                break
    except KeyboardInterrupt:
        pass  # the way to end a recording
    recorder.stop(reason)


def finish(place: Place) -> int:
    """Seal the capture and say what was recorded."""
    from dashboard import log_words
    from ingest.log_file import read_header
    from ingest.sealing import seal

    if place.book is not None:
        path = place.book.finish(place.capture_path)
    else:
        path = seal(place.capture_path, place.log_path)
    log = read_header(path)
    print(f"recorded {log.kind} {log.id}: {log_words.recorded(log)}")
    common.print_lines(log_words.log_cautions(log))
    print(f"next: flatfoot {log.kind} {log.id if place.book is not None else path}")
    return 0


def typed_zeros(texts: list[str]) -> dict[End, float]:
    """Read ``--zero front=112``."""
    from ingest.records import End

    zeros = {}
    for text in texts:
        name, counts = pair(text, "--zero", "front=112")
        if name not in (End.FRONT, End.REAR):
            raise UsageError(f"--zero {text}: the ends are front and rear")
        zeros[End(name)] = number(counts, "--zero")
    return zeros


def job_zeros(place: Place, kind: str, say: Callable[[str], None] = print) -> Mapping[End, float]:
    """Take a ride's topped-out readings from the newest sag check of its job with the same setup.

    Only readings in counts will do: a sag check imported as wheel travel says nothing about this sensor.
    """
    from analysis.sag import check_sag
    from ingest.errors import FlatfootError
    from ingest.log import Kind, Unit
    from ingest.records import End

    if kind != Kind.RIDE or place.book is None:
        return {}
    name = place.setup.name if place.setup else None
    for header in place.book.logs(place.job_id):
        if header.kind is not Kind.SAG or (header.setup.name if header.setup else None) != name:
            continue
        try:
            check = check_sag(place.book.read_log(header.id))
        except FlatfootError:  # no answer, or a damaged file: an older check may do
            continue
        in_mm = {channel.name for channel in header.channels if channel.unit is Unit.WHEEL_MM}
        found = {
            end: sag.zero_reading
            for end, sag in ((End.FRONT, check.front), (End.REAR, check.rear))
            if sag is not None and sag.zero_reading is not None and f"{end}_mm" not in in_mm
        }
        if found:
            said = ", ".join(f"{end} {zero:.1f}" for end, zero in found.items())
            say(f"topped-out counts from {header.id}: {said}")
            return found
    say(f"no sag check with setup {name} gives the topped-out readings: the calibration's own are used")
    return {}
