"""The report as a PDF, through a browser that is already installed; flatfoot brings none along."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from ingest.durable import write_whole
from ingest.errors import CannotAnswer, StorageError

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
QUIET = (
    "--headless",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--no-pdf-header-footer",
)
WAIT_S = 60.0
BY_HAND = "open the HTML file and print it from the browser"
NO_BROWSER = f"no Chromium is installed here, so no PDF was written: {BY_HAND}"


def browser() -> str | None:
    """Find an installed browser that prints to PDF."""
    return next((path for name in BROWSERS if (path := shutil.which(name)) is not None), None)


def write_pdf(html_text: str, path: Path, found: str) -> None:
    """Print a self-contained page to a PDF file, which is moved into place whole.

    Parameters
    ----------
    html_text : str
        The page, everything inside it.
    path : Path
        The file to write.
    found : str
        What `browser` gave.

    Raises
    ------
    CannotAnswer
        The browser did not print.
    StorageError
        The file cannot be written.
    """
    with tempfile.TemporaryDirectory(prefix="flatfoot-pdf-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        page, printed = folder / "report.html", folder / "report.pdf"
        try:
            page.write_text(html_text, encoding="utf-8")
            _print(found, page, printed, folder / "profile")
            data = printed.read_bytes()
        except subprocess.TimeoutExpired as slow:
            raise CannotAnswer(f"{found} did not print within {WAIT_S:.0f} s: {BY_HAND}") from slow
        except FileNotFoundError as gone:
            raise CannotAnswer(f"{found} printed no PDF: {BY_HAND}") from gone
        except OSError as problem:
            raise StorageError(f"cannot write {path}: {problem.strerror or problem}") from problem
    write_whole(path, data)


def _print(found: str, page: Path, printed: Path, profile: Path) -> None:
    # Chromium refuses its sandbox to root; the page has no script and may load nothing, so none is needed.
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    subprocess.run(
        [found, *QUIET, *root, f"--user-data-dir={profile}", f"--print-to-pdf={printed}", page.as_uri()],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        timeout=WAIT_S,
        check=False,
    )
