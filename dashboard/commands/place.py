"""Where a new log goes, and on which bike and setup it was made: a job of the book, or plain files."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

from dashboard.commands import common
from ingest.book import Book
from ingest.errors import UsageError
from ingest.records import Bike, Rider, Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A log to be: its id, its file, the folder its capture grows in, and the texts in force."""

    log_id: str
    log_path: Path
    capture_path: Path
    bike: Bike
    bike_text: str
    setup: Setup | None = None
    setup_text: str | None = None
    rider: Rider | None = None
    job_id: str | None = None
    job_text: str | None = None
    book: Book | None = None

    def texts(self) -> dict[str, str]:
        """Give the texts in force as a log keeps them."""
        named = {"bike": self.bike_text, "setup": self.setup_text, "job": self.job_text}
        return {name: text for name, text in named.items() if text is not None}


def place_for(args: argparse.Namespace) -> Place:
    """Read ``--job ID --setup NAME`` or ``--bike BIKE.toml [--setup FILE] --out LOG.parquet``."""
    if args.job is not None:
        if args.bike is not None or args.out is not None:
            raise UsageError(
                "--job keeps the log in the book: leave --bike and --out away, or leave --job away"
            )
        return place_in_book(common.open_book(args), args.job, args.setup, args.kind)
    if args.bike is None or args.out is None:
        raise UsageError("say where it belongs: --job ID --setup NAME, or --bike BIKE.toml --out LOG.parquet")
    return _place_beside(args.bike, args.setup, args.out)


def place_in_book(book: Book, job_id: str, setup_name: str | None, kind: str) -> Place:
    """Make room for a log of a job; a job with a single setup need not name it."""
    job = book.job(job_id)
    if setup_name is None and len(job.setups) != 1:
        known = ", ".join(setup.name for setup in job.setups) or "none yet"
        raise UsageError(f"job {job_id}: say which setup with --setup NAME (it has: {known})")
    setup = job.setups[0] if setup_name is None else common.setup_of(job, setup_name)
    texts = book.texts(job_id, setup.name)
    log_id = book.new_log_id(kind)
    return Place(
        log_id=log_id,
        log_path=book.log_path(log_id),
        capture_path=book.capture_path(log_id),
        bike=job.bike,
        bike_text=texts["bike"],
        setup=setup,
        setup_text=texts["setup"],
        rider=job.rider,
        job_id=job.id,
        job_text=texts["job"],
        book=book,
    )


def _place_beside(bike_path: Path, setup_path: str | None, out: Path) -> Place:
    """Make room for a log that stands alone: everything known about it is in the files named."""
    from ingest.setup_file import parse_setup

    bike, bike_text = common.read_bike_text(bike_path)
    if out.exists():
        raise UsageError(f"{out} is there already, and a log is never written over: choose another name")
    if out.suffix != ".parquet":
        raise UsageError(f"{out}: a log is a Parquet file, call it {out.with_suffix('.parquet').name}")
    text = common.read_text(Path(setup_path), "setup file") if setup_path is not None else None
    return Place(
        log_id=out.stem,
        log_path=out,
        capture_path=out.with_suffix(".capture"),
        bike=bike,
        bike_text=bike_text,
        setup=parse_setup(text, str(setup_path)) if text is not None else None,
        setup_text=text,
    )
