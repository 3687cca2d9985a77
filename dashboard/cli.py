"""The command line: one verb a file in `dashboard.commands`, joined here.

Exit status 0 = done, 1 = the data cannot support the answer (and why), 2 = wrong use or an unreadable
file. Whatever goes wrong is one line that starts with ``flatfoot:``; a traceback goes to a file, never to
a user.

Only light modules are imported here: recording starts at once, and a verb fetches what it needs when it runs.
"""

from __future__ import annotations

import argparse
import errno
import os
import sys
import tempfile
import textwrap
import traceback
from collections.abc import Sequence
from typing import NoReturn

from dashboard.commands import VERBS
from ingest.errors import FlatfootError, UsageError
from ingest.version import VERSION

NO_ROOM = (errno.ENOSPC, errno.EDQUOT)
INTERRUPTED = 130  # what shells call a program ended by Ctrl-C: 128 + SIGINT

INTRODUCTION = """\
Measure sag and suspension travel of a motorcycle with potentiometers, and
prove what lowering changed.

The order of the work: sag first, then how much, then by which means, then
prove it with a ride before and a ride after. `flatfoot demo` shows the whole
job on an invented bike.
"""

CLOSING = """\
example:
  flatfoot record --port /dev/ttyUSB0 --job 0001 --setup stock --kind sag
  flatfoot sag 2026-05-04-0930-sag-1
`flatfoot VERB --help` shows an example of each verb.
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one verb and give its exit status; nothing but Ctrl-C of the interpreter itself gets past it."""
    _speak_utf8()
    try:
        args = build_parser().parse_args(argv)
        status: int = args.run(args)
        if sys.stdout is not None:  # a caller may have closed it: then nobody wants to read the answer
            sys.stdout.flush()
        return status
    except SystemExit as done:  # argparse leaves this way after --help and --version
        return done.code if isinstance(done.code, int) else 0
    except FlatfootError as problem:
        _complain(str(problem))
        return problem.exit_status
    except BrokenPipeError:
        _forget_stdout()
        return 0
    except KeyboardInterrupt:
        _complain("interrupted; nothing that was recorded is lost")
        return INTERRUPTED
    except Exception as problem:
        full = isinstance(problem, OSError) and problem.errno in NO_ROOM
        _complain("no room left to write the answer: free some space" if full else _unexpected(problem))
        return 2


def build_parser() -> argparse.ArgumentParser:
    """Build the parser with all verbs."""
    parser = Parser(
        prog="flatfoot",
        description=INTRODUCTION,
        epilog=CLOSING,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"flatfoot {VERSION}")
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", dest="verb", required=True, prog="flatfoot")
    for verb in VERBS:
        one = verbs.add_parser(
            verb.NAME,
            help=verb.HELP,
            description=textwrap.fill(verb.HELP, 79),
            epilog="example:\n" + verb.EXAMPLE,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        verb.arguments(one)
        one.set_defaults(run=verb.run)
    return parser


class Parser(argparse.ArgumentParser):
    """Complains in one line, as everything here does."""

    def error(self, message: str) -> NoReturn:
        """Say what was wrong with the words after ``flatfoot``, and where to read on."""
        raise UsageError(f"{message}; see {self.prog} --help")


def _complain(message: str) -> None:
    line = " ".join(message.split())
    print(f"flatfoot: {line}", file=sys.stderr)


def _unexpected(problem: Exception) -> str:
    """Keep the details of what should not have happened, and say where."""
    said = f"{type(problem).__name__}: {problem}" if str(problem) else type(problem).__name__
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="flatfoot-trouble-", suffix=".txt", delete=False, encoding="utf-8"
        ) as notes:
            traceback.print_exception(problem, file=notes)
    except OSError:
        return f"this should not have happened ({said})"
    return f"this should not have happened ({said}); the details are in {notes.name}"


def _speak_utf8() -> None:
    """Write ± and − whatever the system's own encoding is."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="replace")


def _forget_stdout() -> None:
    """Stop Python from complaining at exit that nobody reads its output any more."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        return
