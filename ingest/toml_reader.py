"""Reading the TOML files people edit. Each complaint names the file, the key, what is wrong, what is allowed.

>>> table = parse_toml('wheelbase_mm = "long"', "bike.toml")
>>> table.number("wheelbase_mm", 500, 2500)
Traceback (most recent call last):
...
ingest.errors.FileProblem: bike.toml: wheelbase_mm is "long", which is text: write a plain number, 500 to 2500
"""

from __future__ import annotations

import datetime
import difflib
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Never, TypeVar

from ingest.errors import FileProblem

MOST_CHARACTERS = 1_000_000  # a longer file is not one somebody edits
LONGEST_NAME = 200
Pair = tuple[float, float]
Limits = tuple[float, float]
Value = TypeVar("Value")
TEXT = "a text in quotes"


def read_text_file(path: Path, what: str) -> str:
    """Read a UTF-8 text file, with or without byte order mark; ``what`` it should be is for the complaint."""
    try:
        if path.stat().st_size > MOST_CHARACTERS:
            raise FileProblem(f"{path} is too large for a {what}: is it another file?")
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise FileProblem(f"there is no {what} {path}: check the name") from error
    except UnicodeDecodeError as error:
        raise FileProblem(f"{path} is not UTF-8 text, so it is no {what}: save it as UTF-8") from error
    except (OSError, ValueError) as error:
        if isinstance(error, FileProblem):
            raise
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileProblem(f"cannot read the {what} {path}: {reason}") from error


def parse_toml(text: str, source: str) -> Table:
    """Parse a whole file; ``source`` is its name in every complaint."""
    if len(text) > MOST_CHARACTERS:
        raise FileProblem(f"{source} is too large for a file that people edit: is it another file?")
    try:
        values = tomllib.loads(text.removeprefix("\ufeff"))
    except RecursionError as error:
        raise FileProblem(f"{source} has lists inside lists without end: is it another file?") from error
    except ValueError as error:
        raise FileProblem(_not_toml(text, source, str(error))) from error
    return Table(values, source)


