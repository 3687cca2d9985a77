"""One path from any result to JSON."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from analysis.results import Quantity, SagReading
from dashboard.as_json import dumps, to_json
from ingest.log import Kind
from ingest.records import End


@dataclass(frozen=True, kw_only=True)
class Sample:
    kind: Kind
    values: tuple[float, ...]
    by_end: dict[End, float]
    array: np.ndarray
    where: Path
    count: np.int64


def test_every_kind_of_field() -> None:
    sample = Sample(
        kind=Kind.RIDE,
        values=(1.5, float("nan"), float("-inf")),
        by_end={End.FRONT: 1.0},
        array=np.array([[1, 2], [3, 4]]),
        where=Path("a/b"),
        count=np.int64(7),
    )
    assert to_json(sample) == {
        "kind": "ride",
        "values": [1.5, None, None],
        "by_end": {"front": 1.0},
        "array": [[1, 2], [3, 4]],
        "where": str(Path("a/b")),
        "count": 7,
    }


def test_text_is_plain_json_and_keeps_field_order() -> None:
    reading = SagReading(phase="rider", side=None, start_s=0.0, end_s=1.0, travel_mm=np.nan, spread_mm=0.1)
    text = dumps(reading)
    assert list(json.loads(text)) == ["phase", "side", "start_s", "end_s", "travel_mm", "spread_mm"]
    assert "NaN" not in text
    assert json.loads(text)["travel_mm"] is None


def test_a_type_is_not_a_result() -> None:
    with pytest.raises(TypeError, match="no JSON for type"):
        to_json(Quantity)
