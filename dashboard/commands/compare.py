"""``flatfoot compare``: rides before against rides after."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from itertools import count
from typing import TYPE_CHECKING

from dashboard.commands import common, compare_day, compare_rank
from ingest.errors import UsageError

if TYPE_CHECKING:
    from analysis.compare_results import Comparison
    from dashboard.units import Units
    from ingest.log import Log

NAME = "compare"
A_MOMENT = 2
"""So many rides take no longer than a moment."""

HELP = "what changed between rides before and rides after the work"
EXAMPLE = """\
  flatfoot compare ride_stock.parquet ride_lowered.parquet
  flatfoot compare a1.parquet b1.parquet b2.parquet --also-before a2.parquet
  flatfoot compare a1.parquet b1.parquet c1.parquet sag_a.parquet --rank
  flatfoot compare a1.parquet a2.parquet --test-day front_mean_mm=5
--rank puts the setups of all the rides in order; sag checks among them give the
rider sags. --test-day says how much riding shows a change of that size"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take logs before and after."""
    common.takes_logs(parser, "before", "the ride before the work: a log file or an id of the book")
    common.takes_logs(parser, "after", "rides after the work, one or more", nargs="*")
    parser.add_argument(
        "--also-before", metavar="LOG", nargs="+", default=[], help="more rides before the work"
    )
    instead = parser.add_mutually_exclusive_group()
    instead.add_argument("--rank", action="store_true", help="put all setups among the logs in order")
    instead.add_argument("--test-day", metavar="METRIC=CHANGE", help="plan rides that show such a change")
    parser.add_argument("--all", action="store_true", help="every metric, not only the ones people ask for")
    common.takes_book(parser)
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Print the comparison, a ranking or a plan."""
    from analysis.comparable import what_is_missing
    from analysis.compare import compare_rides
    from dashboard.as_json import dumps

    if args.rank or args.test_day is not None:
        logs = [common.load_log(args, log) for log in (args.before, *args.also_before, *args.after)]
        show = compare_rank.show_ranking if args.rank else compare_day.show_test_day
        return show(args, logs, _say_how_far(len(logs)))
    if not args.after:
        raise UsageError("a comparison needs a ride after the work too; --rank and --test-day take any rides")
    before = [common.load_log(args, log) for log in (args.before, *args.also_before)]
    after = [common.load_log(args, log) for log in args.after]
    comparison = compare_rides(before, after, on_ride=_say_how_far(len(before) + len(after)))
    if args.json:
        print(dumps(comparison))
        return 0
    show_comparison(comparison, common.units(args), every_metric=args.all)
    common.print_section("to be surer", what_is_missing(before, after))
    return 0


def _say_how_far(rides: int) -> Callable[[Log], None] | None:
    """Name each ride on stderr before it is worked on, where there are enough to wait for."""
    if rides <= A_MOMENT:
        return None
    number = count(1)

    def say(log: Log) -> None:
        print(f"[{next(number):>{len(str(rides))}}/{rides}] {log.id}"[:79], file=sys.stderr, flush=True)

    return say


def show_comparison(comparison: Comparison, units: Units, *, every_metric: bool = False) -> None:
    """Print the tables, the answer and why."""
    from dashboard import compare_words, forecast_words, likeness_words
    from ingest.records import End

    for end in End:
        table = compare_words.end_table(comparison, end, units, brief=not every_metric)
        if table.rows:
            common.print_table(table)
            print()
    common.print_lines(
        [compare_words.verdict(comparison.answer), compare_words.uses_its_travel(comparison.answer)]
    )
    common.print_section("because", comparison.answer.because)
    foretold = forecast_words.forecast_table(comparison)
    if foretold.rows:
        print()
        common.print_table(foretold)
        if every_metric:
            rests_on = (forecast_words.MEANS, *forecast_words.forecast_lines(comparison))
            common.print_section("what the hour rests on", rests_on)
    common.print_section("was all else alike", likeness_words.alike_lines(comparison))
    common.print_section("mind", (*comparison.method, *likeness_words.warnings(comparison)))
