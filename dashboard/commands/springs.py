"""``flatfoot springs``: which of the springs at hand serves best."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Bike, End

if TYPE_CHECKING:
    from analysis.results import Quantity
    from analysis.springs import SpringAdvice

    Sags = dict[End, tuple[Quantity | None, Quantity | None]]

NAME = "springs"
HELP = "sag foretold for other springs, and which of them serves best"
EXAMPLE = """\
  flatfoot springs sag_stock.parquet --end rear --rates 75,85,95
  flatfoot springs --bike twin.toml --end front --unladen-mm 33 --rider-mm 45
  flatfoot springs --wire-mm 12 --coil-mm 75 --active-coils 6.5"""

TAPE_MM = 4.0
"""How well a tape reads sag, two people and one careful reading. Common practice, no source."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a sag log, or a bike with sag by tape, or the wire of a spring."""
    parser.add_argument("log", metavar="LOG", nargs="?", help="a sag log, or its id in the book")
    parser.add_argument("--bike", metavar="BIKE.toml", type=Path, help="the bike file, with sag by tape")
    parser.add_argument("--end", choices=tuple(map(str, End)), help="front or rear only")
    parser.add_argument(
        "--rates", metavar="A,B,C", help="N/mm of one spring; default: the bike file's own list"
    )
    parser.add_argument("--unladen-mm", metavar="MM", type=float, help="unladen sag by tape")
    parser.add_argument("--rider-mm", metavar="MM", type=float, help="rider sag by tape")
    parser.add_argument(
        "--doubt-mm", metavar="MM", type=float, default=TAPE_MM, help=f"± of the tape (default: {TAPE_MM:g})"
    )
    parser.add_argument("--wire-mm", metavar="MM", type=float, help="a spring of unknown rate: its wire")
    parser.add_argument(
        "--coil-mm", metavar="MM", type=float, help="its mean coil diameter: outside less wire"
    )
    parser.add_argument("--active-coils", metavar="N", type=float, help="its coils that move")
    common.takes_book(parser)
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Print a table of springs and say which serves best."""
    if any(value is not None for value in (args.wire_mm, args.coil_mm, args.active_coils)):
        return _by_wire(args)
    from dashboard import spring_words
    from dashboard.as_json import dumps

    bike, sags = _measured(args)
    found, missing = _advise(args, bike, sags)
    if args.json:
        answer: dict[str, object] = {str(end): found.get(end) for end in End}
        print(dumps(answer | {"cautions": missing}))
        return 0
    units = common.units(args)
    for advice in found.values():
        common.print_table(spring_words.springs_table(advice, units))
        print()
        common.print_lines(spring_words.spring_lines(advice, units))
        print()
    common.print_lines(spring_words.SPRING_NOTES)
    common.print_section("mind", [*missing, *(text for advice in found.values() for text in advice.cautions)])
    return 0


def _measured(args: argparse.Namespace) -> tuple[Bike, Sags]:
    """Give the bike as it was measured, and unladen and rider sag of its ends."""
    if (args.log is None) == (args.bike is None):
        raise UsageError("springs needs a sag log, or --bike with sag by tape; see flatfoot springs --help")
    if args.log is not None:
        from analysis.effective import effective_bike
        from analysis.sag import check_sag

        log = common.load_log(args, args.log)
        check = check_sag(log)
        ends = {End.FRONT: check.front, End.REAR: check.rear}
        return effective_bike(log.bike, log.setup), {
            end: (sag.unladen_sag_mm, sag.rider_sag_mm) for end, sag in ends.items() if sag is not None
        }
    from analysis.results import Quantity

    if args.end is None or args.rider_mm is None:
        raise UsageError(
            "--bike needs --end and --rider-mm, and --unladen-mm if a word for the spring is wanted"
        )
    bike, _ = common.read_bike_text(args.bike)
    unladen, rider = (
        None if mm is None else Quantity(value=mm, expanded_uncertainty=args.doubt_mm, coverage_factor=1.96)
        for mm in (args.unladen_mm, args.rider_mm)
    )
    return bike, {End(args.end): (unladen, rider)}


def _advise(args: argparse.Namespace, bike: Bike, sags: Sags) -> tuple[dict[End, SpringAdvice], list[str]]:
    """Advise on each end asked for; what keeps one end from an answer is said, unless it is all there is."""
    from analysis.springs import choose_spring

    if args.rates is not None and args.end is None:
        raise UsageError("--rates are of one end: add --end front or --end rear")
    found: dict[End, SpringAdvice] = {}
    missing: list[str] = []
    for end in [End(args.end)] if args.end else list(End):
        try:
            unladen, rider = sags.get(end, (None, None))
            if rider is None:
                raise CannotAnswer(f"{end}: no rider sag was measured; read it with the rider aboard")
            found[end] = choose_spring(bike, end, unladen, rider, _rates(args.rates, bike, end))
        except CannotAnswer as problem:
            missing.append(str(problem))
    if not found:
        raise CannotAnswer("; ".join(missing))
    return found, missing


def _rates(text: str | None, bike: Bike, end: End) -> tuple[float, ...]:
    if text is None:
        suspension = bike.suspension(end)
        listed = None if suspension is None else suspension.springs_available_n_mm
        if not listed:
            raise CannotAnswer(
                f"{end}: no springs to choose from: give --end {end} --rates 6.0,6.5,7.0, "
                "or springs_available_n_mm in the bike file"
            )
        return listed
    try:
        rates = tuple(float(part) for part in text.split(","))
    except ValueError:
        raise UsageError(f"--rates {text!r}: give numbers of N/mm with commas between, 6.0,6.5,7.0") from None
    if not all(0.5 <= rate <= 1000 for rate in rates):
        raise UsageError(f"--rates {text!r}: a spring has 0.5 to 1000 N/mm")
    return rates


def _by_wire(args: argparse.Namespace) -> int:
    from analysis.helical_spring import helical_spring
    from dashboard import spring_words
    from dashboard.as_json import dumps

    if args.wire_mm is None or args.coil_mm is None or args.active_coils is None:
        raise UsageError("a spring's rate from its wire needs --wire-mm, --coil-mm and --active-coils")
    spring = helical_spring(args.wire_mm, args.coil_mm, args.active_coils)
    if args.json:
        print(dumps(spring))
        return 0
    common.print_lines(spring_words.helical_lines(spring, common.units(args)))
    return 0
