"""Writing the TOML files people edit: the same few tables, whole numbers without a point."""

from __future__ import annotations

from collections.abc import Mapping

import tomlkit
from tomlkit.items import AbstractTable


def toml_text(tables: Mapping[str, Mapping[str, object]]) -> str:
    """Write tables in order; a name with a dot is a table in a table, and what is ``None`` is left out.

    A mapping among the values of a table is written on one line, ``key = {…}``.

    >>> print(toml_text({"rear": {"travel_mm": 220.0, "ratio": None}, "sensors.rear": {"channel": 1}}))
    [rear]
    travel_mm = 220
    <BLANKLINE>
    [sensors.rear]
    channel = 1
    <BLANKLINE>
    """
    document = tomlkit.document()
    for name, values in tables.items():
        outer, _, inner = name.partition(".")
        if not inner:
            document.add(outer, plain_table(values))
            continue
        if outer not in document:
            document.add(outer, tomlkit.table(is_super_table=True))
        group = document[outer]
        assert isinstance(group, AbstractTable)
        group.add(inner, plain_table(values))
    return tomlkit.dumps(document)


def plain_table(values: Mapping[str, object]) -> AbstractTable:
    """Make a table of plain values; what is ``None`` is left out."""
    table = tomlkit.table()
    for key, value in values.items():
        if isinstance(value, str):
            table.add(key, tomlkit.string(value, multiline="\n" in value and "\r" not in value))
        elif value is not None:
            table.add(key, _plain(value))
    return table


def _plain(value: object) -> object:
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        inline.update({key: _plain(item) for key, item in value.items() if item is not None})
        return inline
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
