"""Find the phases of a sag check in a log without marks, from levels, order and direction alone.

Three facts of the procedure carry it. Topped out is the least travel. The rider presses both ends deeper.
Settled from below reads deeper than from above, never less. A split that these facts do not settle is not
guessed: the spans stay unnamed and a caution says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.phases import FROM_ABOVE, FROM_BELOW, RIDER, TOPPED_OUT, UNLADEN, Named, Phase, met
from analysis.stillness import StillSpan
from ingest.records import End

Floats = npt.NDArray[np.float64]

SAME_LEVEL_MM = 2.0
# A sensor that slipped during the check may move the topped-out reading of one end by as much.
SLIPPED_MM = 8.0
LEAST_RIDER_MM = 4.0
# Half of this is more friction than a healthy bike has (common practice, no source), so it is a load.
SURELY_LOAD_MM = 15.0
# Between two readings the hand that lifts or pushes turns round; that rests for a moment too.
PAUSE_S = 2.2
PAUSE_SHARE = 0.7
TURNED_MM = 2.5
MARK_IT = "mark the readings (topped out, unladen, rider) when recording"


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    """The bike at rest for a while: one span for each measured end."""

    spans: tuple[tuple[End, StillSpan], ...]

    @property
    def start_s(self) -> float:
        return max(span.start_s for _, span in self.spans)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Split:
    """One way of dividing the states into two loads, fitted; ``rider`` says which states carry the rider."""

    rider: npt.NDArray[np.bool_]
    misfit_mm: float
    load_mm: Floats
    confounded: bool
    runs: int


def find_phases(spans: Mapping[End, Sequence[StillSpan]], zeros_mm: Mapping[End, float | None]) -> Named:
    """Name the still spans of a log without marks.

    Parameters
    ----------
    spans : mapping of End to still spans
        Levels in wheel mm (rough, any offset), deeper = more.
    zeros_mm : mapping of End to float or None
        Topped-out level on the same scale where it was measured before; ``None`` where it has to be found.
    """
    tops = {end: _top(of_end, zeros_mm.get(end)) for end, of_end in spans.items() if of_end}
    held = {end: _without_pauses(of_end, tops[end]) for end, of_end in spans.items() if of_end}
    states = _states(held)
    hanging = _hanging(states, tops)
    resting = [state for state, hangs in zip(states, hanging, strict=True) if not hangs]
    phases = [
        Phase(end=end, name=TOPPED_OUT, side=None, span=span)
        for end, top in tops.items()
        for span in held[end]
        if span.level_mm <= top + SAME_LEVEL_MM and _hangs_somewhere(span, states, hanging)
    ]
    cautions: list[str] = []
    if resting:
        loads, why = _loads(resting)
        cautions += [why] if why else []
        phases += _readings(resting, loads, cautions)
    else:
        cautions.append(f"no still span with the wheels on the ground was found; {MARK_IT}")
    phases.sort(key=lambda phase: (phase.span.start_s, phase.end))
    return Named(phases=tuple(phases), cautions=tuple(cautions))


def _top(spans: Sequence[StillSpan], zero_mm: float | None) -> float:
    least = min(span.level_mm for span in spans)
    return least if zero_mm is None else min(zero_mm, least)


def _without_pauses(spans: Sequence[StillSpan], top_mm: float) -> list[StillSpan]:
    """Leave out the moments at which a lift or a push turned round: short, and then it rests elsewhere.

    What a short one is depends on how long this log's readings are. Topped out stays: a hanging wheel is at
    its end, however short.
    """
    standing = [span for span in spans if span.level_mm > top_mm + SAME_LEVEL_MM]
    if not standing:
        return list(spans)
    lengths = sorted(_length_s(span) for span in standing)
    usual_s = lengths[(3 * len(lengths)) // 4]
    short_s = min(PAUSE_S, PAUSE_SHARE * usual_s)
    return [
        span
        for span, following in zip(spans, [*spans[1:], None], strict=True)
        if span.level_mm <= top_mm + SAME_LEVEL_MM
        or following is None
        or _length_s(span) >= min(short_s, _length_s(following))
        or abs(following.level_mm - span.level_mm) <= TURNED_MM
    ]


def _length_s(span: StillSpan) -> float:
    return span.end_s - span.start_s


def _states(spans: Mapping[End, Sequence[StillSpan]]) -> list[_State]:
    """Pair up the spans in which both ends rest together; one end alone is a state by itself."""
    ends = [end for end, of_end in spans.items() if of_end]
    if len(ends) == 1:
        return [_State(spans=((ends[0], span),)) for span in spans[ends[0]]]
    if not ends:
        return []
    one, other = ends
    return [_State(spans=((one, a), (other, b))) for a in spans[one] for b in spans[other] if met(a, b)]


def _hanging(states: Sequence[_State], tops: Mapping[End, float]) -> list[bool]:
    """Tell in which states a wheel hangs free.

    Both lifted together: a state at the top with one end only is a bike that tops out by itself, unless each
    end is seen at its top alone. Lifted one after the other: the end still on the ground carries another
    load than usual and gives no reading.
    """
    above = [{end: span.level_mm - tops[end] for end, span in state.spans} for state in states]
    at_top = [min(each.values()) <= SAME_LEVEL_MM for each in above]
    alone = {
        min(each, key=lambda end: each[end])
        for top, each in zip(at_top, above, strict=True)
        if top and max(each.values()) > SAME_LEVEL_MM
    }
    together = [top and max(each.values()) <= SLIPPED_MM for top, each in zip(at_top, above, strict=True)]
    return together if any(together) and len(alone) < 2 else at_top


def _hangs_somewhere(span: StillSpan, states: Sequence[_State], hanging: Sequence[bool]) -> bool:
    mine = [hangs for state, hangs in zip(states, hanging, strict=True) if span in dict(state.spans).values()]
    return any(mine) or not mine


def _loads(states: Sequence[_State]) -> tuple[npt.NDArray[np.bool_] | None, str | None]:
    """Tell which states carry the rider, or why that cannot be told."""
    levels = np.array([[span.level_mm for _, span in state.spans] for state in states])
    sides = np.array([[_sign(span.side) for _, span in state.spans] for state in states])
    splits = [_fit(rider, levels, sides) for rider in _candidates(levels)]
    splits = [split for split in splits if split.load_mm.sum() >= LEAST_RIDER_MM]
    if not splits:
        return None, f"one load only was found beside topped out, unladen or rider cannot be told; {MARK_IT}"
    best = min(
        splits, key=lambda split: (round(split.misfit_mm, 1) + 0.5 * max(0, split.runs - 2), split.runs)
    )
    if best.confounded and best.load_mm.max() < SURELY_LOAD_MM:
        return None, (
            "the loads differ by no more than friction can, and each was settled from one side only; "
            + MARK_IT
        )
    if best.misfit_mm > max(1.5, 0.25 * float(best.load_mm.sum())):
        return None, f"the still spans do not fall into unladen and rider clearly; {MARK_IT}"
    return best.rider, None


def _candidates(levels: Floats) -> list[npt.NDArray[np.bool_]]:
    """Every cut in time and every cut by depth, the deeper part taken as the rider."""
    depth = levels.sum(axis=1)
    found: dict[bytes, npt.NDArray[np.bool_]] = {}
    order = np.argsort(depth, kind="stable")
    for cut in range(1, depth.size):
        late = np.arange(depth.size) >= cut
        deep = np.zeros(depth.size, bool)
        deep[order[cut:]] = True
        for part in (late, deep):
            rider = part if depth[part].mean() >= depth[~part].mean() else ~part
            found[rider.tobytes()] = rider
    return list(found.values())


def _fit(rider: npt.NDArray[np.bool_], levels: Floats, sides: Floats) -> _Split:
    """Fit level = unladen + load x rider + friction x side at each end, friction never negative."""
    load = np.empty(levels.shape[1])
    residual = np.empty_like(levels)
    confounded = True
    for k in range(levels.shape[1]):
        side = sides[:, k]
        design = np.column_stack([np.ones(rider.size), rider.astype(float), side])
        apart = np.linalg.matrix_rank(design) == 3
        solved = np.linalg.lstsq(design if apart else design[:, :2], levels[:, k], rcond=None)[0]
        if apart and solved[2] < 0:
            solved = np.linalg.lstsq(design[:, :2], levels[:, k], rcond=None)[0]
        load[k] = solved[1]
        residual[:, k] = levels[:, k] - design[:, : solved.size] @ solved
        mixed = not side.any() or apart or bool(np.all(side == side[0]))
        confounded &= not mixed
    runs = 1 + int(np.count_nonzero(np.diff(rider.astype(int))))
    misfit = float(np.sqrt(np.mean(residual**2)))
    return _Split(rider=rider, misfit_mm=misfit, load_mm=load, confounded=confounded, runs=runs)


def _sign(side: str | None) -> float:
    return {FROM_ABOVE: -0.5, FROM_BELOW: 0.5}.get(side or "", 0.0)


def _readings(
    states: Sequence[_State], rider: npt.NDArray[np.bool_] | None, cautions: list[str]
) -> list[Phase]:
    if rider is None:
        return []
    taken: dict[tuple[End, StillSpan], set[str]] = {}
    for state, on in zip(states, rider, strict=True):
        for end, span in state.spans:
            taken.setdefault((end, span), set()).add(RIDER if on else UNLADEN)
    phases: list[Phase] = []
    for (end, span), names in taken.items():
        if len(names) > 1:
            cautions.append(
                f"{end}: did not move between unladen and rider at {span.start_s:.1f} s; left out"
            )
            continue
        phases.append(Phase(end=end, name=names.pop(), side=span.side, span=span))
    return phases
