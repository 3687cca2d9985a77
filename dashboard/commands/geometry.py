"""``flatfoot geometry``: rake, trail and wheelbase, as the bike stands or with its axles moved."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import UsageError

if TYPE_CHECKING:
    from ingest.records import Bike

NAME = "geometry"
HELP = "rake, trail and wheelbase with the axles moved in the frame"
MOST_MM = 300.0
EXAMPLE = "  flatfoot geometry --bike tall_twin.toml --rear-axle-up-mm 30 --fork-axis-mm 20"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a bike and how far its axles move up."""
    parser.add_argument("--bike", metavar="BIKE.toml", type=Path, required=True, help="the bike file")
    parser.add_argument(
        "--rear-axle-up-mm", metavar="MM", type=float, default=0.0, help="rear axle up in the frame"
    )
    parser.add_argument(
        "--fork-axis-mm", metavar="MM", type=float, default=0.0, help="front axle up along the fork"
    )
    parser.add_argument(
        "--front-axle-up-mm", metavar="MM", type=float, default=0.0, help="A-arm front: front axle up"
    )
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Print the geometry before and after."""
    from analysis.geometry import geometry_change, geometry_of
    from dashboard import geometry_words
    from dashboard.as_json import dumps

    bike, _ = common.read_bike_text(args.bike)
    _insist(args, bike)
    moved = geometry_change(
        bike,
        rear_axle_up_mm=args.rear_axle_up_mm,
        fork_axis_mm=args.fork_axis_mm,
        front_axle_up_mm=args.front_axle_up_mm,
    )
    if args.json:
        print(dumps(moved))
        return 0
    common.print_table(geometry_words.geometry_table(geometry_of(bike), moved, common.units(args)))
    common.print_section("mind", geometry_words.GEOMETRY_CAUTIONS)
    return 0


def _insist(args: argparse.Namespace, bike: Bike) -> None:
    """Take an axle only so far, and the front one only the way its suspension goes."""
    from analysis.spring_statics import FORK

    for flag, value in (
        ("--rear-axle-up-mm", args.rear_axle_up_mm),
        ("--fork-axis-mm", args.fork_axis_mm),
        ("--front-axle-up-mm", args.front_axle_up_mm),
    ):
        if not abs(value) <= MOST_MM:
            raise UsageError(f"{flag} {value:g}: an axle moves by up to {MOST_MM:g} mm, down with a minus")
    kind = FORK if bike.front is None else bike.front.kind
    if kind == FORK and args.front_axle_up_mm != 0.0:
        raise UsageError(
            "--front-axle-up-mm is for an A-arm front; this bike has a fork: give --fork-axis-mm"
        )
    if kind != FORK and args.fork_axis_mm != 0.0:
        raise UsageError(
            f"--fork-axis-mm is for a telescopic fork; this bike has {kind!r}: give --front-axle-up-mm"
        )
