"""The legs of one pilot: what the time was spent on, and what came of it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from flightlog.air.stretches import Stretch
from flightlog.comparing.pilots import Piece, PilotRecord
from flightlog.comparing.results import LegResult
from flightlog.estimates import known
from flightlog.tasks.routes import TaskWays

LEAST_LOSS_M = 20.0
"""Less height lost in gliding gives no glide ratio worth a figure: it would only say `far`."""


def leg_results(record: PilotRecord, ways: TaskWays) -> tuple[LegResult, ...]:
    """Every leg between cylinders reached, in order."""
    cylinders = ways.task.cylinders
    reached = [one.cylinder for one in record.progress.reached]
    return tuple(
        _leg(
            cylinders[reached[leg]].name,
            cylinders[reached[leg + 1]].name,
            [stretch] if stretch else [],
            [piece for piece in record.pieces if piece.leg == leg],
            ways.to_here_m(reached[leg + 1]) - ways.to_here_m(reached[leg]),
        )
        for leg, stretch in enumerate(record.legs)
    )


def total_result(record: PilotRecord, ways: TaskWays) -> LegResult | None:
    """All legs together; None where none was finished."""
    flown = [stretch for stretch in record.legs if stretch is not None]
    if not flown:
        return None
    cylinders, reached = ways.task.cylinders, record.progress.reached
    first, last = reached[0].cylinder, reached[-1].cylinder
    shortest_m = ways.to_here_m(last) - ways.to_here_m(first)
    return _leg(cylinders[first].name, cylinders[last].name, flown, record.pieces, shortest_m)


def _leg(start: str, end: str, flown: Sequence[Stretch], pieces: Sequence[Piece], shortest_m: float) -> LegResult:
    """One leg from its sums."""
    climbs = [piece.flown for piece in pieces if piece.kind == "climb"]
    glides = [piece.flown for piece in pieces if piece.kind == "glide"]
    time_s = math.fsum(stretch.duration_s for stretch in flown)
    climb_s, gain_m = _sum(climbs, "duration_s"), _sum(climbs, "gain_m")
    glide_s, glide_m, loss_m = _sum(glides, "duration_s"), _sum(glides, "way_m"), -_sum(glides, "gain_m")
    has_ratio = loss_m >= LEAST_LOSS_M
    air_ways = [stretch.air_way_m for stretch in glides]
    air_m = math.fsum(way for way in air_ways if way is not None) if None not in air_ways else math.nan
    wind = _wind(flown)
    return LegResult(
        from_=start,
        to=end,
        time_s=time_s,
        climb_time_s=climb_s,
        glide_time_s=glide_s,
        search_time_s=_sum([piece.flown for piece in pieces if piece.kind == "search"], "duration_s"),
        mean_climb_mps=known(gain_m / climb_s) if climb_s > 0.0 else None,
        glide_speed_mps=glide_m / glide_s if glide_s > 0.0 else None,
        glide_ratio_ground=glide_m / loss_m if has_ratio else None,
        glide_ratio_air=known(air_m / loss_m) if has_ratio else None,
        flown_m=_sum(flown, "way_m"),
        shortest_m=shortest_m,
        climb_gain_m=known(gain_m),
        glide_m=glide_m,
        glide_loss_m=known(loss_m),
        start_altitude_m=known(flown[0].start_altitude_m) if flown else None,
        end_altitude_m=known(flown[-1].end_altitude_m) if flown else None,
        wind_from_deg=None if wind is None else math.degrees(math.atan2(-wind[0], -wind[1])) % 360.0,
        wind_speed_mps=None if wind is None else math.hypot(*wind),
        tailwind_mps=flown[0].tailwind_mps if len(flown) == 1 else None,
        note=_note(loss_m) if glides and not has_ratio else None,
    )


def _note(loss_m: float) -> str:
    """Why there is no glide ratio."""
    return "no height was lost in gliding" if math.isfinite(loss_m) else "the log does not tell its altitudes"


def _sum(stretches: Sequence[Stretch], field: str) -> float:
    """Sum of a field."""
    return math.fsum(getattr(stretch, field) for stretch in stretches)


def _wind(flown: Sequence[Stretch]) -> tuple[float, float] | None:
    """Mean wind over the stretches, by their time; None where it is not known in all of them."""
    east, north, time_s = 0.0, 0.0, 0.0
    for stretch in flown:
        if stretch.wind_east_mps is None or stretch.wind_north_mps is None:
            return None
        east += stretch.wind_east_mps * stretch.duration_s
        north += stretch.wind_north_mps * stretch.duration_s
        time_s += stretch.duration_s
    return (east / time_s, north / time_s) if time_s > 0.0 else None
