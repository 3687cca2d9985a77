"""Corrections beside a log: append-only, each line with its own check, applied whenever the log is read.

They live in ``NAME.amendments.jsonl`` beside ``NAME.parquet``, in checked lines (`ingest.checked_lines`).
What an `Amendment` changes and what its content holds:

===============  ====================================================================================
``zero``         topped-out readings in counts, ``{"front": 112.5}``
``calibration``  reference points of a sensor, ``{"rear": [[88, 0], [902, 92]]}``: counts, mm
``mark``         ``{"do": "add", "t_s": 12.5, "text": "rider"}``, or the same with ``"remove"`` for a
                 mark that is there, or with ``"move"`` and ``"to_s"``
``note``         ``{"text": "tyre pressure was low"}``, added to the notes
``run``          what was said of the run, ``{"route": "forest loop", "front_tyre_kpa": 220}``; ``null``
                 takes it back
===============  ====================================================================================
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import Any

from ingest.checked_lines import CheckedLines, decode_lines, encode_line
from ingest.durable import sync_folder, try_lock
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.log import Amendment, Log, Mark
from ingest.parquet_log import read_unamended
from ingest.records import End
from ingest.run_notes import corrected

TORN = Amendment(
    made="",
    by=None,
    what="note",
    content={"text": "the last amendment was cut off while it was written and does not count"},
)


def amendments_path(log_path: Path) -> Path:
    """Give the place where the amendments of a log are kept."""
    return log_path.with_suffix(".amendments.jsonl")


def amend(path: Path, amendment: Amendment) -> None:
    """Add one amendment to the log at ``path``; it is on the disk when this returns.

    Raises `UsageError` if it does not fit the log, `StorageError` if it cannot be written.
    """
    log = read_unamended(path, with_rows=False)
    beside = amendments_path(path)
    try:
        with beside.open("ab") as file:
            if not try_lock(file):
                raise StorageError(f"{beside} is being written by another program: try again")
            lines = decode_lines(beside.read_bytes())
            apply(apply(log, _read(lines, log.id, beside)), [amendment])
            # A line cut off by a crash was never promised to anybody; the next one must not be glued to it.
            file.truncate(lines.whole_bytes)
            file.write(_line(amendment, log.id))
            file.flush()
            os.fsync(file.fileno())
        sync_folder(beside.parent)
    except StorageError:
        raise
    except OSError as error:
        raise StorageError(f"cannot write {beside}: {error.strerror or error}") from error


def _line(amendment: Amendment, log_id: str) -> bytes:
    return encode_line(
        {
            "log": log_id,
            "made": amendment.made,
            "by": amendment.by,
            "what": amendment.what,
            "content": dict(amendment.content),
        }
    )


def amended(log: Log, path: Path) -> Log:
    """Apply and name what was amended to the log read from ``path``.

    A torn last line does not count and is reported as a note; a damaged line before it is a `FileProblem`.
    """
    beside = amendments_path(path)
    try:
        lines = decode_lines(beside.read_bytes())
    except FileNotFoundError:
        return log
    except OSError as error:
        raise FileProblem(f"cannot read {beside}: {error.strerror or error}") from error
    try:
        return apply(log, [*_read(lines, log.id, beside), *([TORN] if lines.torn else [])])
    except UsageError as error:
        raise FileProblem(f"{beside} does not fit its log: {error}") from error


def apply(log: Log, amendments: Sequence[Amendment]) -> Log:
    """Give the log with these amendments applied in order; `UsageError` for one that does not fit."""
    for amendment in amendments:
        if amendment.what not in _APPLY:
            raise UsageError(f"unknown amendment {amendment.what!r}: allowed are {', '.join(_APPLY)}")
        try:
            log = _APPLY[amendment.what](log, amendment.content)
        except (KeyError, TypeError, AttributeError) as error:
            raise UsageError(
                f"amendment {amendment.what!r} does not say what it should: {dict(amendment.content)}"
            ) from error
        log = replace(log, amendments=(*log.amendments, amendment))
    return log


def _read(lines: CheckedLines, log_id: str, source: Path) -> list[Amendment]:
    if lines.damaged:
        raise FileProblem(f"line {lines.damaged[0]} of {source} is damaged: use a copy from a backup")
    amendments = []
    for number, entry in enumerate(lines.entries, start=1):
        known: dict[str, Any] = dict(entry)
        if known.pop("log", None) != log_id:
            raise FileProblem(f"line {number} of {source} belongs to another log than {log_id}")
        try:
            amendments.append(Amendment(**known))
        except TypeError as error:
            raise FileProblem(f"line {number} of {source} is not an amendment: update flatfoot") from error
    return amendments


def _zero(log: Log, content: Mapping[str, Any]) -> Log:
    return replace(log, zeros={**log.zeros, **{_end(end): _number(n) for end, n in content.items()}})


def _calibration(log: Log, content: Mapping[str, Any]) -> Log:
    """New points for a sensor. A setup's own points would outrank the bike's, so they give way."""
    sensors, setup = dict(log.bike.sensors), log.setup
    for name, pairs in content.items():
        end = _end(name)
        if end not in sensors:
            raise UsageError(f"the {end} of this log has no sensor to calibrate")
        points = tuple((_number(counts), _number(mm)) for counts, mm in _pairs(pairs))
        for column, what in enumerate(("counts", "mm")):
            if len({point[column] for point in points}) == 1:
                raise UsageError(
                    f"all points of the {end} calibration have the same {what} ({points[0][column]:g}): "
                    "take them at two positions or more"
                )
        sensors[end] = replace(sensors[end], calibration=points, curve=None)
        if setup is not None:
            bare = replace(setup.end(end), sensor_calibration=None)
            setup = replace(setup, front=bare) if end is End.FRONT else replace(setup, rear=bare)
    return replace(log, bike=replace(log.bike, sensors=sensors), setup=setup)


def _mark(log: Log, content: Mapping[str, Any]) -> Log:
    mark = Mark(t_s=_number(content["t_s"]), text=str(content["text"]))
    do = content["do"]
    if do == "add":
        return replace(log, marks=_in_order([*log.marks, mark]))
    if do not in ("remove", "move"):
        raise UsageError(f"unknown change of a mark {do!r}: allowed are add, remove, move")
    if mark not in log.marks:
        raise UsageError(f"there is no mark {mark.text!r} at {mark.t_s} s in this log")
    others = list(log.marks)
    others.remove(mark)
    if do == "move":
        others.append(replace(mark, t_s=_number(content["to_s"])))
    return replace(log, marks=_in_order(others))


def _note(log: Log, content: Mapping[str, Any]) -> Log:
    text = str(content["text"])
    return replace(log, notes=text if log.notes is None else f"{log.notes}\n{text}")


def _run(log: Log, content: Mapping[str, Any]) -> Log:
    return replace(log, run=corrected(log.run, content))


_APPLY: Mapping[str, Callable[[Log, Mapping[str, Any]], Log]] = {
    "zero": _zero,
    "calibration": _calibration,
    "mark": _mark,
    "note": _note,
    "run": _run,
}


def _in_order(marks: Sequence[Mark]) -> tuple[Mark, ...]:
    return tuple(sorted(marks, key=lambda mark: mark.t_s))


def _end(name: str) -> End:
    if name not in (End.FRONT, End.REAR):
        raise UsageError(f"unknown end {name!r}: allowed are front and rear")
    return End(name)


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise UsageError(f"{value!r} is not a number")
    return float(value)


def _pairs(value: Any) -> list[tuple[object, object]]:
    if len(value) < 2 or any(len(pair) != 2 for pair in value):
        raise UsageError(f"a calibration needs two points or more, each [counts, mm], not {value!r}")
    return [(counts, mm) for counts, mm in value]
