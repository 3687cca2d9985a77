"""The verbs of the command line, in the order of the work."""

from __future__ import annotations

import argparse
from typing import Protocol

from dashboard.commands import (
    amend,
    calibrate,
    check,
    compare,
    demo,
    geometry,
    import_csv,
    job,
    plan,
    ports,
    prove,
    record,
    report,
    ride,
    sag,
    salvage,
    serve,
    springs,
)


class Verb(Protocol):
    """What a module of this package offers."""

    NAME: str
    HELP: str
    EXAMPLE: str

    def arguments(self, parser: argparse.ArgumentParser) -> None:
        """Say what the verb takes."""

    def run(self, args: argparse.Namespace) -> int:
        """Do it and give the exit status."""


VERBS: tuple[Verb, ...] = (
    ports,
    calibrate,
    job,
    check,
    record,
    import_csv,
    sag,
    springs,
    plan,
    ride,
    compare,
    prove,
    report,
    amend,
    salvage,
    geometry,
    serve,
    demo,
)
