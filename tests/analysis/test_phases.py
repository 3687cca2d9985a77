"""Naming still spans: by mark, and from levels, order and direction where there are no marks."""

from __future__ import annotations

import pytest

from analysis.phase_search import find_phases
from analysis.phases import Named, named_by_marks, names_phases, read_mark
from analysis.stillness import StillSpan
from ingest.log import Mark
from ingest.records import End

ABOVE, BELOW = "from above", "from below"


def span(at: float, level: float, side: str | None = None) -> StillSpan:
    return StillSpan(start_s=at, end_s=at + 3.0, level_mm=level, creep_mm=0.0, side=side)


def spans(*levels: tuple[float, str | None]) -> tuple[StillSpan, ...]:
    return tuple(span(5.0 * i, level, side) for i, (level, side) in enumerate(levels))


def names(named: Named, end: End) -> list[str]:
    return [phase.name for phase in named.phases if phase.end is end]


# ------------------------------------------------------------------------------------------------ marks


def test_mark_words() -> None:
    words = read_mark("  Topped  OUT , Front ")
    assert words is not None
    assert (words.name, words.end, words.side, words.unknown) == ("topped out", End.FRONT, None, ())
    words = read_mark("unladen, from below, second try")
    assert words is not None
    assert (words.side, words.unknown) == (BELOW, ("second try",))


@pytest.mark.parametrize("text", ["", "coffee", "from above", "button", "riders"])
def test_other_marks_name_no_phase(text: str) -> None:
    assert read_mark(text) is None
    assert not names_phases([Mark(t_s=1.0, text=text)])


def test_mark_takes_the_whole_span_of_both_ends() -> None:
    both = {End.FRONT: spans((40.0, ABOVE)), End.REAR: spans((30.0, BELOW))}
    named = named_by_marks(both, [Mark(t_s=2.9, text="rider, from above")])
    assert [(p.end, p.name, p.side, p.span.start_s) for p in named.phases] == [
        (End.FRONT, "rider", ABOVE, 0.0),
        (End.REAR, "rider", ABOVE, 0.0),
    ]
    assert named.cautions == ()


def test_mark_of_one_end_leaves_the_other_alone() -> None:
    both = {End.FRONT: spans((0.0, None)), End.REAR: spans((30.0, None))}
    named = named_by_marks(both, [Mark(t_s=1.0, text="topped out, front")])
    assert [phase.end for phase in named.phases] == [End.FRONT]


def test_side_comes_from_the_motion_where_the_mark_is_silent() -> None:
    named = named_by_marks({End.REAR: spans((30.0, BELOW))}, [Mark(t_s=1.0, text="Rider")])
    assert named.phases[0].side == BELOW


def test_unknown_marks_are_left_out_with_a_caution() -> None:
    named = named_by_marks({End.REAR: spans((30.0, None))}, [Mark(t_s=1.0, text="dog barked")])
    assert named.phases == ()
    assert "“dog barked” at 1.0 s was left out" in named.cautions[0]


def test_mark_while_moving_gives_no_reading() -> None:
    named = named_by_marks({End.FRONT: (span(10.0, 30.0),)}, [Mark(t_s=2.0, text="rider")])
    assert named.phases == ()
    assert "not still at the mark “rider”" in named.cautions[0]


def test_late_thumb_is_forgiven() -> None:
    named = named_by_marks({End.FRONT: (span(10.0, 30.0),)}, [Mark(t_s=13.4, text="rider")])
    assert len(named.phases) == 1


def test_two_marks_without_motion_share_the_span() -> None:
    marks = [Mark(t_s=0.5, text="unladen, from above"), Mark(t_s=2.5, text="unladen, from below")]
    named = named_by_marks({End.FRONT: (span(0.0, 30.0),)}, marks)
    assert [(p.side, p.span.start_s, p.span.end_s) for p in named.phases] == [
        (ABOVE, 0, 1.5),
        (BELOW, 1.5, 3),
    ]
    assert "did not move between the marks" in named.cautions[0]


# ------------------------------------------------------------------------------------------------ found

FULL_FRONT = ((0, None), (30, ABOVE), (38, BELOW), (45, ABOVE), (53, BELOW))
FULL_REAR = ((0, None), (18, ABOVE), (23, BELOW), (40, ABOVE), (45, BELOW))
IN_ORDER = ["topped out", "unladen", "unladen", "rider", "rider"]


