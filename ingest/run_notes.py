"""What a person says of a run that no sensor knows: where it went, the tyres, whether the bike was warm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from math import isfinite

from ingest.errors import UsageError

LEAST_KPA, MOST_KPA = 20.0, 500.0
"""What a motorcycle tyre may have; other numbers were typed in bar or psi (common practice, no source)."""

YES_NO = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class RunNotes:
    """Route, tyre pressures (gauge), and whether oil and tyres were warm; ``None`` where nobody said."""

    route: str | None = None
    front_tyre_kpa: float | None = None
    rear_tyre_kpa: float | None = None
    warmed_up: bool | None = None


NOTHING_SAID = RunNotes()


def typed_run_notes(
    route: str | None = None, tyres_kpa: str | None = None, warm: str | None = None
) -> RunNotes:
    """Read what somebody typed; empty text is the same as nothing said.

    Parameters
    ----------
    route : str, optional
        What the shop calls it.
    tyres_kpa : str, optional
        Front and rear, ``"220,250"``; one of them may be left out: ``"220,"``.
    warm : str, optional
        ``yes`` or ``no``.

    Raises
    ------
    UsageError
        Naming what was typed and what is allowed.

    Examples
    --------
    >>> typed_run_notes("forest loop", "220,250", "yes").rear_tyre_kpa
    250.0
    """
    front, rear = _pressures(tyres_kpa)
    return RunNotes(
        route=(route or "").strip() or None, front_tyre_kpa=front, rear_tyre_kpa=rear, warmed_up=_warm(warm)
    )


def known(notes: RunNotes) -> dict[str, str | float | bool]:
    """Give what was said, by field name; what was not said is left out.

    >>> known(RunNotes(route="forest loop"))
    {'route': 'forest loop'}
    """
    return {name: value for name, value in asdict(notes).items() if value is not None}


def corrected(notes: RunNotes, content: Mapping[str, object]) -> RunNotes:
    """Give the notes with some fields said anew, each checked; ``None`` takes back what was said."""
    names = [field.name for field in fields(RunNotes)]
    unknown = [name for name in content if name not in names]
    if unknown or not content:
        said = f"cannot note {unknown[0]!r}" if unknown else "says nothing"
        raise UsageError(f"a correction of a run {said}: allowed are {', '.join(names)}")
    said_now = {**asdict(notes), **content}
    return RunNotes(
        route=_text(said_now["route"]),
        front_tyre_kpa=_kpa(said_now["front_tyre_kpa"]),
        rear_tyre_kpa=_kpa(said_now["rear_tyre_kpa"]),
        warmed_up=_flag(said_now["warmed_up"]),
    )


def _text(value: object) -> str | None:
    if value is None:
        return None
    if not isinstance(value, str) or not value.strip():
        raise UsageError(f"route is {value!r}: give the name the shop calls it by")
    return value.strip()


def _kpa(value: object) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UsageError(f"tyre pressure {value!r} is not a number: give kPa, like 220")
    return _pressure(float(value))


def _flag(value: object) -> bool | None:
    if value is None or isinstance(value, bool):
        return value
    raise UsageError(f"warmed_up is {value!r}: allowed are true and false")


def _pressures(text: str | None) -> tuple[float | None, float | None]:
    if text is None or not text.strip():
        return None, None
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2:
        raise UsageError(f"tyre pressures {text!r}: write front and rear in kPa, like 220,250")
    front, rear = (_number(part, text) if part else None for part in parts)
    return front, rear


def _number(part: str, text: str) -> float:
    try:
        return _pressure(float(part))
    except ValueError as error:
        if isinstance(error, UsageError):
            raise
        raise UsageError(
            f"tyre pressures {text!r}: {part!r} is not a number; write kPa, like 220,250"
        ) from None


def _pressure(kpa: float) -> float:
    if not isfinite(kpa) or not LEAST_KPA <= kpa <= MOST_KPA:
        raise UsageError(
            f"tyre pressure {kpa:g} kPa: {LEAST_KPA:.0f} to {MOST_KPA:.0f} kPa can be; "
            "1 bar is 100 kPa, 1 psi is 6.9 kPa"
        )
    return kpa


def _warm(text: str | None) -> bool | None:
    said = (text or "").strip().lower()
    if not said:
        return None
    if said not in YES_NO:
        raise UsageError(f"warmed up {text!r}: say yes or no")
    return YES_NO[said]
