"""What the page of the guided sag check shows of one moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dash import html

from analysis.holding import Word
from analysis.procedure import Row, State
from dashboard import check_words
from dashboard.drawings.check import check_ruler
from dashboard.drawings.svg import data_uri
from dashboard.guide import EndView, View
from dashboard.parts import Look, plate
from dashboard.units import NOTHING, duration, length, length_number, number


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckParts:
    """The parts that change, as children: what to do, the rulers, the strip, the list, a button's text."""

    say: Any
    rulers: Any
    still: Any
    readings: Any
    again: str


def parts_of(view: View, look: Look, *, narrow: bool) -> CheckParts:
    """Lay out one moment; ``narrow`` is the drawing for a phone."""
    last = next((index for index, row in reversed(_numbered(view)) if row.taken is not None), None)
    return CheckParts(
        say=_say(view, look),
        rulers=_rulers(view, look, narrow=narrow),
        still=_still(view, look),
        readings=_readings(view, look),
        again="Do the last again" if last is None else f"Do {_last_number(view)} again",
    )


def version_of(view: View) -> dict[str, int]:
    """Say which state of the list this is, and how many readings are in it: a beep for each new one."""
    return {"version": view.version, "done": sum(row.taken is not None for row in view.rows)}


def _numbered(view: View) -> list[tuple[int, Row]]:
    return list(enumerate(view.rows, 1))


def _last_number(view: View) -> int:
    """Give the number in the list of the reading taken last."""
    done = [(row.taken.t_s, number) for number, row in _numbered(view) if row.taken is not None]
    return max(done)[1]


def _say(view: View, look: Look) -> list[Any]:
    if view.step is None:
        return [
            html.H1("All readings are taken."),
            html.P("Stop shows the sag. One round more makes the doubt smaller."),
        ]
    off = check_words.disagreement(view, look.units)
    return [
        html.P(f"Sag, {check_words.progress(view)}", className="ff-quiet"),
        html.H1(check_words.instruction(view.step)),
        *([html.P(html.B(off))] if off else []),
        html.P(check_words.beside(view.step)),
    ]


def _rulers(view: View, look: Look, *, narrow: bool) -> list[Any]:
    longest = max(end.travel_mm for end in view.ends)
    lost = view.live.lost_samples
    link = "nothing lost" if not lost and not view.live.damaged else f"{lost} samples lost"
    return [
        html.Div([_end(end, look, longest, narrow=narrow) for end in view.ends], className="ff-check-ends"),
        html.P(
            [f"{view.live.status.capitalize()} {duration(view.live.duration_s)} · ", html.B(link)],
            className="ff-quiet" if lost or view.live.damaged else "ff-quiet ff-wide",
        ),
        html.P(check_words.BRACKET, className="ff-quiet ff-wide"),
    ]


def _end(view: EndView, look: Look, longest_mm: float, *, narrow: bool) -> Any:
    now = length_number(view.now_mm, look.units)
    share = NOTHING if view.now_mm is None else number(100 * view.now_mm / view.travel_mm, 1)
    alt = f"{view.end} now at {now} of {length(view.travel_mm, look.units, 0)}"
    drawn = check_ruler(view, look.units, look.colours, longest_mm=longest_mm, narrow=narrow, title=alt)
    about: list[Any] = [f"{share} %"] if view.zeroed else ["not zeroed yet"]
    if view.target_mm is not None and narrow:
        low, high = (length_number(mm, look.units, 0) for mm in view.target_mm)
        about = ["target ", html.B(f"{low}–{high}")]
    return html.Div(
        [
            html.Div(plate(view.end)),
            html.Div([html.Span(now, className="ff-reading"), f" {look.units}"]),
            html.Div(about, className="ff-quiet"),
            html.Img(src=data_uri(drawn), alt=alt),
        ]
    )


def _still(view: View, look: Look) -> list[Any]:
    current = None if view.verdict is None else view.verdict.word
    strip = [
        html.Span(word.value, className="ff-on" if word is current else "", **_current(word is current))
        for word in Word
    ]
    return [
        html.H2("Is it still?", className="ff-wide"),
        html.Div(strip, className="ff-strip"),
        html.P(check_words.how_it_stands(view, look.units), className="ff-check-sentence"),
    ]


def _current(on: bool) -> dict[str, Any]:
    return {"aria-current": "true"} if on else {}


def _readings(view: View, look: Look) -> list[Any]:
    lines = [
        html.Li(
            [
                html.B(str(number)),
                html.Span(
                    [
                        html.Span(check_words.title(row.step, rounds=view.rounds)),
                        html.Span(check_words.under(row, look.units), className="ff-second"),
                    ]
                ),
                html.B(row.state.value),
            ],
            className="ff-now" if row.state is State.NOW else "",
            **_current(row.state is State.NOW),
        )
        for number, row in _numbered(view)
    ]
    return [html.H2(check_words.count_title(view)), html.Ol(lines, className="ff-readings")]
