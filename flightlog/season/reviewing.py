"""The season review: what many flights tell together."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, tzinfo

from flightlog.debriefing import CAUTIONS
from flightlog.errors import Note
from flightlog.season.calendar import days_of, launch_totals, local_date, months_of, total_gain_m
from flightlog.season.records import SeasonFlight
from flightlog.season.results import SeasonReview
from flightlog.season.thermal_map import thermal_regions
from flightlog.season.trends import go_around_change, trends_of
from flightlog.season.visited_places import visited_places
from flightlog.settings import UNKNOWN_WING, Settings

SEASON_CAUTIONS = (
    *CAUTIONS[:2],
    "A change over a season is no cause: weather, sites, wings and tasks change with it.",
    "Of twenty trends one shows a change by chance alone; what matters shows again in the next season.",
    "Where climbs were found is where pilots flew: ground nobody flew over may be as good, and a spot may fail.",
)


def review_season(
    flights: Iterable[SeasonFlight],
    *,
    zone: tzinfo = UTC,
    zone_name: str = "UTC",
    first_date: date | None = None,
    last_date: date | None = None,
    settings: Settings = UNKNOWN_WING,
) -> SeasonReview:
    """Join the flights of a season.

    Parameters
    ----------
    flights : iterable of SeasonFlight
        From `season_flights`, or `season_flights_from_results`. A log that comes twice
        counts once.
    zone, zone_name
        The clock of dates and of hours of the day.
    first_date, last_date : date, optional
        Flights that took off before or after these days, on that clock, are left out.
    settings : Settings
        How far apart the contacts of one place may lie.

    Returns
    -------
    SeasonReview
        The same flights give the same review. Flights of logs without a date count in places and the thermal map,
        and in nothing that has a date.
    """
    kept, problems = _once_each(flights)
    kept = [flight for flight in kept if _is_between(flight, zone, first_date, last_date)]
    kept.sort(key=lambda flight: (flight.takeoff.time, flight.file, flight.number))
    dated = [flight for flight in kept if flight.has_date]
    if len(dated) < len(kept):
        left_out = len(kept) - len(dated)
        problems.append(Note("no_date", f"{left_out} of {len(kept)} flights have no date: they are in no trend"))
    days = days_of(dated, zone)
    return SeasonReview(
        logs=len({flight.sha256 for flight in kept}),
        flights=len(kept),
        first_date=days[0].date if days else None,
        last_date=days[-1].date if days else None,
        zone=zone_name,
        duration_s=sum(flight.duration_s for flight in kept),
        altitude_gain_m=total_gain_m(kept),
        days=days,
        months=months_of(dated, zone),
        trends=trends_of(dated, zone),
        go_arounds=go_around_change(kept, zone),
        launches=launch_totals(kept),
        places=visited_places(kept, settings, zone),
        thermals=thermal_regions(kept, zone),
        problems=tuple(problems),
        cautions=SEASON_CAUTIONS,
    )


def _is_between(flight: SeasonFlight, zone: tzinfo, first: date | None, last: date | None) -> bool:
    """Whether a flight is of the days asked for; one without a date is where none are."""
    if first is None and last is None:
        return True
    day = local_date(flight, zone)
    return (
        flight.has_date
        and (first is None or day >= first.isoformat())
        and (last is None or day <= last.isoformat())
    )


def _once_each(flights: Iterable[SeasonFlight]) -> tuple[list[SeasonFlight], list[Note]]:
    """Every flight of every log once, and a note for each log that came again."""
    kept: dict[tuple[str, int], SeasonFlight] = {}
    again: dict[str, str] = {}
    for flight in flights:
        first = kept.setdefault((flight.sha256, flight.number), flight)
        if first is not flight:
            again[flight.file] = first.file
    notes = [
        Note("same_log", f"{file} is the same log as {first}; it counts once") for file, first in again.items()
    ]
    return list(kept.values()), notes