def found(front: tuple = (), rear: tuple = (), zeros: dict[End, float] | None = None) -> Named:
    both = {End.FRONT: spans(*front), End.REAR: spans(*rear)}
    return find_phases({e: s for e, s in both.items() if s}, zeros or {})


def test_whole_procedure() -> None:
    named = found(FULL_FRONT, FULL_REAR)
    assert names(named, End.FRONT) == IN_ORDER
    assert names(named, End.REAR) == IN_ORDER
    assert named.cautions == ()


@pytest.mark.parametrize("end", list(End))
def test_one_end_alone(end: End) -> None:
    levels = FULL_FRONT if end is End.FRONT else FULL_REAR
    named = found(**{str(end): levels})
    assert names(named, end) == IN_ORDER


def test_front_friction_wider_than_the_rider() -> None:
    # Whole friction difference 12 mm, the rider adds 10: levels alone would split it wrongly.
    front = ((0, None), (28, ABOVE), (40, BELOW), (38, ABOVE), (50, BELOW))
    assert names(found(front, FULL_REAR), End.FRONT) == IN_ORDER


def test_rider_first_and_topped_out_last() -> None:
    front = ((45, ABOVE), (53, BELOW), (30, ABOVE), (38, BELOW), (0, None))
    rear = ((40, ABOVE), (45, BELOW), (18, ABOVE), (23, BELOW), (0, None))
    named = found(front, rear)
    assert names(named, End.REAR) == ["rider", "rider", "unladen", "unladen", "topped out"]


def test_repeats_of_each_load() -> None:
    order = (0, 1, 2, 1, 2, 3, 4, 3, 4, 3, 4)
    named = found(tuple(FULL_FRONT[i] for i in order), tuple(FULL_REAR[i] for i in order))
    assert names(named, End.FRONT) == [IN_ORDER[i] for i in order]


def test_whole_rounds_repeated() -> None:
    named = found(FULL_FRONT * 3, FULL_REAR * 3)
    assert names(named, End.FRONT) == IN_ORDER * 3


def test_wheels_lifted_one_after_the_other() -> None:
    # While one wheel hangs, the other end carries another load: that is no reading.
    front = ((0, None), (41, BELOW), *FULL_FRONT[1:])
    rear = ((25, BELOW), (0, None), *FULL_REAR[1:])
    named = found(front, rear)
    assert names(named, End.FRONT) == IN_ORDER
    assert names(named, End.REAR) == IN_ORDER


def test_rear_that_tops_out_by_itself() -> None:
    # A stiff spring: the bike alone does not press it in at all, and that is unladen sag 0, not topped out.
    rear = ((0, None), (0.5, None), (1.0, None), (20, ABOVE), (24, BELOW))
    named = found(FULL_FRONT, rear)
    assert names(named, End.FRONT) == IN_ORDER
    assert names(named, End.REAR).count("unladen") == 2


def test_sensor_slipped_by_the_end_is_still_topped_out() -> None:
    named = found((*FULL_FRONT, (5, None)), (*FULL_REAR, (0, None)))
    assert names(named, End.REAR)[-1] == "topped out"
    assert names(named, End.FRONT)[:5] == IN_ORDER


def test_one_load_only_is_not_guessed() -> None:
    named = found(FULL_FRONT[:3], FULL_REAR[:3])
    assert names(named, End.FRONT) == ["topped out"]
    assert "one load only" in named.cautions[0] or "no more than friction" in named.cautions[0]


def test_small_step_settled_from_different_sides_is_not_guessed() -> None:
    named = found(((0, None), (30, ABOVE), (40, BELOW)))
    assert names(named, End.FRONT) == ["topped out"]
    assert "no more than friction can" in named.cautions[0]


def test_large_step_needs_no_second_side() -> None:
    named = found(rear=((0, None), (20, ABOVE), (45, BELOW)))
    assert names(named, End.REAR) == ["topped out", "unladen", "rider"]


def test_known_zero_shows_that_no_wheel_hung() -> None:
    named = found(FULL_FRONT[1:], FULL_REAR[1:], {End.FRONT: 0.0, End.REAR: 0.0})
    assert names(named, End.FRONT) == IN_ORDER[1:]


def test_nothing_still() -> None:
    named = find_phases({End.FRONT: (), End.REAR: ()}, {})
    assert named.phases == ()
    assert "no still span" in named.cautions[0]
