"""``flatfoot serve``: the pages of the book in the browser, on this machine only."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from dashboard.commands import common
from ingest.errors import UsageError

if TYPE_CHECKING:
    from flask import Flask

    from ingest.book import Book

NAME = "serve"
HELP = "show the book in the browser, on this machine only"
EXAMPLE = "  flatfoot serve\n  flatfoot serve --book ./demo_book --port 8051"

DEFAULT_PORT = 8050
LOOPBACK = "127.0.0.1"
THREADS = 16  # a live view keeps one for itself
MOST_BYTES = 1 << 20  # a page asks in a few kB; more would only fill the disk


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a book and a port of this machine."""
    takes_port(parser)
    common.takes_book(parser)


def takes_port(parser: argparse.ArgumentParser) -> None:
    """Let a verb be told where to serve."""
    parser.add_argument(
        "--port",
        metavar="N",
        type=int,
        default=DEFAULT_PORT,
        help=f"TCP port of this machine (default: {DEFAULT_PORT}; 0 takes a free one)",
    )


def run(args: argparse.Namespace) -> int:
    """Finish what was cut off, then serve until Ctrl-C."""
    from dashboard.commands.salvage import finish_all

    book = common.open_book(args)
    finish_all(book)
    serve_book(book, args.port)
    return 0


def serve_book(book: Book, port: int) -> None:
    """Serve until Ctrl-C, loopback only."""
    from dashboard.app import create_app

    if not 0 <= port <= 65535:
        raise UsageError(f"--port {port}: a port is a number from 1 to 65535, or 0 for a free one")
    app = create_app(book)
    try:
        server = web_server(app.server, port)
    except OSError as problem:
        raise UsageError(
            f"port {port} of this machine cannot be served ({problem.strerror}): "
            "another flatfoot may be running, or try --port 0"
        ) from None
    print(f"flatfoot is at http://{LOOPBACK}:{server.effective_port}/ (Ctrl-C ends it)", flush=True)
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()
        print("\nended")


def web_server(pages: Flask, port: int) -> Any:
    """Open the port; nobody but this machine reaches it, and nobody fills the disk through it."""
    from waitress import create_server

    return create_server(pages, host=LOOPBACK, port=port, threads=THREADS, max_request_body_size=MOST_BYTES)
