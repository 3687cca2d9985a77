"""File names made from what people call things: safe on every system, and never outside their folder."""

from __future__ import annotations

import re
import unicodedata

LONGEST_SLUG = 60
# Windows keeps these names for devices, with any ending.
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)
_SAFE = re.compile(r'[^.\\/:*?"<>|\x00-\x1f\x7f][^\\/:*?"<>|\x00-\x1f\x7f]{0,119}')


def slug(text: str, otherwise: str = "unnamed") -> str:
    """Make a file name of small letters, digits and hyphens; ``otherwise`` where nothing usable is left.

    >>> slug("Workshop tall twin (№ 7)"), slug("../../etc/passwd"), slug("CON"), slug("雪")
    ('workshop-tall-twin-no-7', 'etc-passwd', 'con-1', 'unnamed')
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    joined = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST_SLUG].strip("-")
    if not joined:
        return otherwise
    return f"{joined}-1" if _RESERVED.fullmatch(joined) else joined


def is_safe_name(name: str) -> bool:
    """Say whether a name is that of one file or folder, not a way to another place.

    >>> [is_safe_name(n) for n in ("2026-11-25-0930-sag-1", "..", "a/b", "a\\\\b", "C:x", "", "nul.txt")]
    [True, False, False, False, False, False, False]
    """
    first = name.split(".")[0].rstrip(" ")
    return bool(_SAFE.fullmatch(name)) and name[-1] not in " ." and not _RESERVED.fullmatch(first)
