r"""Append-only text files whose every line carries its own check: the capture's journal, and amendments.

A line is a JSON object on one line whose last member is ``crc``: eight hexadecimal digits, the CRC-32
(IEEE 802.3, as in `zlib`) of the UTF-8 bytes of the line before ``, "crc"``.

>>> encode_line({"what": "mark", "offset": 40})
b'{"what": "mark", "offset": 40, "crc": "3cf06d4c"}\n'
"""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Mapping
from dataclasses import dataclass

_LINE = re.compile(rb'(\{.+), "crc": "([0-9a-f]{8})"\}', re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedLines:
    """What a file of checked lines holds: its good lines in order, and what is wrong with the others.

    ``damaged`` are the numbers of bad lines, counted from 1, a torn end apart. ``torn`` says that the file
    ends within a line that was being written; ``whole_bytes`` is where that line begins.
    """

    entries: tuple[dict[str, object], ...]
    damaged: tuple[int, ...]
    torn: bool
    whole_bytes: int


def encode_line(entry: Mapping[str, object]) -> bytes:
    """Make one line of a non-empty entry that is all JSON types."""
    body = json.dumps(entry, ensure_ascii=False, allow_nan=False)[:-1].encode()
    return body + f', "crc": "{zlib.crc32(body):08x}"}}\n'.encode()


def decode_lines(data: bytes) -> CheckedLines:
    """Read a file of checked lines, keeping every good one.

    Only the last line can be torn: it lacks its line end. A bad line that has one was damaged later.
    """
    whole_bytes = data.rfind(b"\n") + 1
    entries: list[dict[str, object]] = []
    damaged: list[int] = []
    for number, line in enumerate(data[:whole_bytes].split(b"\n")[:-1], start=1):
        entry = _decode_line(line)
        if entry is None:
            damaged.append(number)
        else:
            entries.append(entry)
    return CheckedLines(
        entries=tuple(entries),
        damaged=tuple(damaged),
        torn=whole_bytes < len(data),
        whole_bytes=whole_bytes,
    )


def _decode_line(line: bytes) -> dict[str, object] | None:
    match = _LINE.fullmatch(line)
    if match is None or int(match[2], 16) != zlib.crc32(match[1]):
        return None
    entry: dict[str, object] = json.loads(match[1] + b"}")
    return entry
