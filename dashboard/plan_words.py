"""The lowering plan in tables and sections."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.plan_results import EndPlan, HowMuch, Option, Plan, StandPlan
from analysis.stand_length import USUAL_LEAN_DEG
from dashboard import units as show
from dashboard.safety import SAFETY
from dashboard.units import Units
from dashboard.wording import Table

ORDER_LINE = (
    "Least work first, then least travel and clearance given up; refused ones last. front, rear: compression "
    "travel left at ride position; ground: clearance at the belly, rider aboard. *: it costs more than is "
    "usual, see mind below."
)
SAFETY_LINES = SAFETY
NAME_WIDTH = 34
WORTH_SAYING_SHARE = 0.02
WORTH_SAYING_DEG = 0.5


def amount_table(amounts: HowMuch, units: Units = Units.MM) -> Table:
    """Say how much is wanted, what correct sag gives, and what is left for parts."""
    rows = [
        (
            "wanted at the seat",
            show.quantity(amounts.wanted_mm, units),
            show.sentence(amounts.wanted_from or "", units),
        ),
        (
            "correct sag gives",
            show.quantity(amounts.from_correct_sag_mm, units),
            sag_words(amounts, units),
        ),
        ("left for parts", show.length_number(amounts.hardware_mm, units), left_words(amounts, units)),
    ]
    return Table(head=("", str(units), ""), rows=tuple(rows))


def sag_words(amounts: HowMuch, units: Units) -> str:
    """Say from where to where rider sag is to go at each end."""
    said = []
    for name, end in (("front", amounts.front), ("rear", amounts.rear)):
        now = "?" if end.at_boards_mm is None else show.length_number(end.at_boards_mm.value, units, 0)
        to = "?" if end.target_mm is None else show.length_number(end.target_mm, units, 0)
        said.append(f"{name} {now} → {to}")
    return ", ".join(said)


def left_words(amounts: HowMuch, units: Units) -> str:
    """Say how sure what is left for parts is, or why there is nothing."""
    if amounts.left_over_mm is None or amounts.hardware_mm is None:
        return "measure first"
    if amounts.hardware_mm == 0.0:
        return "no lowering part"
    return f"± {show.length_number(amounts.left_over_mm.expanded_uncertainty, units)}"


def option_table(plan: Plan, units: Units = Units.MM) -> Table:
    """One row an option: what it gives at the seat, what it leaves, and whether it may be done."""
    return Table(
        head=(str(units), "seat", "front", "rear", "trail", "ground", ""),
        rows=tuple(_row(number, option, units) for number, option in enumerate(plan.options, 1)),
    )


def _row(number: int, option: Option, units: Units) -> tuple[str, ...]:
    seat = None if option.seat_drop_mm is None else -option.seat_drop_mm.value
    return (
        f"{number} {_short(option.name)}",
        show.length_number(seat, units, 0, sign=True),
        _left(option.front, units),
        _left(option.rear, units),
        show.length_number(option.trail_mm, units, 0),
        show.length_number(option.clearance.belly_mm, units, 0),
        _word(option),
    )


def _word(option: Option) -> str:
    if not option.allowed:
        return "no"
    return ("serves" if option.serves else "yes") + ("*" if option.mind else "")


def _short(name: str) -> str:
    return name if len(name) <= NAME_WIDTH else f"{name[: NAME_WIDTH - 1]}…"


def _left(end: EndPlan, units: Units) -> str:
    return show.length_number(end.travel_left_mm, units, 0)


def option_texts(plan: Plan, *, everything: bool) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Give a heading and its sentences for each option; the refused ones only their reasons, each once.

    ``everything`` adds what the refused ones would give up.
    """
    refused = []
    seen: dict[str, int] = {}
    for number, option in enumerate(plan.options, 1):
        if option.allowed:
            serves = ": serves" if option.serves else ""
            yield f"{number} {option.name}{serves}{', but mind' if option.mind else ''}", way_lines(option)
            continue
        new = [reason for reason in option.because if reason not in seen]
        known = [f"as {seen[reason]}" for reason in option.because if reason in seen]
        seen |= dict.fromkeys(new, number)
        said = "; ".join((*dict.fromkeys(known), *new))
        if option.gives_up and (everything or option.kind in ("rear only", "fork tubes")):
            said += f". It would give up: {'; '.join(option.gives_up)}"
        refused.append(f"{number} {option.name}: {said}")
    if refused:
        yield "refused", tuple(refused)


