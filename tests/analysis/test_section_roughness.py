"""How rough a section was against the whole ride, in a word."""

from __future__ import annotations

import pytest

from analysis.results import Quantity
from analysis.section_roughness import against_the_whole
from ingest.records import End


def rough(value: float, doubt: float = 10.0) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.3)


WHOLE = {End.FRONT: rough(200.0), End.REAR: rough(180.0)}


@pytest.mark.parametrize(
    ("front", "rear", "word"),
    [
        (rough(260.0), rough(230.0), "rougher"),
        (rough(140.0), rough(120.0), "smoother"),
        (rough(205.0), rough(183.0), "alike"),
        (rough(260.0), rough(120.0), "alike"),  # the ends do not agree
        (rough(260.0), rough(182.0), "alike"),
        (rough(260.0, 80.0), rough(230.0, 80.0), "alike"),  # within the section's own doubt
        (rough(215.0, 1.0), rough(195.0, 1.0), "alike"),  # less than a tenth
        (rough(260.0), None, "rougher"),
        (None, None, "too short"),
    ],
)
def test_a_word_where_the_ends_agree(front: Quantity | None, rear: Quantity | None, word: str) -> None:
    assert against_the_whole({End.FRONT: front, End.REAR: rear}, WHOLE) == word


def test_a_whole_that_is_not_known_says_nothing() -> None:
    assert against_the_whole({End.FRONT: rough(1.0)}, {}) == "too short"
