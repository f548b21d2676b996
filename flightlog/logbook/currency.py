"""How recent a pilot's flying is, in the everyday meaning: the last flight, and the last 90 days and 12 months."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from flightlog.logbook.flights import LoggedFlight

DAYS = 90
CAUTION = "This tells how recently you flew; it is not a licence or currency certificate."


@dataclass(frozen=True)
class Span:
    """What was flown from one day to another, both included; days are those of the place of take-off."""

    since: str
    until: str
    flights: int
    airborne_s: float
    landings: int  # top landings too; no end of a log in the air
    top_landings: int


@dataclass(frozen=True)
class Recency:
    """How recent the flying with one wing is, or with all; `wing` is None where the logs do not tell it."""

    wing: str | None
    last_flight: int | None  # its number in the logbook
    last_date: str | None
    days_since: int | None
    last_90_days: Span
    last_12_months: Span


def recency_of(flights: Sequence[LoggedFlight], today: date) -> tuple[Recency, tuple[Recency, ...]]:
    """How recent all flying is, and that with each wing, the latest first.

    Flights without a date, and those after `today`, are in none of the figures.
    """
    known = [flight for flight in flights if flight.local_date and flight.local_date <= today.isoformat()]
    wings: dict[str | None, list[LoggedFlight]] = {}
    for flight in known:
        wings.setdefault(flight.wing, []).append(flight)
    latest_first = sorted(wings, key=lambda wing: _last(wings[wing]).takeoff_s, reverse=True)
    return _recency(None, known, today), tuple(_recency(wing, wings[wing], today) for wing in latest_first)


def ninety_days(today: date) -> date:
    """The first of the last 90 days, of which today is one.

    >>> ninety_days(date(2026, 3, 31))
    datetime.date(2026, 1, 1)
    """
    return today - timedelta(days=DAYS - 1)


def twelve_months(today: date) -> date:
    """The first day of the twelve months that end today: the day after the same day a year ago.

    >>> twelve_months(date(2026, 6, 14)), twelve_months(date(2024, 2, 29))
    (datetime.date(2025, 6, 15), datetime.date(2023, 3, 1))
    """
    try:
        return today.replace(year=today.year - 1) + timedelta(days=1)
    except ValueError:  # 29 February
        return date(today.year - 1, 3, 1)


def _recency(wing: str | None, flights: Sequence[LoggedFlight], today: date) -> Recency:
    """How recent some flights are."""
    last = _last(flights) if flights else None
    last_date = last.local_date if last else None
    return Recency(
        wing=wing,
        last_flight=last.flight if last else None,
        last_date=last_date,
        days_since=(today - date.fromisoformat(last_date)).days if last_date else None,
        last_90_days=_span(flights, ninety_days(today), today),
        last_12_months=_span(flights, twelve_months(today), today),
    )


def _last(flights: Sequence[LoggedFlight]) -> LoggedFlight:
    """The flight that took off last."""
    return max(flights, key=lambda flight: (flight.takeoff_s, flight.flight))


def _span(flights: Sequence[LoggedFlight], since: date, until: date) -> Span:
    """What was flown in a span of days."""
    first = since.isoformat()
    inside = [flight for flight in flights if flight.local_date and flight.local_date >= first]
    kinds = [flight.landing_kind for flight in inside]
    return Span(
        since=first,
        until=until.isoformat(),
        flights=len(inside),
        airborne_s=sum(flight.duration_s for flight in inside),
        landings=sum(kind in ("landing", "top_landing") for kind in kinds),
        top_landings=kinds.count("top_landing"),
    )
