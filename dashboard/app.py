"""The dashboard: pages over one book, served to browsers of this machine."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path

import dash
from dash import Dash, html

from dashboard import page, parts, shell
from dashboard.answers import Answers
from dashboard.pages import card, check, compare, job, jobs, plan, rank, record, report, ride, sag
from dashboard.recording import Recording
from dashboard.security import LOCAL_HOSTS, guard
from ingest.book import Book
from ingest.port import PortInfo

INDEX = """<!DOCTYPE html>
<html lang="en">
    <head>
        {%metas%}
        <title>{%title%}</title>
        {%favicon%}
        {%css%}
    </head>
    <body>
        {%app_entry%}
        <footer>
            {%config%}
            {%scripts%}
            {%renderer%}
        </footer>
    </body>
</html>"""


def create_app(book: Book, *, ports: Sequence[PortInfo] = (), hosts: Collection[str] = LOCAL_HOSTS) -> Dash:
    """Build the dashboard of a book; `app.server` is what a web server serves.

    ``ports`` are offered for recording beside those the machine has (a virtual board, say). ``hosts`` are
    the names the pages may be opened under.
    """
    dash.page_registry.clear()  # Dash keeps its pages for the whole process; this app brings its own
    app = Dash(
        "flatfoot",
        title="flatfoot",
        update_title="",  # a title that changes at every reading is read aloud again and again
        assets_folder=str(Path(__file__).parent / "assets"),
        serve_locally=True,
        use_pages=True,
        pages_folder="",
        include_pages_meta=False,  # its addresses would name this machine to whoever reads the page
        suppress_callback_exceptions=True,
        index_string=INDEX,
    )
    answers = Answers(book)
    shell.register(app)
    for module in (jobs, job, sag, card, plan, ride, compare, rank, report):
        module.register(app, answers)
    recording = Recording(book, ports)
    record.register(app, answers, recording)
    check.register(app, answers, recording)
    dash.register_page(  # type: ignore[no-untyped-call]
        "flatfoot.not_found_404",
        path="/nothing-here",
        title="Not here · flatfoot",
        layout=page.shell_of(parts.not_found("There is no page under this address.")),
    )
    app.layout = html.Div(shell.frame(book.shop))
    guard(app.server, hosts, app.csp_hashes)
    return app
