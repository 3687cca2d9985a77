"""What the guided sag check says: to do what, how it stands, what was read."""

from __future__ import annotations

from analysis.holding import Verdict, Why
from analysis.phases import FROM_ABOVE, RIDER, TOPPED_OUT
from analysis.procedure import Row, Step, Taken
from dashboard.guide import View
from dashboard.units import Units, length, length_number, number

RIDER_HOLDS = "All gear on, both feet on the pegs. Look ahead, breathe out, hold still."
BIKE_HOLDS = "Hold it upright with two fingers, so that nothing leans on the suspension."
HANGING = "Support it so that it cannot fall. Nothing may carry a wheel."
BRACKET = "Bar at the left edge: where the wheel went in the last 3 s. Bracket: target sag with the rider on."


def title(step: Step, *, rounds: int = 1) -> str:
    """Name a reading in the list."""
    if step.name == TOPPED_OUT:
        return f"{_wheels(step)} off {'once more' if step.closing else 'the ground'}"
    who = "Rider on" if step.name == RIDER else "Bike alone"
    how = "let down" if step.side == FROM_ABOVE else "pushed, let up"
    again = f" ({step.repeat})" if rounds > 1 or step.repeat > 1 else ""
    return f"{who}, {how}{again}"


def instruction(step: Step) -> str:
    """Say what to do, in one sentence or two."""
    if step.name == TOPPED_OUT:
        hang = "hangs" if step.end else "hang"
        return f"Lift the bike until {_wheels(step).lower()} {hang} free."
    who = "Rider on." if step.name == RIDER else "Bike alone."
    if step.side == FROM_ABOVE:
        return f"{who} Lift it a hand’s width, let it down gently."
    return f"{who} Push it down, let it up gently."


def beside(step: Step) -> str:
    """Say what to mind while doing it."""
    if step.closing:
        return "Shows whether a sensor has moved. If you cannot, stop here: the sag is known without it."
    if step.name == TOPPED_OUT:
        return HANGING
    return RIDER_HOLDS if step.name == RIDER else BIKE_HOLDS


def _wheels(step: Step) -> str:
    return "Both wheels" if step.end is None else f"{step.end.value.capitalize()} wheel"


def how_it_stands(view: View, units: Units = Units.MM) -> str:
    """Say in a sentence whether the bike holds still, and what keeps the reading from taking itself."""
    if view.live.message:
        return view.live.message
    if view.step is None:
        return "All readings are taken."
    if view.verdict is None:
        return "Nothing comes from the board." if view.live.status != "recording" else "Taken."
    return sentence(view.verdict, view.step, units)


def sentence(verdict: Verdict, step: Step, units: Units = Units.MM) -> str:
    """Put a verdict into words."""
    if verdict.why is Why.MOVING:
        return "Moving."
    if verdict.why is Why.SETTLING:
        return _settling(verdict, units)
    if verdict.why is Why.HOLD:
        return f"Held still for {number(verdict.held_s)} s. Takes itself in {number(verdict.left_s)} s."
    if verdict.why is Why.TAKE:
        return "Held still. Taken."
    if verdict.why is Why.NOT_LIFTED:
        return f"Waiting: {verdict.end} was not seen to come up. If it hangs free already, take it anyway."
    if verdict.why is Why.NOT_MOVED:
        return f"Waiting: {verdict.end} has not moved since the last reading."
    came = "it was pushed" if step.side == FROM_ABOVE else "it was let down"
    return f"Not taken: {verdict.end} came to rest as if {came}. {_motion(step)}"


def _settling(verdict: Verdict, units: Units) -> str:
    """Say which way it creeps, where that shows in a tenth of a millimetre."""
    far = length(abs(verdict.creep_mm), units)
    if abs(verdict.creep_mm) < 0.1:
        return "Coming to rest. Hold on."
    way = "down" if verdict.creep_mm > 0 else "up"
    return f"Still creeping {way}, {far} over the last second. Hold on."


def _motion(step: Step) -> str:
    if step.side == FROM_ABOVE:
        return "Lift it a hand’s width and let it down."
    return "Push it down well and let it up."


def disagreement(view: View, units: Units = Units.MM) -> str | None:
    """Say that the last reading lies off its repeats, and by how much; ``None`` where it does not."""
    if view.disagrees is None or view.step is None:
        return None
    end, off_mm = view.disagrees
    if view.step.name == TOPPED_OUT:
        return (
            f"{end.value.capitalize()} topped out reads {length(off_mm, units)} from where it was. "
            "Hangs it free? If so, the sensor has moved. Take it once more."
        )
    return f"{end.value.capitalize()} lies {length(off_mm, units)} off its repeat. Take it once more."


def read_values(taken: Taken, units: Units = Units.MM) -> str:
    """Give what a reading read.

    >>> from ingest.records import End
    >>> step = Step(name="rider", side="from above")
    >>> read_values(Taken(step=step, t_s=1.0, mm={End.FRONT: 46.84, End.REAR: 41.1}))
    'front 46.8 · rear 41.1 mm'
    """
    parts = [f"{end} {length_number(mm, units)}" for end, mm in taken.mm.items()]
    return f"{' · '.join(parts)} {units}"


def under(row: Row, units: Units = Units.MM) -> str:
    """Say below a row's title what was read."""
    if row.taken is not None:
        return read_values(row.taken, units)
    return "shows whether a sensor moved" if row.step.closing else ""


def progress(view: View) -> str:
    """Say how far the check has come: reading 4 of 6."""
    if view.step is None:
        return f"all {len(view.rows)} readings taken"
    now = next(index for index, row in enumerate(view.rows, 1) if row.step == view.step)
    return f"reading {now} of {len(view.rows)}"


def count_title(view: View) -> str:
    """Head the list."""
    return f"{len(view.rows)} readings"
