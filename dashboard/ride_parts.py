"""A ride and its sections put side by side, for the page and the terminal alike."""

from __future__ import annotations

from collections.abc import Mapping

from analysis.motion import EndMotion
from analysis.results import Quantity
from analysis.ride import both_motions, summarise_ride
from analysis.ride_results import RideSummary
from analysis.roughness import roughness
from analysis.section_roughness import against_the_whole
from analysis.sections import Section, left_out, sections
from dashboard.section_words import WHOLE, Part, Parts
from dashboard.units import NOTHING
from ingest.errors import CannotAnswer
from ingest.log import Log
from ingest.records import End

Motions = Mapping[End, EndMotion | None]


def parts_of(log: Log, ride: RideSummary, motions: Motions) -> Parts:
    """Summarise every section of a ride; ``ride`` and ``motions`` are those of the whole of it.

    No parts where nobody marked any.
    """
    whole_road = _roughness(motions)
    cut = [_part(number, section, whole_road) for number, section in enumerate(sections(log), 1)]
    whole = Part(number=0, name=WHOLE, start_s=0.0, duration_s=log.duration_s, ride=ride, road=NOTHING)
    return Parts(parts=(whole, *cut) if cut else (), left_out=left_out(log))


def _part(number: int, section: Section, whole_road: Mapping[End, Quantity | None]) -> Part:
    motions = both_motions(section.log)
    try:
        ride, road = summarise_ride(section.log, motions=motions), None
    except CannotAnswer:
        ride, road = None, "nothing read"
    return Part(
        number=number,
        name=section.name,
        start_s=section.start_s,
        duration_s=section.end_s - section.start_s,
        ride=ride,
        road=road or against_the_whole(_roughness(motions), whole_road),
    )


def _roughness(motions: Motions) -> dict[End, Quantity | None]:
    return {end: roughness(motion) for end, motion in motions.items() if motion is not None}
