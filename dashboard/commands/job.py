"""``flatfoot job``: open a job, add a setup to it, list what the book holds."""

from __future__ import annotations

import argparse
from pathlib import Path

from dashboard.commands import common

NAME = "job"
HELP = "open a job in the book, add a setup to it, list the jobs"
EXAMPLE = """\
  flatfoot job new --bike twin.toml --rider "Mara L." --rider-kg 58
  flatfoot job setup 0001 lowered.toml
  flatfoot job list"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take one of three things to do."""
    what = parser.add_subparsers(metavar="new|setup|list", dest="what", required=True)

    new = what.add_parser("new", help="open a job", description="Open a job: one rider, one bike.")
    new.add_argument("--bike", metavar="BIKE.toml", type=Path, required=True, help="the bike file")
    new.add_argument("--rider", metavar="NAME", required=True, help="who sits on it")
    new.add_argument("--rider-kg", metavar="KG", type=float, help="the rider's mass in riding gear")
    new.add_argument("--lower-mm", metavar="MM", type=float, help="lowering wanted at the seat")
    new.add_argument("--shop", metavar="NAME", default="Workshop", help="the shop's name, for a new book")
    common.takes_book(new)

    setup = what.add_parser("setup", help="add a setup file to a job", description="Add a setup to a job.")
    setup.add_argument("job", metavar="JOB", help="the job's id")
    setup.add_argument("file", metavar="SETUP.toml", type=Path, help="the setup file")
    common.takes_book(setup)

    jobs = what.add_parser("list", help="list the jobs", description="List jobs, setups and logs.")
    jobs.add_argument("--json", action="store_true", help="answer in JSON, for other programs")
    common.takes_book(jobs)


def run(args: argparse.Namespace) -> int:
    """Do the one thing asked for."""
    return {"new": _new, "setup": _setup, "list": _list}[args.what](args)


def _new(args: argparse.Namespace) -> int:
    from ingest.book import Book
    from ingest.records import Rider, Setup

    bike, text = common.read_bike_text(args.bike)
    folder = common.book_folder(args)
    if folder.is_dir() and any(folder.iterdir()):
        book = Book.open(folder)
    else:
        book = Book.create(folder, args.shop)
        print(f"started a new book at {folder}")
    rider = Rider(name=args.rider, mass_kg=args.rider_kg)
    replaced = any(one.identity == bike.identity and one != bike for one in book.bikes())
    job = book.new_job(bike, rider, args.lower_mm, bike_file=text)
    if replaced:
        print(
            f"{bike.name} was in the book with other figures: {args.bike} counts now, the former file is kept"
        )
    book.save_setup(job.id, Setup(name="stock"))
    print(f"job {job.id}: {job.bike.name} for {args.rider}, with the setup stock")
    print(f"next: flatfoot record --port PORT --job {job.id} --setup stock --kind sag")
    return 0


def _setup(args: argparse.Namespace) -> int:
    from ingest.setup_file import parse_setup

    setup = parse_setup(common.read_text(args.file, "setup file"), str(args.file))
    common.open_book(args).save_setup(args.job, setup)
    print(f"job {args.job} has the setup {setup.name}")
    return 0


def _list(args: argparse.Namespace) -> int:
    from dashboard import log_words
    from dashboard.as_json import dumps

    book = common.open_book(args)
    jobs = book.jobs()
    if args.json:
        print(dumps(jobs))
        return 0
    if not jobs:
        print("no job yet: `flatfoot job new` opens one")
    for job in jobs:
        print(log_words.job_line(job))
        for log in book.logs(job.id):
            print(f"  {log_words.log_line(log)}")
    common.print_section("cannot be read", book.problems())
    return 0
