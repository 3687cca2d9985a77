"""The bottomings and toppings of a ride under the numbers they have in the table and in the figure."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.ride_results import EndRide, RideSummary, TravelEvent
from ingest.records import End


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberedEvent:
    """An event with the number it has in the table and in the figure."""

    number: int
    end: End
    event: TravelEvent
    is_topping: bool


def ends_of(ride: RideSummary) -> list[tuple[End, EndRide]]:
    """Give the ends that were measured, the front first."""
    both = ((End.FRONT, ride.front), (End.REAR, ride.rear))
    return [(end, result) for end, result in both if result is not None]


def numbered_events(ride: RideSummary) -> list[NumberedEvent]:
    """Give the events of both ends in the order of time, numbered from 1."""
    found = [
        (event.t_s, end, event, topping)
        for end, result in ends_of(ride)
        for events, topping in ((result.bottoming, False), (result.topping, True))
        for event in events.events
    ]
    found.sort(key=lambda item: item[0])
    return [
        NumberedEvent(number=i, end=end, event=event, is_topping=topping)
        for i, (_, end, event, topping) in enumerate(found, 1)
    ]
