"""``flatfoot sag``: what a sag recording says."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from dashboard.commands import common

if TYPE_CHECKING:
    from analysis.results import SagCheck
    from dashboard.units import Units
    from ingest.log import Log

NAME = "sag"
HELP = "sag front and rear from a sag recording, and what to do about it"
EXAMPLE = """\
  flatfoot sag sag_stock.parquet
  flatfoot sag sag_stock.parquet --budget
  flatfoot sag sag_stock.parquet --json"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take one log."""
    common.takes_logs(parser, "log", "a log file, or the id of a log in the book")
    common.takes_book(parser)
    common.takes_output(parser)
    parser.add_argument("--budget", action="store_true", help="also show where the doubt comes from")


def run(args: argparse.Namespace) -> int:
    """Print the sag check."""
    from analysis.sag import check_sag
    from dashboard.as_json import dumps

    log = common.load_log(args, args.log)
    check = check_sag(log)
    if args.json:
        print(dumps(check))
    else:
        show(log, check, common.units(args), budget=args.budget)
    return 0


def show(log: Log, check: SagCheck, units: Units, *, budget: bool = False) -> None:
    """Print a sag check as people read it."""
    from dashboard import log_words, sag_words

    common.print_lines([log_words.log_line(log)])
    print()
    common.print_table(sag_words.sag_table(check, units))
    if budget:
        _print_budgets(check, units)
    common.print_section("advice", check.advice)
    common.print_section("mind", (*log_words.log_cautions(log), *sag_words.sag_cautions(check)))
    common.print_section("corrected by", check.amendments)


def _print_budgets(check: SagCheck, units: Units) -> None:
    from dashboard import budget_words

    for name, budget in budget_words.budgets(check):
        print(f"\nwhere the doubt comes from, {name}:")
        common.print_table(budget_words.budget_table(budget, units))
        common.print_lines([budget_words.budget_line(budget, units)])
