"""``flatfoot compare``: rides before against rides after."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from dashboard.commands import common

if TYPE_CHECKING:
    from analysis.compare_results import Comparison
    from dashboard.units import Units

NAME = "compare"
HELP = "what changed between rides before and rides after the work"
EXAMPLE = """\
  flatfoot compare ride_stock.parquet ride_lowered.parquet
  flatfoot compare a1.parquet b1.parquet b2.parquet --also-before a2.parquet"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take logs before and after."""
    common.takes_logs(parser, "before", "the ride before the work: a log file or an id of the book")
    common.takes_logs(parser, "after", "rides after the work, one or more", nargs="+")
    parser.add_argument(
        "--also-before", metavar="LOG", nargs="+", default=[], help="more rides before the work"
    )
    parser.add_argument("--all", action="store_true", help="every metric, not only the ones people ask for")
    common.takes_book(parser)
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Print the comparison."""
    from analysis.compare import compare_rides
    from dashboard.as_json import dumps

    comparison = compare_rides(
        [common.load_log(args, log) for log in (args.before, *args.also_before)],
        [common.load_log(args, log) for log in args.after],
    )
    if args.json:
        print(dumps(comparison))
        return 0
    show_comparison(comparison, common.units(args), every_metric=args.all)
    return 0


def show_comparison(comparison: Comparison, units: Units, *, every_metric: bool = False) -> None:
    """Print the tables, the answer and why."""
    from dashboard import compare_words
    from ingest.records import End

    for end in End:
        common.print_table(compare_words.end_table(comparison, end, units, brief=not every_metric))
        print()
    common.print_lines(
        [compare_words.verdict(comparison.answer), compare_words.uses_its_travel(comparison.answer)]
    )
    common.print_section("because", comparison.answer.because)
    common.print_section("mind", comparison.cautions)
