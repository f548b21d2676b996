"""The landing review: every landing of many logs with the tries before it, and what they come to at each place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from flightlog.debriefing import CAUTIONS
from flightlog.earth.geodesy import distance_m
from flightlog.errors import Note
from flightlog.landings.records import Contact, FlightRecord, LandingLog, PassRecord
from flightlog.landings.totals import LandingRow, PlaceTotals, Try, count_of, place_totals
from flightlog.measures.used_places import Clusters, cluster_contacts
from flightlog.places import Place
from flightlog.settings import UNKNOWN_WING, Settings

LANDING_CAUTIONS = (
    *CAUTIONS[:2],
    "A go-around is no fault and a first try no merit: the figures say what was flown, not how well.",
    "Counts are small, and intervals take the tries for independent, which those of one day are not.",
)
HEIGHT_WEIGHT = 10.0
"""A metre of height tells two places apart as well as so many on the level: a slope of 1 in 10."""


@dataclass(frozen=True)
class ReviewedPlace:
    """A place of the review: the user's own, or found where the logs touched the ground.

    `altitude_m` is the median height of the ground over all contacts, each in the frame of its log, and
    `altitude_spread_m` their standard deviation: weather, recorders and slope together. Without a contact the
    altitude is that of the places file.
    """

    number: int
    name: str
    is_users: bool
    lat_deg: float
    lon_deg: float
    radius_m: float
    heading_deg: float | None
    altitude_m: float
    altitude_spread_m: float | None
    takeoffs: int
    landings: int
    first_date: str | None
    last_date: str | None
    totals: PlaceTotals


@dataclass(frozen=True, eq=False)
class PlaceLines:
    """The lines flown at a place, for pictures: each pass with its row and its number in it (1 is the first)."""

    place: int
    passes: tuple[tuple[int, int, PassRecord], ...]


@dataclass(frozen=True, eq=False)
class LandingReview:
    """The landings of many logs, in order of time, and the places they were made at, in order of first use."""

    logs: int
    flights: int
    rows: tuple[LandingRow, ...]
    places: tuple[ReviewedPlace, ...]
    problems: tuple[Note, ...]
    cautions: tuple[str, ...]
    lines: tuple[PlaceLines, ...]
    settings: Settings


@dataclass(frozen=True, eq=False)
class _Site:
    """A place before its totals are known."""

    name: str
    place: Place | None
    lat_deg: float
    lon_deg: float
    radius_m: float
    altitude_m: float


def review_landings(
    logs: Iterable[LandingLog], places: Sequence[Place] = (), settings: Settings = UNKNOWN_WING
) -> LandingReview:
    """Join the landings of many logs.

    Parameters
    ----------
    logs : iterable of LandingLog
        From `landing_log`. A log that comes twice, byte for byte, counts once.
    places : sequence of Place
        Those the logs were debriefed with. Take-offs and touchdowns on none of them are gathered into places of
        their own: `top 1` where somebody took off or landed at the height of a take-off, else `field 1`; numbered
        in order of first use, so that further logs at the end rename none.
    settings : Settings
        `ground_radius_m` and `place_level_m`: how far apart the contacts of one place may lie.

    Returns
    -------
    LandingReview
        With one row a landing, and one for each place a flight tried in vain.
    """
    kept, problems = _once_each(logs)
    contacts = sorted(
        ((at, contact) for at, log in enumerate(kept) for contact in log.contacts), key=lambda pair: pair[1].time
    )
    sites, contact_sites = _sites([contact for _, contact in contacts], tuple(places), settings)
    homes = {
        (at, contact.flight, contact.is_takeoff): site
        for (at, contact), site in zip(contacts, contact_sites, strict=True)
    }
    drafts = [draft for at, log in enumerate(kept) for draft in _drafts(at, log, homes, sites, settings)]
    drafts.sort(key=lambda draft: (draft.flight.end, draft.log.file, draft.flight.number, draft.last_s))
    touched: dict[int, list[tuple[str | None, Contact]]] = {}
    for (at, contact), site in zip(contacts, contact_sites, strict=True):
        touched.setdefault(site, []).append((kept[at].date, contact))
    used = sorted({*touched, *(draft.site for draft in drafts)})
    number_of = {site: number for number, site in enumerate(used, start=1)}
    rows = tuple(draft.row(number, number_of, sites) for number, draft in enumerate(drafts, start=1))
    rows_at: dict[int, list[LandingRow]] = {}
    for row in rows:
        rows_at.setdefault(row.place, []).append(row)
    return LandingReview(
        logs=len(kept),
        flights=sum(len(log.flights) for log in kept),
        rows=rows,
        places=tuple(
            _reviewed(number, sites[site], touched.get(site, []), rows_at.get(number, []))
            for site, number in number_of.items()
        ),
        problems=(*problems, *_flown_at_once(kept)),
        cautions=LANDING_CAUTIONS,
        lines=_lines(drafts, number_of),
        settings=settings,
    )


def _once_each(logs: Iterable[LandingLog]) -> tuple[list[LandingLog], list[Note]]:
    """Every log once, in order of time, with a note for each that came again."""
    kept: dict[str, LandingLog] = {}
    problems = []
    for log in logs:
        if log.sha256 in kept:
            first = kept[log.sha256].file
            problems.append(Note("same_log", f"{log.file} is the same log as {first}; it counts once"))
        else:
            kept[log.sha256] = log
    return sorted(kept.values(), key=_log_order), problems


def _log_order(log: LandingLog) -> tuple[str, float, str, str]:
    """Logs in order of date, time and name."""
    start = log.flights[0].start.timestamp() if log.flights else 0.0
    return log.date or "", start, log.file, log.sha256


def _flown_at_once(logs: Sequence[LandingLog]) -> Iterator[Note]:
    """A note for every two logs whose flights overlap in time."""
    flown = sorted((one.start, one.end, log.file) for log in logs if log.date for one in log.flights)
    for (_, end, before), (start, _, file) in pairwise(flown):
        if start < end and file != before:
            message = (
                f"{before} and {file} were flown at the same time: if one flight was recorded twice, its landings"
                " count twice"
            )
            yield Note("flown_at_once", message)


def _sites(
    contacts: Sequence[Contact], places: tuple[Place, ...], settings: Settings
) -> tuple[list[_Site], list[int]]:
    """The user's places, then those found from the contacts; and the site of every contact."""
    sites = [
        _Site(place.name, place, place.lat_deg, place.lon_deg, place.radius_m, place.elevation_m)
        for place in places
    ]
    free = [at for at, contact in enumerate(contacts) if contact.home is None]
    lat, lon, altitude = (
        np.array([getattr(contacts[at], name) for at in free], dtype=np.float64)
        for name in ("lat_deg", "lon_deg", "altitude_m")
    )
    clusters = cluster_contacts(lat, lon, altitude, settings.ground_radius_m, settings.place_level_m)
    found = [contact.home if contact.home is not None else -1 for contact in contacts]
    for at, label in zip(free, clusters.place.tolist(), strict=True):
        found[at] = len(places) + label
    return [*sites, *_found_sites([contacts[at] for at in free], clusters, settings)], found


