"""The sentences of the customer's report, spoken to the rider; never more than was measured."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.as_done import Done
from analysis.plan_results import Option
from analysis.results import EndSag, Quantity
from dashboard import compare_words, likeness_words, proof_words
from dashboard import units as show
from dashboard.report_job import Reported, Visited
from dashboard.safety import SAFETY
from dashboard.sag_card_words import seat_line
from dashboard.setup_words import end_by_end
from dashboard.units import NOTHING, Units
from dashboard.wording import many
from ingest.records import Bike, End, Job

NAME_ROOM, TEXT_ROOM = 24, 400
MEANS = (
    "±: the true value lies inside 95 times in 100. “It lies in” is the same for a change: where zero lies "
    "inside, it may be chance. A single deepest moment is chance: it never counts as a change."
)
NOT_AFTER = "It was not measured after the work: what came out cannot be told yet."
GROUNDS = "The bike grounds earlier in corners and over kerbs than before."
TOLD = "see “What it costs you”"


def shortened(text: str, room: int) -> str:
    """Cut a text at ``room`` characters, ending in …"""
    return text if len(text) <= room else text[: room - 1].rstrip() + "…"


def greeting(reported: Reported) -> str:
    """Give the name a rider is called by."""
    words = reported.job.rider.name.split()
    return shortened(words[0], NAME_ROOM) if words else "Rider"


# ------------------------------------------------------------------------------------------- the answer


def headline(reported: Reported, units: Units = Units.MM) -> str:
    """Say in one sentence what was reached: how much lower the seat is, and whether the travel is used."""
    name, after = greeting(reported), reported.after
    if after is None:
        return f"{name}, this is how your bike stands before any work."
    if not after.measured:
        return f"{name}, the work is not measured yet."
    return f"{name}, {_seat(reported, units)}{_travel(reported)}"


def _seat(reported: Reported, units: Units) -> str:
    drop = reported.seat_drop_mm
    if drop is None:
        return "how much lower your seat is cannot be told"
    size = _height(drop, units)
    if abs(drop.value) <= drop.expanded_uncertainty:
        return f"your seat is as high as before, as far as can be told (to {size})"
    return f"your seat is {size} {'lower' if drop.value > 0 else 'higher'}"


def _height(drop: Quantity, units: Units) -> str:
    """Write how much lower or higher, kept on one line: whole millimetres, a doubt of one at least."""
    least_mm = show.MM_PER_INCH / 10 if units is Units.IN else 1.0
    value = show.length_number(abs(drop.value), units, 0)
    doubt = show.length_number(max(drop.expanded_uncertainty, least_mm), units, 0)
    return f"{value}\u00a0±\u00a0{doubt}\u00a0{units}"


def _travel(reported: Reported) -> str:
    """Finish the headline; where nothing tells, a sentence of its own does (`travel_line`)."""
    if reported.comparison is None:
        return "."
    return {
        "yes": " and the bike uses its travel.",
        "no": ", but the bike does not use its travel as it should.",
    }.get(reported.comparison.answer.uses_its_travel, ".")


def answer_lines(reported: Reported, units: Units = Units.MM) -> tuple[str, ...]:
    """Say what was asked, what was done and why, what came out, and what cannot be told; one idea a line."""
    lines = [[asked_line(reported, units)], [*_why(reported, units), *_work(reported)]]
    if reported.after is None and reported.before.side.sag is not None:
        lines.append([seat_line(reported.before.side.sag, reported.before.now, units)])
    if reported.after is not None and reported.after.measured:
        lines += [[travel_line(reported)], [*_heights(reported, units)]]
    return tuple(" ".join(line) for line in lines if line)


def _work(reported: Reported) -> Iterator[str]:
    if reported.after is None:
        yield "Nothing was changed yet."
        return
    setup = reported.after.setup
    if setup is not None and setup.notes:
        yield f"Done: {shortened(' '.join(setup.notes.split()), TEXT_ROOM).rstrip('.')}."
    if reported.after.measured:
        yield from _sag_now(reported)
    else:
        yield NOT_AFTER


def asked_line(reported: Reported, units: Units = Units.MM) -> str:
    """Say what the rider asked for, and how far it was reached."""
    job = reported.job
    if job.wanted_lowering_mm is None:
        if job.rider.inseam_mm is not None:
            inseam = show.length(job.rider.inseam_mm, units, 0)
            return f"You want to reach the ground with an inseam of {inseam}."
        return "How much lower you want the seat was not noted."
    wanted = show.length(job.wanted_lowering_mm, units, 0)
    said = f"You asked for {wanted} lower at the seat{_boards(job, units)}."
    short = reported.short_of_wanted_mm
    if short is None:
        return said
    if abs(short.value) <= short.expanded_uncertainty:
        return f"{said} That was reached, as far as can be told."
    size = _height(short, units)
    return f"{said} {size} of it is missing." if short.value > 0 else f"{said} It came down {size} further."


def _boards(job: Job, units: Units) -> str:
    if job.boards is None or job.board_mm is None:
        return ""
    return f": {job.boards:g} boards of {show.length(job.board_mm, units, 0)} under your feet"


def _why(reported: Reported, units: Units) -> Iterator[str]:
    """Say what sag said before the work: that is why the springs come first."""
    words = _sag_words(reported.before)
    mass = reported.job.rider.mass_kg
    weight = "you" if mass is None else f"{show.mass(mass, units)} in gear"
    ends = {word: [end for end, said in words.items() if said == word] for word in words.values()}
    stood = "stands" if reported.after is None else "stood"
    for word, how in (("too little", "too high"), ("too much", "too low")):
        if word in ends:
            where = " and ".join(ends[word])
            yield f"Sag was {word} {where}: the bike {stood} {how} there for {weight}, before any part."
    if "right" in ends:
        yield f"Sag was right {' and '.join(ends['right'])} before the work."


def _sag_words(one: Visited) -> dict[End, str]:
    found = ((end, one.side.sag_of(end)) for end in End)
    return {end: sag.word for end, sag in found if sag is not None and sag.rider_sag_mm is not None}


def _sag_now(reported: Reported) -> Iterator[str]:
    assert reported.after is not None
    words = _sag_words(reported.after)
    if not words:
        yield "Sag was not measured after the work."
        return
    if len(set(words.values())) == 1 and len(words) == len(End):
        yield f"Rider sag now, front and rear: {words[End.FRONT]}."
    else:
        yield f"Rider sag now: {', '.join(f'{end} {word}' for end, word in words.items())}."
    for end in End:
        if end not in words:
            yield f"The {end} was not measured."


def _heights(reported: Reported, units: Units) -> Iterator[str]:
    """Say what the height of the seat rests on, or what would tell it."""
    done = reported.done
    if done is None:
        return
    if reported.taped_seat_drop_mm is not None and done.seat_drop_mm is not None:
        yield f"The tape says how much lower; sag and parts say {_height(done.seat_drop_mm, units)}."
    elif reported.seat_drop_mm is None:
        yield f"The height of the seat: {'; '.join(done.missing)}."
    elif done.seat_drop_mm is not None:
        basis = "sag and from how far the parts moved the wheels up" if done.moved_by_parts else "sag"
        yield f"Heights were worked out from {basis}."


def travel_line(reported: Reported) -> str:
    """Answer whether the bike uses its travel, or say why nobody can."""
    comparison = reported.comparison
    if comparison is None:
        return f"Whether the bike uses its travel is not shown: {reported.not_compared}."
    changed = compare_words.verdict(comparison.answer)
    return f"{_rides(reported)}: {_lower(changed)} {compare_words.uses_its_travel(comparison.answer)}"


def _rides(reported: Reported) -> str:
    assert reported.comparison is not None
    before, after = len(reported.comparison.before), len(reported.comparison.after)
    return f"{many(before, 'ride')} before and {after} after"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


# ------------------------------------------------------------------------------------------- the tables


def sag_text(sag: EndSag | None, units: Units = Units.MM) -> str:
    """Write a rider sag with its doubt."""
    return NOTHING if sag is None else show.quantity(sag.rider_sag_mm, units)


def sag_word(was: EndSag | None, now: EndSag | None) -> tuple[str, str]:
    """Give the word of rider sag now, and what it was where that was another."""
    if now is None or now.rider_sag_mm is None:
        return "not measured after", ""
    if was is None or was.rider_sag_mm is None or was.word == now.word:
        return now.word, ""
    return now.word, f", was {was.word}"


def change_text(change: Quantity | None, units: Units = Units.MM) -> tuple[str, str]:
    """Write a change, and what it lies in."""
    if change is None:
        return NOTHING, NOTHING
    decimals = show.decimals_for(change.expanded_uncertainty)
    low, high = (change.value + side * change.expanded_uncertainty for side in (-1, 1))
    value, least, most = (
        show.length_number(one, units, decimals, sign=True) for one in (change.value, low, high)
    )
    return value, f"{least} to {most}"


def cost_rows(reported: Reported, units: Units = Units.MM) -> tuple[list[tuple[str, str, str]], list[str]]:
    """Write what the work costs, before and after, and name what was not measured."""
    if reported.done is None:
        return [], []
    option = reported.done.option
    room, front, rear = option.clearance, option.front, option.rear
    gap = reported.room_before_mm
    then = (front.full_bump_room_mm, rear.full_bump_room_mm)
    left = (front.travel_left_now_mm, rear.travel_left_now_mm), (front.travel_left_mm, rear.travel_left_mm)
    full = (front.travel_now_mm, rear.travel_now_mm), (front.travel_mm, rear.travel_mm)
    rows = [
        ("Travel left, F · R", *_ends(*left, units)),
        ("Full travel, F · R", *_ends(*full, units)),
        ("Room under the belly", *_one(room.belly_now_mm, room.belly_mm, units)),
        ("The same at full bump", *_one(room.belly_at_full_bump_now_mm, room.belly_at_full_bump_mm, units)),
        (
            f"Lean until {room.lean_by or 'something'} touches",
            _angle(room.lean_now_deg),
            _angle(room.lean_deg),
        ),
        ("Room at full bump, F · R", *_ends(gap, then, units)),
        ("Trail · rake", *_steering(option, units)),
    ]
    return [row for row in rows if row[2] != NOTHING], [row[0] for row in rows if row[2] == NOTHING]


def _one(was: float | None, now: float | None, units: Units) -> tuple[str, str]:
    return show.length_number(was, units, 0), show.length(now, units, 0)


def _steering(option: Option, units: Units) -> tuple[str, str]:
    if option.trail_mm is None or option.rake_deg is None:
        return NOTHING, NOTHING
    was, now = _one(option.trail_now_mm, option.trail_mm, units)
    return f"{was} · {show.angle(option.rake_now_deg)}", f"{now} · {show.angle(option.rake_deg)}"


def _ends(
    was: tuple[float | None, float | None], now: tuple[float | None, float | None], units: Units
) -> tuple[str, str]:
    """Write front and rear beside each other, before and after; nothing where neither is known."""
    both = [[show.length_number(end, units, 0) for end in side] for side in (was, now)]
    texts = [NOTHING if one == [NOTHING, NOTHING] else " · ".join(one) for one in both]
    return texts[0], texts[1] if texts[1] == NOTHING else f"{texts[1]} {units}"


def _angle(value_deg: float | None) -> str:
    text = show.number(value_deg, 0)
    return text if text == NOTHING else f"{text}°"


def way_back(done: Done) -> str:
    """Say whether the bike can go back up."""
    return f"{'yes' if done.option.reversible else 'in part'}: {done.option.way_back}"


def settings(bike: Bike, units: Units = Units.MM) -> tuple[tuple[End, str], ...]:
    """Write in a line what each end is set to."""
    made = end_by_end(bike, units)
    lines = []
    for column, end in enumerate(End, 1):
        known = [f"{row[0]} {row[column]}" for row in made.rows if row[column] != NOTHING]
        lines.append((end, ", ".join(known) or "not in the bike file"))
    return tuple(lines)


# --------------------------------------------------------------------------------- proof, mind, footer


def proof_lines(reported: Reported) -> tuple[str, ...]:
    """Say how the plan came out against the measurement; the table beside it names what differs."""
    if reported.proved is None:
        return (f"Not held against a plan: {reported.not_proved}.",) if reported.not_proved else ()
    proof = reported.proved.proof
    return (f"Planned: {proof.option}. {proof_words.proof_verdict(proof)}",)


def mind_lines(reported: Reported, units: Units = Units.MM) -> tuple[str, ...]:
    """Give the cautions: what the work means on the road, what the numbers rest on, safety."""
    drop = reported.seat_drop_mm
    lower = drop is not None and drop.value > drop.expanded_uncertainty
    warnings = likeness_words.warnings(reported.comparison) if reported.comparison else ()
    said = (*((GROUNDS,) if lower else ()), *SAFETY, *(_sentence(one) for one in warnings))
    return tuple(show.sentence(one, units) for one in dict.fromkeys(said))


def _sentence(text: str) -> str:
    return f"{capital(text).rstrip('.')}."


def capital(text: str) -> str:
    """Begin a text with a capital."""
    return f"{text[:1].upper()}{text[1:]}"


def basis_line(reported: Reported) -> str:
    """Say what the numbers of the rides rest on."""
    if reported.comparison is not None:
        return likeness_words.basis_line(reported.comparison)
    return "" if reported.not_compared is None else f"riding not compared: {reported.not_compared}"


def foot(reported: Reported, software: str) -> str:
    """Say what ± means, which logs and amendments it rests on, and which version wrote it."""
    logs = ", ".join(log.id for log in reported.logs) or "none"
    amended = shortened("; ".join(reported.amendments), TEXT_ROOM)
    said = [
        MEANS,
        f"Logs: {shortened(logs, 2 * TEXT_ROOM)}.",
        f"Amended: {amended}." if amended else "",
        software,
    ]
    return " ".join(part for part in said if part) + "."
