"""What flights come to: number, time in the air, gain, distances, landings, by month, year, place or wing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from flightlog.logbook.flights import LoggedFlight


@dataclass(frozen=True)
class Total:
    """What some flights come to.

    `key` is the month (2026-06), year, place or wing they share, None where the log does not tell it. The
    distances are sums over the flights: straight (`open_distance_m`) and over up to three turnpoints
    (`free_distance_m`), each the best of its flight. Sums leave out what is not known, and `note` says of how many
    flights; a sum of which nothing is known is None. `landings` counts top landings too, and no end of a log in
    the air. Go-arounds are the sure ones; they are looked for at top-landing places.
    """

    key: str | None
    flights: int
    airborne_s: float
    gain_m: float | None
    open_distance_m: float | None
    free_distance_m: float | None
    longest_s: float
    landings: int
    top_landings: int
    go_arounds: int
    first_date: str | None
    last_date: str | None
    note: str | None = None


def totals_by(way: str, flights: Sequence[LoggedFlight]) -> tuple[Total, ...]:
    """The totals of the flights, one for each month, year, place or wing, in their order; what is not told last.

    >>> totals_by("year", [])
    ()
    """
    key_of = _KEYS[way]
    groups: dict[str | None, list[LoggedFlight]] = {}
    for flight in flights:
        groups.setdefault(key_of(flight), []).append(flight)
    order = sorted(groups, key=lambda key: (key is None, (key or "").casefold(), key or ""))
    return tuple(total_of(key, groups[key]) for key in order)


def total_of(key: str | None, flights: Sequence[LoggedFlight]) -> Total:
    """What flights come to, together."""
    dates = sorted(flight.local_date for flight in flights if flight.local_date)
    gains, opens, frees = (
        [getattr(flight, name) for flight in flights] for name in ("gain_m", "open_distance_m", "free_distance_m")
    )
    kinds = [flight.landing_kind for flight in flights]
    return Total(
        key=key,
        flights=len(flights),
        airborne_s=sum(flight.duration_s for flight in flights),
        gain_m=_sum(gains),
        open_distance_m=_sum(opens),
        free_distance_m=_sum(frees),
        longest_s=max((flight.duration_s for flight in flights), default=0.0),
        landings=sum(kind in ("landing", "top_landing") for kind in kinds),
        top_landings=kinds.count("top_landing"),
        go_arounds=sum(flight.go_arounds for flight in flights),
        first_date=dates[0] if dates else None,
        last_date=dates[-1] if dates else None,
        note=_note(len(flights), {"gain": gains, "distance": opens}),
    )


_KEYS: dict[str, Callable[[LoggedFlight], str | None]] = {
    "month": lambda flight: flight.local_date[:7] if flight.local_date else None,
    "year": lambda flight: flight.local_date[:4] if flight.local_date else None,
    "place": lambda flight: flight.takeoff_place,
    "wing": lambda flight: flight.wing,
}


def _sum(values: Iterable[float | None]) -> float | None:
    """The sum of what is known; None where nothing is."""
    known = [value for value in values if value is not None]
    return sum(known) if known else None


def _note(flights: int, figures: dict[str, list[float | None]]) -> str | None:
    """Of how many flights a figure is not known."""
    missing = {name: sum(value is None for value in values) for name, values in figures.items()}
    texts = [
        f"the {name} of {count} of {flights} flights is not known" for name, count in missing.items() if count
    ]
    return "; ".join(texts) or None
