"""Changing one thing in a job file people wrote: their comments and order stay."""

from __future__ import annotations

import tomlkit
from tomlkit.items import Table

from ingest.errors import UsageError
from ingest.job_file import kept_values, parse_job_file
from ingest.records import KeptPlan
from ingest.toml_writer import plain_table


def with_wanted(
    text: str,
    total_mm: float | None,
    *,
    boards: float | None = None,
    board_mm: float | None = None,
    source: str = "job file",
) -> str:
    """Give the text of a job file with the wanted lowering: ``boards`` of ``board_mm``, or one total.

    `UsageError` where it is neither, or `FileProblem` where a number is out of range.
    """
    parse_job_file(text, source)  # what is wrong with it is said before it is changed
    document, job = _opened(text)
    values = {"boards": boards, "board_mm": board_mm}
    if boards is None or board_mm is None:
        values = {"wanted_lowering_mm": total_mm}
        if total_mm is None or boards is not None or board_mm is not None:
            raise UsageError("boards: how many and how thick go together, or give the height of the stack")
    for key in ("wanted_lowering_mm", "boards", "board_mm"):
        if key in job and key not in values:
            del job[key]
    for key, value in values.items():
        assert value is not None
        job[key] = int(value) if float(value).is_integer() else value
    return _checked(document, source)


def with_kept_plan(text: str, kept: KeptPlan, source: str = "job file") -> str:
    """Give the text of a job file with the plan that was agreed on; it takes the place of an earlier one."""
    parse_job_file(text, source)
    document, _ = _opened(text)
    document["plan"] = plain_table(kept_values(kept))
    return _checked(document, source)


def _opened(text: str) -> tuple[tomlkit.TOMLDocument, Table]:
    document = tomlkit.parse(text.removeprefix("\ufeff"))
    job = document["job"]
    assert isinstance(job, Table)
    return document, job


def _checked(document: tomlkit.TOMLDocument, source: str) -> str:
    text = tomlkit.dumps(document)
    parse_job_file(text, source)  # what could not be read back is never written
    return text
