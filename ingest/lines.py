"""The lines dialect, one line at a time: ``t_us,a0,a1[,…]``, if wanted closed by ``*hh``.

The checksum is that of NMEA 0183: the exclusive or of all characters before the ``*``, as two hex digits.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import Enum
from functools import reduce
from operator import xor
from typing import NamedTuple

from ingest.link import CLOCK_WRAP_US, MAX_CHANNELS, Description, Unknown

MAX_LINE = 200
MARK_LINE = b"# mark"
GREETING = b"# flatfoot lines "
VERSION = 1

_ROW = re.compile(rb"([0-9]{1,10})((?:[ \t]*,[ \t]*[0-9]{1,5}){1,%d})[ \t]*" % MAX_CHANNELS)
_TITLE = re.compile(rb"[A-Za-z][\x20-\x7e]*")


class Row(NamedTuple):
    """One line of samples."""

    t_us: int
    counts: tuple[int, ...]
    checked: bool


class Other(Enum):
    """A line that holds no samples."""

    IGNORED = "comment, header or blank"
    MARK = "the rider's button"
    TORN = "not a line of this dialect"


def checksum(text: bytes) -> int:
    """Give the exclusive or of all characters.

    >>> f"{checksum(b'1000,512,600'):02X}"
    '01'
    """
    return reduce(xor, text, 0)


def sample_line(t_us: int, counts: Sequence[int], *, checked: bool = True) -> bytes:
    """Build one line of samples, line feed included."""
    text = b",".join(b"%d" % value for value in (t_us % CLOCK_WRAP_US, *counts))
    return text + (b"*%02X\n" % checksum(text) if checked else b"\n")


def description_line(description: Description, *, checked: bool = True) -> bytes:
    """Build the answer to ``DESCRIBE``, line feed included."""
    skew = ",".join(str(skew_us) for skew_us in description.skew_us)
    name = "_".join(description.name.split()) or "unnamed"
    text = (
        f"name={name} channels={description.channels} period_us={description.period_us} "
        f"bits={description.bits} skew_us={skew} checksum={int(checked)}\n"
    )
    return GREETING + f"{VERSION} {text}".encode("ascii", "replace")


def read_line(line: bytes) -> Row | Description | Unknown | Other:
    """Read one line, its line feed taken off."""
    if len(line) > MAX_LINE:
        return Other.TORN
    text = line.strip(b" \t\r")
    if text.startswith(b"#"):
        return _read_comment(text)
    body, star, stated = text.partition(b"*")
    match = _ROW.fullmatch(body)
    if match is None:
        return Other.IGNORED if _is_header(text) else Other.TORN
    if star and not (re.fullmatch(rb"[0-9A-Fa-f]{2}", stated) and int(stated, 16) == checksum(body)):
        return Other.TORN
    t_us, counts = int(match[1]), tuple(int(value) for value in match[2].split(b",")[1:])
    if t_us >= CLOCK_WRAP_US or max(counts) > 0xFFFF:
        return Other.TORN
    return Row(t_us, counts, bool(star))


def _is_header(text: bytes) -> bool:
    """Say whether a line is blank or names columns: every field begins with a letter."""
    return not text or all(_TITLE.fullmatch(field.strip()) for field in text.split(b","))


def _read_comment(text: bytes) -> Description | Unknown | Other:
    if text == MARK_LINE:
        return Other.MARK
    if not text.startswith(GREETING):
        return Other.IGNORED
    version, *words = text[len(GREETING) :].decode("ascii", "replace").split() or [""]
    if version != str(VERSION):
        return Unknown(version=int(version), type=0) if version.isdecimal() else Other.IGNORED
    stated = dict(word.split("=", 1) for word in words if "=" in word)
    try:
        description = Description(
            name=stated.get("name", "unnamed"),
            channels=int(stated["channels"]),
            period_us=int(stated["period_us"]),
            bits=int(stated["bits"]),
            skew_us=tuple(int(skew) for skew in stated["skew_us"].split(",")),
            samples_per_frame=1,
        )
    except (KeyError, ValueError):
        return Other.IGNORED
    return description if len(description.skew_us) == description.channels <= MAX_CHANNELS else Other.IGNORED
