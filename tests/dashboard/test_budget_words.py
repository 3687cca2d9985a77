"""The table of doubt: every cause, the largest first, within a plain terminal."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.sag import check_sag
from dashboard.budget_words import budget_line, budget_table, budgets
from dashboard.pages.sag import doubt_cards
from dashboard.parts import Look
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.log import Kind, Log


def played() -> np.ndarray:
    """Topped out, unladen and rider, from above and from below, three seconds each at 100 Hz."""
    pieces, now = [], 20.0
    for way, level in ((0, 0), (5, 30), (63, 38), (41, 66), (99, 74)):
        for target in (way, level):
            pieces.append(now + (target - now) * np.linspace(0, 1, 100))
            now = target
        pieces.append(np.full(300, level))
    return np.concatenate(pieces)


def test_budgets_are_named_and_add_up(make_log: Callable[..., Log]) -> None:
    check = check_sag(make_log(played(), played(), rate_hz=100.0, kind=Kind.SAG))
    found = dict(budgets(check))
    assert list(found) == ["front, unladen sag", "front, rider sag", "rear, unladen sag", "rear, rider sag"]
    table = budget_table(found["front, rider sag"])
    assert table.rows[0][0] in ("friction", "how the rider sits")
    assert len({row[0] for row in table.rows}) == 7
    widths = [max(len(row[k]) for row in (table.head, *table.rows)) for k in range(4)]
    assert sum(widths) + 2 * 3 <= 80
    shown = [float(row[1].removesuffix(" %")) for row in table.rows]
    assert shown == sorted(shown, reverse=True)
    assert abs(sum(shown) - 100) <= 3


def test_line_gives_both_ways_and_the_largest_cause(make_log: Callable[..., Log]) -> None:
    check = check_sag(make_log(played(), played(), rate_hz=100.0, kind=Kind.SAG))
    budget = dict(budgets(check))["front, rider sag"]
    text = budget_line(budget)
    assert text.startswith("together ±1.")
    assert "by 100000 random draws 68." in text
    assert f"Most of it: {budget.lines[0].cause}" in text
    assert " in." in budget_line(budget, Units.IN)


def test_fork_read_once_is_told_to_claim_no_better(make_log: Callable[..., Log]) -> None:
    check = check_sag(make_log(played(), played(), rate_hz=100.0, kind=Kind.SAG))
    assert check.front is not None
    assert check.rear is not None
    assert any("claim no better than ±1.5 mm" in text for text in check.front.cautions)
    assert not any("claim no better" in text for text in check.rear.cautions)


def test_page_shows_one_card_an_end_of_the_rider_sag(make_log: Callable[..., Log]) -> None:
    check = check_sag(make_log(played(), played(), rate_hz=100.0, kind=Kind.SAG))
    front, rear = (str(card) for card in doubt_cards(check, Look(units=Units.MM, theme=Theme.LIGHT)))
    assert "Where the doubt comes from, front, rider sag" in front
    assert "how the rider sits" in front
    assert "what shrinks it" in rear
