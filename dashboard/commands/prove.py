"""``flatfoot prove``: the plan against what was measured after the work, and the list to hand over by."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import UsageError

if TYPE_CHECKING:
    from analysis.results import Quantity

NAME = "prove"
HELP = "the plan against what was measured after the work, and what to check before handing over"
EXAMPLE = """\
  flatfoot prove --job 0001
  flatfoot prove --job 0001 --before stock --after lowered --option 4
  flatfoot prove --job 0001 --seat-drop-mm 41 --seat-drop-doubt-mm 2"""

TAPE_MM = 3.0
"""Floor to seat by tape, rider aboard, before and after. Common practice, no source."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a job, its setups on both sides, and the option that was carried out."""
    parser.add_argument("--job", metavar="ID", required=True, help="a job of the book")
    parser.add_argument("--before", metavar="SETUP", help="setup before the work (default: the first)")
    parser.add_argument("--after", metavar="SETUP", help="setup after the work (default: the last)")
    parser.add_argument(
        "--option", metavar="NAME", help="what was carried out: name or number in flatfoot plan"
    )
    takes_tape(parser)
    common.takes_book(parser)
    common.takes_output(parser)


def takes_tape(parser: argparse.ArgumentParser) -> None:
    """Let a verb be told what a tape says of the seat."""
    parser.add_argument(
        "--seat-drop-mm", metavar="MM", type=float, help="by tape: floor to seat, before less after"
    )
    parser.add_argument(
        "--seat-drop-doubt-mm",
        metavar="MM",
        type=float,
        default=TAPE_MM,
        help=f"± of that (default: {TAPE_MM:g})",
    )


def taped_seat_drop(args: argparse.Namespace) -> Quantity | None:
    """Give the drop of the seat by tape, if one was given."""
    from analysis.results import Quantity

    if args.seat_drop_mm is None:
        return None
    if not (abs(args.seat_drop_mm) <= 300.0 and 0.0 < args.seat_drop_doubt_mm <= 50.0):
        raise UsageError(
            f"seat drop {args.seat_drop_mm:g} ± {args.seat_drop_doubt_mm:g} mm: up to 300 mm, and a "
            "doubt above 0 and up to 50 mm"
        )
    return Quantity(
        value=args.seat_drop_mm, expanded_uncertainty=args.seat_drop_doubt_mm, coverage_factor=1.96
    )


def run(args: argparse.Namespace) -> int:
    """Print each promise beside its measurement, what differs, and the list to tick."""
    from dashboard import proof_words
    from dashboard.as_json import dumps
    from dashboard.hand_over import hand_over
    from dashboard.proof_job import proof_of_job
    from dashboard.safety import SAFETY

    found = proof_of_job(
        common.open_book(args),
        args.job,
        before=args.before,
        after=args.after,
        option=args.option,
        taped_seat_drop_mm=taped_seat_drop(args),
    )
    if args.json:
        print(dumps(found.proof))
        return 0
    units = common.units(args)
    print(f"{found.before} → {found.after}: {found.proof.option}\n")
    table, would_tell = proof_words.proof_at_terminal(found.proof, units)
    common.print_table(table)
    print()
    common.print_lines([proof_words.proof_verdict(found.proof)])
    common.print_section("differs by more than its doubt", proof_words.proof_differences(found.proof, units))
    common.print_section("what would tell", would_tell)
    common.print_section("mind", found.proof.cautions)
    ticks = (
        tick.what if tick.should_be is None else f"{tick.what} [{tick.should_be}]"
        for tick in hand_over(found.option, units)
    )
    common.print_section("before the bike goes back, tick", ticks)
    common.print_section("safety", SAFETY)
    return 0
