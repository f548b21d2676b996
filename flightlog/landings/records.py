"""What the review of landings keeps of a debrief: contacts with the ground, passes and their lines."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from flightlog.arrays import Floats
from flightlog.debriefing import Debrief
from flightlog.measures.results import Flight, Pass
from flightlog.motion.interpolation import motion_at
from flightlog.phases.approaches import PassSpan
from flightlog.phases.grounds import Ground
from flightlog.phases.phases import FlightSpan

MOST_POINTS = 150
"""Points kept of the line of one pass: one and more a second."""
SHOWN_AFTER_S = 25.0
"""How long a broken-off pass is followed, so that the way out is seen."""


@dataclass(frozen=True)
class Contact:
    """One take-off or touchdown.

    `home` is the index of the user's place it belongs to, None where it lies on none, or where there are none.
    """

    time: datetime
    lat_deg: float
    lon_deg: float
    altitude_m: float
    is_takeoff: bool
    flight: int
    home: int | None
    passes_looked_for: bool  # approaches that were broken off are looked for at top-landing places alone


@dataclass(frozen=True, eq=False)
class PassRecord:
    """One pass with the line it flew, k points; heights are above the place."""

    figures: Pass
    flight: int
    home: int | None  # as for Contact
    lat_deg: float  # of the middle of the ground that the pass was flown to
    lon_deg: float
    altitude_m: float
    line_lat_deg: Floats  # (k,)
    line_lon_deg: Floats
    line_height_m: Floats
    flown_until: int  # points up to touchdown or decision; the rest shows the way out
    end_lat_deg: float | None  # of touchdown or decision; None where the recorder was silent
    end_lon_deg: float | None


@dataclass(frozen=True)
class FlightRecord:
    """How one flight of a log ended."""

    number: int
    start: datetime
    end: datetime
    ends_in_air: bool
    kind: str  # top_landing | landing | end_of_log


@dataclass(frozen=True, eq=False)
class LandingLog:
    """One log, as far as landings go."""

    file: str
    date: str | None
    sha256: str
    flights: tuple[FlightRecord, ...]
    contacts: tuple[Contact, ...]
    passes: tuple[PassRecord, ...]


def landing_log(debrief: Debrief) -> LandingLog:
    """The contacts with the ground and the passes of a debrief; the arrays of the whole log are let go."""
    contacts: list[Contact] = []
    passes: list[PassRecord] = []
    for flight, span, spans in zip(debrief.flights, debrief.spans, debrief.pass_spans, strict=True):
        contacts += _contacts(debrief, flight, span)
        passes += [
            _pass_record(debrief, flight.number, one, figures)
            for one, figures in zip(spans, flight.passes, strict=True)
        ]
    flights = tuple(
        FlightRecord(
            flight.number, flight.takeoff.time, flight.landing.time, span.ends_in_air, flight.landing.kind
        )
        for flight, span in zip(debrief.flights, debrief.spans, strict=True)
    )
    log = debrief.log
    return LandingLog(log.file, log.date, log.sha256, flights, tuple(contacts), tuple(passes))


def _contacts(debrief: Debrief, flight: Flight, span: FlightSpan) -> list[Contact]:
    """Take-off and touchdown of a flight, those that lie in the log."""
    found = []
    for event, is_takeoff, is_missing in (
        (flight.takeoff, True, span.starts_in_air),
        (flight.landing, False, span.ends_in_air),
    ):
        if is_missing or event.altitude_m is None:
            continue
        position = (event.lat_deg, event.lon_deg, event.altitude_m)
        at, ground = _ground_of(debrief, flight.number, is_takeoff=is_takeoff)
        found.append(
            Contact(
                event.time,
                *position,
                is_takeoff,
                flight.number,
                at if debrief.places else None,
                ground is not None and "top_landing" in ground.use,
            )
        )
    return found


def _ground_of(debrief: Debrief, number: int, *, is_takeoff: bool) -> tuple[int | None, Ground | None]:
    """The ground of a flight's take-off or touchdown, and its index; grounds stand in the order of the places."""
    for at, ground in enumerate(debrief.grounds):
        if number in (ground.takeoffs if is_takeoff else ground.landings):
            return at, ground
    return None, None


def _pass_record(debrief: Debrief, flight: int, one: PassSpan, figures: Pass) -> PassRecord:
    """One pass with its line."""
    motion, ground = debrief.motion, one.ground
    after = one.end_s if one.outcome == "landed" else min(one.end_s + SHOWN_AFTER_S, one.free_until_s)
    step = max((after - one.start_s) / MOST_POINTS, 0.5)
    flown = np.append(np.arange(one.start_s, one.end_s, step), one.end_s)
    way_out = np.arange(one.end_s + step, after, step)
    times = np.concatenate([flown, way_out])
    samples = motion_at(motion, times)
    lat, lon = motion.plane.to_degrees(samples.east_m, samples.north_m)
    centre_lat, centre_lon = motion.plane.to_degrees(np.array([ground.east_m]), np.array([ground.north_m]))
    end_lat, end_lon = float(lat[len(flown) - 1]), float(lon[len(flown) - 1])
    is_known = math.isfinite(end_lat) and math.isfinite(end_lon)
    return PassRecord(
        figures=figures,
        flight=flight,
        home=_index_of(debrief.grounds, ground) if debrief.places else None,
        lat_deg=float(centre_lat[0]),
        lon_deg=float(centre_lon[0]),
        altitude_m=float(np.median(ground.level_m)),
        line_lat_deg=lat,
        line_lon_deg=lon,
        line_height_m=samples.altitude_m - ground.level_at(times),
        flown_until=len(flown),
        end_lat_deg=end_lat if is_known else None,
        end_lon_deg=end_lon if is_known else None,
    )


def _index_of(grounds: tuple[Ground, ...], ground: Ground) -> int | None:
    """Where a ground stands among the grounds of its log, which stand in the order of the places."""
    return next((at for at, known in enumerate(grounds) if known is ground), None)
