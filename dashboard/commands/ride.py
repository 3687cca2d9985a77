"""``flatfoot ride``: what the suspension did on one ride."""

from __future__ import annotations

import argparse

from dashboard.commands import common

NAME = "ride"
HELP = "travel used, bottoming, topping and speeds of one ride"
EXAMPLE = "  flatfoot ride ride_stock.parquet\n  flatfoot ride ride_stock.parquet --events --units in"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take one log."""
    common.takes_logs(parser, "log", "a log file, or the id of a log in the book")
    parser.add_argument("--events", action="store_true", help="list every bottoming and topping")
    common.takes_book(parser)
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Print the ride."""
    from analysis.ride import summarise_ride
    from dashboard import log_words, ride_words
    from dashboard.as_json import dumps

    log = common.load_log(args, args.log)
    ride = summarise_ride(log)
    if args.json:
        print(dumps(ride))
        return 0
    units = common.units(args)
    common.print_lines([log_words.log_line(log), log_words.link_line(log)])
    print()
    common.print_table(ride_words.ride_table(ride, units))
    if args.events:
        print()
        common.print_table(ride_words.event_table(ride, units))
    common.print_section("mind", (*log_words.log_cautions(log), *ride_words.ride_cautions(ride)))
    common.print_section("corrected by", ride.amendments)
    return 0
