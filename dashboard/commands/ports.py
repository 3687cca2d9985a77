"""``flatfoot ports``: where a board might be plugged in."""

from __future__ import annotations

import argparse

NAME = "ports"
HELP = "list the serial ports of this computer"
EXAMPLE = "  flatfoot ports"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take nothing but the form of the answer."""
    parser.add_argument("--json", action="store_true", help="answer in JSON, for other programs")


def run(args: argparse.Namespace) -> int:
    """Print one port a line."""
    from dashboard.as_json import dumps
    from ingest.port import list_ports

    found = list_ports()
    if args.json:
        print(dumps(found))
    elif not found:
        print("no serial port found: plug the board in and look again")
    for port in () if args.json else found:
        print(port.label)
    return 0
