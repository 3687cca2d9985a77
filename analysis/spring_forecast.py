"""One end with another spring in it: what sags are to be expected, and with what doubt.

The load is not known and need not be: it is what the spring of now carries at the sag that was measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.gum import rectangular
from analysis.preload import PRELOAD_HALF_MM, air_inputs, at_preload, known_preload, unknown_air
from analysis.propagation import Input, measured, propagate
from analysis.results import Quantity
from analysis.spring_statics import SpringEnd, spring_end
from ingest.records import Suspension

PRINTED_RATE_SHARE = 0.02
"""Standard uncertainty of a printed spring rate. Common practice, no source."""

Values = Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One end as it was measured; ``rate_n_mm`` is that of all its springs together."""

    suspension: Suspension
    rate_n_mm: float
    unladen: Quantity | None
    rider: Quantity

    @property
    def end(self) -> SpringEnd:
        """The end with its springs and preload of now."""
        return spring_end(self.suspension, self.rate_n_mm, known_preload(self.suspension).value)

    @property
    def inputs(self) -> dict[str, Input]:
        """What is known of the end now, without its sags."""
        rate = self.rate_n_mm
        return {
            "preload now": known_preload(self.suspension),
            "rate now": Input(value=rate, u=PRINTED_RATE_SHARE * rate, basis="as printed"),
        } | air_inputs(unknown_air(self.suspension))

    def now(self, values: Values) -> SpringEnd:
        """Give the end as it was measured, as the inputs have it."""
        return self._at(values, values["rate now"], values["preload now"])

    def then(self, values: Values, preload_mm: float) -> SpringEnd:
        """Give it with the new spring, or with the old one turned, at a preload."""
        return self._at(values, values.get("rate then", values["rate now"]), preload_mm)

    def _at(self, values: Values, rate: float, preload_mm: float) -> SpringEnd:
        placed = self.end.with_spring(rate, preload_mm)
        return at_preload(placed, unknown_air(self.suspension), values, preload_mm)


def foretold(case: Case, sag: Quantity, rate: float, preload_mm: float, *, same: bool) -> Quantity:
    """Foretell one sag with a spring put in at a preload.

    What the old and the new state share, the preload of the same spring for one, moves both alike.
    """
    now = case.end
    inputs = case.inputs | {"sag now": measured(sag, "measured")}
    if not same:
        inputs |= _new_spring(rate) | {
            "preload then": Input(value=preload_mm, u=rectangular(PRELOAD_HALF_MM), basis="as it will be set")
        }
    turned_mm = preload_mm - now.preload_mm

    def then(values: Values) -> float:
        preload = values.get("preload then", values["preload now"] + turned_mm)
        return case.then(values, preload).sag_mm(case.now(values).force_n(values["sag now"]))

    return propagate(then, inputs)[0]


def unladen_once_right(case: Case, unladen: Quantity, rate: float, goal_mm: float, *, same: bool) -> Quantity:
    """Foretell unladen sag once preload was corrected, in or out of reach, until rider sag is right."""
    inputs = case.inputs | {
        "sag now": measured(unladen, "measured"),
        "rider sag": measured(case.rider, "measured"),
    }
    if not same:
        inputs |= _new_spring(rate)

    def then(values: Values) -> float:
        now = case.now(values)
        loose = case.then(values, 0.0)
        preload = loose.preload_for_mm(goal_mm, now.force_n(values["rider sag"]))
        return case.then(values, preload).sag_mm(now.force_n(values["sag now"]))

    return propagate(then, inputs)[0]


def _new_spring(rate: float) -> dict[str, Input]:
    return {"rate then": Input(value=rate, u=PRINTED_RATE_SHARE * rate, basis="as printed")}