class Table:
    """One table of a file: asked for keys, it gives their values or complains.

    A key that is absent gives ``None``; `needed` insists.
    """

    def __init__(self, values: Mapping[str, object], source: str, name: str = "") -> None:
        self._values = values
        self._source = source
        self._name = name

    def __contains__(self, key: str) -> bool:
        return key in self._values

    @property
    def label(self) -> str:
        """The table as it stands in the file, ``[sensors.front]``."""
        return f"[{self._name}]"

    def complain(self, what: str) -> Never:
        """Raise a `FileProblem` that names the file."""
        raise FileProblem(f"{self._source}: {what}")

    def key(self, key: str) -> str:
        """Name a key with its table, ``front.travel_mm``."""
        shown = key if key.isprintable() and key else json.dumps(key)
        return f"{self._name}.{shown}" if self._name else shown

    def allow(self, known: Sequence[str]) -> None:
        """Complain about the first key that is not among the known ones, with the nearest that is."""
        for key in self._values:
            if key not in known:
                near = difflib.get_close_matches(key.lower(), known, n=1)
                hint = f"did you mean {near[0]}?" if near else f"allowed here: {', '.join(known)}"
                self.complain(f"{self.key(key)} is not a known key; {hint}")

    def needed(self, key: str, value: Value | None, what: str) -> Value:
        """Insist on a value that was read from ``key``; ``what`` says how to write it."""
        if value is None:
            self.complain(f"{self.label} needs {key}, {what}")
        return value

    def needed_table(self, key: str) -> Table:
        """Give the table below ``key``, which has to be there."""
        table = self.table(key)
        if table is None:
            self.complain(f"the file needs a [{self.key(key)}] table")
        return table

    def table(self, key: str) -> Table | None:
        """Give the table below ``key``."""
        value = self._values.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.complain(f"{self.key(key)} is {_shown(value)}: it has to be a table, [{self.key(key)}]")
        return Table(value, self._source, self.key(key))

    def tables(self, key: str) -> tuple[Table, ...]:
        """Give the tables listed below ``key``, ``key = [{…}, {…}]``; none where it is absent."""
        value = self._values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.complain(
                f"{self.key(key)} is {_shown(value)}: it has to be a list of tables, [{{…}}, {{…}}]"
            )
        return tuple(
            Table(item, self._source, f"{self.key(key)} {number}") for number, item in enumerate(value, 1)
        )

    def text(self, key: str, *, lines: bool = False) -> str | None:
        """Give a text; one line of at most 200 characters unless ``lines`` allows more. Blank is absent."""
        value = self._values.get(key)
        if value is None:
            return None
        if not isinstance(value, str):
            self.complain(f"{self.key(key)} is {_shown(value)}: it has to be text in quotes")
        if not value.strip():
            return None
        if lines:
            return value
        if not value.isprintable() or len(value) > LONGEST_NAME:
            self.complain(f"{self.key(key)} has to be one line of at most {LONGEST_NAME} characters")
        return value.strip()

    def choice(self, key: str, allowed: Sequence[str]) -> str | None:
        """Give one of the allowed texts; small and capital letters are the same."""
        value = self.text(key)
        if value is None:
            return None
        for word in allowed:
            if word.lower() == value.lower():
                return word
        quoted = ", ".join(f'"{word}"' for word in allowed)
        return self.complain(f"{self.key(key)} is {_shown(value)}; allowed: {quoted}")

    def number(self, key: str, low: float, high: float) -> float | None:
        """Give a number between ``low`` and ``high``."""
        value = self._values.get(key)
        return None if value is None else self._number(value, (low, high), self.key(key))

    def whole(self, key: str, low: int, high: int) -> int | None:
        """Give a whole number between ``low`` and ``high``."""
        number = self.number(key, low, high)
        if number is not None and not number.is_integer():
            self.complain(f"{self.key(key)} is {number:g}: it has to be a whole number, {low} to {high}")
        return None if number is None else int(number)

    def numbers(self, key: str, low: float, high: float) -> tuple[float, ...] | None:
        """Give a list of numbers between ``low`` and ``high``; an empty list is absent."""
        value = self._values.get(key)
        if value is None or value == []:
            return None
        if not isinstance(value, list):
            self.complain(f"{self.key(key)} is {_shown(value)}: it has to be a list of numbers in brackets")
        return tuple(self._number(number, (low, high), f"a number in {self.key(key)}") for number in value)

    def pair(self, key: str, limits: Limits) -> Pair | None:
        """Give two numbers, the smaller one first."""
        value = self._values.get(key)
        if value is None:
            return None
        low, high = self._pair(value, (limits, limits), self.key(key), "[from, to]")
        if low >= high:
            self.complain(f"{self.key(key)} is [{low:g}, {high:g}]: the smaller number comes first")
        return low, high

    def pairs(self, key: str, limits: tuple[Limits, Limits], columns: str) -> tuple[Pair, ...] | None:
        """Give a list of pairs of numbers; ``columns`` says what they are, ``[counts, mm]``."""
        value = self._values.get(key)
        if value is None:
            return None
        if not isinstance(value, list):
            self.complain(f"{self.key(key)} is {_shown(value)}: it has to be a list of points {columns}")
        return tuple(
            self._pair(row, limits, f"point {index} of {self.key(key)}", columns)
            for index, row in enumerate(value, start=1)
        )

    def _pair(self, value: object, limits: tuple[Limits, Limits], what: str, columns: str) -> Pair:
        if not isinstance(value, list) or len(value) != 2:
            self.complain(f"{what} is {_shown(value)}: it has to be two numbers, {columns}")
        first, second = (
            self._number(number, limit, f"a number in {what}")
            for number, limit in zip(value, limits, strict=True)
        )
        return first, second

    def _number(self, value: object, limits: Limits, what: str) -> float:
        low, high = limits
        allowed = f"write a plain number, {low:g} to {high:g}"
        if isinstance(value, str):
            self.complain(f"{what} is {_shown(value)}, which is text: {allowed}")
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.complain(f"{what} is {_shown(value)}: {allowed}")
        if not low <= value <= high:  # false for NaN too; integers of any length compare exactly
            self.complain(f"{what} is {_shown(value)}, out of range: {low:g} to {high:g} is allowed")
        return float(value)


def _not_toml(text: str, source: str, problem: str) -> str:
    problem = " ".join(problem.split())
    found = re.search(r"\(at line (\d+), column \d+\)", problem)
    if not found:
        return f"{source} is not valid TOML: {problem}"
    number = int(found[1])
    lines = text.split("\n")
    line = _shown(lines[number - 1].strip()) if number <= len(lines) else "the end"
    return f"{source}, line {number}: {line} is not valid TOML: {problem.replace(found[0], '').strip()}"


def _shown(value: object) -> str:
    """Show a value as it stands in a file, cut to a length one can read in a message."""
    match value:
        case bool():
            return "true" if value else "false"
        case int():
            shown = str(value) if abs(value) < 10**18 else "a number of more than 18 digits"
        case datetime.datetime() | datetime.date() | datetime.time():
            return f"{value.isoformat()} (a date or time)"
        case dict():
            return "a table"
        case _:
            shown = json.dumps(value, ensure_ascii=False, default=str)
    return shown if len(shown) <= 60 else f"{shown[:57]}…"
