"""What is marked along the time of a ride: spans drawn wide enough to be seen, and the words that find room.

A figure is as wide as the screen it is on, which is not known here: words are spaced as on a phone, the
narrowest, and so never cover each other anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from analysis.ride_results import EndRide, RideSummary, Span
from dashboard.drawings.svg import text_width_px
from dashboard.fault_words import fault_word
from dashboard.travel_points import View
from dashboard.units import number
from ingest.log import Log
from ingest.records import End

PHONE_PX = 270.0  # as wide as the plot is on a phone of 390 px
LEAST_SHARE = 1 / 250
"""A span is drawn at least this share of the stretch in view wide: one pixel on a phone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A word beside a moment: to its right, or to its left where the figure ends."""

    at_s: float
    text: str
    side: str = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A span as it is drawn, one or several that would touch; the longest of them lasted ``longest_s``."""

    kind: str
    start_s: float
    end_s: float
    longest_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """A row of thin bars under the curves, with its short name at the left."""

    name: str
    end: End | None
    spans: tuple[Span, ...]


def left_out(log: Log, result: EndRide | None) -> list[Span]:
    """Give what was left out of one end in the order of time: gaps of the link, and faulty readings."""
    gaps = [Span(kind="not recorded", start_s=gap.t_s, end_s=gap.t_s + gap.duration_s) for gap in log.gaps]
    faults = [
        Span(kind=fault.kind, start_s=fault.start_s, end_s=fault.end_s)
        for fault in (result.faults if result else ())
    ]
    return sorted(gaps + faults, key=lambda span: span.start_s)


def lanes(ride: RideSummary) -> list[Lane]:
    """Give the rows that have something to show: each wheel in the air, dives, squats."""
    rows = [
        Lane(name=f"air {end.value[0].upper()}", end=end, spans=result.off_ground)
        for end, result in ((End.FRONT, ride.front), (End.REAR, ride.rear))
        if result is not None
    ]
    if ride.attitude is not None:
        rows.append(Lane(name="dive", end=None, spans=ride.attitude.dives))
        rows.append(Lane(name="squat", end=None, spans=ride.attitude.squats))
    return [row for row in rows if row.spans]


def drawn(spans: Iterable[Span], view: View) -> list[Drawn]:
    """Give the spans in view, each wide enough to be seen, those that would touch as one.

    Where spans of several kinds become one, kind and length are those of the longest.
    """
    least_s = (view[1] - view[0]) * LEAST_SHARE
    made: list[Drawn] = []
    for span in spans:
        low, high = max(span.start_s, view[0]), min(span.end_s, view[1])
        if high < low:
            continue
        spare = max(least_s - (high - low), 0.0) / 2
        one = Drawn(kind=span.kind, start_s=low - spare, end_s=high + spare, longest_s=span.duration_s)
        if made and one.start_s <= made[-1].end_s:
            one = _joined(made.pop(), one)
        made.append(one)
    return made


def _joined(one: Drawn, other: Drawn) -> Drawn:
    longest = one if one.longest_s >= other.longest_s else other
    return replace(longest, start_s=one.start_s, end_s=max(one.end_s, other.end_s))


def span_words(spans: Sequence[Drawn], view: View) -> list[Word]:
    """Name the drawn spans whose words find room, the earlier first; with its length where there is more.

    Words cover neither each other nor the edge.
    """
    words: list[Word] = []
    free_s = view[0]
    for span in spans:
        name = fault_word(span.kind)
        long = [f"{name}, {number(span.longest_s)} s"] if span.longest_s >= 0.5 else []
        for text in (*long, name):
            word = _with_room(max(span.start_s, view[0]), text, free_s, view)
            if word is not None:
                words.append(word)
                free_s = word.at_s + (_wide_s(text, view) if word.side == "right" else 0.0)
                break
    return words


def _wide_s(text: str, view: View) -> float:
    return (text_width_px(text) + 10.0) / PHONE_PX * (view[1] - view[0])


def _with_room(at_s: float, text: str, free_s: float, view: View) -> Word | None:
    wide_s = _wide_s(text, view)
    if at_s >= free_s and at_s + wide_s <= view[1]:
        return Word(at_s=at_s, text=text)
    if at_s - wide_s >= free_s:
        return Word(at_s=at_s, text=text, side="left")
    return None


def shortened(text: str, room_px: float) -> str:
    """Cut a text to the room it has; what loses all its letters is left out.

    >>> shortened("forest track", 60)
    'fores…'
    """
    if text_width_px(text) <= room_px:
        return text
    kept = text
    while kept and text_width_px(kept.rstrip() + "…") > room_px:
        kept = kept[:-1]
    return f"{kept.rstrip()}…" if kept else ""


def mark_words(marks: Sequence[tuple[float, str]], view: View) -> list[Word]:
    """Name the uprights of the marks in view, each cut to the room until the next."""
    inside = [(at_s, text) for at_s, text in marks if view[0] <= at_s <= view[1]]
    px_per_s = PHONE_PX / (view[1] - view[0])
    words = []
    for index, (at_s, text) in enumerate(inside):
        until_s = inside[index + 1][0] if index + 1 < len(inside) else view[1]
        short = shortened(text, (until_s - at_s) * px_per_s - 8.0)
        if short:
            words.append(Word(at_s=at_s, text=short))
    return words