def _found_sites(contacts: Sequence[Contact], clusters: Clusters, settings: Settings) -> list[_Site]:
    """The clusters of contacts as sites, with their names; the middle is where they landed, if they did."""
    members: list[list[Contact]] = [[] for _ in clusters.latitude_deg]
    for contact, label in zip(contacts, clusters.place.tolist(), strict=True):
        members[label].append(contact)
    counts = {"top": 0, "field": 0}
    sites = []
    for label, own in enumerate(members):
        word = "top" if any(contact.is_takeoff or contact.passes_looked_for for contact in own) else "field"
        counts[word] += 1
        sites.append(
            _Site(
                f"{word} {counts[word]}",
                None,
                float(clusters.latitude_deg[label]),
                float(clusters.longitude_deg[label]),
                settings.ground_radius_m,
                float(clusters.altitude_m[label]),
            )
        )
    return sites


@dataclass(frozen=True, eq=False)
class _Draft:
    """A row before it has its number."""

    log: LandingLog
    flight: FlightRecord
    site: int
    touchdown: Contact | None
    are_passes_looked_for: bool
    passes: tuple[PassRecord, ...]
    holds_tries_beside: bool = False

    @property
    def last_s(self) -> float:
        """When the last pass here ended, UTC seconds; that of the flight without any."""
        return self.passes[-1].figures.end.timestamp() if self.passes else self.flight.end.timestamp()

    def row(self, number: int, number_of: dict[int, int], sites: Sequence[_Site]) -> LandingRow:
        """The finished row."""
        outcome = "landed" if self.touchdown else "end_of_log" if self.flight.ends_in_air else "landed_elsewhere"
        broken = [one.figures.certainty for one in self.passes if one.figures.outcome == "go_around"]
        return LandingRow(
            number=number,
            file=self.log.file,
            date=self.log.date,
            flight=self.flight.number,
            place=number_of[self.site],
            place_name=sites[self.site].name,
            outcome=outcome,
            kind=self.flight.kind,
            end=self.flight.end,
            lat_deg=self.touchdown.lat_deg if self.touchdown else None,
            lon_deg=self.touchdown.lon_deg if self.touchdown else None,
            go_arounds=broken.count("sure") if self.are_passes_looked_for else None,
            possible_go_arounds=broken.count("possible") if self.are_passes_looked_for else None,
            tries=_tries(self.passes),
            note=self._note(),
            go_arounds_interval=count_of(_tries(self.passes)) if self.are_passes_looked_for else None,
        )

    def _note(self) -> str | None:
        """What to know about the row."""
        if not self.are_passes_looked_for:
            return "go-arounds are looked for at top-landing places alone"
        if self.holds_tries_beside:
            return "tries beside the take-off count to the landing; they are measured from there"
        return None


