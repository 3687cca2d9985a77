"""What was measured, before and after: the rulers, and the table with the rear under the front."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from dash import html

from analysis.compare_results import Comparison, Metric
from analysis.results import EndSag
from analysis.together import EndTogether
from dashboard import compare_words
from dashboard import report_words as words
from dashboard.compared import Side
from dashboard.drawings.paired import Places, paired_ruler
from dashboard.drawings.sag import sag_card
from dashboard.drawings.svg import data_uri
from dashboard.parts import Children, plate
from dashboard.report_job import Reported, Visited
from dashboard.theme import PRINT
from dashboard.units import Units, length_number, number, quantity
from ingest.records import End

TALL_PX = 116.0
"""Height of the longest travel: room for three flags on each side, and for the whole report on two sheets."""
METRICS = ("mean_mm", "travel_used_percent", "bottoming_per_10_min")
NAMES = {"mean_mm": "Mean ride position", "travel_used_percent": "Deepest, % of travel"}
BOTTOMING = "Bottoming in 10 min"
Group = tuple[str, list[tuple[End, list[Children]]]]
"""A name, and for each end its cells."""
RULERS = "Rulers: wheel hanging free at the top, full bump at the bottom; the bracket is where sag should be."


def measured_card(reported: Reported, units: Units) -> Any:
    """Show what was measured; one side alone has no change."""
    sides = [one for one in (reported.before, reported.after) if one is not None and one.measured]
    title = (
        "Measured, before and after" if len(sides) == 2 else f"Measured: {words.shortened(sides[0].name, 40)}"
    )
    basis = words.basis_line(reported)
    body = _both(reported, units) if len(sides) == 2 else _one(sides[0], units)
    return html.Section(
        [
            html.H2([title, *([html.Span(words.capital(basis))] if basis else [])]),
            html.Div(list(_rulers(reported, sides, units)), className="ff-report-rulers"),
            html.P(RULERS),
            body,
        ],
        className="ff-report-part ff-report-measured",
    )


# ---------------------------------------------------------------------------------------------- rulers


def _rulers(reported: Reported, sides: list[Visited], units: Units) -> Iterator[Any]:
    """Draw both ends before and after; where an end was not ridden on both sides, its newest sag card."""
    places = {end: [_places(one.side, end) for one in sides] for end in End}
    stayed = () if reported.done is None else reported.done.full_bump_stayed
    longest = max((p.travel_mm for both in places.values() for p in both if p is not None), default=1.0)
    for end in End:
        was_now = places[end]
        if len(was_now) == 2 and was_now[0] is not None and was_now[1] is not None:
            alt = f"{end}: {_said(was_now[0], units)} before; {_said(was_now[1], units)} after"
            drawn = paired_ruler(
                end, was_now[0], was_now[1], units, PRINT,
                px_per_mm=TALL_PX / longest, title=alt, full_bump_stayed=end in stayed, brief=True,
            )  # fmt: skip
        else:
            sag = next(
                (found for one in reversed(sides) if (found := one.side.sag_of(end)) is not None), None
            )
            if sag is None:
                continue
            alt = f"{end}: rider sag {quantity(sag.rider_sag_mm, units)} {units}"
            drawn = sag_card(end, sag, units, PRINT, title=alt, height_px=TALL_PX)
        yield html.Img(src=data_uri(drawn), alt=alt)


def _places(side: Side, end: End) -> Places | None:
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


def _said(places: Places, units: Units) -> str:
    sag = "" if places.rider_sag is None else f"rider sag {quantity(places.rider_sag, units)}, "
    rides, deepest = (length_number(one, units, 0) for one in (places.mean_mm, places.travel_used_mm))
    return f"{sag}rides at {rides}, deepest {deepest} {units}"


# ---------------------------------------------------------------------------------------------- tables


def _table(head: Sequence[str], groups: Sequence[Group], *, numbers: int) -> Any:
    """Make a table with the rear's row under the front's; the first cells after the plate are numbers."""
    kinds = ["", "end", *["n"] * numbers, *[""] * (len(head) - 2 - numbers)]
    titles = [html.Th(text, scope="col", className=kind) for text, kind in zip(head, kinds, strict=True)]
    bodies = []
    for name, rows in groups:
        made: list[Any] = []
        for row, (end, cells) in enumerate(rows):
            first = [html.Th(name, scope="rowgroup", rowSpan=len(rows))] if row == 0 else []
            shown = [_cell(*one) for one in zip(cells, kinds[2:], head[2:], strict=True)]
            made.append(html.Tr([*first, html.Td(plate(end, short=True), className="end"), *shown]))
        bodies.append(html.Tbody(made))
    return html.Table([html.Thead(html.Tr(titles)), *bodies], className="ff-report-pairs")


def _cell(cell: Children, kind: str, title: str) -> Any:
    extra: dict[str, Any] = {"data-head": title}
    return html.Td(cell, className=kind, **extra)


def _both(reported: Reported, units: Units) -> Any:
    head = ("", "", "before", "after", "change", "95 in 100: it lies in", "in a word")
    groups = [*_sag_groups(reported, units), *_ride_groups(reported, units)]
    return _table(head, groups, numbers=4)


def _sag_groups(reported: Reported, units: Units) -> Iterator[Group]:
    after, done = reported.after, reported.done
    assert after is not None
    assert done is not None
    rows = []
    for end in End:
        was, now = (one.side.sag_of(end) for one in (reported.before, after))
        if was is None and now is None:
            continue
        word, before = words.sag_word(was, now)
        change = words.change_text(done.sag_change_mm.get(end), units)
        cells = [
            words.sag_text(was, units),
            html.B(words.sag_text(now, units)),
            *change,
            [html.B(word), before],
        ]
        rows.append((end, cells))
    if rows:
        yield f"Rider sag, {units}", rows


def _ride_groups(reported: Reported, units: Units) -> Iterator[Group]:
    if reported.comparison is not None:
        yield from _metrics(reported.comparison, units)
        return
    for place, one in enumerate((reported.before, reported.after)):
        if one is not None:
            yield from _alone(one, units, width=5, place=place)


def _metrics(comparison: Comparison, units: Units) -> Iterator[Group]:
    made = compare_words.comparison_table(comparison, units)
    found = {one.name: (one, row) for one, row in zip(comparison.metrics, made.rows, strict=True)}
    for kind in METRICS:
        rows = [(end, _cells(*found[f"{end}_{kind}"])) for end in End if f"{end}_{kind}" in found]
        if rows:
            name = NAMES.get(kind, BOTTOMING)
            yield f"{name}, {units}" if kind == "mean_mm" else name, rows


def _cells(metric: Metric, row: tuple[str, ...]) -> list[Any]:
    _, was, now, change, between, _, word = row
    return [was, html.B(now), change, between, html.B(word) if metric.changed else word]


def _one(one: Visited, units: Units) -> Any:
    groups = [*_sag_alone(one, units), *_alone(one, units, width=2, place=0)]
    return _table(("", "", "measured", "in a word"), groups, numbers=1)


def _sag_alone(one: Visited, units: Units) -> Iterator[Group]:
    for name, rider in (("Rider sag", True), ("Unladen sag", False)):
        rows = [
            (end, [html.B(_sag(sag, units, rider=rider)), html.B(sag.word) if rider else ""])
            for end in End
            if (sag := one.side.sag_of(end)) is not None
        ]
        if rows:
            yield f"{name}, {units}", rows


def _sag(sag: EndSag, units: Units, *, rider: bool) -> str:
    return quantity(sag.rider_sag_mm if rider else sag.unladen_sag_mm, units)


def _alone(one: Visited, units: Units, *, width: int, place: int) -> Iterator[Group]:
    """Give what the rides of one side did, in the cell of that side; there is no change to speak of."""

    def row(text: str) -> list[Any]:
        cells: list[Any] = [""] * width
        cells[place] = html.B(text)
        return cells

    found = [(end, together) for end in End if (together := one.side.end(end)) is not None]
    if found:
        yield f"{NAMES['mean_mm']}, {units}", [(end, row(_mean(shown, units))) for end, shown in found]
        yield NAMES["travel_used_percent"], [(end, row(_deepest(one.side, end))) for end, _ in found]
        yield BOTTOMING, [(end, row(_bottoming(shown))) for end, shown in found]


def _mean(end: EndTogether, units: Units) -> str:
    doubt = "" if end.doubt_mm is None else f" ± {length_number(max(end.doubt_mm, 1.0), units, 0)}"
    return f"{length_number(end.mean_mm, units, 0)}{doubt}"


def _deepest(side: Side, end: End) -> str:
    used = (found.travel_used_percent for ride in side.rides if (found := ride.end(end)) is not None)
    return number(max(used))


def _bottoming(end: EndTogether) -> str:
    return number(sum(rate for grade, rate in end.graded_per_10_min.items() if grade != "rubber"))
