"""From a capture folder to the finished log file. The same way for a run that was stopped and one cut off."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from ingest.bike_file import parse_bike
from ingest.capture import LOCK_FILE, SEALED_SUFFIX, Capture, read_capture
from ingest.decode import Break, Decoded, Dialect, decode, guess_dialect
from ingest.durable import locked, sync_folder
from ingest.errors import FileProblem, StorageError
from ingest.job_file import parse_job_file
from ingest.log import Channel, Ending, Log, Mark
from ingest.log_file import read_header, write_log
from ingest.setup_file import parse_setup

# What is read at once came within a tenth of a second: over this span that is a third of a percent.
CLOCK_SPAN_S = 30.0


def seal(capture: Path, out: Path) -> Path:
    """Turn a capture folder into the log file ``out``, and drop the capture once that is safely written.

    Raises `FileProblem` if nothing readable was recorded or ``out`` is another log, `StorageError` if the
    disk is full or the recording still runs. The capture stays untouched then.
    """
    if not capture.is_dir():
        raise FileProblem(f"there is no recording {capture}")
    with locked(capture / LOCK_FILE, f"{capture} is still being recorded: stop that recording first"):
        log = salvage(capture)
        if not _is_already_there(log, out):
            write_log(log, out)
    _drop(capture)
    return out


def salvage(capture: Path) -> Log:
    """Read all that can be read from a capture folder, however the recording ended.

    Raises `FileProblem` if it is not a capture or holds no sample.
    """
    contents = read_capture(capture)
    decoded = _decode(contents)
    if not decoded.segments:
        raise FileProblem(
            f"{capture} holds {len(contents.data)} bytes, but no readable sample: delete the folder"
        )
    notes = contents.notes
    job = None if notes.job_text is None else parse_job_file(notes.job_text, "the job file kept at the start")
    return Log(
        id=notes.log_id,
        kind=notes.kind,
        started=notes.started,
        bike=parse_bike(notes.bike_text, "the bike file kept at the start"),
        channels=_channels(decoded),
        segments=decoded.segments,
        marks=_marks(contents, decoded),
        gaps=decoded.gaps,
        link=replace(decoded.link, clock_ratio=_clock_ratio(contents, decoded)),
        ending=_ending(contents),
        setup=None
        if notes.setup_text is None
        else parse_setup(notes.setup_text, "the setup file kept at the start"),
        rider=None if job is None else job.rider,
        job=None if job is None else job.id,
        load_case=notes.load_case,
        notes=notes.notes,
        run=notes.run,
        zeros=dict(notes.zeros),
        texts=_texts(contents),
    )


def _decode(contents: Capture) -> Decoded:
    dialect = next((Dialect(str(e["dialect"])) for e in _noted(contents, "dialect")), None)
    dialect = dialect or guess_dialect(contents.data)
    if dialect is None:
        raise FileProblem(
            f"{contents.folder} holds {len(contents.data)} bytes that make no sense: delete the folder"
        )
    breaks = [
        Break(offset=_offset(entry, contents), reason=entry["reason"], host_gap_s=entry["host_gap_s"])
        for entry in _noted(contents, "break")
    ]
    return decode(contents.data, dialect, breaks)


def _noted(contents: Capture, what: str) -> list[Mapping[str, Any]]:
    return [entry for entry in contents.entries if entry["what"] == what]


def _offset(entry: Mapping[str, Any], contents: Capture) -> int:
    """Where in the bytes it happened; after a power cut the journal may know more than the bytes."""
    return min(int(entry["offset"]), len(contents.data))


def _channels(decoded: Decoded) -> tuple[Channel, ...]:
    about = decoded.description
    skew_us = about.skew_us if about is not None and about.skew_us else (0,) * decoded.channels
    return tuple(
        Channel(name=f"ch{index}", skew_s=skew * 1e-6, bits=about.bits if about is not None else None)
        for index, skew in enumerate(skew_us)
    )


def _marks(contents: Capture, decoded: Decoded) -> tuple[Mark, ...]:
    said = [
        Mark(t_s=decoded.time_at(_offset(entry, contents)), text=entry["text"])
        for entry in _noted(contents, "mark")
    ]
    return tuple(sorted([*said, *decoded.button_marks], key=lambda mark: mark.t_s))


def _clock_ratio(contents: Capture, decoded: Decoded) -> float | None:
    """Compare the two clocks since the last break: the slope through what the journal noted of both."""
    since = max((_offset(entry, contents) for entry in _noted(contents, "break")), default=-1)
    noted = [
        (float(entry["host_s"]), decoded.time_at(_offset(entry, contents)))
        for entry in _noted(contents, "clock")
        if _offset(entry, contents) > since
    ]
    if len(noted) < 2 or noted[-1][0] - noted[0][0] < CLOCK_SPAN_S:
        return None
    host_s, board_s = np.array(noted).T
    return float(np.polyfit(host_s - host_s[0], board_s, 1)[0])


def _ending(contents: Capture) -> Ending:
    ends = _noted(contents, "end")
    if ends:
        reason, status = str(ends[-1]["reason"]), "complete"
    else:
        reason, status = "the recording was not stopped: program killed, power lost or disk full", "cut off"
    if contents.damaged_lines:
        lines = "line" if contents.damaged_lines == 1 else "lines"
        reason += f"; {contents.damaged_lines} damaged {lines} of the journal left out"
    return Ending(status=status, reason=reason)


def _texts(contents: Capture) -> Mapping[str, str]:
    notes = contents.notes
    texts = {"bike": notes.bike_text, "setup": notes.setup_text, "job": notes.job_text}
    return {name: text for name, text in texts.items() if text is not None}


def _is_already_there(log: Log, out: Path) -> bool:
    """Whether an earlier sealing got as far as the file and was stopped before it dropped the capture."""
    if not out.exists():
        return False
    there = read_header(out)
    if there.id != log.id:
        raise FileProblem(f"{out} exists already and is another log ({there.id}): choose another name")
    return True


def _drop(capture: Path) -> None:
    """Take the capture away in one step, so that a half-deleted one is never taken for a recording."""
    dropped = capture.with_name(capture.name + SEALED_SUFFIX)
    try:
        capture.replace(dropped)
        sync_folder(dropped.parent)
        shutil.rmtree(dropped)
    except FileNotFoundError:
        return  # somebody else sealed it too, and was quicker
    except OSError as error:
        raise StorageError(
            f"the log is written, but {capture} cannot be removed ({error.strerror or error}): "
            "delete it by hand"
        ) from error
