"""One log as one Parquet file, written whole or not at all, without its amendments.

Columns: ``t_us`` (int64, microseconds since the first sample, rounded, for other programs), ``segment``
(int32, counted from 0), then one column a channel as `Channel.name` says, in the type it came in. The exact
times are the segments of the header; `ingest.log_header` says what stands in the key-value metadata.

Consecutive counts differ little, so DELTA_BINARY_PACKED packs them three times smaller than a dictionary
does, and the times to nearly nothing: one hour of two channels at 1 kHz is about 3 MB.
"""

from __future__ import annotations

import errno
import os
import zlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.durable import sync_folder
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.log import Log, Segment
from ingest.log_header import Header, Span, header_texts, read_header_texts

MAGIC = b"PAR1"
Values = npt.NDArray[np.generic]


def write_log(log: Log, path: Path) -> None:
    """Write a log: beside its place, synced, read back and compared, then moved into place.

    Raises `StorageError` when the disk is full or does not give back what it was given; ``path`` is then as
    it was before. Raises `UsageError` for a log with amendments: they live beside the file.
    """
    if log.amendments:
        raise UsageError(f"log {log.id} has amendments: write the log as it was recorded, then amend it")
    columns = _columns(log)
    texts = header_texts(log, [_crc(column) for column in columns])
    beside = path.with_name(f".{path.name}.part")
    try:
        _write_table(_table(log, columns, texts), beside)
        _compare(beside, texts, columns)
        beside.replace(path)
        sync_folder(path.parent)
    except (OSError, pa.ArrowException) as error:
        beside.unlink(missing_ok=True)
        if isinstance(error, StorageError):
            raise
        full = getattr(error, "errno", None) in (errno.ENOSPC, errno.EFBIG)
        hint = "free some space, then try again" if full else "is the folder there, may it be written?"
        raise StorageError(f"cannot write {path} ({_plain(error)}): {hint}") from error


def _columns(log: Log) -> list[Values]:
    """One array per channel, all segments end to end, in the type they came in."""
    if not log.segments:
        return [np.empty(0, np.uint16) for _ in log.channels]
    rows = np.concatenate([segment.values for segment in log.segments])
    return [np.ascontiguousarray(rows[:, index]) for index in range(len(log.channels))]


def _table(log: Log, columns: Sequence[Values], texts: dict[str, str]) -> Any:
    times = [s.start_s + s.dt_s * np.arange(s.rows) for s in log.segments]
    t_us = np.rint(np.concatenate([np.empty(0), *times]) * 1e6).astype(np.int64)
    segment = np.repeat(np.arange(len(log.segments), dtype=np.int32), [s.rows for s in log.segments])
    table = pa.table(
        {
            "t_us": t_us,
            "segment": segment,
            **{c.name: column for c, column in zip(log.channels, columns, strict=True)},
        }
    )
    return table.replace_schema_metadata(texts)


def _write_table(table: Any, path: Path) -> None:
    whole_numbers = [f.name for f in table.schema if pa.types.is_integer(f.type)]
    decimals = [f.name for f in table.schema if pa.types.is_floating(f.type)]
    encodings = dict.fromkeys(whole_numbers, "DELTA_BINARY_PACKED") | dict.fromkeys(
        decimals, "BYTE_STREAM_SPLIT"
    )
    with path.open("wb") as file:
        pq.write_table(
            table,
            file,
            compression="zstd",
            use_dictionary=False,
            column_encoding=encodings,
            write_page_checksum=True,
        )
        file.flush()
        os.fsync(file.fileno())


def _compare(path: Path, texts: dict[str, str], columns: Sequence[Values]) -> None:
    """Read back what was written, before anything relies on it."""
    with pq.ParquetFile(path, page_checksum_verification=True) as file:
        back = file.read()
    same_texts = all(back.schema.metadata.get(key.encode()) == text.encode() for key, text in texts.items())
    if not same_texts or any(
        not np.array_equal(back.column(index + 2).to_numpy(), column, equal_nan=column.dtype.kind == "f")
        for index, column in enumerate(columns)
    ):
        raise StorageError(f"{path.parent} gives back other data than was written: use another disk")


def read_unamended(path: Path, *, with_rows: bool) -> Log:
    """Read a log as it was written; without rows it is the header only, which is quick.

    Raises `FileProblem` for a file that is missing, cut off, damaged, not a log, or from a newer flatfoot.
    """
    _check_ends(path)
    try:
        with pq.ParquetFile(path, page_checksum_verification=True) as file:
            texts = {k.decode(): v.decode() for k, v in (file.schema_arrow.metadata or {}).items()}
            header = read_header_texts(texts, str(path))
            if not with_rows:
                return header.log
            table = file.read(columns=[channel.name for channel in header.log.channels])
    except FileProblem:
        raise
    except (OSError, pa.ArrowException, ValueError) as error:
        raise FileProblem(f"{path} is damaged ({_plain(error)}): use a copy from a backup") from error
    return _with_rows(header, table, path)


def _with_rows(header: Header, table: Any, path: Path) -> Log:
    log = header.log
    if table.column_names != [channel.name for channel in log.channels]:
        raise FileProblem(f"{path} is damaged, a channel is missing: use a copy from a backup")
    columns = [column.to_numpy() for column in table.columns]
    for channel, column, crc in zip(log.channels, columns, header.row_crcs, strict=True):
        if _crc(column) != crc:
            raise FileProblem(
                f"{path} is damaged, readings of {channel.name} changed: use a copy from a backup"
            )
    return _assemble(log, header.spans, columns)


def _assemble(log: Log, spans: Sequence[Span], columns: Sequence[Values]) -> Log:
    values = np.column_stack(columns) if columns else np.empty((0, 0))
    values.setflags(write=False)
    segments, first = [], 0
    for span in spans:
        rows = values[first : first + span.rows]
        segments.append(Segment(start_s=span.start_s, dt_s=span.dt_s, values=rows))
        first += span.rows
    return replace(log, segments=tuple(segments), header_duration_s=None)


def _check_ends(path: Path) -> None:
    """Tell a file that is missing, foreign or cut off by its first and last four bytes."""
    try:
        with path.open("rb") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(0)
            first = file.read(4)
            file.seek(max(0, size - 4))
            last = file.read(4)
    except FileNotFoundError as error:
        raise FileProblem(f"there is no log {path}") from error
    except OSError as error:
        raise FileProblem(f"cannot read {path}: {error.strerror or error}") from error
    if first != MAGIC[: len(first)]:
        raise FileProblem(
            f"{path} is not a log of flatfoot (a log is a Parquet file, this is something else)"
        )
    if last != MAGIC or size < 12:
        raise FileProblem(
            f"{path} is cut off after {size} bytes, its end is missing: copy it again, or use a backup"
        )


def _crc(column: Values) -> int:
    """CRC-32 of the name of the type (``<u2``) and the values in little-endian order."""
    little_endian = np.ascontiguousarray(column.astype(column.dtype.newbyteorder("<"), copy=False))
    return zlib.crc32(little_endian.data, zlib.crc32(little_endian.dtype.str.encode()))


def _plain(error: BaseException) -> str:
    """One line of what a library said."""
    strerror = getattr(error, "strerror", None)
    return str(strerror or error).splitlines()[0] if str(strerror or error) else type(error).__name__
