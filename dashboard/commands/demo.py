"""``flatfoot demo``: see the whole job on an invented bike, from the port to the answer."""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from dashboard.commands.serve import serve_book, takes_port

if TYPE_CHECKING:
    from dashboard.demo import Demo
    from dashboard.units import Units

NAME = "demo"
HELP = "an invented job from the port to the answer, then its pages in the browser"
EXAMPLE = "  flatfoot demo\n  flatfoot demo --book ./demo_book --no-serve"

DEFAULT_BOOK = Path("demo_book")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a folder, and whether to serve."""
    parser.add_argument(
        "--book",
        metavar="DIR",
        type=Path,
        default=DEFAULT_BOOK,
        help="a folder for the demo's own book (default: ./demo_book), made anew each time",
    )
    parser.add_argument("--no-serve", action="store_true", help="end after the answer")
    parser.add_argument("--units", choices=("mm", "in"), default="mm", help="lengths shown in (default: mm)")
    takes_port(parser)


def run(args: argparse.Namespace) -> int:
    """Play the job, print its numbers beside the truth, then serve."""
    from dashboard.demo import run_demo

    begun = time.monotonic()

    def say(line: str) -> None:
        print(f"[{time.monotonic() - begun:3.0f} s] {line}", flush=True)

    demo = run_demo(args.book, say)
    say("done")
    show(demo, common.units(args))
    if not args.no_serve:
        print()
        serve_book(demo.book, args.port)
    return 0


def show(demo: Demo, units: Units) -> None:
    """Print both visits beside the truth, then the answer."""
    from dashboard import log_words
    from dashboard.commands.compare import show_comparison
    from dashboard.demo_words import truth_table

    print(f"\n{demo.book.shop}\n{log_words.job_line(demo.job)}")
    for visit in demo.visits:
        print(f"\n{visit.setup.name}: measured over the port, beside the virtual bike's own truth")
        common.print_table(truth_table(visit.compared, units))
        common.print_section("advice", visit.sag.advice)
    print("\nbefore and after:")
    show_comparison(demo.comparison, units)
