"""The places that a season took off from and landed at."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import tzinfo

import numpy as np

from flightlog.arrays import Floats
from flightlog.measures.results import Event
from flightlog.measures.used_places import cluster_contacts
from flightlog.season.calendar import local_date
from flightlog.season.records import SeasonFlight
from flightlog.season.results import PlaceContact, SeasonPlace
from flightlog.settings import Settings

MOST_CONTACTS = 400
"""Contacts kept of one place, the latest ones: a map of more is one blot."""
REGION_M = 60_000.0
"""Places farther apart than so much from their middle are on two maps."""
NEAR_M = 3000.0
"""Contacts of one name farther than this from its middle are of another place of that name."""
_IN_THE_AIR = ("start_of_log", "end_of_log")


def visited_places(flights: Sequence[SeasonFlight], settings: Settings, zone: tzinfo) -> tuple[SeasonPlace, ...]:
    """Places in order of first use: those of one name near each other, then those found where contacts crowd.

    `ground_radius_m` and `place_level_m` of the settings say how far apart contacts of an unnamed place may lie.
    """
    contacts = [
        (flight, event, is_takeoff)
        for flight in sorted(flights, key=lambda one: one.takeoff.time)
        for event, is_takeoff in ((flight.takeoff, True), (flight.landing, False))
        if event.kind not in _IN_THE_AIR
    ]
    groups: dict[tuple[str, int], list[tuple[SeasonFlight, Event, bool]]] = {}
    for name in dict.fromkeys(event.place or "" for _, event, _ in contacts):
        own = [contact for contact in contacts if (contact[1].place or "") == name]
        lat, lon = (np.array([getattr(event, field) for _, event, _ in own]) for field in ("lat_deg", "lon_deg"))
        level_m = math.inf if name else settings.place_level_m
        heights = _heights_m([event.altitude_m for _, event, _ in own])
        clusters = cluster_contacts(lat, lon, heights, NEAR_M if name else settings.ground_radius_m, level_m)
        for contact, label in zip(own, clusters.place.tolist(), strict=True):
            groups.setdefault((name, label), []).append(contact)
    found = sorted(groups.items(), key=lambda item: min(event.time for _, event, _ in item[1]))
    return _with_regions(
        [
            _place(number, name or f"place {number}", bool(name), own, zone)
            for number, ((name, _), own) in enumerate(found, start=1)
        ]
    )


def _with_regions(places: Sequence[SeasonPlace]) -> tuple[SeasonPlace, ...]:
    """The places with the numbers of their regions."""
    lat, lon = (np.array([getattr(place, name) for place in places]) for name in ("lat_deg", "lon_deg"))
    clusters = cluster_contacts(lat, lon, np.zeros(len(places)), REGION_M, math.inf)
    return tuple(
        replace(place, region=region + 1) for place, region in zip(places, clusters.place.tolist(), strict=True)
    )


def _heights_m(altitudes_m: Sequence[float | None]) -> Floats:
    """Altitudes of contacts; those not known count as in the middle of the others."""
    known = [altitude for altitude in altitudes_m if altitude is not None]
    middle = statistics.median(known) if known else 0.0
    return np.array([middle if altitude is None else altitude for altitude in altitudes_m])


def _place(
    number: int, name: str, is_named: bool, own: Sequence[tuple[SeasonFlight, Event, bool]], zone: tzinfo
) -> SeasonPlace:
    """One place with its totals; the middle is the median of its contacts."""
    events = [event for _, event, _ in own]
    turned = [(event.lon_deg - events[0].lon_deg + 180.0) % 360.0 - 180.0 for event in events]
    heights = [event.altitude_m for event in events if event.altitude_m is not None]
    dates = sorted(local_date(flight, zone) for flight, _, _ in own if flight.has_date)
    kinds = Counter(is_takeoff for _, _, is_takeoff in own)
    return SeasonPlace(
        number=number,
        name=name,
        is_named=is_named,
        region=1,
        lat_deg=float(np.median([event.lat_deg for event in events])),
        lon_deg=(events[0].lon_deg + float(np.median(turned)) + 180.0) % 360.0 - 180.0,
        altitude_m=float(np.median(heights)) if heights else None,
        takeoffs=kinds[True],
        landings=kinds[False],
        first_date=dates[0] if dates else None,
        last_date=dates[-1] if dates else None,
        contacts=tuple(
            PlaceContact(e.lat_deg, e.lon_deg, is_takeoff) for _, e, is_takeoff in own[-MOST_CONTACTS:]
        ),
    )
