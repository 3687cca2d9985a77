"""The guided sag check: which readings there are, in which order, what comes next, what to take again.

Nothing is watched here; `analysis.holding` says whether the bike holds still. A reading once taken stays. It
is left out only where somebody says that it was no good ("again"); one that merely disagrees with its
repeats stays in the count and is asked for once more, because dropping it would hide doubt that is there.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from analysis.phases import AGAIN, FROM_ABOVE, FROM_BELOW, RIDER, SIDES, TOPPED_OUT, UNLADEN
from analysis.stillness import FIDGET_RANGE_MM
from ingest.records import End

DISAGREE_MM = FIDGET_RANGE_MM
"""Readings of the same kind further apart than a rider moves who sits still: take one more."""
MORE_AT_MOST = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One reading to take. ``end`` ``None``: all measured ends at once.

    ``closing`` is the look at the end whether the sensors still read what they read at the start; the sag
    can be worked out without it.
    """

    name: str
    side: str | None = None
    end: End | None = None
    repeat: int = 1
    closing: bool = False

    @property
    def mark(self) -> str:
        """The mark that names this reading in the recording.

        >>> Step(name="topped out", end=End.FRONT).mark, Step(name="rider", side="from above").mark
        ('topped out, front', 'rider, from above')
        """
        return ", ".join(part for part in (self.name, self.end, self.side) if part)

    @property
    def again_mark(self) -> str:
        """The mark that says: the last reading with these words does not count."""
        return f"{AGAIN}, {self.mark}"

    def concerns(self, end: End) -> bool:
        """Say whether this reading is one of that end."""
        return self.end in (None, end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One reading as it was taken: when (s of the recording), where each end stood (mm from topped out)."""

    step: Step
    t_s: float
    mm: Mapping[End, float]


class State(StrEnum):
    """How a row of the list stands."""

    DONE = "done"
    NOW = "now"
    TO_DO = "to do"
    IF_YOU_CAN = "if you can"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the list of readings; ``taken`` is ``None`` until it is done."""

    step: Step
    state: State
    taken: Taken | None


def plan(*, rounds: int = 1, apart: Collection[End] = ()) -> tuple[Step, ...]:
    """List the readings of a check.

    Parameters
    ----------
    rounds : int
        How often each load is read from either side. The rider gets on once.
    apart : collection of End
        The ends topped out one after the other; empty where all hang at the same time.

    >>> [step.mark for step in plan()][:3]
    ['topped out', 'unladen, from above', 'unladen, from below']
    """
    tops = [Step(name=TOPPED_OUT, end=end) for end in End if end in apart] or [Step(name=TOPPED_OUT)]
    loads = [
        Step(name=name, side=side, repeat=number)
        for name in (UNLADEN, RIDER)
        for number in range(1, rounds + 1)
        for side in SIDES
    ]
    return (*tops, *loads, *(replace(step, repeat=2, closing=True) for step in tops))


def same(step: Step, taken: Sequence[Taken]) -> list[Taken]:
    """Give the readings taken of the same thing, in order of time."""
    return [one for one in taken if one.step.mark == step.mark]


def next_step(steps: Sequence[Step], taken: Sequence[Taken]) -> Step | None:
    """Say which reading comes next; ``None`` when all are taken.

    One that disagrees with its repeats is asked for again at once, twice at most.
    """
    if taken and disagreement_mm(taken) is not None:
        last = taken[-1].step
        planned = sum(step.mark == last.mark for step in steps)
        # Of what is still planned the repeat comes first anyway; only beyond that it is one more.
        beyond = len(same(last, taken)) - planned
        if beyond < MORE_AT_MOST:
            return replace(last, repeat=len(same(last, taken)) + 1)
    return next((row.step for row in _filled(steps, taken) if row.taken is None), None)


def disagreement_mm(taken: Sequence[Taken]) -> tuple[End, float] | None:
    """Say at which end the last reading lies furthest from its repeats, and by how much, if it is too much.

    The distance is to the nearest of them: two that agree outvote a third.

    >>> step = Step(name="rider", side="from above")
    >>> disagreement_mm([Taken(step=step, t_s=t, mm={End.REAR: mm}) for t, mm in ((5, 40.0), (9, 44.0))])
    (<End.REAR: 'rear'>, 4.0)
    """
    if not taken:
        return None
    last = taken[-1]
    before = same(last.step, taken)[:-1]
    found = []
    for end, mm in last.mm.items():
        distances = [abs(mm - one.mm[end]) for one in before if end in one.mm]
        if distances and min(distances) > DISAGREE_MM:
            found.append((end, min(distances)))
    return max(found, key=lambda pair: pair[1], default=None)


def rows(steps: Sequence[Step], taken: Sequence[Taken]) -> tuple[Row, ...]:
    """Lay the list out: what is planned with what was taken, what is beyond the plan below its kind."""
    current = next_step(steps, taken)
    found: list[Row] = []
    for row in _filled(steps, taken):
        if row.taken is None and row.step == current:
            row = replace(row, state=State.NOW)
        found.append(row)
    if current is not None and all(row.state is not State.NOW for row in found):
        places = [index for index, row in enumerate(found) if row.taken in same(current, taken)]
        found.insert(places[-1] + 1, Row(step=current, state=State.NOW, taken=None))
    return tuple(found)


def _filled(steps: Sequence[Step], taken: Sequence[Taken]) -> list[Row]:
    """Put what was taken into the planned rows, in order; what is beyond the plan gets rows of its own."""
    found: list[Row] = []
    for step in steps:
        mine = same(step, taken)
        place = sum(row.step.mark == step.mark for row in found)
        if place < len(mine):
            found.append(Row(step=step, state=State.DONE, taken=mine[place]))
        else:
            waits = State.IF_YOU_CAN if step.closing else State.TO_DO
            found.append(Row(step=step, state=waits, taken=None))
        last_of_kind = sum(one.mark == step.mark for one in steps) == place + 1
        if last_of_kind:
            found += [
                Row(step=replace(step, repeat=number), state=State.DONE, taken=one)
                for number, one in enumerate(mine[place + 1 :], place + 2)
            ]
    return found


def usual_mm(taken: Sequence[Taken], end: End, name: str) -> float | None:
    """Give about where a load sits: the middle of from above and from below, as far as taken. No sag yet."""
    sides = [
        [one.mm[end] for one in taken if (one.step.name, one.step.side) == (name, side) and end in one.mm]
        for side in (FROM_ABOVE, FROM_BELOW)
    ]
    means = [sum(side) / len(side) for side in sides if side]
    return sum(means) / len(means) if means else None
