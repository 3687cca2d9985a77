"""``flatfoot amend``: correct a zero, a calibration or a mark of a finished log, beside it, never in it."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import FileProblem, UsageError

if TYPE_CHECKING:
    from ingest.log import Log

NAME = "amend"
HELP = "correct a zero, a calibration or a mark of a log; the readings themselves never change"
EXAMPLE = """\
  flatfoot amend ride_stock.parquet --zero front=112 --by Jo
  flatfoot amend ride_stock.parquet --calibration rear=88:0,902:92
  flatfoot amend sag_stock.parquet --add-mark "42.5=rider, from above"
  flatfoot amend sag_stock.parquet --move-mark 42.5=44
  flatfoot amend ride_stock.parquet --tyres-kpa 220,250 --warm yes"""

NEAR_S = 0.5  # a mark is meant when its time is given this closely


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a log and one correction."""
    common.takes_logs(parser, "log", "a log file, or the id of a log in the book")
    what = parser.add_argument_group("the correction, one of")
    what.add_argument("--zero", metavar="END=COUNTS", help="the topped-out reading of one end")
    what.add_argument("--calibration", metavar="END=COUNTS:MM,...", help="the reference points of one sensor")
    what.add_argument("--add-mark", metavar="SECONDS=TEXT", help="a mark that was forgotten")
    what.add_argument("--move-mark", metavar="SECONDS=SECONDS", help="a mark that was set too early or late")
    what.add_argument("--remove-mark", metavar="SECONDS", help="a mark that was set by mistake")
    what.add_argument("--note", metavar="TEXT", help="something worth knowing")
    common.takes_run_notes(what)
    parser.add_argument("--by", metavar="NAME", help="who says so")
    common.takes_book(parser)


CORRECTIONS = ("zero", "calibration", "add_mark", "move_mark", "remove_mark", "note")
OF_THE_RUN = ("route", "tyres_kpa", "warm")


def run(args: argparse.Namespace) -> int:
    """Write the correction beside the log."""
    of_the_run = any(getattr(args, name) is not None for name in OF_THE_RUN)
    if sum(getattr(args, name) is not None for name in CORRECTIONS) + of_the_run != 1:
        allowed = ", ".join(f"--{name.replace('_', '-')}" for name in CORRECTIONS)
        raise UsageError(
            f"one correction at a time, please: {allowed}, or --route, --tyres-kpa and --warm together"
        )
    from ingest.log import Amendment
    from ingest.log_file import amend, read_header

    path = log_path(args, args.log)
    what, content = correction(args, read_header(path))
    made = datetime.now(UTC).isoformat(timespec="seconds")
    amend(path, Amendment(made=made, by=args.by, what=what, content=content))
    print(f"{args.log}: {what} corrected; every answer that uses it says so")
    return 0


def log_path(args: argparse.Namespace, named: str) -> Path:
    """Find the file of a log, named by its path or by its id in the book."""
    path = Path(named)
    if path.is_file():
        return path
    if path.suffix or len(path.parts) > 1:
        raise FileProblem(f"there is no file {named}: give a log file, or the id of a log in the book")
    return common.open_book(args).log_path(named)


def correction(args: argparse.Namespace, log: Log) -> tuple[str, Mapping[str, object]]:
    """Turn the options into what an amendment changes, and to what."""
    if any(getattr(args, name) is not None for name in OF_THE_RUN):
        from ingest.run_notes import known

        return "run", known(common.run_notes(args))
    if args.zero is not None:
        end, counts = pair(args.zero, "--zero", "front=112")
        return "zero", {end: number(counts, "--zero")}
    if args.calibration is not None:
        end, points = pair(args.calibration, "--calibration", "rear=88:0,902:92")
        return "calibration", {end: [_point(point) for point in points.split(",")]}
    if args.note is not None:
        return "note", {"text": args.note}
    if args.add_mark is not None:
        seconds, text = pair(args.add_mark, "--add-mark", "42.5=rider")
        return "mark", {"do": "add", "t_s": number(seconds, "--add-mark"), "text": text}
    if args.move_mark is not None:
        seconds, to = pair(args.move_mark, "--move-mark", "42.5=44")
        return "mark", {
            "do": "move",
            "to_s": number(to, "--move-mark"),
            **_mark_at(log, seconds, "--move-mark"),
        }
    return "mark", {"do": "remove", **_mark_at(log, args.remove_mark, "--remove-mark")}


def pair(text: str, option: str, example: str) -> tuple[str, str]:
    """Split ``NAME=VALUE``."""
    name, equals, value = text.partition("=")
    if not (name and equals and value):
        raise UsageError(f"{option} {text!r}: write it like {option} {example}")
    return name.strip(), value.strip()


def number(text: str, option: str) -> float:
    """Read a number somebody typed."""
    try:
        return float(text)
    except ValueError:
        raise UsageError(f"{option}: {text!r} is not a number") from None


def _point(text: str) -> list[float]:
    counts, colon, mm = text.partition(":")
    if not colon:
        raise UsageError(f"--calibration: {text!r} is not a point: write counts:mm, like 102:0")
    return [number(counts, "--calibration"), number(mm, "--calibration")]


def _mark_at(log: Log, seconds: str, option: str) -> dict[str, object]:
    """Find the one mark meant by a time."""
    t_s = number(seconds, option)
    near = [mark for mark in log.marks if abs(mark.t_s - t_s) <= NEAR_S]
    if len(near) != 1:
        known = ", ".join(f"{mark.t_s:.2f} s {mark.text!r}" for mark in log.marks) or "none"
        found = "no mark" if not near else f"{len(near)} marks"
        raise UsageError(f"{option}: {found} within {NEAR_S} s of {t_s:g} s; the marks are {known}")
    return {"t_s": near[0].t_s, "text": near[0].text}
