"""The virtual bike: what every analysis is tested against, because it knows its own truth.

What it is
    A half-car in the plane. A rigid sprung body (bike and rider) heaves and pitches on two ends; each end has
    a spring with preload (the rear through its leverage table), air above the oil if wanted, bump rubber, an
    oil lock if wanted, a hard stop and a top-out stop, a damper with its own compression and rebound, Coulomb
    friction that truly sticks, an unsprung mass, and a tyre that can leave the ground. The road is of an
    ISO 8608 class with features on top; the rear wheel follows the front one by wheelbase / speed. The fork
    works along its axis.

What it is not
    No sideways motion, lean or steering. Small pitch angles. Constant speed: drive, brakes and chain pull are
    at most forces on the body. The rider is a lump fixed to the body, so nobody stands up for a jump. The
    tyre touches at one point; the upper end of the road's band stands in for its contact patch. Frame, fork
    and linkage do not flex; friction is the same at all speeds and loads; dampers have no hysteresis,
    cavitation or fade, and oil and air do not warm up. Numbers from it show what an analysis makes of a known
    motion. They are not a prediction of any real bike.

This module is the front door; the parts are in the ``virtual_*`` modules beside it.
"""

from __future__ import annotations

from analysis.virtual_counts import record_of, to_counts
from analysis.virtual_demo import LIGHT_RIDER_KG, demo_bike, lowered, ride_scene, varied_scenes
from analysis.virtual_parts import (
    AirSpring,
    BumpRubber,
    Damper,
    Damping,
    OilLock,
    Stop,
    VirtualBike,
    VirtualEnd,
)
from analysis.virtual_scene import EndTruth, Load, Scene, TrueEvent, Truth, sag_scene
from analysis.virtual_sim import simulate

__all__ = [
    "LIGHT_RIDER_KG",
    "AirSpring",
    "BumpRubber",
    "Damper",
    "Damping",
    "EndTruth",
    "Load",
    "OilLock",
    "Scene",
    "Stop",
    "TrueEvent",
    "Truth",
    "VirtualBike",
    "VirtualEnd",
    "demo_bike",
    "lowered",
    "record_of",
    "ride_scene",
    "sag_scene",
    "simulate",
    "to_counts",
    "varied_scenes",
]
