"""Said wherever the work can hurt someone: on paper, on the pages, in the README."""

from __future__ import annotations

GEOMETRY_LIMITS = (
    "The manufacturer's geometry limits, local rules and the judgement of a licensed professional outrank"
    " any number here."
)
SAFETY = (
    "Support the bike so that it cannot fall.",
    "Springs and gas-charged dampers store energy: leave them to a qualified technician.",
    "Check brake hoses, ABS wiring, chain, tyre and mudguard clearance at full bump, with the bike strapped"
    " down or the spring out, lock to lock, before the first ride.",
    "Headlight aim and stand length change with ride height; an unshortened side stand can tip a lowered"
    " bike.",
    "Sensors must break away and never jam a wheel or the steering.",
    GEOMETRY_LIMITS,
    "Test rides happen where local law allows them, and nobody watches a screen while riding.",
)
