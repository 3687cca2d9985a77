"""The words of the printed sag card; what is not there says why, so that no cell of the paper stays empty.

The sag page shows the same rows, so that screen and paper never differ.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.results import EndSag, PreloadChange, Quantity, SagCheck
from analysis.sag_advice import SAFETY
from analysis.spring_advice import seat_sentence
from dashboard import units as show
from dashboard.sag_words import friction
from dashboard.setup_words import end_by_end
from dashboard.units import Units
from dashboard.wording import CANNOT_TELL, Table, shortened
from ingest.log import Log
from ingest.records import Bike, End

NOT_KNOWN, NOT_MEASURED = "not known", "not measured"
POSTURE = "asked for: gear on, feet on the pegs, still"
LINE_CHARS, CELL_CHARS, HALF_CHARS = 105, 41, 42  # what a line of the paper holds in the widest font


def ends_of(check: SagCheck) -> tuple[tuple[End, EndSag | None], ...]:
    """Give both ends in their order, those that were not measured as ``None``."""
    return (End.FRONT, check.front), (End.REAR, check.rear)


def headline(check: SagCheck) -> str:
    """Answer in a line: the word of each end."""
    words = {end: NOT_MEASURED if found is None else _word(found) for end, found in ends_of(check)}
    if len(set(words.values())) == 1:
        return f"Sag front and rear: {words[End.FRONT]}."
    return " ".join(f"{end.value.capitalize()}: {word}." for end, word in words.items())


def _word(found: EndSag) -> str:
    return NOT_MEASURED if found.rider_sag_mm is None and found.unladen_sag_mm is None else found.word


def seat_line(check: SagCheck, bike: Bike, units: Units = Units.MM) -> str:
    """Say how much lower the seat is at correct sag alone, or what is missing to know it."""
    drop = check.seat_drop_mm
    if drop is None:
        return f"Seat drop from correct sag alone: {NOT_KNOWN}: {_why_no_drop(check, bike)}."
    size = Quantity(
        value=abs(drop.value),
        expanded_uncertainty=drop.expanded_uncertainty,
        coverage_factor=drop.coverage_factor,
    )
    if size.value <= size.expanded_uncertainty:
        return (
            "At correct sag the seat stays where it is, as far as can be told: "
            f"seat drop {show.quantity(drop, units)} {units}."
        )
    way = "lower" if drop.value > 0 else "higher"
    return f"At correct sag the seat is {show.quantity(size, units)} {units} {way}, before any lowering part."


def _why_no_drop(check: SagCheck, bike: Bike) -> str:
    for end, found in ends_of(check):
        if found is None or found.rider_sag_mm is None:
            return f"the rider sag of the {end} was not measured"
        if found.target_sag_mm is None:
            return f"the {end} has no target sag"
    if bike.rake_deg is None:
        return "the bike file has no rake"
    return "the bike file says too little"


def measured_table(check: SagCheck, bike: Bike, units: Units = Units.MM) -> Table:
    """Write what was measured and what follows, front and rear side by side; ``bike`` is under its setup."""
    cells = [_cells(bike, end, found, units) for end, found in ends_of(check)]
    rows = [(name, *(one[name] for one in cells)) for name in cells[0]]
    return Table(head=("", *End), rows=(*rows[:2], *_beside(check, units), *rows[2:]))


def _beside(check: SagCheck, units: Units) -> list[tuple[str, ...]]:
    """Write feet-down and rolling sag, each only where somebody marked it."""
    found = [one for _, one in ends_of(check)]
    both = {
        "feet-down sag": [one.feet_down_sag_mm if one else None for one in found],
        "rolling sag": [one.rolling_sag_mm if one else None for one in found],
    }
    return [
        (name, *(NOT_MEASURED if sag is None else f"{show.quantity(sag, units)} {units}" for sag in sags))
        for name, sags in both.items()
        if any(sag is not None for sag in sags)
    ]


def _cells(bike: Bike, end: End, found: EndSag | None, units: Units) -> dict[str, str]:
    if found is None:
        gone = f"{NOT_MEASURED}: no sensor in this log"
        named = dict.fromkeys((*SAG_ROWS, *SPRING_ROWS), "–")
        return named | {SAG_ROWS[0]: gone, PRELOAD_NOW: _preload_now(bike, end, None, units)}
    return {
        SAG_ROWS[0]: _sag(found.unladen_sag_mm, found.unladen_sag_percent, "unladen", end, found, units),
        SAG_ROWS[1]: _sag(found.rider_sag_mm, found.rider_sag_percent, "rider", end, found, units),
        SAG_ROWS[2]: f"{NOT_KNOWN}: not settled from both sides"
        if found.friction_band_mm is None
        else friction(found, units),
        SAG_ROWS[3]: _target(found, units),
        SAG_ROWS[4]: found.word,
        WHEEL_RATE: wheel_rate(found, units),
        PRELOAD_NOW: _preload_now(bike, end, found.preload, units),
        PRELOAD_CHANGE: preload_change(found, units),
        SPRING: spring(found, units),
    }


WORD_ROW = "in a word"
SAG_ROWS = ("unladen sag", "rider sag", "friction", "target", WORD_ROW)
WHEEL_RATE, PRELOAD_NOW = "wheel rate, secant", "preload now"
PRELOAD_CHANGE, SPRING = "preload change", "the spring"
SPRING_ROWS = (WHEEL_RATE, PRELOAD_NOW, PRELOAD_CHANGE, SPRING)


def spring_table(check: SagCheck, bike: Bike, units: Units = Units.MM) -> Table:
    """Write the rows of `measured_table` that are about the springs."""
    whole = measured_table(check, bike, units)
    return Table(head=whole.head, rows=tuple(row for row in whole.rows if row[0] in SPRING_ROWS))


def _sag(
    sag: Quantity | None, percent: float | None, name: str, end: End, found: EndSag, units: Units
) -> str:
    if sag is not None:
        share = "" if percent is None else f", {show.percent(percent, 1)} of travel"
        return f"{show.quantity(sag, units)} {units}{share}"
    said = (text.removeprefix(f"{end}: ") for text in found.cautions)
    start = f"{name} sag was not measured: "
    why = next((text.removeprefix(start) for text in said if text.startswith(start)), "see “Mind this”")
    return f"{NOT_MEASURED}: {why}"


def _target(found: EndSag, units: Units) -> str:
    if found.target_sag_mm is None:
        return f"{NOT_KNOWN}: the bike file names neither a use nor a target"
    low, high = found.target_sag_mm
    share = "–".join(show.number(100 * at / found.travel_mm, 0) for at in (low, high))
    span = "–".join(show.length_number(at, units, 0) for at in (low, high))
    return f"{span} {units}, {share} % of travel"


def wheel_rate(found: EndSag, units: Units = Units.MM) -> str:
    """Write the wheel rate actually present, or why there is none."""
    rate = found.wheel_rate
    if rate is None:
        if found.unladen_sag_mm is None or found.rider_sag_mm is None:
            return f"{NOT_MEASURED}: it needs unladen and rider sag"
        return f"{NOT_KNOWN}: the load the rider adds is not known; weigh both axles"
    if rate.secant_n_mm is None:
        return f"{CANNOT_TELL}: {rate.would_tell or 'the sag hardly changed'}"
    text = f"{_rate(rate.secant_n_mm, units)}: {rate.word}"
    if rate.expected_n_mm is None:
        return text
    expected = show.spring_rate(rate.expected_n_mm, units).partition(" ")[0]
    return f"{text} ({expected})" if "expected" in rate.word else f"{text} (expected {expected})"


def _rate(rate: Quantity, units: Units) -> str:
    value, doubt = (show.spring_rate(n_mm, units) for n_mm in (rate.value, rate.expanded_uncertainty))
    number, _, unit = value.partition(" ")
    return f"{number} ± {doubt.partition(' ')[0]} {unit}"


def _preload_now(bike: Bike, end: End, change: PreloadChange | None, units: Units) -> str:
    suspension = bike.suspension(end)
    preload = suspension.preload_mm if suspension else None
    if change is not None and change.preload_now_mm is not None:
        preload = change.preload_now_mm
    if preload is None:
        return f"{NOT_KNOWN}: neither bike file nor setup says it"
    return show.length(preload, units)


def preload_change(found: EndSag, units: Units = Units.MM) -> str:
    """Write how far to turn the preload for rider sag in the middle of its target, or why not."""
    change = found.preload
    if change is None:
        if found.rider_sag_mm is None:
            return f"{NOT_KNOWN}: rider sag was not measured"
        if found.target_sag_mm is None:
            return f"{NOT_KNOWN}: there is no target"
        return f"{NOT_KNOWN}: the bike file says too little"
    sign = "+" if change.change_mm.value > 0 else ""
    parts = [f"{sign}{show.quantity(change.change_mm, units)} {units}"]
    if change.turns is not None:
        parts.append(f"{show.number(change.turns, 1, sign=True)} turns")
    if change.one_leg_mm is not None:
        parts.append(f"one leg alone {show.length(change.one_leg_mm, units, sign=True)}")
    text = ", ".join(parts)
    if not change.allowed:
        return f"{text}: refused, {shortened('; '.join(change.refused_because), 130)}"
    return f"leave it; to the middle {text}" if found.word == "right" else text


def spring(found: EndSag, units: Units = Units.MM) -> str:
    """Say whether the spring fits once rider sag is right, by what unladen sag then is."""
    change = found.preload
    if change is not None and not change.allowed:
        return f"{change.spring_word}: preload alone cannot do it"
    if change is None or change.unladen_after_mm is None:
        return f"{NOT_KNOWN}: it needs unladen sag and a preload change"
    text = f"{change.spring_word}: unladen then {show.quantity(change.unladen_after_mm, units)}"
    if change.target_unladen_mm is None:
        return f"{text} {units}"
    span = "–".join(show.length_number(at, units, 0) for at in change.target_unladen_mm)
    return f"{text} of {span} {units}"


def taken_rows(log: Log, units: Units = Units.MM) -> tuple[tuple[str, str], ...]:
    """Say how it was taken: bike, rider, what was aboard, how the rider sat, and what was noted."""
    rider = f"{NOT_KNOWN}: no rider in this log"
    if log.rider is not None:
        weighs = "mass not known" if log.rider.mass_kg is None else show.mass(log.rider.mass_kg, units)
        rider = f"{shortened(log.rider.name, 40)}, {weighs} in gear"
    bike = log.bike.name if log.bike.id is None else f"{log.bike.name}, {log.bike.id}"
    words = [text.strip() for mark in log.marks for text in mark.text.split(",")[1:]]
    sides = ("", "from above", "from below", *End)
    said = "; ".join(dict.fromkeys(word for word in words if word.lower() not in sides))
    return (
        ("bike", shortened(bike, 70)),
        ("rider", rider),
        ("aboard", shortened(log.load_case or "load case not noted", 80)),
        ("posture", shortened(f"{POSTURE}. Marked: {said}", 100) if said else POSTURE),
        ("noted", shortened(log.notes or "nothing", 160)),
    )


def settings_rows(bike: Bike, units: Units = Units.MM) -> tuple[tuple[str, str], ...]:
    """Say what each end is set to, without what `measured_table` has already."""
    made = end_by_end(bike, units)
    lists = []
    for column, end in enumerate(End, 1):
        known = [
            f"{row[0]} {row[column]}"
            for row in made.rows
            if row[0] not in ("preload", "target sag") and row[column] != show.NOTHING
        ]
        lists.append((str(end), shortened(", ".join(known) or f"{NOT_KNOWN}: not in the bike file", 200)))
    return tuple(lists)


def fitting(lines: Sequence[str], rows: int) -> tuple[tuple[str, ...], int]:
    """Give the lines that fit in so many rows of the paper, in order, and how many did not.

    >>> fitting(["one", "two " * 30, "three"], 2)
    (('one',), 2)
    """
    kept: list[str] = []
    for line in lines:
        rows -= rows_of(line, LINE_CHARS)
        if rows < 0:
            break
        kept.append(line)
    return tuple(kept), len(lines) - len(kept)


def rows_of(text: str, chars: int) -> int:
    """Count the rows a text takes where a row holds so many characters."""
    return max(1, math.ceil(len(text) / chars))


def table_rows(table: Table) -> int:
    """Count the rows of the paper that `measured_table` takes."""
    return sum(max(rows_of(cell, CELL_CHARS) for cell in row[1:]) for row in table.rows)


def listed_rows(pairs: Sequence[tuple[str, str]]) -> int:
    """Count the rows of the paper that a list in half its width takes."""
    return sum(rows_of(text, HALF_CHARS) for _, text in pairs)


def other_advice(check: SagCheck) -> tuple[str, ...]:
    """Give the advice without the sentences on the seat and on safety: the card has a place for each."""
    placed = (SAFETY, seat_sentence(check.seat_drop_mm))
    return tuple(line for line in check.advice if line not in placed)
