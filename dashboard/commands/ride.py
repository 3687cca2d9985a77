"""``flatfoot ride``: what the suspension did on one ride, or on many."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import FlatfootError, UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.results import Quantity
    from analysis.ride_results import RideSummary
    from dashboard.section_words import Parts
    from dashboard.units import Units
    from ingest.log import Log
    from ingest.records import End

NAME = "ride"
HELP = "where it rides, travel used, bottoming, topping and speeds of a ride, or of many"
EXAMPLE = """\
  flatfoot ride ride_stock.parquet
  flatfoot ride ride_stock.parquet --all --units in
  flatfoot ride ride_stock.parquet ride_lowered.parquet
  flatfoot ride logs/ --csv rides.csv"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take one log or many."""
    common.takes_logs(
        parser, "log", "a log file, the id of a log in the book, or a folder of log files", nargs="+"
    )
    parser.add_argument("--events", action="store_true", help="list every bottoming and topping")
    parser.add_argument("--sections", action="store_true", help="also section by section, cut at the marks")
    parser.add_argument("--strokes", action="store_true", help="also speeds at the shaft, strokes by size")
    parser.add_argument("--all", action="store_true", help="all of these, and how far to trust the numbers")
    parser.add_argument(
        "--csv", metavar="FILE", help="write one row a log and end to a CSV file, - for the terminal"
    )
    common.takes_book(parser)
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Print one ride in full, or many in one line each."""
    names: list[str] = args.log
    if len(names) > 1 or args.csv is not None or Path(names[0]).is_dir():
        if args.events or args.sections or args.strokes or args.all:
            raise UsageError("--events, --sections, --strokes and --all are for one log: name only one")
        from dashboard.commands.ride_many import run_many

        return run_many(args)
    return _run_one(args, names[0])


def _run_one(args: argparse.Namespace, name: str) -> int:
    from analysis.ride import both_motions, summarise_ride
    from dashboard.as_json import dumps, to_fields
    from dashboard.ride_parts import parts_of

    log = common.load_log(args, name)
    motions = both_motions(log)
    ride = summarise_ride(log, rider_sag(args, name, log), motions)
    parts = parts_of(log, ride, motions) if args.sections or args.all else None
    if not args.json:
        _show(args, log, ride, parts)
    elif parts is None:
        print(dumps(ride))
    else:
        sections = [part for part in parts.parts if part.number]
        print(dumps({**to_fields(ride), "sections": sections}))
    return 0


def rider_sag(args: argparse.Namespace, name: str, log: Log) -> Mapping[End, Quantity]:
    """Give the rider sag of the same setup where the log is one of a book's, else nothing."""
    from analysis.sag import check_sag
    from dashboard.sag_at_rest import newest_sag_log, rider_sags

    if Path(name).is_file() or log.job is None:
        return {}
    book = common.open_book(args)
    found = newest_sag_log(book.logs(log.job), log)
    if found is None:
        return {}
    try:
        return rider_sags(check_sag(book.read_log(found.id)))
    except FlatfootError:  # a sag check that says nothing is none
        return {}


def _show(args: argparse.Namespace, log: Log, ride: RideSummary, parts: Parts | None) -> None:
    from dashboard import attitude_words, fault_words, height_words, log_words, ride_words

    units = common.units(args)
    common.print_lines([log_words.log_line(log), log_words.link_line(log)])
    print()
    common.print_lines(ride_words.answer_lines(ride, units))
    for table in (
        ride_words.ride_table(ride, units),
        height_words.height_table(ride, units),
        attitude_words.brief_table(ride, units),
    ):
        if table.rows:
            print()
            common.print_table(table)
    said = [*_level(ride), *height_words.rough_lines(ride, units), *attitude_words.unknown_lines(ride)]
    common.print_section("in words", said)
    common.print_section("along the way", attitude_words.span_lines(ride))
    _show_more(args, ride, parts, units)
    if args.all:
        _show_trust(log, units)
    faults = [f"{what}, {much}: {check}" for what, much, check in fault_words.fault_table(ride).rows]
    common.print_section("sensors", [*faults, *fault_words.drift_lines(ride, units)])
    common.print_section("mind", (*log_words.log_cautions(log), *ride_words.ride_cautions(ride)))
    common.print_section("corrected by", ride.amendments)


def _level(ride: RideSummary) -> list[str]:
    from dashboard.attitude_words import level_line

    return [] if ride.attitude is None else [level_line(ride.attitude)]


def _show_more(args: argparse.Namespace, ride: RideSummary, parts: Parts | None, units: Units) -> None:
    from dashboard import ride_words, section_words, speed_words

    if parts is not None:
        print("\nsection by section:")
        if parts.parts:
            common.print_table(section_words.section_table(parts.parts, units))
        else:
            print("nobody marked a section in this ride")
        common.print_lines([f"left out: {line}" for line in parts.left_out])
    if args.strokes or args.all:
        for table in (
            speed_words.wheel_speeds(ride, units),
            speed_words.shaft_speeds(ride, units),
            speed_words.stroke_table(ride, units),
        ):
            if table is not None and table.rows:
                print()
                common.print_table(table)
        band = speed_words.dead_band_line(ride, units)
        print()
        common.print_lines([*speed_words.shaft_lines(ride), *([band] if band else [])])
    if args.events or args.all:
        print()
        common.print_table(ride_words.event_table(ride, units))


def _show_trust(log: Log, units: Units) -> None:
    from analysis.effective import effective_bike
    from analysis.mounting_doubt import mounting_doubt
    from dashboard import trust_words
    from ingest.records import End

    bike = effective_bike(log.bike, log.setup)
    doubts = [doubt for end in End if (doubt := mounting_doubt(bike, end)) is not None]
    print("\nhow far to trust this on a real bike:")
    common.print_table(trust_words.trust_table(doubts, units))
    common.print_lines([trust_words.BASIS])
