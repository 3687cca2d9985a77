"""The one path from a result to JSON; the command line, the pages and the report share it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import PurePath
from typing import TypeAlias

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"


def to_json(value: object) -> Json:
    """Turn any frozen record into what `json` writes, field for field.

    Tuples become lists, enums their values, paths text; what is not a finite number becomes ``null``,
    because JSON (RFC 8259) has no other word for it. Arrays and NumPy numbers become plain numbers.

    >>> to_json((1, float("nan"), {"a": None}))
    [1, None, {'a': None}]
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, Enum):
        return to_json(value.value)
    if isinstance(value, str):
        return str(value)
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, PurePath):
        return str(value)
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_json(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {_key(key): to_json(item) for key, item in value.items()}
    if hasattr(value, "tolist"):  # arrays and NumPy scalars, without importing NumPy here
        return to_json(value.tolist())
    if isinstance(value, Sequence | set | frozenset):
        return [to_json(item) for item in value]
    raise TypeError(f"no JSON for {type(value).__name__}")


def to_fields(record: object) -> dict[str, Json]:
    """Turn a record into its fields, so that more can be put beside them.

    Raises
    ------
    TypeError
        It has no fields.
    """
    found = to_json(record)
    if not isinstance(found, dict):
        raise TypeError(f"{type(record).__name__} has no fields")
    return found


def dumps(value: object) -> str:
    """Write a record as JSON text, readable, in the order of its fields."""
    return json.dumps(to_json(value), indent=2, ensure_ascii=False, allow_nan=False)


def _key(key: object) -> str:
    return str(key.value) if isinstance(key, Enum) else str(key)
