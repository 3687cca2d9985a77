"""Was all else alike before and after? And what the answer rests on, in words."""

from __future__ import annotations

from analysis.compare_results import Comparison
from dashboard.wording import Table, many

WORDS = (("alike", "Alike"), ("differs", "Differs"), ("unknown", "Not known"))
SHORT = {"alike": "alike", "differs": "differs", "unknown": "not known"}


def likeness_table(comparison: Comparison) -> Table:
    """Write each thing that should be the same on both sides."""
    return Table(
        head=("", "before", "after", ""),
        rows=tuple(
            (one.what, one.before, one.after, SHORT.get(one.word, one.word)) for one in comparison.likeness
        ),
    )


def alike_lines(comparison: Comparison) -> tuple[str, ...]:
    """Say in a line each what is alike, what differs and what is not known."""
    lines = []
    for word, said in WORDS:
        found = [one.what for one in comparison.likeness if one.word == word]
        if found:
            lines.append(f"{said}: {', '.join(found)}.")
    return tuple(lines)


def warnings(comparison: Comparison) -> tuple[str, ...]:
    """Say all that should be known before believing the answer, what differs first, nothing twice."""
    differs = (one.says for one in comparison.likeness if one.says is not None)
    others = (said for said in comparison.cautions if said not in comparison.method)
    return tuple(dict.fromkeys((*differs, *others)))


def basis_line(comparison: Comparison) -> str:
    """Say how many runs there are and what the intervals come from."""
    runs = f"{many(len(comparison.before), 'run')} before, {len(comparison.after)} after"
    if comparison.basis == "runs":
        return f"{runs}: intervals from the scatter of the runs"
    return f"{runs}: these rides only, run-to-run spread unknown"
