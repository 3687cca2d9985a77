"""``flatfoot salvage``: finish recordings that were cut off by a flat battery, a full disk or a kill."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import FlatfootError, UsageError

if TYPE_CHECKING:
    from ingest.book import Book

NAME = "salvage"
HELP = "finish recordings that were cut off; nothing that was written down is lost"
EXAMPLE = "  flatfoot salvage\n  flatfoot salvage ride.capture --out ride.parquet"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take nothing for the book, or one capture folder."""
    parser.add_argument("capture", metavar="CAPTURE", type=Path, nargs="?", help="a folder of its own")
    parser.add_argument("--out", metavar="LOG.parquet", type=Path, help="the log file to write from it")
    common.takes_book(parser)


def run(args: argparse.Namespace) -> int:
    """Turn captures into logs."""
    if args.capture is not None:
        return _one(args.capture, args.out)
    return 0 if finish_all(common.open_book(args), say_nothing_found=True) else 2


def _one(capture: Path, out: Path | None) -> int:
    from ingest.sealing import seal

    if not capture.is_dir():
        raise UsageError(f"there is no capture folder {capture}")
    target = out if out is not None else capture.with_suffix(".parquet")
    print(f"salvaged to {seal(capture, target)}")
    return 0


def finish_all(book: Book, *, say_nothing_found: bool = False) -> bool:
    """Finish what is unfinished in a book, a line each; say whether all went well."""
    well = True
    unfinished = book.unfinished()
    if not unfinished and say_nothing_found:
        print("nothing to salvage: every recording in the book is finished")
    for capture in unfinished:
        try:
            print(f"salvaged {book.finish(capture)}")
        except FlatfootError as problem:
            well = False
            print(f"{capture.name} stays as it is: {problem}")
    return well
