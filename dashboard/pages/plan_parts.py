"""The cards of the lowering plan: the bike from the side, how much, the amount, the ways, one way in full."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from dash import dcc, html

from analysis.plan_results import HowMuch, Option
from analysis.side_geometry import SideView
from dashboard import ids, plan_words
from dashboard import units as show
from dashboard.drawings.side_view import side_view
from dashboard.pages.compare_parts import fold, second
from dashboard.parts import Look, card, csv_text, drawing, save_button
from dashboard.plan_measures import on_a_page
from dashboard.plan_shown import Shown, views
from dashboard.plan_ways import FOOT, HEAD, Row, rows_of
from dashboard.theme import Palette
from dashboard.units import NOTHING, Units
from ingest.errors import CannotAnswer

WIDE_PX, NARROW_PX = 768.0, 340.0
TRAP = "Ordered without this"
FIRST = 3  # reasons that stand in the table; the others are folded


# ------------------------------------------------------------------------------------------- the drawing


def picture(state: Shown, look: Look) -> list[Any]:
    """Draw the bike before and after, wide and for a phone; what is missing where it cannot be drawn."""
    try:
        before, after, standing = views(state)
    except CannotAnswer:
        return [html.P("No drawing yet: it takes rake, fork offset, wheelbase and both wheel radii (below).")]
    alt = alt_text(state, before, after, standing, look.units)
    wanted = state.plan.how_much.wanted_mm
    boards_mm = None if wanted is None else wanted.value

    def figure(px_wide: float, kind: str) -> Any:
        def draw(palette: Palette) -> str:
            return side_view(
                before, after, look.units, palette, title=alt, px_wide=px_wide, boards_mm=boards_mm
            )

        made = drawing(draw, look, alt=alt, name=f"plan_{state.job.id}", data=_csv(before, after))
        return html.Div(made, className=kind)

    figures = [figure(WIDE_PX, "ff-plan-wide"), figure(NARROW_PX, "ff-plan-narrow")]
    said = f"The bike as it is, {standing}." if after is None else _means(state.option, look.units)
    return [*figures, html.P(said, className="ff-quiet ff-center")]


def _means(option: Option | None, units: Units) -> list[Any]:
    if option is None:
        return []
    word = "allowed" if option.allowed else "refused"
    return [html.B(option.name), " ", plate(word), " ", show.sentence(plan_words.ends_line(option), units)]


def alt_text(state: Shown, before: SideView, after: SideView | None, standing: str, units: Units) -> str:
    """Say in words all the drawing shows."""
    said = [f"{state.plan.bike} from the side, to scale, {standing}"]
    if after is not None and state.option is not None:
        said.append(f"before and after: {state.option.name}")
    for name, was, now, angle in _pairs(before, after):
        if was is None:
            continue
        text = show.angle(was) if angle else show.length_number(was, units, 0)
        if now is not None:
            text += f" → {show.angle(now) if angle else show.length_number(now, units, 0)}"
        said.append(f"{name} {text}{'' if angle else f' {units}'}")
    return ". ".join((f"{said[0]}", ", ".join(said[1:])))


def _pairs(
    before: SideView, after: SideView | None
) -> Iterator[tuple[str, float | None, float | None, bool]]:
    """Give each dimension by name, before and after, and whether it is an angle."""
    was, now = _dimensions(before), None if after is None else _dimensions(after)
    for name, value in was.items():
        yield name, value, None if now is None else now[name], name == "rake"


def _dimensions(one: SideView) -> dict[str, float | None]:
    return {
        "seat": None if one.seat_mm is None else one.seat_mm[1],
        "belly": None if one.belly_mm is None else one.belly_mm[1],
        "rake": one.rake_deg,
        "trail": one.trail_mm,
        "wheelbase": one.wheelbase_mm,
    }


def _csv(before: SideView, after: SideView | None) -> str:
    rows = [
        (name, "deg" if angle else "mm", *(None if v is None else round(v, 2) for v in (was, now)))
        for name, was, now, angle in _pairs(before, after)
    ]
    return csv_text(("what", "unit", "before", "after"), rows)


# ---------------------------------------------------------------------------------------------- how much


def how_much(state: Shown, look: Look) -> Any:
    """Say what is wanted at the seat, what correct sag gives, what is left for parts, and the trap."""
    amounts, units = state.plan.how_much, look.units
    rows = [
        _amount("Wanted", amounts.wanted_from or "not yet known", _value(amounts.wanted_mm, units)),
        _amount("Correct sag alone", _from_sag(amounts, units), _sag_value(amounts, units)),
        _amount(
            "Left for parts",
            plan_words.left_words(amounts, units) if amounts.hardware_mm in (None, 0.0) else "",
            NOTHING if amounts.hardware_mm is None else _left(amounts, units),
            strong=True,
        ),
    ]
    trap = next((one for one in amounts.warnings if one.startswith(TRAP)), None)
    last = [html.P(on_a_page(trap, units))] if trap else []
    return card(f"How much, {units} at the seat", html.Dl(rows, className="ff-amounts"), *last)


def _amount(name: str, under: str, value: str, *, strong: bool = False) -> Any:
    return html.Div([html.Dt(second(name, under)), html.Dd(value)], className="ff-strong" if strong else "")


def _value(quantity: Any, units: Units) -> str:
    return NOTHING if quantity is None else show.quantity(quantity, units)


def _from_sag(amounts: HowMuch, units: Units) -> str:
    if amounts.from_correct_sag_mm is None:
        return "measure sag first"
    return f"rider sag {plan_words.sag_words(amounts, units)}"


def _sag_value(amounts: HowMuch, units: Units) -> str:
    found = amounts.from_correct_sag_mm
    if found is None:
        return NOTHING
    return f"{'−' if found.value >= 0 else '+'} {show.quantity(found, units).lstrip('−')}"


def _left(amounts: HowMuch, units: Units) -> str:
    if amounts.hardware_mm == 0.0 or amounts.left_over_mm is None:
        return show.length_number(amounts.hardware_mm, units, 0)
    return show.quantity(amounts.left_over_mm, units)


# ---------------------------------------------------------------------------------------------- the amount


def slider(state: Shown, look: Look) -> Any:
    """Make the slider of what parts are to give, with a field to type it; closed until sag is known."""
    if state.amount_mm is None:
        return card(
            "Lowering by parts",
            html.P(html.B("Measure first.")),
            html.P("Until rider sag is known at both ends there is no figure for parts."),
            dcc.Link("Sag check", href=f"/check/{state.job.id}", className="ff-button ff-main"),
        )
    most, units = state.most_mm, look.units
    return html.Section(
        [
            html.Header(
                [
                    html.Label(html.H2("Lowering by parts"), htmlFor=ids.PLAN_AMOUNT, className="ff-grow"),
                    html.Label(
                        [
                            html.Span("typed, ", className="ff-hidden"),
                            dcc.Input(
                                id=ids.PLAN_NUMBER,
                                type="number",
                                min=0,
                                max=typed(most, units),
                                step="any",
                                value=typed(state.amount_mm, units),
                                debounce=True,
                            ),
                            f" {units}",
                        ],
                        className="ff-typed ff-noprint",
                    ),
                ]
            ),
            html.Div(
                [
                    dcc.Input(
                        id=ids.PLAN_AMOUNT,
                        type="range",
                        min=0,
                        max=most,
                        step=1,
                        value=state.amount_mm,
                        debounce=False,
                    ),
                    _ticks(most, units),
                ],
                className="ff-noprint ff-slide",
            ),
            html.Div(amount_read(state, look), id=ids.PLAN_READ, role="status"),
            html.Div(offer(state), id=ids.PLAN_OFFER, className="ff-buttons ff-noprint"),
            html.Div(id=ids.PLAN_NOTE),
        ],
        className="ff-card",
    )


def _ticks(most_mm: float, units: Units) -> Any:
    """Write round numbers under the slider: each 10 mm, or half inch."""
    step_mm = 10.0 if units is Units.MM else 12.7
    step_mm *= 1 + int(most_mm > 80.0)
    marks = [k * step_mm for k in range(int(most_mm / step_mm + 1e-9) + 1)]
    return html.Div(
        [
            html.Span(
                show.length_number(mark, units, 0),
                style={"left": f"calc(16px + (100% - 32px) * {mark / most_mm:.4f})"},
            )
            for mark in marks
        ],
        className="ff-ticks",
        **_extra({"aria-hidden": "true"}),
    )


def typed(value_mm: float, units: Units) -> float:
    """Give a length as the field for it shows it."""
    return round(show.in_units(value_mm, units), 2)


def amount_read(state: Shown, look: Look) -> Any:
    """Say what the amount means."""
    left = state.plan.hardware_lowering_mm
    said = f"{_amount_of(state.amount_mm, look.units)} from parts"
    if left is not None and state.amount_mm is not None:
        apart = state.amount_mm - left
        if abs(apart) >= 1.0:
            said += (
                f": {show.length(abs(apart), look.units, 0)} {'more' if apart > 0 else 'less'} than is left"
            )
    return html.P(said, className="ff-quiet")


def _amount_of(value_mm: float | None, units: Units) -> str:
    """Write an amount from parts: whole mm, or as it was typed."""
    return show.length(value_mm, units, 0 if value_mm is None or value_mm.is_integer() else 1)


def offer(state: Shown) -> Any:
    """Make the button that keeps the chosen way, closed where it may not be done."""
    option = state.option
    if option is None or not option.allowed:
        return html.Button(
            "First: a way that is allowed",
            id=ids.PLAN_KEEP,
            type="button",
            disabled=True,
            className="ff-button",
        )
    return html.Button("Keep this plan", id=ids.PLAN_KEEP, type="button", className="ff-button ff-main")


def kept(state: Shown, look: Look) -> list[Any]:
    """Say what was agreed on, and what it promised then."""
    one, units = state.job.kept, look.units
    if one is None:
        return []
    said = [f"agreed {one.kept}"]
    if one.setup:
        said.append(f"planned from {one.setup}")
    if one.hardware_mm is not None:
        said.append(f"{_amount_of(one.hardware_mm, units)} from parts")
    if one.seat_drop_mm is not None:
        value, doubt = (show.length_number(v, units) for v in one.seat_drop_mm)
        said.append(f"promised: seat {value} ± {doubt} {units} lower")
    return [card("Kept plan", html.P([html.B(one.option), ": ", ", ".join(said), "."]))]


# ------------------------------------------------------------------------------------------------ the ways


def ways(state: Shown, look: Look) -> Any:
    """Show all ways, the chosen one marked; the refused ones stay with their reasons."""
    rows = rows_of(state.plan, look.units)
    chosen = None if state.option is None else state.option.name
    known = None if state.job.kept is None else state.job.kept.option
    head = [html.Th(text, scope="col", className="n" if 1 <= k <= 9 else "") for k, text in enumerate(HEAD)]
    body = [_way(row, row.name == chosen, row.name == known) for row in rows]
    made = html.Table([html.Thead(html.Tr(head)), html.Tbody(body)], className="ff-stack ff-ways")
    return [
        html.Div(made, className="ff-scroll", tabIndex="0"),
        html.P(FOOT, className="ff-quiet ff-small"),
        save_button("Data", f"ways_{state.job.id}.csv", _ways_csv(rows)),
    ]


def _way(row: Row, chosen: bool, kept_one: bool) -> Any:
    choose = html.Button(
        row.name[:1].upper() + row.name[1:],
        type="button",
        className="ff-way",
        title="show it in the drawing",
        **_extra({"data-way": row.name, "aria-pressed": "true" if chosen else "false"}),
    )
    name = [choose, html.Span(row.means, className="ff-second")]
    if kept_one:
        name.append(html.B("kept"))
    cells = [
        html.Td(text, className="n ff-unknown" if text == NOTHING else "n", **_extra({"data-head": HEAD[k]}))
        for k, text in enumerate(row.figures, 1)
    ]
    return html.Tr(
        [
            html.Th(name, scope="row"),
            *cells,
            html.Td(plate(row.word), **_extra({"data-head": ""})),
            html.Td(_why(row), className="ff-why", **_extra({"data-head": "why"})),
        ],
        className="ff-chosen" if chosen else "",
    )


def _extra(attributes: dict[str, Any]) -> dict[str, Any]:
    """Pass attributes whose names are no Python names."""
    return attributes


def plate(word: str) -> Any:
    """Make the plate: filled where it is allowed, dashed where it is refused."""
    return html.Span(word, className=f"ff-verdict-plate {word}")


def _why(row: Row) -> Any:
    first = html.Span(" ".join(_ended(one) for one in row.why[:FIRST]))
    rest = row.why[FIRST:]
    return first if not rest else [first, fold(f"{len(rest)} more", *(html.P(_ended(one)) for one in rest))]


def _ended(text: str) -> str:
    return text if text.endswith((".", ")")) else f"{text}."


def _ways_csv(rows: Iterable[Row]) -> str:
    return csv_text(
        ("way", "how", *HEAD[1:10], "word", "why"),
        [(row.name, row.means, *row.figures, row.word, " ".join(row.why)) for row in rows],
    )


# ----------------------------------------------------------------------------------------- one way in full


def told(state: Shown, look: Look) -> Any:
    """Say all of the chosen way: what is done, what it gives up, what it does not fix, the way back."""
    option, units = state.option, look.units
    if option is None:
        return html.P("No way can be shown before sag is known.")
    back = option.way_back if option.reversible else f"cannot be undone: {option.way_back}"
    groups = (
        ("What is done", [*_ends(option), *plan_words.stand_lines(option)]),
        ("It costs more than is usual", list(option.mind)),
        ("Why it is refused" if not option.allowed else "Mind", list(option.because)),
        ("What it gives up", list(option.gives_up) or ["Nothing that was measured."]),
        ("What it does not fix", list(option.does_not_fix)),
        ("The way back", [back]),
    )
    return [
        html.P([html.B(option.name), ": ", option.intervention_word, " ", plate(_word(option))]),
        *(html.Div([html.H3(title), _lines(lines, units)]) for title, lines in groups if lines),
    ]


def _word(option: Option) -> str:
    return "allowed" if option.allowed else "refused"


def _ends(option: Option) -> list[str]:
    return [plan_words.end_line("front", option.front), plan_words.end_line("rear", option.rear)]


def _lines(lines: Iterable[str], units: Units) -> Any:
    return html.Ul(
        [html.Li(text[:1].upper() + text[1:]) for text in (on_a_page(one, units) for one in lines)]
    )
