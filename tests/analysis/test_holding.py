"""Whether the bike holds still now: on made-up motions, and against the still spans of the whole log."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.holding import STALE_S, TAKE_AFTER_S, Holding, Verdict, Watch, Why, Word, holding, judge
from analysis.procedure import Step, plan
from analysis.stillness import Track, still_spans
from ingest.records import End

STEP_S = 0.05
TOP, UNLADEN_ABOVE, UNLADEN_BELOW, *_ = plan()


def motion(*legs: tuple[float, float], noise_mm: float = 0.03, seed: int = 0) -> Track:
    """Go to each ``(seconds, mm)`` in half a wave of a cosine; the same mm twice is rest."""
    pieces, here = [], legs[0][1]
    for seconds, mm in legs:
        share = np.linspace(0, 1, round(seconds / STEP_S), endpoint=False)
        pieces.append(here + (mm - here) * (0.5 - 0.5 * np.cos(np.pi * share)))
        here = mm
    mm = np.concatenate(pieces)
    mm = mm + np.random.default_rng(seed).normal(0, noise_mm, mm.size)
    return Track(t_s=STEP_S * (np.arange(mm.size) + 0.5), mm=mm)


def said(step: Step, track: Track, since_s: float | None = 0.0) -> Verdict:
    return judge(step, {End.FRONT: holding(End.FRONT, track, since_s)})


def test_moving_settling_steady_taken() -> None:
    let_down = ((1.0, 0.0), (2.0, 30.0))
    words = [said(UNLADEN_ABOVE, motion(*let_down, (rest, 30.0))) for rest in (0.05, 0.6, 1.4, 2.2)]
    assert [one.word for one in words] == [Word.MOVING, Word.SETTLING, Word.STEADY, Word.STEADY]
    assert [one.take for one in words] == [False, False, False, True]
    assert 0 < words[2].left_s < TAKE_AFTER_S
    moving = said(UNLADEN_ABOVE, motion((1.0, 0.0), (1.0, 30.0)))
    assert moving.why is Why.MOVING


@pytest.mark.parametrize(("rate", "way"), [(0.6, 1), (-0.6, -1)])
def test_creep_is_named_with_its_size_and_is_not_steady(rate: float, way: int) -> None:
    track = motion((1.0, 0.0), (1.0, 30.0), (3.0, 30.0))
    creeping = np.where(track.t_s > 2, rate * (track.t_s - 2), 0.0)
    verdict = said(UNLADEN_ABOVE, Track(t_s=track.t_s, mm=track.mm + creeping))
    assert (verdict.word, verdict.why) == (Word.SETTLING, Why.SETTLING)
    assert verdict.creep_mm * way == pytest.approx(0.6 * 0.7, abs=0.15)  # 0.3-s medians, 0.7 s apart


def test_a_rider_who_fidgets_still_gets_a_reading() -> None:
    rng = np.random.default_rng(3)
    taken = 0
    for seed in range(40):
        track = motion((1.0, 0.0), (1.0, 40.0), (4.0, 40.0), noise_mm=0.05, seed=seed)
        sway = 0.5 * np.sin(2 * np.pi * (1.3 * track.t_s + rng.uniform())) * (track.t_s > 2)
        whole = Track(t_s=track.t_s, mm=track.mm + sway)
        so_far = range(60, track.t_s.size)
        step = Step(name="rider", side="from above")
        taken += any(said(step, Track(t_s=whole.t_s[:n], mm=whole.mm[:n])).take for n in so_far)
    assert taken >= 38


def test_no_reading_before_the_wheel_moved_again() -> None:
    track = motion((1.0, 0.0), (1.0, 30.0), (6.0, 30.0))
    assert said(UNLADEN_ABOVE, track, since_s=0.5).take
    waiting = said(UNLADEN_BELOW, track, since_s=5.0)
    assert (waiting.word, waiting.why, waiting.end) == (Word.STEADY, Why.NOT_MOVED, End.FRONT)
    tiny = motion((1.0, 30.0), (0.5, 32.0), (0.5, 30.0), (3.0, 30.0))
    assert said(UNLADEN_BELOW, tiny).why is Why.NOT_MOVED


def test_held_down_is_not_let_up() -> None:
    pushed = motion((1.0, 30.0), (1.0, 80.0), (3.0, 80.0))
    assert said(UNLADEN_BELOW, pushed).why is Why.OTHER_SIDE
    let_up = motion((1.0, 30.0), (1.0, 80.0), (0.5, 80.0), (1.0, 38.0), (3.0, 38.0))
    assert said(UNLADEN_BELOW, let_up).take
    assert said(UNLADEN_ABOVE, let_up).why is Why.OTHER_SIDE


def test_a_bike_on_its_wheels_is_not_taken_for_topped_out() -> None:
    standing = motion((4.0, 30.0))
    assert said(TOP, standing, None).why is Why.NOT_LIFTED
    lifted = motion((2.0, 30.0), (1.5, 4.8), (3.0, 4.8))  # a sensor clamped 5 mm off
    assert said(TOP, lifted, None).take
    assert said(TOP, motion((4.0, 0.4)), None).take  # hangs already, and the bike file's zero is right


def test_the_slower_end_speaks() -> None:
    ready = holding(End.FRONT, motion((1.0, 0.0), (1.0, 30.0), (3.0, 30.0)), 0.0)
    late = holding(End.REAR, motion((1.0, 0.0), (3.5, 30.0), (0.5, 30.0)), 0.0)
    verdict = judge(UNLADEN_ABOVE, {End.FRONT: ready, End.REAR: late})
    assert (verdict.end, verdict.take) == (End.REAR, False)
    only_front = Step(name="topped out", end=End.FRONT)
    assert judge(only_front, {End.FRONT: ready, End.REAR: None}).end is End.FRONT
    assert judge(UNLADEN_ABOVE, {End.FRONT: ready, End.REAR: None}).word is Word.MOVING
    assert judge(UNLADEN_ABOVE, {End.FRONT: ready}).take  # one end only


def test_rest_before_the_question_does_not_count() -> None:
    hanging = motion((6.0, 0.0))
    now = holding(End.FRONT, hanging, 5.0, asked_s=5.0)
    assert isinstance(now, Holding)
    assert (now.rest_s > 5, now.held_s < 1.1) == (True, True)
    assert judge(TOP, {End.FRONT: now}).why is Why.HOLD


def test_a_gap_ends_the_rest() -> None:
    track = motion((1.0, 0.0), (1.0, 30.0), (4.0, 30.0))
    mm = track.mm.copy()
    mm[-20] = np.nan
    now = holding(End.FRONT, Track(t_s=track.t_s, mm=mm), 0.0)
    assert now is not None
    assert now.rest_s < 1.0
    mm[-1] = np.nan
    assert holding(End.FRONT, Track(t_s=track.t_s, mm=mm), 0.0) is None


def test_every_reading_taken_lies_in_a_still_span_of_its_own() -> None:
    """What takes itself here is a reading to the sag check: 60 made-up checks of 3 readings each."""
    rng = np.random.default_rng(11)
    readings = 0
    for seed in range(60):
        push, spring = rng.uniform(45, 90), rng.uniform(15, 35)
        level = spring + rng.uniform(2, 10)
        track = motion(
            (1.5, spring), (rng.uniform(0.6, 2), 0.0), (3.5, 0.0),
            (rng.uniform(0.6, 2), spring), (3.5, spring),
            (rng.uniform(0.4, 1), push), (rng.uniform(0.4, 1.5), level), (3.5, level),
            noise_mm=rng.uniform(0.02, 0.3), seed=seed,
        )  # fmt: skip
        spans = still_spans(track)
        steps, since_s, taken_in = [TOP, UNLADEN_ABOVE, UNLADEN_BELOW], None, []
        for n in range(30, track.t_s.size, 2):
            if not steps:
                break
            if said(steps[0], Track(t_s=track.t_s[:n], mm=track.mm[:n]), since_s).take:
                since_s = float(track.t_s[n - 1])
                inside = [span for span in spans if span.start_s <= since_s <= span.end_s]
                assert len(inside) == 1, (seed, steps[0].mark)
                taken_in.append(inside[0])
                del steps[0]
        readings += len(taken_in)
        assert len(set(taken_in)) == len(taken_in)
    assert readings >= 0.98 * 180


def test_rows_become_means_and_gaps_are_kept() -> None:
    watch = Watch()
    assert watch.channel(0)[0].size == 0
    rows = tuple((0.01 * n, (100 + n % 2, 7)) for n in range(100))
    watch.add(rows[:60])
    watch.add(rows[40:])  # the same rows come again with every look
    t_s, counts = watch.channel(0)
    assert t_s.size == 19  # the slot that is not over yet is not shown
    assert np.diff(t_s) == pytest.approx(0.05, abs=0.011)
    assert counts == pytest.approx(100.5, abs=0.11)
    watch.add(((2.0 + STALE_S, (50, 7)), (2.1 + STALE_S, (50, 7))))
    assert np.isnan(watch.channel(0)[1]).sum() == 1
    assert watch.channel(2)[0].size == 0
    watch.forget_before(1.0)
    assert watch.channel(1)[0].min() >= 1.0
