"""Name the still spans of a sag check: topped out, unladen, rider; settled from above or from below.

Somebody who pressed the mark key said so (`named_by_marks`); without marks the levels say it themselves
(`analysis.phase_search`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from analysis.stillness import StillSpan, overlap_s
from ingest.log import Mark
from ingest.records import End

TOPPED_OUT, UNLADEN, RIDER = "topped out", "unladen", "rider"
PHASES = (TOPPED_OUT, UNLADEN, RIDER)
FEET_DOWN, ROLLING = "feet down", "rolling"
"""Rider aboard with the feet on the ground, a still span; and a slow straight run (`analysis.rolling`)."""
MARK_NAMES = (*PHASES, FEET_DOWN, ROLLING)
FROM_ABOVE, FROM_BELOW = "from above", "from below"
SIDES = (FROM_ABOVE, FROM_BELOW)
AGAIN = "again"
"""A mark ``again, rider, from above`` says: the last reading marked with these words does not count."""

# A thumb may be this much early or late at the edge of a span.
MARK_SLACK_S = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """One still span of one end and what it was taken as; ``side`` is ``None`` where nothing tells it."""

    end: End
    name: str
    side: str | None
    span: StillSpan


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """Named spans of both ends in order of time, and what could not be named."""

    phases: tuple[Phase, ...]
    cautions: tuple[str, ...] = ()

    def of(self, end: End, name: str) -> tuple[Phase, ...]:
        """Give the phases of one end and one name."""
        return tuple(phase for phase in self.phases if phase.end is end and phase.name == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkWords:
    """What a mark says. ``end`` ``None``: both ends; ``unknown``: words that say nothing to the analysis."""

    name: str
    end: End | None
    side: str | None
    unknown: tuple[str, ...]


def read_mark(text: str) -> MarkWords | None:
    """Read a mark: the phase first, then after commas the end, the side or other words; any case.

    ``None`` where the first words name no phase.

    >>> read_mark("Rider, front, from above")
    MarkWords(name='rider', end=<End.FRONT: 'front'>, side='from above', unknown=())
    >>> read_mark("coffee") is None
    True
    """
    first, *rest = (" ".join(part.lower().split()) for part in text.split(","))
    if first not in MARK_NAMES:
        return None
    ends = [End(word) for word in rest if word in tuple(End)]
    sides = [word for word in rest if word in SIDES]
    known = (*tuple(End), *SIDES, "")
    return MarkWords(
        name=first,
        end=ends[0] if len(set(ends)) == 1 else None,
        side=sides[0] if len(set(sides)) == 1 else None,
        unknown=tuple(word for word in rest if word not in known),
    )


def names_phases(marks: Sequence[Mark]) -> bool:
    """Tell whether any mark names a still span; if none does, the phases have to be found."""
    read = (read_mark(mark.text) for mark in marks)
    return any(words is not None and words.name != ROLLING for words in read)


def without_struck(marks: Sequence[Mark]) -> list[Mark]:
    """Leave out the readings that somebody said are no good, and the marks that say so; in order of time.

    >>> marks = ((1.0, "rider"), (5.0, "unladen"), (9.0, "again, Rider"))
    >>> [mark.text for mark in without_struck([Mark(t_s=t, text=text) for t, text in marks])]
    ['unladen']
    """
    kept: list[Mark] = []
    for mark in sorted(marks, key=lambda m: m.t_s):
        first, _, rest = mark.text.partition(",")
        if first.strip().lower() != AGAIN:
            kept.append(mark)
            continue
        words = read_mark(rest)
        struck = next((one for one in reversed(kept) if words and read_mark(one.text) == words), None)
        if struck is not None:
            kept.remove(struck)
    return kept


def named_by_marks(spans: Mapping[End, Sequence[StillSpan]], marks: Sequence[Mark]) -> Named:
    """Give each mark the still span it lies in, at each end it speaks of.

    A mark stands for the whole span. Two marks in one span share it: each gets the part nearer to it.

    Parameters
    ----------
    spans : mapping of End to still spans
        From `analysis.stillness.still_spans`, one entry for each measured end.
    marks : sequence of Mark
        In any order. Marks that name no phase are left out with a caution; ``rolling`` names no still span.
    """
    cautions: list[str] = []
    phases: list[Phase] = []
    spoken = [(mark, words) for mark in without_struck(marks) if (words := _read(mark, cautions))]
    for end, of_end in spans.items():
        taken: dict[StillSpan, list[tuple[Mark, MarkWords]]] = {}
        for mark, words in spoken:
            if words.name == ROLLING or words.end not in (None, end):
                continue
            span = _span_at(of_end, mark.t_s)
            if span is None or (not _holds(span, mark.t_s) and _spoken_for(span, end, spoken)):
                cautions.append(
                    f"{end}: not still at the mark “{mark.text}” ({mark.t_s:.1f} s), so there is no reading; "
                    "let the bike come to rest for two seconds and take it again"
                )
                continue
            taken.setdefault(span, []).append((mark, words))
        for span, said in taken.items():
            phases += _share(end, span, said, cautions)
    phases.sort(key=lambda phase: (phase.span.start_s, phase.end))
    return Named(phases=tuple(phases), cautions=tuple(cautions))


def _read(mark: Mark, cautions: list[str]) -> MarkWords | None:
    words = read_mark(mark.text)
    if words is None:
        cautions.append(
            f"mark “{mark.text}” at {mark.t_s:.1f} s was left out: a mark begins with {', '.join(MARK_NAMES)}"
        )
    elif words.unknown:
        said = ", ".join(words.unknown)
        cautions.append(f"mark “{mark.text}” at {mark.t_s:.1f} s: “{said}” was noted but not used")
    return words


def _span_at(spans: Sequence[StillSpan], t_s: float) -> StillSpan | None:
    """Give the span a mark lies in, or the nearest one close by."""

    def distance(span: StillSpan) -> float:
        return max(span.start_s - t_s, t_s - span.end_s, 0.0)

    near = [span for span in spans if distance(span) <= MARK_SLACK_S]
    return min(near, key=distance) if near else None


def _holds(span: StillSpan, t_s: float) -> bool:
    return span.start_s <= t_s <= span.end_s


def _spoken_for(span: StillSpan, end: End, spoken: Sequence[tuple[Mark, MarkWords]]) -> bool:
    """Tell whether a span has a mark of its own inside; then a mark beside it means something else."""
    return any(
        _holds(span, mark.t_s) and words.name != ROLLING and words.end in (None, end)
        for mark, words in spoken
    )


def _share(
    end: End, span: StillSpan, said: Sequence[tuple[Mark, MarkWords]], cautions: list[str]
) -> list[Phase]:
    """Turn the marks in one span into phases; different words in one span mean that the end did not move."""
    different = {(words.name, words.side) for _, words in said}
    if len(different) == 1:
        words = said[0][1]
        return [Phase(end=end, name=words.name, side=words.side or _side(words.name, span.side), span=span)]
    names = " and ".join(f"“{mark.text}”" for mark, _ in said)
    cautions.append(f"{end}: did not move between the marks {names}; move it clearly before each reading")
    times = [mark.t_s for mark, _ in said]
    cuts = [span.start_s, *((a + b) / 2 for a, b in pairwise(times)), span.end_s]
    return [
        Phase(
            end=end,
            name=words.name,
            side=words.side,
            span=replace(span, start_s=cuts[i], end_s=cuts[i + 1]),
        )
        for i, (_, words) in enumerate(said)
    ]


def _side(name: str, side: str | None) -> str | None:
    return None if name == TOPPED_OUT else side


def met(one: StillSpan, other: StillSpan) -> bool:
    """Tell whether both ends rested together long enough to be one reading."""
    return overlap_s(one, other) >= 0.8
