"""The days and months of a season, and its launches."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from datetime import tzinfo

from flightlog.measures.rates import poisson_rate
from flightlog.season.records import SeasonFlight
from flightlog.season.results import LaunchTotals, SeasonDay, SeasonMonth


def local_date(flight: SeasonFlight, zone: tzinfo) -> str:
    """Date of the take-off on that clock, ISO 8601."""
    return flight.takeoff.time.astimezone(zone).date().isoformat()


def total_gain_m(flights: Iterable[SeasonFlight]) -> float | None:
    """Height gained in all flights that tell it; None where none does."""
    gains = [flight.altitude_gain_m for flight in flights if flight.altitude_gain_m is not None]
    return sum(gains) if gains else None


def days_of(flights: Sequence[SeasonFlight], zone: tzinfo) -> tuple[SeasonDay, ...]:
    """The days flown on, in order."""
    return tuple(
        SeasonDay(date, len(own), sum(flight.duration_s for flight in own), total_gain_m(own))
        for date, own in _by(flights, zone, 10).items()
    )


def months_of(flights: Sequence[SeasonFlight], zone: tzinfo) -> tuple[SeasonMonth, ...]:
    """The months flown in, in order."""
    return tuple(_month(month, own, zone) for month, own in _by(flights, zone, 7).items())


def _month(month: str, own: Sequence[SeasonFlight], zone: tzinfo) -> SeasonMonth:
    """One month."""
    landings = sum(flight.reviewed_landings for flight in own)
    go_arounds = sum(flight.go_arounds for flight in own)
    aborted = [flight.aborted_runs for flight in own if flight.aborted_runs is not None]
    return SeasonMonth(
        month=month,
        days=len({local_date(flight, zone) for flight in own}),
        flights=len(own),
        duration_s=sum(flight.duration_s for flight in own),
        altitude_gain_m=total_gain_m(own),
        climbs=sum(len(flight.climbs) for flight in own),
        launches=sum(flight.takeoff.kind == "foot_launch" for flight in own),
        aborted_runs=sum(aborted) if aborted else None,
        reviewed_landings=landings,
        go_arounds=go_arounds,
        go_arounds_per_landing=poisson_rate(go_arounds, landings),
    )


def _by(flights: Sequence[SeasonFlight], zone: tzinfo, letters: int) -> dict[str, list[SeasonFlight]]:
    """Flights by the first letters of their date, in order of time."""
    found: dict[str, list[SeasonFlight]] = {}
    for flight in sorted(flights, key=lambda one: one.takeoff.time):
        found.setdefault(local_date(flight, zone)[:letters], []).append(flight)
    return found


def launch_totals(flights: Iterable[SeasonFlight]) -> LaunchTotals:
    """The launches on foot; the interval of given-up runs is the exact one for counts."""
    launched = [flight for flight in flights if flight.takeoff.kind == "foot_launch"]
    aborted = [flight.aborted_runs for flight in launched if flight.aborted_runs is not None]
    runs = [flight.launch_run_s for flight in launched if flight.launch_run_s is not None]
    winds = [flight.launch_headwind_mps.value for flight in launched if flight.launch_headwind_mps is not None]
    return LaunchTotals(
        foot_launches=len(launched),
        reviewed_launches=len(aborted),
        aborted_runs=sum(aborted),
        aborted_per_launch=poisson_rate(sum(aborted), len(aborted)),
        median_run_s=statistics.median(runs) if runs else None,
        median_headwind_mps=statistics.median(winds) if winds else None,
    )
