"""The log file as the rest of flatfoot uses it: written once, read with its amendments applied.

`ingest.parquet_log` holds the file itself, `ingest.amendments` what is kept beside it.
"""

from __future__ import annotations

from pathlib import Path

from ingest.amendments import amend, amended
from ingest.log import Log
from ingest.parquet_log import read_unamended, write_log

__all__ = ["amend", "read_header", "read_log", "write_log"]


def read_log(path: Path) -> Log:
    """Read a log with its amendments applied and named in ``Log.amendments``.

    Raises `FileProblem` for a log or an amendments file that is missing, cut off, damaged or too new.
    """
    return amended(read_unamended(path, with_rows=True), path)


def read_header(path: Path) -> Log:
    """Read all of a log but its rows, which is quick; ``duration_s`` is right, there are no segments."""
    return amended(read_unamended(path, with_rows=False), path)
