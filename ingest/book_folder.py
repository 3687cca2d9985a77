"""The folder of a book: where each file lies, and writing so that nothing half done or lost remains.

::

    book.toml                    the shop's name and the schema of the book
    bikes/<name>.toml            one file a bike
    jobs/0001/job.toml           one folder a job
    jobs/0001/setups/01-stock.toml
    logs/<log id>.parquet        finished logs (amendments of one beside it)
    logs/<log id>.capture/       a recording that still grows, or waits to be finished
    earlier/…                    the former text of every file that was replaced, under the same path
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from ingest.durable import sync_folder, try_lock, write_whole
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.slugs import is_safe_name
from ingest.toml_reader import TEXT, parse_toml, read_text_file
from ingest.toml_writer import toml_text

SCHEMA = 1
BOOK_FILE = "book.toml"
LOCK_FILE = "book.lock"
CAPTURE_SUFFIX = ".capture"
LOG_SUFFIX = ".parquet"
CLAIM_SUFFIX = ".claim"
PATIENCE_S = 10.0
HOW_TO_START = "`flatfoot job new` starts one, or name another folder with --book DIR"


def default_book_path(environment: Mapping[str, str], home: Path) -> Path:
    """Give the folder of the book where none is named: FLATFOOT_BOOK, else a folder in the documents."""
    named = environment.get("FLATFOOT_BOOK", "").strip()
    return Path(named) if named else home / "Documents" / "flatfoot"


@dataclass(frozen=True, slots=True, kw_only=True)
class BookFolder:
    """The places in a book, and the ways to write there."""

    path: Path

    @property
    def bikes(self) -> Path:
        """The folder of bike files."""
        return self.path / "bikes"

    @property
    def jobs(self) -> Path:
        """The folder of job folders."""
        return self.path / "jobs"

    @property
    def logs(self) -> Path:
        """The folder of logs and captures."""
        return self.path / "logs"

    def start(self, shop: str) -> None:
        """Make the folder a book; it must be empty or not there."""
        text = toml_text({"book": {"shop": shop, "schema": SCHEMA}})
        _read_book(text, "the new book")  # what could not be read back is never written
        if self.path.is_file() or (self.path.is_dir() and any(self.path.iterdir())):
            raise FileProblem(f"{self.path} is not empty: a new book needs a folder of its own")
        with _disk_errors(self.path):
            for folder in (self.path, self.bikes, self.jobs, self.logs):
                folder.mkdir(parents=True, exist_ok=True)
        with self.writing():
            if (self.path / BOOK_FILE).exists():
                raise FileProblem(f"{self.path} has just become a book by somebody else: open that one")
            write_whole(self.path / BOOK_FILE, text.encode())

    def read_shop(self) -> str:
        """Check that this is a book of a schema known here, and give the shop's name."""
        file = self.path / BOOK_FILE
        if not file.is_file():
            there = "it has no book.toml" if self.path.is_dir() else "there is no such folder"
            raise FileProblem(f"{self.path} is not a book ({there}): {HOW_TO_START}")
        return _read_book(read_text_file(file, "book file"), str(file))

    def below(self, folder: Path, name: str, what: str, suffix: str = "") -> Path:
        """Give the path of a named thing in a folder of the book; a name can never lead out of it."""
        if not is_safe_name(name):
            raise UsageError(f"{name!r} is no name of a {what}: it has to be the plain name of one file")
        return folder / f"{name}{suffix}"

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the book for one change; others wait for it, and a dead holder holds nothing."""
        with _disk_errors(self.path), (self.path / LOCK_FILE).open("ab") as file:
            until = time.monotonic() + PATIENCE_S
            while not try_lock(file):
                if time.monotonic() > until:
                    raise StorageError(f"{self.path} is being written by another flatfoot: try again")
                time.sleep(0.01)
            yield

    def save(self, file: Path, text: str) -> None:
        """Write a text file whole; the former text, if it differs, is kept under ``earlier/``."""
        if file.exists():
            former = file.read_bytes()
            if former == text.encode():
                return
            write_whole(self._earlier(file), former)
        write_whole(file, text.encode())

    def new_folder(self, folder: Path) -> bool:
        """Make a folder that must be new; ``False`` if it is there. The system lets only one succeed."""
        with _disk_errors(folder):
            folder.parent.mkdir(parents=True, exist_ok=True)
            try:
                folder.mkdir()
            except FileExistsError:
                return False
            sync_folder(folder.parent)
        return True

    def claim_log(self, log_id: str) -> bool:
        """Take a log id for a log that is about to be made; ``False`` if it is taken."""
        claim = self.logs / f".{log_id}{CLAIM_SUFFIX}"
        with _disk_errors(claim):
            self.logs.mkdir(parents=True, exist_ok=True)
            try:
                claim.touch(exist_ok=False)  # the system lets only one succeed
            except FileExistsError:
                return False
            for old in self.logs.glob(f".*{CLAIM_SUFFIX}"):
                if self._has_log(old.name[1 : -len(CLAIM_SUFFIX)]):
                    old.unlink(missing_ok=True)  # the log itself holds its id from here on
        return not self._has_log(log_id)

    def _has_log(self, log_id: str) -> bool:
        return any((self.logs / f"{log_id}{suffix}").exists() for suffix in (LOG_SUFFIX, CAPTURE_SUFFIX))

    def _earlier(self, file: Path) -> Path:
        kept = self.path / "earlier" / file.relative_to(self.path).parent
        kept.mkdir(parents=True, exist_ok=True)
        until = f"{file.stem} until {datetime.now():%Y-%m-%d %H%M%S}"
        names = (f"{until}{number}{file.suffix}" for number in ("", *(f" ({n})" for n in range(2, 10_000))))
        return next(kept / name for name in names if not (kept / name).exists())


def _read_book(text: str, source: str) -> str:
    table = parse_toml(text, source).needed_table("book")
    schema = table.needed("schema", table.whole("schema", 1, 10**9), f"{SCHEMA} for this flatfoot")
    if schema > SCHEMA:
        table.complain(
            f"this book was written by a newer flatfoot (schema {schema}, this one reads up to {SCHEMA}): "
            "update flatfoot"
        )
    table.allow(("shop", "schema"))
    return table.needed("shop", table.text("shop"), TEXT)


@contextlib.contextmanager
def _disk_errors(place: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        if isinstance(error, StorageError):
            raise
        raise StorageError(f"cannot write in {place}: {error.strerror or error}") from error
