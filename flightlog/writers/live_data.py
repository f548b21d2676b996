"""A flight for charts that follow the pointer: its fixes in display units, packed small."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from flightlog.arrays import Bools, Floats
from flightlog.debriefing import Debrief
from flightlog.earth.web_mercator import POWERS, tile_fit
from flightlog.measures.results import Flight
from flightlog.motion.motion import Motion
from flightlog.writers.display import Display
from flightlog.writers.page_parts import Band, Chart, LiveFlight, Packed, Panel, Tiles

FEWEST_FIXES = 3
TIME_STEP_S = 0.1
STEPS = {"distance": 0.0002, "height": 0.1, "vertical": 0.01, "speed": 0.1}
"""Finest difference told of each kind of figure, in the reader's unit: 0.2 m, 0.1 m, 1 cm/s, 0.1 km/h."""


def live_flight(debrief: Debrief, flight: Flight, charts: Sequence[Chart], show: Display) -> LiveFlight | None:
    """The fixes of one flight with what its track chart marks; None where there are too few to draw."""
    span = debrief.spans[debrief.flights.index(flight)]
    shown = slice(span.first, span.stop)
    motion = debrief.motion
    time = motion.time_s[shown]
    if len(time) < FEWEST_FIXES:
        return None
    ground_speed = np.hypot(motion.velocity_east_mps[shown], motion.velocity_north_mps[shown])
    plan = _map_panel(charts)
    start_s = float(time[0])

    def column(values: Floats, kind: str) -> Packed:
        return packed(values * show.converted(1.0, kind), STEPS[kind])

    return LiveFlight(
        number=span.number,
        start_s=start_s,
        clock_s=_clock_s(start_s, show),
        time=packed(time - start_s, TIME_STEP_S),
        east=column(motion.east_m[shown], "distance"),
        north=column(motion.north_m[shown], "distance"),
        altitude=column(motion.altitude_m[shown], "height"),
        climb=column(motion.climb_mps[shown], "vertical"),
        ground_speed=column(ground_speed, "speed"),
        gaps=tuple(np.flatnonzero(np.diff(motion.piece[shown]) != 0).tolist()),
        phases=tuple(Band(one.start_s - start_s, one.end_s - start_s, one.kind) for one in span.phases),
        marks=plan.marks,
        discs=plan.discs,
        zone=show.zone_name,
        distance_unit=show.unit("distance"),
        height_unit=show.unit("height"),
        vertical_unit=show.unit("vertical"),
        speed_unit=show.unit("speed"),
        wind_to_deg=plan.wind_to_deg,
        wind_label=plan.wind_label,
        tiles=_tiles(motion, shown, show),
    )


def _tiles(motion: Motion, shown: slice, show: Display) -> Tiles | None:
    """The tiles below the track, where the reader asked for some and there are any."""
    fit = tile_fit(motion.plane, motion.east_m[shown], motion.north_m[shown]) if show.basemap else None
    if show.basemap is None or fit is None:
        return None
    x, y = (tuple(show.converted(term, "distance") for term in terms) for terms in (fit.east_m, fit.north_m))
    return Tiles(show.basemap.template, show.basemap.credit, fit.x0, fit.y0, fit.span, x, y, POWERS)


def _map_panel(charts: Sequence[Chart]) -> Panel:
    """The track of the flight among its charts."""
    return next(panel for chart in charts for panel in chart.panels if panel.is_map)


def _clock_s(time_s: float, show: Display) -> float:
    """The reader's time of day, in seconds."""
    local = datetime.fromtimestamp(time_s, tz=UTC).astimezone(show.zone)
    return local.hour * 3600.0 + local.minute * 60.0 + local.second + round(local.microsecond / 1e6, 3)


def packed(values: Floats, step: float) -> Packed:
    """Figures (n,) to the nearest step, as differences.

    >>> packed(np.array([1.0, 1.5, np.nan, 0.5]), 0.5)
    Packed(first=2, step=0.5, bits=16, data='AAABAAAA/v8=', holes=(2, 3))
    """
    known = np.isfinite(values)
    if not known.any():
        return replace(packed(np.zeros(len(values)), step), holes=(0, len(values)))
    at = np.maximum.accumulate(np.where(known, np.arange(len(values)), int(np.argmax(known))))
    steps = np.round(values[at] / step).astype(np.int64)  # what is not known goes on as it was
    differences = np.diff(steps, prepend=steps[0])
    bits = 16 if np.abs(differences).max() < 2**15 else 32
    data = base64.b64encode(differences.astype(f"<i{bits // 8}").tobytes()).decode()
    return Packed(int(steps[0]), step, bits, data, _holes(known))


def _holes(known: Bools) -> tuple[int, ...]:
    """Where nothing is known: first and one past the last, in pairs."""
    edges = np.flatnonzero(np.diff(np.concatenate(([True], known, [True]))))
    return tuple(edges.tolist())
