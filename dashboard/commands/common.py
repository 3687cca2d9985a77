"""What several verbs share: the book, a log by path or id, units, tables on a terminal."""

from __future__ import annotations

import argparse
import os
import textwrap
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

from ingest.errors import FileProblem, UsageError

if TYPE_CHECKING:  # these bring NumPy and pyarrow along, so they wait until a verb runs
    from dashboard.units import Units
    from dashboard.wording import Table
    from ingest.book import Book
    from ingest.log import Log
    from ingest.records import Bike, Job, Setup
    from ingest.run_notes import RunNotes

WIDTH = 80


# ---------------------------------------------------------------------------------------- arguments


def takes_book(parser: argparse.ArgumentParser) -> None:
    """Let a verb be told which book."""
    parser.add_argument(
        "--book",
        metavar="DIR",
        type=Path,
        help="the shop's book (default: FLATFOOT_BOOK, else the folder flatfoot in your documents)",
    )


def takes_output(parser: argparse.ArgumentParser) -> None:
    """Let a verb that answers be told how to say it."""
    parser.add_argument("--json", action="store_true", help="answer in JSON, for other programs")
    parser.add_argument("--units", choices=("mm", "in"), default="mm", help="lengths shown in (default: mm)")


def takes_logs(parser: argparse.ArgumentParser, name: str, help_text: str, nargs: str | None = None) -> None:
    """Let a verb be given logs, by file name or by their id in the book."""
    parser.add_argument(name, metavar=name.upper(), nargs=nargs, help=help_text)


def takes_run_notes(parser: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    """Let a verb be told of a run what no sensor knows."""
    parser.add_argument("--route", metavar="NAME", help="where the run goes, as the shop calls it")
    parser.add_argument("--tyres-kpa", metavar="FRONT,REAR", help="tyre pressures in kPa, like 220,250")
    parser.add_argument("--warm", choices=("yes", "no"), help="are oil and tyres warm")


def run_notes(args: argparse.Namespace) -> RunNotes:
    """Give what was said of the run."""
    from ingest.run_notes import typed_run_notes

    return typed_run_notes(args.route, args.tyres_kpa, args.warm)


def units(args: argparse.Namespace) -> Units:
    """Give the units asked for."""
    from dashboard.units import Units

    return Units(args.units)


# --------------------------------------------------------------------------------------- book and logs


def book_folder(args: argparse.Namespace) -> Path:
    """Say where the book is: ``--book``, else FLATFOOT_BOOK, else a folder in the documents."""
    if args.book is not None:
        return Path(args.book)
    from ingest.book_folder import default_book_path

    return default_book_path(os.environ, Path.home())


def open_book(args: argparse.Namespace) -> Book:
    """Open the book, or say in one line how to start one."""
    folder = book_folder(args)
    if not folder.is_dir():
        raise UsageError(
            f"there is no book at {folder}: `flatfoot job new` starts one there, "
            "or name another with --book DIR"
        )
    from ingest.book import Book

    return Book.open(folder)


def load_log(args: argparse.Namespace, named: str) -> Log:
    """Read a log by its file name or by its id in the book."""
    path = Path(named)
    if path.suffix.lower() == ".csv":
        raise UsageError(
            f"{named} is a CSV file: turn it into a log first with "
            "`flatfoot import FILE.csv --bike BIKE.toml --kind {sag,ride} --out LOG.parquet`"
        )
    if path.is_file():
        from ingest.log_file import read_log

        return read_log(path)
    if path.suffix or len(path.parts) > 1:
        raise FileProblem(f"there is no file {named}: give a log file, or the id of a log in the book")
    return open_book(args).read_log(named)


def read_bike_text(path: Path) -> tuple[Bike, str]:
    """Read a bike file, and its text as it stands."""
    from ingest.bike_file import parse_bike

    text = read_text(path, "bike file")
    return parse_bike(text, str(path)), text


def read_text(path: Path, what: str) -> str:
    """Read a text file people wrote, or say why not."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise FileProblem(f"there is no {what} {path}") from None
    except IsADirectoryError:
        raise FileProblem(f"{path} is a folder, not a {what}") from None
    except UnicodeDecodeError:
        raise FileProblem(f"{path} is not a text file in UTF-8, so it is no {what}") from None
    except OSError as problem:
        raise FileProblem(f"the {what} {path} cannot be read: {problem.strerror}") from None


def setup_of(job: Job, name: str) -> Setup:
    """Find a setup of a job by its name."""
    for setup in job.setups:
        if setup.name == name:
            return setup
    known = ", ".join(setup.name for setup in job.setups) or "none yet"
    raise UsageError(
        f"job {job.id} has no setup called {name!r} (it has: {known}); "
        "`flatfoot job setup JOB FILE.toml` adds one"
    )


# -------------------------------------------------------------------------------------------- terminal


def print_table(table: Table) -> None:
    """Print a table with columns as wide as they need to be; the widest fold where a terminal has no more."""
    rows = [table.head, *table.rows]
    widths = _widths(rows)
    for row in rows:
        folded = [_folded(cell, width) for cell, width in zip(row, widths, strict=True)]
        for line in zip_longest(*folded, fillvalue=""):
            cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
            print("  ".join(cells).rstrip())


def _widths(rows: Sequence[Sequence[str]]) -> list[int]:
    """Give each column what it needs, less for the widest until the table fits, the names of rows last.

    No word is cut.
    """
    columns = list(zip(*rows, strict=True))
    widths = [max(map(len, column)) for column in columns]
    least = [max((len(word) for cell in column for word in cell.split()), default=0) for column in columns]
    while sum(widths) + 2 * (len(widths) - 1) > WIDTH:
        spare = [width if width > fewest else 0 for width, fewest in zip(widths, least, strict=True)]
        if not any(spare):
            break
        if any(spare[1:]):
            spare[0] = 0
        widths[spare.index(max(spare))] -= 1
    return widths


def _folded(cell: str, width: int) -> list[str]:
    if len(cell) <= width:
        return [cell]
    return textwrap.wrap(cell, width, break_long_words=False, break_on_hyphens=False)


def print_lines(lines: Iterable[str], bullet: str = "") -> None:
    """Print sentences, folded at the width of a plain terminal."""
    for line in lines:
        print(textwrap.fill(line, WIDTH, initial_indent=bullet, subsequent_indent=" " * len(bullet)))


def print_section(title: str, lines: Iterable[str]) -> None:
    """Print sentences under a heading; nothing at all where there are none."""
    listed = tuple(lines)
    if listed:
        print(f"\n{title}:")
        print_lines(listed, "  - ")
