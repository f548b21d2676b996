"""What a list of reports says of each flight: a few figures, and a sketch of its track."""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flightlog.debriefing import Debrief
    from flightlog.measures.results import Flight
    from flightlog.writers.display import Display

MOST_POINTS = 200
"""Points of a sketch: more than its few hundred pixels can show."""
LONGEST_TEXT = 200
_STEPS = 1000
_POINT = struct.Struct("<HH")
"""A point of a sketch: east and north in thousandths of the longer side."""


@dataclass(frozen=True)
class FlightRow:
    """One flight; figures in SI, clock times as the report shows them."""

    number: int
    date: str | None
    clock: str
    zone: str
    start: float  # UTC seconds, to sort by
    place: str | None
    lat_deg: float
    lon_deg: float
    duration_s: float
    gain_m: float | None
    highest_m: float | None
    glide_ratio: float | None  # over the ground, all glides
    go_arounds: int
    sketch: bytes  # from `packed`: the lists of thousands of flights are held at once

    def __post_init__(self) -> None:
        if len(self.sketch) % _POINT.size:
            raise ValueError(f"a sketch has {_POINT.size} bytes a point, found {len(self.sketch)}")

    @property
    def sketch_points(self) -> list[tuple[float, float]]:
        """East and north of the track's points, 0 to 1, the longer side 1."""
        return [(east / _STEPS, north / _STEPS) for east, north in _POINT.iter_unpack(self.sketch)]


@dataclass(frozen=True)
class LogRow:
    """One log with its flights, of which there may be none."""

    file: str
    date: str | None
    pilot: str | None
    wing: str | None
    flights: tuple[FlightRow, ...]


def log_row(debrief: Debrief, show: Display) -> LogRow:
    """The row of one log."""
    from flightlog.writers.zones import settled

    show = settled(debrief, show)
    log = debrief.log
    wing = debrief.wing.name if debrief.wing else log.wing
    flights = tuple(_flight_row(debrief, flight, show) for flight in debrief.flights)
    return LogRow(_short(log.file) or "", log.date, _short(log.pilot), _short(wing), flights)


def _flight_row(debrief: Debrief, flight: Flight, show: Display) -> FlightRow:
    """The row of one flight."""
    from flightlog.writers.page_tables import go_arounds

    ratio = flight.performance.glide_ratio_ground
    takeoff = flight.takeoff
    return FlightRow(
        number=flight.number,
        date=show.date(takeoff.time) if debrief.log.date else None,
        clock=show.clock(takeoff.time),
        zone=show.zone_name,
        start=takeoff.time.timestamp(),
        place=_short(takeoff.place),
        lat_deg=round(takeoff.lat_deg, 4),
        lon_deg=round(takeoff.lon_deg, 4),
        duration_s=flight.duration_s,
        gain_m=flight.altitude_gain_m,
        highest_m=flight.max_altitude_m,
        glide_ratio=ratio.value if ratio else None,
        go_arounds=len(go_arounds(flight)),
        sketch=_sketch(debrief, flight),
    )


def _short(text: str | None) -> str | None:
    """A text of bounded length."""
    return text if text is None or len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 1] + "…"


def packed(places: Iterable[tuple[float, float]]) -> bytes:
    """Points of a sketch, each number 0 to 1, in four bytes a point.

    >>> packed([(0.0, 0.0), (1.0, 0.5)]).hex()
    '00000000e803f401'
    """
    return b"".join(_POINT.pack(round(east * _STEPS), round(north * _STEPS)) for east, north in places)


def _sketch(debrief: Debrief, flight: Flight) -> bytes:
    """The track of a flight by a few points."""
    import numpy as np

    span = debrief.spans[debrief.flights.index(flight)]
    count = span.stop - span.first
    if count < 2:
        return b""
    at = np.unique(np.linspace(span.first, span.stop - 1, min(count, MOST_POINTS)).round().astype(np.int64))
    places = np.stack([debrief.motion.east_m[at], debrief.motion.north_m[at]], axis=1)
    places = places - places.min(axis=0)
    return packed((places / max(float(places.max()), 1.0)).tolist())