def _tries(passes: Sequence[PassRecord]) -> tuple[Try, ...]:
    """The passes with the time between them."""
    tries = []
    before: datetime | None = None
    for one in passes:
        end = one.figures.end
        since = None if before is None else (end - before).total_seconds()
        tries.append(Try(since, one.end_lat_deg, one.end_lon_deg, one.figures))
        if one.figures.certainty == "sure":
            before = end
    return tuple(tries)


def _drafts(
    at: int,
    log: LandingLog,
    homes: dict[tuple[int, int, bool], int],
    sites: Sequence[_Site],
    settings: Settings,
) -> Iterator[_Draft]:
    """The rows of one log: a landing each, and the places tried in vain."""
    for flight in log.flights:
        touchdown = next((c for c in log.contacts if c.flight == flight.number and not c.is_takeoff), None)
        landed_at = homes[at, flight.number, False] if touchdown else None
        passes: dict[int, list[PassRecord]] = {}
        for one in log.passes:
            if one.flight == flight.number:
                has_landed = landed_at is not None and one.figures.outcome == "landed"
                site = landed_at if has_landed and landed_at is not None else _site_of(one, sites)
                passes.setdefault(site, []).append(one)
        if touchdown is not None and landed_at is not None:
            beside = [
                site
                for site in passes
                if site != landed_at and _is_beside(sites[site], sites[landed_at], settings)
            ]
            here = [*passes.pop(landed_at, ()), *(one for site in beside for one in passes.pop(site))]
            here.sort(key=lambda one: one.figures.end)
            yield _Draft(
                log,
                flight,
                landed_at,
                touchdown,
                touchdown.passes_looked_for or bool(beside),
                tuple(here),
                bool(beside),
            )
        for site, tried in passes.items():
            yield _Draft(log, flight, site, None, True, tuple(tried))


def _is_beside(tried: _Site, landed: _Site, settings: Settings) -> bool:
    """Whether tries at a place that was found were meant for the landing beside it, on the same top.

    Without a places file the tries are seen from the take-off; the landing shows where the field is.
    """
    if tried.place is not None or landed.place is not None:
        return False
    apart = float(distance_m(tried.lat_deg, tried.lon_deg, landed.lat_deg, landed.lon_deg))
    level = abs(tried.altitude_m - landed.altitude_m)
    return apart <= settings.top_landing_miss_m and level <= settings.ground_level_m


def _site_of(one: PassRecord, sites: Sequence[_Site]) -> int:
    """The site a pass was flown to: the user's place, or the nearest one found, heights counted too."""
    if one.home is not None:
        return one.home
    lat, lon, altitude = (
        np.array([getattr(site, name) for site in sites]) for name in ("lat_deg", "lon_deg", "altitude_m")
    )
    apart = distance_m(one.lat_deg, one.lon_deg, lat, lon)
    return int(np.argmin(apart + HEIGHT_WEIGHT * np.abs(altitude - one.altitude_m)))


def _reviewed(
    number: int, site: _Site, touched: Sequence[tuple[str | None, Contact]], rows: Sequence[LandingRow]
) -> ReviewedPlace:
    """A place with its totals."""
    contacts = [contact for _, contact in touched]
    heights = [contact.altitude_m for contact in contacts]
    dates = sorted({date for date, _ in touched if date} | {row.date for row in rows if row.date})
    return ReviewedPlace(
        number=number,
        name=site.name,
        is_users=site.place is not None,
        lat_deg=site.lat_deg,
        lon_deg=site.lon_deg,
        radius_m=site.radius_m,
        heading_deg=site.place.heading_deg if site.place else None,
        altitude_m=float(np.median(heights)) if heights else site.altitude_m,
        altitude_spread_m=float(np.std(heights, ddof=1)) if len(heights) > 1 else None,
        takeoffs=sum(contact.is_takeoff for contact in contacts),
        landings=sum(not contact.is_takeoff for contact in contacts),
        first_date=dates[0] if dates else None,
        last_date=dates[-1] if dates else None,
        totals=place_totals(rows),
    )


def _lines(drafts: Sequence[_Draft], number_of: dict[int, int]) -> tuple[PlaceLines, ...]:
    """The lines flown at each place."""
    lines: dict[int, list[tuple[int, int, PassRecord]]] = {}
    for row, draft in enumerate(drafts, start=1):
        for count, one in enumerate(draft.passes, start=1):
            lines.setdefault(number_of[draft.site], []).append((row, count, one))
    return tuple(PlaceLines(place, tuple(lines[place])) for place in sorted(lines))
