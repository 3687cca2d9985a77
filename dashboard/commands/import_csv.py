"""``flatfoot import``: a CSV file of another logger becomes a log."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from dashboard.commands import common
from ingest.errors import UsageError

NAME = "import"
HELP = "turn a CSV file of another logger into a log"
EXAMPLE = """\
  flatfoot import ride.csv --bike tall_twin.toml --kind ride --out ride.parquet
  flatfoot import ride.csv --job 0001 --setup stock --kind ride --warm yes
the file: a header line, then one row a sample
  t_us,ch0,ch1,mark        board clock in µs and raw counts
  time_s,front_mm,rear_mm  seconds and wheel travel in mm
a mark is text in the row where it was set, quoted where it holds a comma:
  "topped out", "unladen, from above", "unladen, from below",
  "rider, from above", "rider, from below"; let down is from above, pushed
  down and let up is from below"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a CSV file, and either a bike file and a log file or a place in the book."""
    parser.add_argument("csv", metavar="FILE.csv", type=Path, help="the file to import")
    parser.add_argument("--kind", choices=("sag", "ride"), required=True, help="what was recorded")
    parser.add_argument("--bike", metavar="BIKE.toml", type=Path, help="the bike file")
    parser.add_argument("--out", metavar="LOG.parquet", type=Path, help="the log file to write")
    parser.add_argument("--job", metavar="ID", help="the job of the book it belongs to")
    parser.add_argument("--setup", metavar="NAME", help="the setup of that job, or a setup file")
    parser.add_argument("--load-case", metavar="TEXT", help="what was aboard: rider, luggage, fuel")
    common.takes_run_notes(parser)
    common.takes_book(parser)


def run(args: argparse.Namespace) -> int:
    """Import, and say what came in."""
    from dashboard import log_words
    from dashboard.commands.place import place_for
    from dashboard.commands.record import job_zeros
    from ingest.csv_import import read_csv_log
    from ingest.empty_cells import empty_cell_lines
    from ingest.log import Kind, Unit
    from ingest.log_file import write_log

    if not args.csv.is_file():
        raise UsageError(f"there is no file {args.csv}")
    said = common.run_notes(args)
    place = place_for(args)
    log = read_csv_log(args.csv, place.bike, Kind(args.kind), place.bike_text)
    log = replace(
        log,
        id=place.log_id,
        setup=place.setup,
        rider=place.rider,
        load_case=args.load_case,
        run=said,
        job=place.job_id,
        texts=place.texts(),
    )
    if any(channel.unit is Unit.COUNT for channel in log.channels):
        log = replace(log, zeros=job_zeros(place, args.kind))
    write_log(log, place.log_path)
    print(f"{log_words.log_line(log)}: {log.rows} samples, {len(log.marks)} marks")
    common.print_lines(f"mind: {text}" for text in (*log_words.log_cautions(log), *empty_cell_lines(log)))
    print(f"written to {place.log_path}")
    return 0
