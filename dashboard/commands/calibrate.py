"""``flatfoot calibrate``: reference positions of a sensor, live or from a file, into the bike file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from dashboard.commands.amend import number
from ingest.errors import UsageError

if TYPE_CHECKING:
    from analysis.sensor_calibration import Calibration, ReferencePoint
    from analysis.slant import Slant
    from ingest.records import Bike, End

NAME = "calibrate"
HELP = "calibrate a sensor at known positions, or measure a linkage's leverage, and keep it in the bike file"
EXAMPLE = """\
  flatfoot calibrate --port COM3 --bike twin.toml --end rear --points 0,50,92
  flatfoot calibrate --from points.csv --bike twin.toml --end front
  flatfoot calibrate --leverage survey.csv --bike twin.toml --end rear
points.csv: counts,mm or counts,mm,direction (up or down)
survey.csv, spring out, the wheel jacked up and let down in 8 to 10 steps:
  counts,axle_mm,direction (axle height over the floor, in mm)"""

TAPE_MM = 0.5  # standard uncertainty of a position set with a tape: judgement


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take where the points come from, the bike, and how well the positions are known."""
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument("--port", metavar="PORT", help="live: the port of the board")
    source.add_argument("--from", dest="csv", metavar="CSV", type=Path, help="points written down")
    source.add_argument("--leverage", metavar="CSV", type=Path, help="measure the leverage instead")
    parser.add_argument("--bike", metavar="BIKE.toml", type=Path, required=True, help="the bike file")
    parser.add_argument("--end", choices=("front", "rear"), help="which sensor (not needed with one only)")
    parser.add_argument(
        "--points", metavar="MM,MM,…", help="live: the positions in mm, such as 0,50,100,150,200"
    )
    parser.add_argument("--both-ways", action="store_true", help="live: the same positions back again")
    parser.add_argument(
        "--hands-free", action="store_true", help="live: take each position once it stands still for 3 s"
    )
    parser.add_argument(
        "--u-ref-mm",
        metavar="MM",
        type=float,
        default=TAPE_MM,
        help=f"standard uncertainty of a reference position (tape: {TAPE_MM}; gauge blocks: 0.02)",
    )
    parser.add_argument(
        "--curve", choices=("straight", "quadratic", "cubic"), help="instead of what the residuals demand"
    )
    parser.add_argument("--no-write", action="store_true", help="show it, leave the bike file as it is")
    parser.add_argument("--baud", metavar="N", type=int, default=115200, help="speed of the port (115200)")
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Take the points, fit them, show what they are worth, keep them."""
    if args.leverage is not None:
        from dashboard.commands.leverage import survey

        return survey(args)
    from analysis.sensor_calibration import calibrate
    from analysis.slant import slant

    bike, text = common.read_bike_text(args.bike)
    end = end_of(bike, args.end, args.bike)
    aslant = slant(bike, end)  # lengths that cannot be are said before anybody walks through positions
    points = _from_file(args.csv) if args.csv is not None else _live(args, bike, end)
    found = calibrate(points, u_ref_mm=args.u_ref_mm, curve=args.curve)
    kept = _keep(args, text, end, found) if found.usable and not args.no_write else None
    if args.json:
        _print_json(found, aslant, end, args, kept)
    else:
        _print(found, aslant, bike, end, args, kept)
    return 0 if found.usable else 1


def end_of(bike: Bike, asked: str | None, path: Path) -> End:
    """Say which end is meant: the one named, or the only one with a sensor."""
    from ingest.records import End

    if asked is not None:
        end = End(asked)
        if end not in bike.sensors:
            raise UsageError(f"{path} has no [sensors.{end}]: add it with its channel and two points")
        return end
    if len(bike.sensors) != 1:
        known = " and ".join(sorted(bike.sensors)) or "none"
        raise UsageError(f"say which sensor with --end front or --end rear ({path} has: {known})")
    return next(iter(bike.sensors))


def _from_file(path: Path) -> list[ReferencePoint]:
    from analysis.sensor_calibration import ReferencePoint, Way
    from ingest.points_csv import read_points_csv

    return [
        ReferencePoint(counts=row.first, mm=row.second, way=Way(row.way) if row.way else None)
        for row in read_points_csv(path, "counts", "mm")
    ]


def _live(args: argparse.Namespace, bike: Bike, end: End) -> list[ReferencePoint]:
    from dashboard.commands.calibrate_live import walk

    positions = positions_of(args.points)
    return walk(args, bike.sensors[end].channel, positions)


def positions_of(text: str | None) -> list[float]:
    """Read ``--points 0,50,100``."""
    if text is None:
        raise UsageError("say which positions will be set, in mm: --points 0,50,100,150,200")
    positions = [number(one, "--points") for one in text.split(",") if one.strip()]
    if len(positions) < 2 or len(set(positions)) < len(positions):
        raise UsageError(f"--points {text}: two or more different positions are needed, in mm")
    return positions


def _keep(args: argparse.Namespace, text: str, end: End, found: Calibration) -> Path | None:
    from ingest.bike_edit import replace_bike_file, with_calibration

    points = [(round(point.counts, 2), point.mm) for point in found.points]
    return replace_bike_file(args.bike, with_calibration(text, end, points, found.curve, str(args.bike)))


def _about_file(bike: Bike, end: End, found: Calibration) -> list[str]:
    """Say what the new points mean for the rest of the bike file."""
    sensor, about = bike.sensors[end], []
    if sensor.measures == "shock stroke" and sensor.line is None:
        about.append(f"the {end} sensor measures shock stroke: these mm are of the stroke, not of the wheel")
    if sensor.zero_count is not None and found.usable:
        about.append("the zero_count of the bike file belonged to the calibration before and goes with it")
    return about


def _print(
    found: Calibration,
    aslant: Slant | None,
    bike: Bike,
    end: End,
    args: argparse.Namespace,
    kept: Path | None,
) -> None:
    from dashboard import calibration_words as words

    units = common.units(args)
    print(words.title(found, end))
    common.print_table(words.findings_table(found, units))
    print()
    common.print_table(words.residual_table(found, units))
    print("\nwhat a later reading is worth:")
    common.print_table(words.later_table(found.later, units))
    about_line = [] if aslant is None else words.about_line(aslant, end, units)
    common.print_section("mind", [*found.cautions, *about_line, *_about_file(bike, end, found)])
    print(f"\n{written(args, kept, usable=found.usable)}")


def written(args: argparse.Namespace, kept: Path | None, *, usable: bool) -> str:
    """Say what became of the bike file."""
    if not usable:
        return f"{args.bike} was left as it is: take the points again"
    if args.no_write:
        return f"{args.bike} was left as it is, as asked for"
    if kept is None:
        return f"{args.bike} says so already"
    return f"written to {args.bike}\nwhat it said before is in {kept}"


def _print_json(
    found: Calibration, aslant: Slant | None, end: End, args: argparse.Namespace, kept: Path | None
) -> None:
    from dashboard.as_json import dumps, to_json

    answer = to_json(found)
    assert isinstance(answer, dict)
    for inner in ("fit", "fit_of_positions"):
        del answer[inner]
    line = None
    if aslant is not None:
        largest_mm = aslant.correction.largest_mm
        line = {"largest_off_mm": largest_mm, "correction": aslant.correction, "doubt_mm": aslant.doubt_mm}
    is_written = found.usable and not args.no_write
    file = args.bike if is_written else None
    print(dumps({"end": end, **answer, "line": line, "bike_file": file, "kept": kept}))
