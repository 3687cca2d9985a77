"""``flatfoot compare --rank``: rides of several setups, grouped by the setup's name and put in order."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from dashboard.commands import common

if TYPE_CHECKING:
    from analysis.compare_results import Ranking
    from analysis.results import Quantity
    from dashboard.units import Units
    from ingest.log import Log
    from ingest.records import End

NO_SETUP = "no setup noted"


def show_ranking(
    args: argparse.Namespace, logs: Sequence[Log], on_ride: Callable[[Log], None] | None = None
) -> int:
    """Rank the rides among the logs; sag checks among them, or in the book, give the rider sags."""
    from analysis.ranking import rank_setups
    from dashboard.as_json import dumps
    from ingest.log import Kind

    rides: dict[str, list[Log]] = {}
    for log in logs:
        if log.kind is Kind.RIDE:
            rides.setdefault(setup_name(log), []).append(log)
    ranking = rank_setups(rides, _rider_sags(args, logs, rides), on_ride=on_ride)
    if args.json:
        print(dumps(ranking))
    else:
        _show(ranking, common.units(args))
    return 0


def setup_name(log: Log) -> str:
    """Give the name rides are grouped by."""
    return log.setup.name if log.setup is not None else NO_SETUP


def _rider_sags(
    args: argparse.Namespace, logs: Sequence[Log], rides: Mapping[str, Sequence[Log]]
) -> dict[str, Mapping[End, Quantity]]:
    """Read the sag of each setup: from a sag check among the logs, else from the newest one of the book."""
    from analysis.sag import check_sag
    from dashboard.sag_at_rest import newest_sag_log, rider_sags
    from ingest.errors import CannotAnswer
    from ingest.log import Kind

    given = {setup_name(log): log for log in logs if log.kind is Kind.SAG}
    found: dict[str, Mapping[End, Quantity]] = {}
    for name, of_setup in rides.items():
        check = given.get(name)
        if check is None and of_setup[0].job is not None and common.book_folder(args).is_dir():
            book = common.open_book(args)
            header = newest_sag_log(book.logs(of_setup[0].job), of_setup[0])
            check = None if header is None else book.read_log(header.id)
        if check is not None:
            try:
                found[name] = rider_sags(check_sag(check))
            except CannotAnswer:  # a check without a sag says nothing of it, and the ranking then says so
                continue
    return found


def _show(ranking: Ranking, units: Units) -> None:
    from dashboard import rank_words
    from ingest.records import End

    common.print_table(rank_words.place_table(ranking))
    common.print_section("what each is best and worst at", rank_words.traits(ranking))
    for end in End:
        table = rank_words.numbers_table(ranking, end, units)
        if len(table.head) > 1:
            print()
            common.print_table(table)
    common.print_lines([rank_words.IN_10_MIN])
    common.print_section("the rule", [ranking.rule])
    common.print_section("not told apart", ranking.uncertain)
    common.print_section("mind", ranking.cautions)