def way_lines(option: Option) -> tuple[str, ...]:
    """Say all there is to say of one way, one sentence each."""
    lines = [
        *(f"mind: {text}" for text in option.mind),
        f"{option.intervention_word}; {_back(option)}",
        end_line("front", option.front),
        end_line("rear", option.rear),
        *option.because,
    ]
    lines += [f"gives up: {'; '.join(option.gives_up)}"] if option.gives_up else []
    lines += [f"does not fix: {' '.join(option.does_not_fix)}"] if option.does_not_fix else []
    return (*lines, *stand_lines(option))


def _back(option: Option) -> str:
    return f"back: {option.way_back}" if option.reversible else f"cannot be undone: {option.way_back}"


def ends_line(option: Option) -> str:
    """Say in short what is done to both ends."""
    return f"front: {option.front.means}; rear: {option.rear.means}"


def end_line(name: str, end: EndPlan) -> str:
    """Say what is done to one end, and sag, preload, leverage and wheel rate then."""
    said = f"{name}: {end.means}"
    if end.rider_sag_mm is not None:
        share = "" if end.rider_sag_percent is None else f" ({show.percent(end.rider_sag_percent)})"
        said += f", rider sag then {show.quantity(end.rider_sag_mm)} mm{share}"
    if end.preload_mm is not None:
        said += f", preload {show.quantity(end.preload_mm)} mm"
    said += _changed("leverage", end.leverage_now, end.leverage, 2)
    return said + _changed("wheel rate", end.wheel_rate_now_n_mm, end.wheel_rate_n_mm, 1, " N/mm")


def _changed(what: str, now: float | None, then: float | None, decimals: int, unit: str = "") -> str:
    """Say how something changes, nothing where it hardly does."""
    if now is None or then is None or abs(then - now) < WORTH_SAYING_SHARE * now:
        return ""
    return f", {what} {show.number(now, decimals)} → {show.number(then, decimals)}{unit}"


def uncut_stand_lines(stand: StandPlan) -> list[str]:
    """Say how the bike leans on a side stand that nobody shortens; nothing where it leans as it did.

    >>> uncut_stand_lines(StandPlan(side_stand_lean_now_deg=11.0, side_stand_lean_uncut_deg=9.2))
    ['on the unshortened side stand the bike would lean 9°, where it leans 11° now']
    """
    now, then = stand.side_stand_lean_now_deg, stand.side_stand_lean_uncut_deg
    if now is None or then is None or abs(now - then) < WORTH_SAYING_DEG:
        return []
    said = "on the unshortened side stand the bike would"
    if then <= 0.0:
        return [
            f"{said} lean {-then:.0f}° over to the other side, where it leans {now:.0f}° now: it tips over"
        ]
    if not stand.side_stand_tips:
        return [f"{said} lean {then:.0f}°, where it leans {now:.0f}° now"]
    low, high = USUAL_LEAN_DEG
    return [
        f"{said} lean only {then:.0f}°, where it leans {now:.0f}° now and {low:.0f} to {high:.0f}° is usual "
        "(common practice, no source): it may tip to the other side"
    ]


def stand_lines(option: Option) -> list[str]:
    """Say what has to follow the new height: stands, chain slack, headlight."""
    lines = []
    for name, now, then in (
        ("side stand", option.stand.side_stand_now_mm, option.stand.side_stand_mm),
        ("centre stand", option.stand.centre_stand_now_mm, option.stand.centre_stand_mm),
    ):
        if now is not None and then is not None:
            lines.append(
                f"{name} {now:.0f} → {then:.0f} mm; cut it only when the rider has approved the height"
            )
    lines += uncut_stand_lines(option.stand)
    if option.chain_slack_mm is not None and option.chain_slack_now_mm is not None:
        lines.append(
            f"chain slack to set, parked: {option.chain_slack_now_mm:.0f} → {option.chain_slack_mm:.0f} mm"
        )
    if option.headlight_drop_at_wall_mm is not None and abs(option.headlight_drop_at_wall_mm) >= 1:
        way = "lower" if option.headlight_drop_at_wall_mm > 0 else "higher"
        lines.append(f"headlight meets the wall {abs(option.headlight_drop_at_wall_mm):.0f} mm {way}: aim it")
    return lines
