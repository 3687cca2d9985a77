"""Everything about a log except its rows, as texts: what stands in the file's own key-value metadata.

=====================  =================================================================================
key                    value (UTF-8)
=====================  =================================================================================
``flatfoot.log``       JSON: schema, software, id, kind, started, channels (with a CRC-32 of their rows),
                       segments (``start_s``, ``dt_s``, ``rows``), marks, gaps, link, ending, zeros, rider …
``flatfoot.bike``      the bike file in force, exactly
``flatfoot.setup``     the setup file in force, exactly; absent if there was none
``flatfoot.job``       the job file in force, exactly; absent if there was none
``flatfoot.crc32``     CRC-32 of the values above in this order, eight hexadecimal digits
=====================  =================================================================================
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from functools import lru_cache
from typing import Any

from ingest.bike_file import bike_text, parse_bike
from ingest.errors import FileProblem
from ingest.log import Channel, Ending, Gap, Kind, LinkStatistics, Log, Mark, Unit
from ingest.records import Bike, End, Rider, Setup
from ingest.run_notes import RunNotes, known
from ingest.setup_file import parse_setup, setup_text
from ingest.version import SOFTWARE

SCHEMA = 1
LOG_KEY, BIKE_KEY, SETUP_KEY, JOB_KEY, CRC_KEY = (
    f"flatfoot.{name}" for name in ("log", "bike", "setup", "job", "crc32")
)
_TEXT_KEYS = {"bike": BIKE_KEY, "setup": SETUP_KEY, "job": JOB_KEY}


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """One segment without its values: row ``i`` was taken at ``start_s + i * dt_s``."""

    start_s: float
    dt_s: float
    rows: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Header:
    """A log without rows, where its rows belong, and the CRC-32 of each channel's rows."""

    log: Log
    spans: tuple[Span, ...]
    row_crcs: tuple[int, ...]


def header_texts(log: Log, row_crcs: Sequence[int]) -> dict[str, str]:
    """Put all of a log but its rows into the texts of the file's metadata.

    Where the log was not made from files, its bike and setup are written out as files.
    """
    about = {
        "schema": SCHEMA,
        "software": SOFTWARE,
        "id": log.id,
        "kind": str(log.kind),
        "started": log.started,
        "channels": [
            {**asdict(channel), "crc32": crc} for channel, crc in zip(log.channels, row_crcs, strict=True)
        ],
        "segments": [{"start_s": s.start_s, "dt_s": s.dt_s, "rows": s.rows} for s in log.segments],
        "marks": [asdict(mark) for mark in log.marks],
        "gaps": [asdict(gap) for gap in log.gaps],
        "link": asdict(log.link),
        "ending": asdict(log.ending),
        "rider": None if log.rider is None else asdict(log.rider),
        "job": log.job,
        "load_case": log.load_case,
        "notes": log.notes,
        "run": known(log.run),
        "zeros": {str(end): count for end, count in log.zeros.items()},
    }
    texts = {
        LOG_KEY: json.dumps(about, ensure_ascii=False, allow_nan=False),
        BIKE_KEY: log.texts.get("bike") or bike_text(log.bike),
    }
    if log.setup is not None:
        texts[SETUP_KEY] = log.texts.get("setup") or setup_text(log.setup)
    if "job" in log.texts:
        texts[JOB_KEY] = log.texts["job"]
    return {**texts, CRC_KEY: _check(texts)}


def read_header_texts(texts: Mapping[str, str], source: str) -> Header:
    """Give the log that these texts describe; `FileProblem` naming ``source`` if they cannot be trusted."""
    if LOG_KEY not in texts:
        raise FileProblem(f"{source} is a Parquet file, but not a log of flatfoot")
    ours = {key: texts[key] for key in (LOG_KEY, *_TEXT_KEYS.values()) if key in texts}
    damaged = f"{source} is damaged, its header does not agree with its own check: use a copy from a backup"
    try:
        about = json.loads(texts[LOG_KEY])
        schema = int(about["schema"])
    except (ValueError, KeyError, TypeError) as error:
        raise FileProblem(damaged) from error
    if schema > SCHEMA:
        raise FileProblem(
            f"{source} was written by a newer flatfoot (schema {schema}, this one reads up to {SCHEMA}): "
            "update flatfoot"
        )
    if texts.get(CRC_KEY) != _check(ours):
        raise FileProblem(damaged)
    return _header(about, {name: ours[key] for name, key in _TEXT_KEYS.items() if key in ours})


def _header(about: Mapping[str, Any], texts: Mapping[str, str]) -> Header:
    spans = tuple(Span(**span) for span in about["segments"])
    log = Log(
        id=about["id"],
        kind=Kind(about["kind"]),
        started=about["started"],
        bike=_bike(texts["bike"]),
        channels=tuple(_channel(channel) for channel in about["channels"]),
        segments=(),
        marks=tuple(Mark(**mark) for mark in about["marks"]),
        gaps=tuple(Gap(**gap) for gap in about["gaps"]),
        link=LinkStatistics(**about["link"]),
        ending=Ending(**about["ending"]),
        setup=_setup(texts["setup"]) if "setup" in texts else None,
        rider=Rider(**about["rider"]) if about["rider"] else None,
        job=about["job"],
        load_case=about["load_case"],
        notes=about["notes"],
        run=_run(about),
        zeros={End(end): count for end, count in about["zeros"].items()},
        texts=texts,
        schema=about["schema"],
        header_duration_s=_duration_s(spans),
    )
    return Header(log=log, spans=spans, row_crcs=tuple(c["crc32"] for c in about["channels"]))


def _channel(about: Mapping[str, Any]) -> Channel:
    known = {field.name: about[field.name] for field in fields(Channel)}
    return Channel(**{**known, "unit": Unit(about["unit"])})


def _run(about: Mapping[str, Any]) -> RunNotes:
    """Notes of the run; a log from before there were any has none."""
    said = about.get("run", {})
    return RunNotes(**{field.name: said.get(field.name) for field in fields(RunNotes)})


def _duration_s(spans: Sequence[Span]) -> float:
    if not spans:
        return 0.0
    return spans[-1].start_s + spans[-1].rows * spans[-1].dt_s - spans[0].start_s


def _check(texts: Mapping[str, str]) -> str:
    crc = 0
    for key in (LOG_KEY, BIKE_KEY, SETUP_KEY, JOB_KEY):
        crc = zlib.crc32(texts.get(key, "").encode(), crc)
    return f"{crc:08x}"


# A shop's logs share a handful of texts; reading them once keeps a list of a thousand headers quick.
@lru_cache(maxsize=64)
def _bike(text: str) -> Bike:
    return parse_bike(text, "the bike file kept in the log")


@lru_cache(maxsize=64)
def _setup(text: str) -> Setup:
    return parse_setup(text, "the setup file kept in the log")
