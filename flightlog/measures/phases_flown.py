"""The phases of a flight, each with the stretch that was flown in it: what several measures start from."""

from __future__ import annotations

from typing import TypeAlias

from flightlog.air.air import Air
from flightlog.air.stretches import Stretch, stretches
from flightlog.arrays import Floats
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import Settings

PhasesFlown: TypeAlias = tuple[tuple[Phase, Stretch], ...]


def phases_flown(
    motion: Motion, air: Air, span: FlightSpan, settings: Settings, way_m: Floats | None = None
) -> PhasesFlown:
    """Every phase of a flight that lasts some time, in their order, all measured at once.

    `way_m` is `ground_way_m` of the same motion, where it is at hand.
    """
    phases = [phase for phase in span.phases if phase.end_s > phase.start_s]
    flown = stretches(motion, air, [(phase.start_s, phase.end_s) for phase in phases], settings, way_m)
    return tuple(zip(phases, flown, strict=True))
