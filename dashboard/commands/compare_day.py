"""``flatfoot compare --test-day METRIC=CHANGE``: how much riding it takes to see a change of that size."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from dashboard.commands import common
from dashboard.commands.amend import number, pair

if TYPE_CHECKING:
    from analysis.compare_results import TestDay
    from dashboard.units import Units
    from ingest.log import Log

OPTION = "--test-day"


def show_test_day(
    args: argparse.Namespace, logs: Sequence[Log], on_ride: Callable[[Log], None] | None = None
) -> int:
    """Plan from the given rides, all of one setup."""
    from analysis.test_day import plan_test_day
    from dashboard.as_json import dumps

    metric, change = pair(args.test_day, OPTION, "front_mean_mm=5")
    day = plan_test_day(logs, metric, number(change, OPTION), on_ride)
    if args.json:
        print(dumps(day))
        return 0
    _show(day, common.units(args))
    return 0


def _show(day: TestDay, units: Units) -> None:
    from dashboard import rank_words

    common.print_lines([f"{rank_words.day_question(day, units)}:"])
    if day.options:
        print()
        common.print_table(rank_words.day_table(day))
        print()
    common.print_lines(rank_words.day_lines(day, units))
    common.print_section("mind", day.cautions)
