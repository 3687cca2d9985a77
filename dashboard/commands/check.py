"""``flatfoot check``: the guided sag check at the bench; readings take themselves."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from dashboard.commands import common

NAME = "check"
HELP = "lead through a sag check: what to do, when it is still, each reading taken by itself"
EXAMPLE = """\
  flatfoot check --port /dev/ttyUSB0 --job 0001 --setup stock
  flatfoot check --port COM3 --bike twin.toml --out sag.parquet --repeats 3
while it runs, Enter takes the reading as it is, `again` strikes the last one,
`more` adds a round, `stop` or Ctrl-C ends it: everything taken is kept"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a port, where the check belongs, and how it is to go."""
    parser.add_argument(
        "--port", metavar="PORT", required=True, help="the port (`flatfoot ports` lists them)"
    )
    parser.add_argument("--baud", metavar="N", type=int, default=115200, help="speed of the port (115200)")
    parser.add_argument("--job", metavar="ID", help="the job of the book it belongs to")
    parser.add_argument("--setup", metavar="NAME", help="the setup of that job, or a setup file")
    parser.add_argument("--bike", metavar="BIKE.toml", type=Path, help="without a book: the bike file")
    parser.add_argument("--out", metavar="LOG.parquet", type=Path, help="without a book: the log to write")
    parser.add_argument("--load-case", metavar="TEXT", help="what is aboard: rider, luggage, fuel")
    parser.add_argument("--repeats", metavar="N", type=int, default=1, help="read each load N times (1)")
    parser.add_argument(
        "--one-at-a-time", action="store_true", help="top the ends out one after the other, not both at once"
    )
    parser.add_argument("--yes", action="store_true", help="everything on the checklist is so: do not ask")
    parser.add_argument("--units", choices=("mm", "in"), default="mm", help="lengths shown in (default: mm)")
    common.takes_book(parser)
    parser.set_defaults(kind="sag")


def run(args: argparse.Namespace) -> int:
    """Ask the checklist, lead through the readings, seal, and say what the sag is."""
    from analysis.sag import check_sag
    from dashboard.commands import check_walk, record, sag
    from dashboard.commands.place import place_for
    from dashboard.commands.screen import Screen
    from dashboard.guide import Guide, Wish
    from ingest.log_file import read_log
    from ingest.port import port_source
    from ingest.recorder import Recorder

    units = common.units(args)
    Wish(rounds=args.repeats)  # refuses a number out of range before anybody is asked anything
    place = place_for(args)
    screen = Screen()
    screen.listen()
    wish = Wish(
        rounds=args.repeats,
        apart=args.one_at_a_time,
        confirmed=check_walk.checklist(screen, everything=args.yes),
    )
    notes = record.start_notes(place, args.kind, {}, args.port, args.baud, args.load_case)
    recorder = Recorder(
        port_source(args.port, args.baud), place.capture_path, replace(notes, notes=wish.notes)
    )
    guide = Guide(recorder, place.bike, place.setup, wish, recorder.mark)
    recorder.start()
    check_walk.walk(recorder, guide, screen, units)
    recorder.stop()
    record.finish(place)
    print()
    log = read_log(place.log_path)
    sag.show(log, check_sag(log), units)
    return 0
