"""The cards of the before/after page that say what came out: the answer, the warnings, rulers, numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import Any

from dash import html

from analysis.compare_results import Comparison, Metric
from dashboard import compare_words as words
from dashboard import likeness_words
from dashboard.compared import Compared
from dashboard.drawings.paired import TALL_PX, Places, paired_ruler
from dashboard.pages.compare_parts import Group, fold, lines, pair_table, placed, second
from dashboard.parts import Look, card, csv_text, drawing
from dashboard.theme import PRINT, Palette
from dashboard.units import Units, length, quantity
from ingest.records import End

SHORT_WORDS = {"yes": "Yes.", "no": "No."}
OPEN_METRICS = ("mean_mm", "p95_mm", "travel_used_percent", "topping_per_10_min", "bottoming_per_10_min")
METRIC_HEAD = ("", "end", "before", "after", "change\nof travel", "95 in 100:\nit lies in", "in a word")
WARNINGS_SHOWN = 4
PAPER_SHARE = 0.8  # height of a ruler on paper against the screen


def answer(comparison: Comparison) -> Any:
    """Answer the question of the job; the rule and the method are one click away."""
    said = comparison.answer
    short = SHORT_WORDS.get(said.uses_its_travel, "Cannot tell.")
    return html.Section(
        [
            html.P("Does the bike use its travel after the work?", className="ff-quiet"),
            html.H1([html.B(short), html.Span(f" {words.uses_its_travel(said)}")], className="ff-verdict"),
            html.P(html.B(words.verdict(said))),
            lines(said.because),
            fold(
                "The rule and the method",
                html.P([html.B("Rule: "), comparison.rule]) if comparison.rule else None,
                lines(f"{line[0].upper()}{line[1:]}." for line in comparison.method),
            ),
        ],
        className="ff-card ff-answer ff-o1",
    )


def mind(comparison: Comparison) -> list[Any]:
    """Give the warnings, the first of them open; nothing where there is none."""
    said = likeness_words.warnings(comparison)
    if not said:
        return []
    shown, rest = said[:WARNINGS_SHOWN], said[WARNINGS_SHOWN:]
    more = [fold(f"{len(rest)} more", lines(rest))] if rest else []
    return [html.Section([html.H2("Mind this"), lines(shown), *more], className="ff-card ff-caution ff-o4")]


def rulers(compared: Compared, look: Look) -> Any:
    """Draw both ends before and after on paired rulers."""
    pairs = [
        (end, was, now)
        for end in End
        if (was := _places(compared, end, after=False)) is not None
        if (now := _places(compared, end, after=True)) is not None
    ]
    scale = TALL_PX / max((max(was.travel_mm, now.travel_mm) for _, was, now in pairs), default=1.0)
    drawings = []
    for end, was, now in pairs:
        alt = f"{end}, before: {_said(was, look)}; after: {_said(now, look)}"
        draw = partial(_draw, compared, end, (was, now), look.units, scale, alt)
        fields = ("travel_mm", "mean_mm", "p95_mm", "travel_used_mm", "doubt_mm")
        data = csv_text(
            ("what", "before_mm", "after_mm"),
            [(field, getattr(was, field), getattr(now, field)) for field in fields],
        )
        drawings.append(drawing(draw, look, alt=alt, name=f"before_after_{end}", data=data))
    sub = "left, dashed: before · right, solid: after"
    if any(now.rider_sag is not None and now.target_mm is not None for _, _, now in pairs):
        sub += " · bracket: where rider sag should be"
    return placed(card(f"Travel, {look.units}", html.Div(drawings, className="ff-drawings"), sub=sub), 2)


def _draw(
    compared: Compared,
    end: End,
    places: tuple[Places, Places],
    units: Units,
    px_per_mm: float,
    alt: str,
    palette: Palette,
) -> str:
    """Draw one ruler; the sheet of paper has room for a shorter one."""
    return paired_ruler(
        end,
        *places,
        units,
        palette,
        px_per_mm=px_per_mm * (PAPER_SHARE if palette is PRINT else 1.0),
        title=alt,
        full_bump_stayed=compared.full_bump_stayed(end),
    )


def _places(compared: Compared, end: End, *, after: bool) -> Places | None:
    side = compared.sides[after]
    found, at_rest = side.end(end), side.sag_of(end)
    if found is None:
        return None
    return Places(
        travel_mm=found.travel_mm,
        mean_mm=found.mean_mm,
        p95_mm=found.p95_mm,
        travel_used_mm=found.deepest_mm,
        doubt_mm=found.doubt_mm,
        rider_sag=None if at_rest is None else at_rest.rider_sag_mm,
        target_mm=None if at_rest is None else at_rest.target_sag_mm,
    )


def _said(places: Places, look: Look) -> str:
    at_rest = "" if places.rider_sag is None else f"rider sag {quantity(places.rider_sag, look.units)}, "
    doubt = "" if places.doubt_mm is None else f" ± {length(places.doubt_mm, look.units)}"
    return (
        f"{at_rest}rides at {length(places.mean_mm, look.units)}{doubt}, "
        f"5 % of the time past {length(places.p95_mm, look.units)}, "
        f"deepest {length(places.travel_used_mm, look.units)} of {length(places.travel_mm, look.units, 0)}"
    )


def measured(compared: Compared, look: Look) -> Any:
    """Show what people ask for, the rear under the front; all other numbers are folded away."""
    comparison = compared.comparison
    kinds = dict.fromkeys(words.split_metric(metric.name)[1] for metric in comparison.metrics)
    rest = [kind for kind in kinds if kind not in OPEN_METRICS]
    shown = pair_table(
        METRIC_HEAD, _metrics(comparison, OPEN_METRICS, look), numbers=range(4), kind="ff-metrics"
    )
    folded = pair_table(METRIC_HEAD, _metrics(comparison, rest, look), numbers=range(4), kind="ff-metrics")
    return placed(
        card(
            "Measured while riding",
            shown,
            *([fold("The other numbers", folded, kind="ff-noprint")] if rest else []),
            sub=likeness_words.basis_line(comparison),
        ),
        3,
    )


def _metrics(comparison: Comparison, kinds: Iterable[str], look: Look) -> list[Group]:
    made = words.comparison_table(comparison, look.units)
    by_name = {m.name: (m, row) for m, row in zip(comparison.metrics, made.rows, strict=True)}
    groups: list[Group] = []
    for kind in kinds:
        found = [(end, by_name[f"{end}_{kind}"]) for end in End if f"{end}_{kind}" in by_name]
        if found:
            unit = words.metric_unit(found[0][1][0], look.units)
            rows = [(end, _metric_cells(metric, row)) for end, (metric, row) in found]
            groups.append((_metric_name(kind, unit), rows))
    return groups


def _metric_name(kind: str, unit: str) -> str:
    """Name a metric with its unit, unless its name says it."""
    if kind == "travel_used_percent":
        return "Deepest, % of travel"
    label = words.METRIC_LABELS.get(kind, kind)
    label = f"{label[0].upper()}{label[1:]}"
    return label if not unit or unit.startswith("per ") else f"{label}, {unit}"


def _metric_cells(metric: Metric, row: Sequence[str]) -> list[Any]:
    _, was, now, change, between, _, said = row
    word = html.B(said) if metric.changed else html.Span(said, className="ff-quiet")
    return [was, html.B(now), second(change, words.metric_share(metric)), between, word]
