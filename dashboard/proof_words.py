"""The proof in words: each promise beside its measurement, and what differs."""

from __future__ import annotations

from analysis.proof_results import Estimate, Promise, Proof
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import Table

LABELS = {
    "rider_sag_mm": "rider sag",
    "travel_mm": "full travel",
    "mean_mm": "mean ride position",
    "p99_mm": "deepest 1 in 100",
    "travel_used_mm": "deepest moment",
    "bottoming_per_10_min": "bottoming in 10 min",
    "seat_drop_mm": "seat lower, from sag",
    "seat_drop_riding_mm": "seat lower while riding",
    "seat_drop_taped_mm": "seat lower, by tape",
    "wanted_mm": "seat lower than at the boards",
}
# What more and less than promised are called.
WORDS = {
    "rider_sag_mm": ("more than promised", "less than promised"),
    "travel_mm": ("longer than planned", "the stop comes early"),
    "mean_mm": ("deeper than promised", "shallower than promised"),
    "p99_mm": ("deeper than promised", "shallower than promised"),
    "travel_used_mm": ("deeper than expected", "shallower than expected"),
    "bottoming_per_10_min": ("bottoms where none was expected", "less often than promised"),
    "wanted_mm": ("lower than wanted", "short of what was wanted"),
}
SEAT_WORDS = ("lower than promised", "higher than promised")
TELL_MORE = ("bottoming_per_10_min",)
SOME, SOME_WORDS = "some", ("better", "as promised")
VERDICTS = {
    "as promised": "As promised: rider sag at both ends and the seat agree with the plan within their doubt.",
    "not as promised": "Not as promised: the plan and the measurement differ by more than their doubt.",
    "cannot tell": "Cannot tell: what was measured is too little, or too doubtful, to prove the plan.",
}
WOULD_TELL = {
    "rider_sag_mm": "a sag check with the rider aboard",
    "seat_drop_mm": "a tape from floor to seat, or sag of both ends with the parts of the plan",
    "travel_used_mm": "a ride over the same road",
    "bottoming_per_10_min": "ten minutes over the same road",
}


def proof_verdict(proof: Proof) -> str:
    """Say in one sentence how it came out."""
    return VERDICTS[proof.verdict]


def proof_table(proof: Proof, units: Units = Units.MM) -> Table:
    """Write each promise with what it was before, what was promised and what was measured."""
    return Table(
        head=("", "before", "promised", "measured", "difference", ""),
        rows=tuple(
            (
                promise_label(one),
                _value(one, one.before, units),
                SOME if _some_expected(one) else _value(one, one.promised, units),
                _value(one, one.measured, units),
                _value(one, one.difference, units, sign=True),
                promise_word(one),
            )
            for one in proof.promises
        ),
    )


def proof_at_terminal(proof: Proof, units: Units = Units.MM) -> tuple[Table, tuple[str, ...]]:
    """Give the table for 80 columns, and a sentence for each row that says what would tell.

    The difference is left out: `proof_differences` names each that matters.
    """
    full = proof_table(proof, units)
    words = [row[-1].partition(": ") for row in full.rows]
    rows = tuple((*row[:-2], word) for row, (word, _, _) in zip(full.rows, words, strict=True))
    told = (f"{row[0]}: {would}" for row, (_, _, would) in zip(full.rows, words, strict=True) if would)
    return Table(head=(*full.head[:-2], full.head[-1]), rows=rows), tuple(told)


def proof_differences(proof: Proof, units: Units = Units.MM) -> tuple[str, ...]:
    """Name what differs by more than its doubt, one sentence each."""
    unit = f" {units}"
    said = []
    for one in proof.differs:
        mine = unit if one.unit == "mm" else ""
        said.append(
            f"{promise_label(one)}: {_value(one, one.measured, units)}{mine} measured, "
            f"{_value(one, one.promised, units)}{mine} promised: {promise_word(one)}"
        )
    return tuple(said)


def _some_expected(one: Promise) -> bool:
    """Tell bottoming that was expected, without a number."""
    return one.name == "bottoming_per_10_min" and one.promised is None and one.word in SOME_WORDS


def promise_label(one: Promise) -> str:
    """Name what was promised, with its end."""
    label = LABELS.get(one.name, one.name)
    return label if one.end is None else f"{one.end}: {label}"


def promise_word(one: Promise) -> str:
    """Say in a word how a promise came out, and what would tell where nothing does."""
    if one.word in ("more", "less"):
        return WORDS.get(one.name, SEAT_WORDS)[one.word == "less"]
    if one.word == "better":
        return "better than expected"
    would = WOULD_TELL.get(one.name)
    if would is not None and (one.word == "not measured" or one.name in TELL_MORE):
        return f"{one.word}: {would} would tell" if one.word in ("not measured", "cannot tell") else one.word
    return one.word


def _value(one: Promise, estimate: Estimate | None, units: Units, *, sign: bool = False) -> str:
    """Write value and doubt: ± where the interval is even, from … to where it is not."""
    if estimate is None:
        return NOTHING
    length = one.unit == "mm"

    def text(value: float, decimals: int, *, signed: bool = False) -> str:
        if length:
            return show.length_number(value, units, decimals, sign=signed)
        return show.number(value, decimals, sign=signed)

    if estimate.interval is None:
        return text(estimate.value, 0 if length else 1, signed=sign)
    low, high = estimate.interval
    down, up = estimate.value - low, high - estimate.value
    if up == down == 0.0:
        return text(estimate.value, 0, signed=sign)
    decimals = show.decimals_for(max(up, down))
    if abs(up - down) <= 0.05 * (up + down):
        return f"{text(estimate.value, decimals, signed=sign)} ± {text((up + down) / 2, decimals)}"
    return f"{text(estimate.value, decimals, signed=sign)} ({text(low, decimals)} to {text(high, decimals)})"
