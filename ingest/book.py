"""The book: a shop's bikes, jobs, setups and logs, in a folder that people and other programs can read.

`ingest.book_folder` says where each file lies. Reading never fails because of one damaged file: it is left
out of the lists and named by `Book.problems`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import TypeVar

from ingest.bike_file import bike_text, parse_bike, read_bike
from ingest.book_folder import CAPTURE_SUFFIX, LOG_SUFFIX, BookFolder
from ingest.capture import find_unfinished
from ingest.errors import FileProblem, FlatfootError, UsageError
from ingest.job_file import job_text, parse_job, parse_job_file
from ingest.log import Kind, Log
from ingest.log_file import read_header, read_log
from ingest.records import Bike, Job, Rider, Setup
from ingest.sealing import seal
from ingest.setup_file import parse_setup, read_setup, setup_text
from ingest.slugs import slug
from ingest.toml_reader import read_text_file

Record = TypeVar("Record")


class Book:
    """One shop's book, made by `open` or `create`. Every question reads the disk; nothing is kept in mind."""

    def __init__(self, folder: BookFolder, shop: str) -> None:
        self._folder = folder
        self.path = folder.path
        self.shop = shop

    @classmethod
    def open(cls, path: Path) -> Book:
        """Open the book in a folder; `FileProblem` if there is none, or if it needs a newer flatfoot."""
        folder = BookFolder(path=path)
        return cls(folder, folder.read_shop())

    @classmethod
    def create(cls, path: Path, shop: str) -> Book:
        """Start a book in a folder that is empty or not there yet."""
        BookFolder(path=path).start(shop)
        return cls.open(path)

    # ------------------------------------------------------------------------------------------ bikes

    def bikes(self) -> list[Bike]:
        """Give all bikes, by file name."""
        return _good(self._bike_files(), read_bike)

    def add_bike(self, text: str) -> Bike:
        """Keep a bike file as it is written; one of the same identity is replaced by it."""
        bike = parse_bike(text)
        with self._folder.writing():
            self._keep_bike(bike, text)
        return bike

    def _bike_files(self) -> list[Path]:
        return _files(self._folder.bikes, "*.toml")

    def _bike_file(self, bike: Bike) -> Path | None:
        for file in self._bike_files():
            if any(one.identity == bike.identity for one in _good([file], read_bike)):
                return file
        return None

    def _keep_bike(self, bike: Bike, text: str) -> Path:
        file = self._bike_file(bike) or _free(self._folder.bikes, slug(bike.name, "bike"), ".toml")
        self._folder.bikes.mkdir(exist_ok=True)
        self._folder.save(file, text)
        return file

    # ------------------------------------------------------------------------------------------- jobs

    def jobs(self) -> list[Job]:
        """Give all jobs, by id."""
        return _good(self._job_files(), self._read_job)

    def job(self, job_id: str) -> Job:
        """Give one job with its bike and its setups in the order they were made."""
        file = self._job_file(job_id)
        if not file.is_file():
            known = ", ".join(one.parent.name for one in self._job_files()[-20:]) or "none yet"
            raise FileProblem(f"there is no job {job_id} in {self.path} (it has: {known})")
        return self._read_job(file)

    def new_job(
        self,
        bike: Bike,
        rider: Rider,
        wanted_lowering_mm: float | None = None,
        *,
        bike_file: str | None = None,
    ) -> Job:
        """Open a job under the next free number.

        A bike of the same identity in the book is used as its file stands there, unless ``bike_file``, the
        text ``bike`` was read from, is given to take its place; one that is not there yet is added. A job
        that is refused changes nothing.
        """
        with self._folder.writing():
            file = self._bike_file(bike)
            draft = Job(
                id="0000",
                bike=bike if file is None or bike_file is not None else read_bike(file),
                rider=rider,
                wanted_lowering_mm=wanted_lowering_mm,
                opened=f"{datetime.now():%Y-%m-%d}",
            )
            parse_job_file(job_text(draft), "the new job")  # what could not be read back is never written
            if file is None or bike_file is not None:
                file = self._keep_bike(bike, bike_file or bike_text(bike))
            job = replace(draft, id=self._new_job_id())
            self._folder.save(self._job_file(job.id), job_text(job, file.name))
        return job

    def change_job(self, job_id: str, change: Callable[[str], str]) -> Job:
        """Write the job file as ``change`` makes it from its text; the former text is kept."""
        return self._change(job_id, self._job_file(job_id), "job file", change)

    def change_bike(self, job_id: str, change: Callable[[str], str]) -> Job:
        """Write the file of the job's bike as ``change`` makes it from its text; the former text is kept."""
        self.job(job_id)  # a job that is not there is said so
        name = parse_job_file(read_text_file(self._job_file(job_id), "job file")).bike
        file = self._folder.below(self._folder.bikes, name, "bike file")
        return self._change(job_id, file, "bike file", change)

    def _change(self, job_id: str, file: Path, what: str, change: Callable[[str], str]) -> Job:
        self.job(job_id)
        with self._folder.writing():
            self._folder.save(file, change(read_text_file(file, what)))
        return self.job(job_id)

    def save_setup(self, job_id: str, setup: Setup) -> None:
        """Keep a setup of a job; one of the same name is replaced by it."""
        text = setup_text(setup)
        parse_setup(text, "the setup")  # what could not be read back is never written
        with self._folder.writing():
            file = self._setup_file(self.job(job_id), setup.name)
            file.parent.mkdir(exist_ok=True)
            self._folder.save(file, text)

    def texts(self, job_id: str, setup_name: str) -> dict[str, str]:
        """Give the files in force for a log of this job, exactly as they stand: bike, setup, job."""
        job = self.job(job_id)
        if all(setup.name != setup_name for setup in job.setups):
            known = ", ".join(setup.name for setup in job.setups) or "none yet"
            raise UsageError(f'job {job_id} has no setup "{setup_name}" (it has: {known})')
        files = {"setup": self._setup_file(job, setup_name), "job": self._job_file(job_id)}
        bike_name = parse_job_file(read_text_file(files["job"], "job file")).bike
        files["bike"] = self._folder.below(self._folder.bikes, bike_name, "bike file")
        return {name: read_text_file(file, f"{name} file") for name, file in files.items()}

    def _job_files(self) -> list[Path]:
        return _files(self._folder.jobs, "*/job.toml")

    def _job_file(self, job_id: str) -> Path:
        return self._folder.below(self._folder.jobs, job_id, "job") / "job.toml"

    def _read_job(self, file: Path) -> Job:
        text = read_text_file(file, "job file")
        name = parse_job_file(text, str(file)).bike
        bike = read_bike(self._folder.below(self._folder.bikes, name, "bike file"))
        setups = _good(self._setup_files(file.parent), read_setup)
        # The folder's name is the id: a copied job must not answer for another.
        return replace(parse_job(text, bike, setups, str(file)), id=file.parent.name)

    def _setup_files(self, job_folder: Path) -> list[Path]:
        return _files(job_folder / "setups", "*.toml")

    def _setup_file(self, job: Job, name: str) -> Path:
        folder = self._job_file(job.id).parent
        files = self._setup_files(folder)
        for file in files:
            if any(setup.name == name for setup in _good([file], read_setup)):
                return file
        return _free(folder / "setups", f"{len(files) + 1:02d}-{slug(name, 'setup')}", ".toml")

    def _new_job_id(self) -> str:
        taken = [int(one.name) for one in self._folder.jobs.glob("*") if re.fullmatch(r"\d{1,9}", one.name)]
        for number in count(max(taken, default=0) + 1):
            if self._folder.new_folder(self._folder.jobs / f"{number:04d}"):
                return f"{number:04d}"
        raise AssertionError("unreachable: numbers do not end")

    # ------------------------------------------------------------------------------------------- logs

    def logs(self, job_id: str | None = None) -> list[Log]:
        """Give the headers of all logs, or of one job's, newest first."""
        logs = _good(self._log_files(), _read_header)
        return sorted(
            (log for log in logs if job_id is None or log.job == job_id), key=_when_started, reverse=True
        )

    def read_log(self, log_id: str) -> Log:
        """Read one log with its rows."""
        path = self.log_path(log_id)
        if not path.is_file():
            raise FileProblem(f"there is no log {log_id} in {self.path}: `flatfoot job list` shows its logs")
        return replace(read_log(path), id=log_id)

    def log_path(self, log_id: str) -> Path:
        """Say where a log is, or will be."""
        return self._folder.below(self._folder.logs, log_id, "log", LOG_SUFFIX)

    def capture_path(self, log_id: str) -> Path:
        """Say where the capture of a log grows."""
        return self._folder.below(self._folder.logs, log_id, "log", CAPTURE_SUFFIX)

    def new_log_id(self, kind: Kind | str) -> str:
        """Take the next free log id, such as ``2026-11-25-0930-sag-1``; nobody else is given it."""
        beginning = f"{datetime.now():%Y-%m-%d-%H%M}-{Kind(kind)}"
        return next(name for n in count(1) if self._folder.claim_log(name := f"{beginning}-{n}"))

    def unfinished(self) -> list[Path]:
        """Give the captures that nobody is writing and that were never made into a log."""
        return find_unfinished(self._folder.logs)

    def finish(self, capture: Path) -> Path:
        """Make a log of a capture of this book."""
        if capture.resolve().parent != self._folder.logs.resolve() or capture.suffix != CAPTURE_SUFFIX:
            raise UsageError(f"{capture} is not a capture of the book {self.path}")
        return seal(capture, self.log_path(capture.stem))

    def _log_files(self) -> list[Path]:
        return _files(self._folder.logs, f"*{LOG_SUFFIX}")

    # ---------------------------------------------------------------------------------------- problems

    def problems(self) -> tuple[str, ...]:
        """Name every file of the book that cannot be read, with the reason; the lists leave them out."""
        setups = [file for job in self._job_files() for file in self._setup_files(job.parent)]
        empty = [
            f"{job} has no job.toml: it was never finished and can be removed"
            for job in _files(self._folder.jobs, "*")
            if job.is_dir() and not (job / "job.toml").exists()
        ]
        return (
            *_bad(self._bike_files(), read_bike),
            *_bad(self._job_files(), self._read_job),
            *_bad(setups, read_setup),
            *_bad(self._log_files(), _read_header),
            *empty,
        )


def _files(folder: Path, pattern: str) -> list[Path]:
    """Find files by name; hidden ones are half written, or other programs' own."""
    return sorted(one for one in folder.glob(pattern) if not one.name.startswith("."))


def _good(files: Iterable[Path], read: Callable[[Path], Record]) -> list[Record]:
    records = []
    for file in files:
        try:
            records.append(read(file))
        except FlatfootError:  # named by Book.problems
            continue
    return records


def _bad(files: Iterable[Path], read: Callable[[Path], object]) -> list[str]:
    problems = []
    for file in files:
        try:
            read(file)
        except FlatfootError as problem:
            problems.append(str(problem))
    return problems


def _free(folder: Path, name: str, suffix: str) -> Path:
    names = (name if n == 1 else f"{name}-{n}" for n in count(1))
    return next(folder / f"{one}{suffix}" for one in names if not (folder / f"{one}{suffix}").exists())


def _read_header(file: Path) -> Log:
    # The file's name is the id: it is what people and addresses ask for.
    return replace(read_header(file), id=file.stem)


def _when_started(log: Log) -> tuple[float, str]:
    try:
        return datetime.fromisoformat(log.started).timestamp(), log.id
    except (ValueError, OverflowError, OSError):
        return 0.0, log.id
