"""``flatfoot report``: the customer's report of a job, as one file to print or to send."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from dashboard.commands.prove import takes_tape, taped_seat_drop
from ingest.errors import CannotAnswer, UsageError

if TYPE_CHECKING:
    from dashboard.report_job import Reported

NAME = "report"
HELP = "the customer's report of a job: one file to print, to send, to sign"
EXAMPLE = """\
  flatfoot report --job 0001
  flatfoot report --job 0001 --units in --out mara.html --pdf mara.pdf
  flatfoot report --job 0001 --seat-drop-mm 41 --option 7 --force"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a job, where to write its report, and what may be said beside it."""
    parser.add_argument("--job", metavar="ID", required=True, help="a job of the book")
    parser.add_argument(
        "--out", metavar="FILE.html", type=Path, help="the file to write (default: report-ID.html, here)"
    )
    parser.add_argument("--pdf", metavar="FILE.pdf", type=Path, help="also a PDF, by an installed Chromium")
    parser.add_argument("--force", action="store_true", help="write over files that are there already")
    parser.add_argument("--before", metavar="SETUP", help="setup before the work (default: the first)")
    parser.add_argument("--after", metavar="SETUP", help="setup after the work (default: the last measured)")
    parser.add_argument(
        "--option", metavar="NAME", help="what was carried out: name or number in flatfoot plan"
    )
    takes_tape(parser)
    common.takes_book(parser)
    common.takes_output(parser)


def run(args: argparse.Namespace) -> int:
    """Write the report; with ``--json`` say what is in it, and write only the files that were named."""
    from dashboard.answers import Answers
    from dashboard.as_json import dumps
    from dashboard.report_file import file_name, report_html
    from dashboard.report_job import Asked, report_of_job
    from dashboard.report_pdf import NO_BROWSER, browser, write_pdf
    from dashboard.report_words import headline
    from ingest.durable import write_whole

    book, units = common.open_book(args), common.units(args)
    job = book.job(args.job)
    asked = Asked(
        before=args.before,
        after=args.after,
        option=args.option,
        taped_seat_drop_mm=taped_seat_drop(args),
    )
    out = args.out or (None if args.json else Path(file_name(job.id)))
    for path in (out, args.pdf):
        if path is not None:
            _free(path, force=args.force)
    reported = report_of_job(Answers(book), job, asked)
    text = report_html(reported, units)
    written = []
    if out is not None:
        write_whole(out, text.encode("utf-8"))
        written.append(out)
    found = None if args.pdf is None else browser()
    if found is not None:
        write_pdf(text, args.pdf, found)
        written.append(args.pdf)
    if args.json:
        print(dumps(_facts(reported, headline(reported, units), [str(path) for path in written])))
    else:
        common.print_lines([headline(reported, units)])
        for path in written:
            print(f"written: {path}")
    if args.pdf is not None and found is None:
        raise CannotAnswer(NO_BROWSER)
    return 0


def _free(path: Path, *, force: bool) -> None:
    """Insist that a file may be written there, before anything is worked out."""
    if path.is_dir():
        raise UsageError(f"{path} is a folder: name a file in it")
    if not path.parent.is_dir():
        raise UsageError(f"there is no folder {path.parent} to write {path.name} into: make it first")
    if path.exists() and not force:
        raise UsageError(f"{path} is there already: name another file, or write over it with --force")


def _facts(reported: Reported, said: str, written: list[str]) -> dict[str, object]:
    """Give what the report says, for other programs."""
    proved, done, comparison = reported.proved, reported.done, reported.comparison
    return {
        "job": reported.job.id,
        "rider": reported.job.rider.name,
        "headline": said,
        "wanted_lowering_mm": reported.job.wanted_lowering_mm,
        "seat_drop_mm": reported.seat_drop_mm,
        "short_of_wanted_mm": reported.short_of_wanted_mm,
        "uses_its_travel": None if comparison is None else comparison.answer.uses_its_travel,
        "before": {"setup": reported.before.name, "sag": reported.before.side.sag},
        "after": None
        if reported.after is None
        else {"setup": reported.after.name, "sag": reported.after.side.sag},
        "done": done,
        "metrics": [] if comparison is None else comparison.metrics,
        "not_compared": reported.not_compared,
        "proof": None if proved is None else proved.proof,
        "not_proved": reported.not_proved,
        "logs": [log.id for log in reported.logs],
        "amendments": reported.amendments,
        "written": written,
    }
