"""The one recording a server can hold: begun and ended from any browser, shown in all of them."""

from __future__ import annotations

import logging
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.effective import effective_bike
from dashboard.commands.live_line import wheels
from dashboard.commands.place import Place, place_in_book
from dashboard.commands.record import job_zeros, start_notes
from dashboard.guide import LOOK_EVERY_S, Guide, Wish
from ingest.book import Book
from ingest.errors import FlatfootError, UsageError
from ingest.live_view import Live
from ingest.log import Kind
from ingest.port import DEFAULT_BAUD, PortInfo, list_ports, port_source
from ingest.recorder import Recorder
from ingest.records import End

LOG = logging.getLogger("flatfoot.recording")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheel:
    """One end while it is recorded: its travel, where it is now and where it was in the last 3 s, mm."""

    end: End
    travel_mm: float
    counts: int | None
    now_mm: float | None
    recent_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """A recording at one moment, with what it is a recording of."""

    kind: Kind
    job_id: str
    rider: str
    setup: str
    port: str
    live: Live
    wheels: tuple[Wheel, ...]
    marks: tuple[str, ...]
    guided: bool = False


@dataclass(slots=True, kw_only=True)
class _Session:
    place: Place
    kind: Kind
    port: PortInfo
    zeros: Mapping[End, float]
    recorder: Recorder
    marks: list[str]
    guide: Guide | None = None

    def mark(self, text: str) -> None:
        self.recorder.mark(text)
        self.marks.append(text)

    def watch(self) -> None:
        """Let the guide look until the recording ends: readings take themselves, whoever has a page open."""
        assert self.guide is not None
        while not self.recorder.wait(LOOK_EVERY_S):
            try:
                self.guide.look()
            except FlatfootError:  # the recording ended between the look and the mark
                continue
            except Exception:  # a fault of ours must not end the watch: the readings can be taken by hand
                LOG.exception("a look at the wheels failed")


class Recording:
    """Holds the recording of a server. Every question may come from another thread."""

    def __init__(self, book: Book, ports: Sequence[PortInfo] = ()) -> None:
        self._book = book
        self._ports = tuple(ports)
        self._lock = threading.Lock()
        self._session: _Session | None = None
        self._sealing: str | None = None  # the job whose recording has ended and is being written
        self._sealed: dict[str, str] = {}  # job → the log of its newest guided check

    def ports(self) -> list[PortInfo]:
        """List the ports that may be recorded from: those given to the server, then the machine's own."""
        found = {port.url: port for port in (*self._ports, *list_ports())}
        return list(found.values())

    def start(
        self,
        job_id: str,
        setup_name: str,
        kind: str,
        port_url: str,
        *,
        load_case: str | None = None,
        wish: Wish | None = None,
    ) -> None:
        """Begin; returns when samples come. A port that is not in the list is refused.

        With a ``wish`` it is a guided sag check.
        """
        port = next((port for port in self.ports() if port.url == port_url), None)
        if port is None:
            raise UsageError("that port is not there any more: look for ports again and choose one")
        if kind not in list(Kind):
            raise UsageError("say what is recorded: a sag check or a ride")
        with self._lock:
            if self._session is not None:
                busy = self._session.place
                raise UsageError(f"job {busy.job_id} is being recorded already: stop that recording first")
            place = place_in_book(self._book, job_id, setup_name, kind)
            zeros = job_zeros(place, kind, say=lambda _: None)
            notes = start_notes(place, kind, zeros, port.url, DEFAULT_BAUD, load_case)
            if wish is not None:
                notes = replace(notes, notes=wish.notes)
            recorder = Recorder(port_source(port.url, DEFAULT_BAUD), place.capture_path, notes)
            session = _Session(
                place=place, kind=Kind(kind), port=port, zeros=zeros, recorder=recorder, marks=[]
            )
            if wish is not None:
                session.guide = Guide(recorder, place.bike, place.setup, wish, session.mark)
            recorder.start()
            if session.guide is not None:
                threading.Thread(target=session.watch, name="flatfoot guide", daemon=True).start()
            self._session = session

    def mark(self, text: str) -> None:
        """Note what was said at this moment."""
        with self._lock:
            if self._session is None:
                raise UsageError("nothing is being recorded, so nothing can be marked")
            self._session.mark(text)

    def guide(self, job_id: str | None = None) -> Guide | None:
        """Give the guided check that is running, or only that of one job; ``None`` where there is none."""
        with self._lock:
            session = self._session
        if session is None or (job_id is not None and session.place.job_id != job_id):
            return None
        return session.guide

    def stop(self) -> tuple[str, Kind, str | None]:
        """End and seal; give the log's id, its kind, and what ended the recording before this, if anything.

        What was recorded is sealed even where the recording ended by a fault.
        """
        with self._lock:
            if self._session is None:
                raise UsageError("nothing is being recorded")
            session, self._session = self._session, None
            job_id = session.place.job_id or ""
            self._sealing = job_id
        trouble = None
        try:
            try:
                session.recorder.stop()
            except FlatfootError as error:
                trouble = str(error)
            self._book.finish(session.place.capture_path)
            if session.guide is not None:
                self._sealed[job_id] = session.place.log_id
        finally:
            self._sealing = None
        return session.place.log_id, session.kind, trouble

    def is_sealing(self, job_id: str) -> bool:
        """Say whether a recording of a job has ended and is being written into the book."""
        return self._sealing == job_id

    def sealed(self, job_id: str) -> str | None:
        """Give the log a job's newest guided check became; ``None`` where this server led through none."""
        return self._sealed.get(job_id)

    def now(self) -> Now | None:
        """Give the state of the recording; ``None`` where nothing is being recorded."""
        with self._lock:
            session = self._session
        if session is None:
            return None
        live = session.recorder.live()
        return Now(
            kind=session.kind,
            job_id=session.place.job_id or "",
            rider=session.place.rider.name if session.place.rider else "",
            setup=session.place.setup.name if session.place.setup else "",
            port=session.port.label,
            live=live,
            wheels=tuple(_wheels(session, live)),
            marks=tuple(session.marks),
            guided=session.guide is not None,
        )


def _wheels(session: _Session, live: Live) -> list[Wheel]:
    bike = effective_bike(session.place.bike, session.place.setup)
    found = []
    for end, channel, tool in wheels(session.place.bike, session.place.setup, session.zeros):
        suspension = bike.suspension(end)
        if suspension is None:
            continue
        rows = [counts[channel] for _, counts in live.recent if channel < len(counts)]
        mm = tool.positions(np.asarray(rows, float)).travel_mm if rows else np.empty(0)
        there = mm[np.isfinite(mm)]
        found.append(
            Wheel(
                end=end,
                travel_mm=suspension.travel_mm,
                counts=rows[-1] if rows else None,
                now_mm=float(mm[-1]) if rows and np.isfinite(mm[-1]) else None,
                recent_mm=(float(there.min()), float(there.max())) if there.size else (),
            )
        )
    return found
