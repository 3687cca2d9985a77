"""The sag check a ride is held against: the newest one of the same job, setup and load."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.results import Quantity, SagCheck
from ingest.log import Kind, Log
from ingest.records import End, Setup


def newest_sag_log(logs: Iterable[Log], ride: Log) -> Log | None:
    """Choose of the logs, newest first, the sag check that belongs to a ride; ``None`` where there is none.

    A zero or a calibration measured anew is no other setup; what nobody said of the load is taken as equal.
    """
    return next((log for log in logs if _belongs(log, ride)), None)


def _belongs(log: Log, ride: Log) -> bool:
    if log.kind is not Kind.SAG or ride.job is None or log.job != ride.job:
        return False
    load_differs = None not in (log.load_case, ride.load_case) and log.load_case != ride.load_case
    return not load_differs and _bare(log.setup) == _bare(ride.setup)


def _bare(setup: Setup | None) -> Setup | None:
    return None if setup is None else setup.parts_alone()


def rider_sags(check: SagCheck) -> dict[End, Quantity]:
    """Give the rider sag of each end that has one."""
    found = ((End.FRONT, check.front), (End.REAR, check.rear))
    sags = ((end, sag.rider_sag_mm) for end, sag in found if sag is not None)
    return {end: rider_sag for end, rider_sag in sags if rider_sag is not None}
