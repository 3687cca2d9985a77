"""Many rides at once: progress on stderr, one line or row each, a bad log never stops the others."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from dashboard.commands import common
from ingest.errors import FileProblem, FlatfootError, StorageError, UsageError

if TYPE_CHECKING:
    from analysis.ride_results import RideSummary
    from ingest.log import Log


def run_many(args: argparse.Namespace) -> int:
    """Summarise every log named; give 0, or the worst of 1 (cannot be answered) and 2 (cannot be read).

    Ctrl-C keeps what was done: rows are written as they come, the list in JSON is closed.
    """
    from analysis.ride import summarise_ride
    from dashboard.commands.ride import rider_sag

    if args.json and args.csv == "-":
        raise UsageError("--json and --csv - both want the terminal: give --csv a file")
    names = named_logs(args.log)
    with _csv_out(args.csv) as out:
        answers = _Answers(args, out)
        status = 0
        try:
            for count, name in enumerate(names, 1):
                progress = f"[{count:>{len(str(len(names)))}}/{len(names)}] {_label(name)}"
                try:
                    log = common.load_log(args, name)
                    if _is_sag(log):
                        _say(f"{progress}: a sag check, left out", whole=True)
                        continue
                    answers.add(name, log, summarise_ride(log, rider_sag(args, name, log)))
                    _say(progress)
                except FlatfootError as problem:
                    _say(f"{progress}: {' '.join(str(problem).split())}", whole=True)
                    status = max(status, problem.exit_status)
        finally:
            answers.close()
    return status


def named_logs(given: Sequence[str]) -> list[str]:
    """Put the log files of a folder in its place, in the order of their names."""
    names: list[str] = []
    for name in given:
        folder = Path(name)
        if not folder.is_dir():
            names.append(name)
            continue
        found = sorted(str(file) for file in folder.glob("*.parquet") if not file.name.startswith("."))
        if not found:
            raise FileProblem(f"the folder {name} holds no log (*.parquet): name the folder the logs are in")
        names += found
    return names


def _is_sag(log: Log) -> bool:
    from ingest.log import Kind

    return log.kind is Kind.SAG


def _say(line: str, *, whole: bool = False) -> None:
    """Say on stderr how far it is; a reason is never cut, a name may be."""
    short = line if whole or len(line) <= common.WIDTH else f"{line[: common.WIDTH - 1]}…"
    print(short, file=sys.stderr, flush=True)


@contextmanager
def _csv_out(name: str | None) -> Iterator[TextIO | None]:
    if name is None:
        yield None
        return
    if name == "-":
        reconfigure = getattr(sys.stdout, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(newline="")  # the line ends of RFC 4180, on every system
        yield sys.stdout
        return
    with ExitStack() as opened:
        try:
            out = opened.enter_context(Path(name).open("x", encoding="utf-8", newline=""))
        except FileExistsError:
            raise UsageError(f"{name} exists already: remove it, or name another file") from None
        except OSError as problem:
            raise StorageError(f"{name} cannot be written: {problem.strerror}") from None
        yield out


class _Answers:
    """Where the answers go: rows of CSV, a list in JSON, or lines on the terminal."""

    def __init__(self, args: argparse.Namespace, out: TextIO | None) -> None:
        from dashboard.ride_csv import RideTable

        self._table = None if out is None else RideTable(out)
        self._json: list[object] | None = [] if args.json else None
        self._lines = not args.json and args.csv != "-"
        self._units = common.units(args)
        self._begun = False

    def add(self, name: str, log: Log, ride: RideSummary) -> None:
        """Take the answer of one log."""
        from dashboard.as_json import to_fields
        from dashboard.ride_list_words import list_head, list_line

        label = _label(name)
        if self._table is not None:
            self._table.add(label, log, ride)
        if self._json is not None:
            self._json.append({"log": label, **to_fields(ride)})
        if self._lines:
            if not self._begun:
                print(list_head(self._units))
                self._begun = True
            print(list_line(label, ride, self._units), flush=True)

    def close(self) -> None:
        """Write what had to wait for the last one."""
        from dashboard.as_json import dumps

        if self._json is not None:
            print(dumps(self._json))


def _label(name: str) -> str:
    """Call a log by the name of its file, which in a book is its id."""
    return Path(name).stem if name.endswith(".parquet") else name
