"""What the proof after the work answers: what was promised, what was measured, and where they differ.

The field names of `Proof` are the JSON contract.
"""

from __future__ import annotations

from dataclasses import dataclass

from ingest.records import End


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A number and what it lies between, 95 in 100; one deepest moment has no interval."""

    value: float
    interval: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """One thing the plan promised.

    ``name`` is one of ``rider_sag_mm``, ``travel_mm``, ``p99_mm``, ``travel_used_mm``,
    ``bottoming_per_10_min`` (of one ``end``), or ``seat_drop_mm``, ``seat_drop_taped_mm``,
    ``seat_drop_riding_mm``, ``wanted_mm`` (of the bike). ``difference`` is measured less promised. ``word``:

    ================== ==================================================================================
    as promised        the difference lies within its doubt
    more, less         it lies beyond: the difference is named
    better             something bad was expected and did not come
    cannot tell        the doubt is too wide to prove anything, or there is none to judge by
    not promised       the plan could not say
    not measured       nobody measured it after the work (``bottoming``: no ride)
    ================== ==================================================================================
    """

    name: str
    end: End | None
    unit: str
    before: Estimate | None
    promised: Estimate | None
    measured: Estimate | None
    difference: Estimate | None
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """The plan against the measurement.

    ``verdict`` is ``as promised`` (rider sag at every end and the seat are), ``not as promised`` (something
    differs by more than its doubt) or ``cannot tell``. ``uses_its_travel`` is the answer of the comparison of
    rides, where there was one.
    """

    option: str
    promises: tuple[Promise, ...]
    verdict: str
    uses_its_travel: str | None
    cautions: tuple[str, ...]
    software: str = ""

    @property
    def differs(self) -> tuple[Promise, ...]:
        """What differs by more than its doubt."""
        return tuple(one for one in self.promises if one.word in ("more", "less"))
