"""The list of readings of a guided check: order, repeats, what is asked for again."""

from __future__ import annotations

import pytest

from analysis.phases import named_by_marks, read_mark, without_struck
from analysis.procedure import (
    MORE_AT_MOST,
    State,
    Step,
    Taken,
    disagreement_mm,
    next_step,
    plan,
    rows,
    usual_mm,
)
from analysis.stillness import StillSpan
from ingest.log import Mark
from ingest.records import End


def go_through(steps: tuple[Step, ...], values: dict[str, list[float]]) -> list[Taken]:
    """Take whatever is asked for, as long as there is a value for it."""
    taken: list[Taken] = []
    left = {mark: list(mm) for mark, mm in values.items()}
    while (step := next_step(steps, taken)) is not None and left.get(step.mark):
        taken.append(
            Taken(step=step, t_s=5.0 * len(taken), mm={End.FRONT: left[step.mark].pop(0), End.REAR: 0.0})
        )
    return taken


def test_the_plan_of_a_short_and_of_a_long_check() -> None:
    marks = [step.mark for step in plan()]
    assert marks == [
        "topped out",
        "unladen, from above",
        "unladen, from below",
        "rider, from above",
        "rider, from below",
        "topped out",
    ]
    long = plan(rounds=3, apart=(End.FRONT, End.REAR))
    assert [step.mark for step in long[:2]] == ["topped out, front", "topped out, rear"]
    assert [step.closing for step in long[-2:]] == [True, True]
    assert [step.name for step in long[2:-2]] == ["unladen"] * 6 + ["rider"] * 6  # the rider gets on once
    for step in long:
        words = read_mark(step.mark)
        assert words is not None
        assert (words.name, words.end, words.side, words.unknown) == (step.name, step.end, step.side, ())


def test_the_list_says_what_is_done_what_is_now_and_what_is_to_do() -> None:
    steps = plan()
    taken = go_through(steps, {"topped out": [0.0], "unladen, from above": [30.0]})
    assert [row.state for row in rows(steps, taken)] == [
        State.DONE,
        State.DONE,
        State.NOW,
        State.TO_DO,
        State.TO_DO,
        State.IF_YOU_CAN,
    ]
    everything = go_through(
        steps,
        {
            "topped out": [0.0, 0.3],
            "unladen, from above": [30.0],
            "unladen, from below": [38.0],
            "rider, from above": [43.0],
            "rider, from below": [51.0],
        },
    )
    assert next_step(steps, everything) is None
    assert {row.state for row in rows(steps, everything)} == {State.DONE}
    assert usual_mm(everything, End.FRONT, "unladen") == 34.0
    assert usual_mm(everything, End.FRONT, "rider") == 47.0
    assert usual_mm(taken, End.FRONT, "rider") is None


def test_a_repeat_that_disagrees_is_asked_for_again_and_nothing_is_dropped() -> None:
    steps = plan(rounds=2)
    values = {
        "topped out": [0.0],
        "unladen, from above": [30.0, 34.0, 30.4],
        "unladen, from below": [38.0, 38.5],
    }
    taken = go_through(steps, values)
    assert [one.step.mark for one in taken] == [
        "topped out",
        "unladen, from above",
        "unladen, from below",
        "unladen, from above",
        "unladen, from above",
        "unladen, from below",
    ]
    assert disagreement_mm(taken[:4]) == (End.FRONT, 4.0)
    assert disagreement_mm(taken[:5]) is None  # 30.4 agrees with 30.0
    three = [row for row in rows(steps, taken) if row.step.mark == "unladen, from above"]
    assert [(row.step.repeat, row.taken.mm[End.FRONT]) for row in three if row.taken] == [
        (1, 30.0),
        (2, 34.0),
        (3, 30.4),
    ]
    now = rows(steps, taken[:4])
    assert [row.state for row in now].count(State.NOW) == 1
    assert next(row for row in now if row.state is State.NOW).step.repeat == 3


def test_what_never_agrees_is_not_asked_for_without_end() -> None:
    steps = plan()
    taken = go_through(steps, {"topped out": [0.0], "unladen, from above": [30.0]})
    for mm in (40.0, 50.0, 60.0, 70.0):
        step = Step(name="unladen", side="from above")
        taken.append(Taken(step=step, t_s=99.0, mm={End.FRONT: mm, End.REAR: 0.0}))
    assert len(taken) > 2 + MORE_AT_MOST
    step = next_step(steps, taken)
    assert step is not None
    assert step.mark == "unladen, from below"


def test_a_sensor_that_moved_shows_at_the_closing_reading() -> None:
    steps = plan()
    values = {step.mark: [mm] for step, mm in zip(steps, (0.0, 30.0, 38.0, 43.0, 51.0), strict=False)}
    taken = go_through(steps, values)
    closing = next_step(steps, taken)
    assert closing is not None
    assert closing.closing
    taken.append(Taken(step=closing, t_s=60.0, mm={End.FRONT: 3.2, End.REAR: 0.1}))
    assert disagreement_mm(taken) == (End.FRONT, 3.2)
    again = next_step(steps, taken)
    assert again is not None
    assert again.closing


def test_one_end_only() -> None:
    taken = [Taken(step=step, t_s=1.0, mm={End.REAR: 1.0}) for step in plan()[:5]]
    step = next_step(plan(), taken)
    assert step is not None
    assert step.closing


@pytest.mark.parametrize("again", ["again, rider, from above", "Again,  RIDER , from above"])
def test_a_reading_taken_again_does_not_count_in_the_sag(again: str) -> None:
    spans = [
        StillSpan(start_s=t, end_s=t + 3, level_mm=mm, creep_mm=0.0, side=None)
        for t, mm in ((0.0, 40.0), (5.0, 44.0), (10.0, 50.0))
    ]
    marks = [
        Mark(t_s=1.0, text="rider, from above"),
        Mark(t_s=4.0, text=again),
        Mark(t_s=6.0, text="rider, from above"),
        Mark(t_s=11.0, text="rider, from below"),
    ]
    named = named_by_marks({End.REAR: spans}, marks)
    assert named.cautions == ()
    assert [phase.span.level_mm for phase in named.phases] == [44.0, 50.0]


def test_again_strikes_only_what_bears_the_same_words() -> None:
    marks = [
        Mark(t_s=1.0, text="topped out, front"),
        Mark(t_s=2.0, text="topped out, rear"),
        Mark(t_s=3.0, text="again, topped out, front"),
        Mark(t_s=4.0, text="again, unladen"),
        Mark(t_s=5.0, text="again, coffee"),
    ]
    assert [mark.text for mark in without_struck(marks)] == ["topped out, rear"]
