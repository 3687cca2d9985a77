"""What the modules of words share: a table of text, and the words that appear everywhere.

The sentences themselves stand in ``…_words`` modules, one for each idea. Nothing is worked out in any of
them: numbers are rounded and units chosen (`dashboard.units`), nothing more.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.results import EndSag
from analysis.ride_results import EndRide
from ingest.records import End

CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of text under a heading each; the first column names the row."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def many(count: int, what: str) -> str:
    """Write a count with its noun.

    >>> many(1, "mark"), many(3, "mark")
    ('1 mark', '3 marks')
    """
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def shortened(text: str, room: int) -> str:
    """Cut a text at ``room`` characters, ending in …

    >>> shortened("no luggage, tank half full", 12)
    'no luggage,…'
    """
    return text if len(text) <= room else text[: room - 1].rstrip() + "…"


def cautions_of(
    front: EndSag | EndRide | None, rear: EndSag | EndRide | None, overall: tuple[str, ...]
) -> tuple[str, ...]:
    """Put the end's name before its cautions unless the sentence already says it; drop repeats."""
    lines = list(overall)
    for end, result in ((End.FRONT, front), (End.REAR, rear)):
        said = result.cautions if result else ()
        lines += [text if end.value in text.lower() else f"{end}: {text}" for text in said]
    return tuple(dict.fromkeys(lines))
