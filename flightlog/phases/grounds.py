"""The pieces of ground that a log knows: where the pilot started or landed, or says a place is, and their heights.

Heights above ground are differences of heights of one flight. A ground's level is therefore kept in the log's own
altitude frame, with the hours it was seen at: pressure heights drift by some metres an hour as the weather moves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flightlog.arrays import Floats, frozen_floats, lengths
from flightlog.motion.motion import Motion
from flightlog.phases.levels import level_nodes
from flightlog.phases.phases import FlightSpan
from flightlog.places import Place
from flightlog.settings import Settings

LEVEL_SD_M = 1.0
"""Of a ground level seen in the log itself, where the pilot landed (M 7: 0.7-1.1 m)."""
LAUNCH_LEVEL_SD_M = 3.0
"""Of a landing ground of which only the launch beside it is known: meadows slope by some metres (truth tests)."""
PRESSURE_SD_M, PRESSURE_DRIFT_M_PER_HOUR = 0.6, 4.0
"""Of one height by pressure, and how far weather moves it: 1 hPa in two hours (M 7: 0.7-1.1 m in all)."""
GNSS_WANDER_SD_M, GNSS_WANDER_S, GNSS_SETTLED_S = 5.5, 60.0, 15.0
"""Satellite heights wander so far (M 1: 5.8 m raw), within so long; a mean over the settling time errs less."""
STOOD_MOST = 300
"""So many means, over more than an hour, tell a level as well as more."""
STOOD_LONGEST_S, STOOD_BLOCK_S, STOOD_WITHIN_M = 900.0, 15.0, 15.0
"""With satellites alone, all the time stood so near to a touchdown or take-off, and so long, tells the level."""


@dataclass(frozen=True, eq=False)
class Ground:
    """A piece of ground with its height in the log's own altitude frame.

    `name` is the place's name, None where the log alone tells of it. `level_time_s` and `level_m` (k,) hold the
    level at the times it is known for, k >= 1; between them it runs straight, outside it stays.
    """

    name: str | None
    east_m: float  # centre, on the plane of the Motion
    north_m: float
    radius_m: float
    use: tuple[str, ...]  # any of launch, landing, top_landing
    heading_deg: float | None  # into-wind final, where the places file gives it
    level_time_s: Floats
    level_m: Floats
    level_sd_m: float
    touch_east_m: Floats  # (t,) where the log landed here, t >= 0
    touch_north_m: Floats
    landings: tuple[int, ...] = ()  # numbers of the flights that landed here
    takeoffs: tuple[int, ...] = ()  # numbers of the flights that started here
    frame_sd_m: Floats | None = None  # (k,) of the level at each time, where its frame wanders: satellite heights

    def level_at(self, time_s: Floats) -> Floats:
        """Height of this ground in the log's altitude frame at these times, m, same shape."""
        levels: Floats = np.interp(time_s, self.level_time_s, self.level_m)
        return levels

    def height_sd_m(self, time_s: float, altitude_source: str) -> float:
        """Standard deviation of a height above this ground at a time, m; see `heights_sd_m`."""
        return float(self.heights_sd_m(np.array([time_s]), altitude_source)[0])

    def heights_sd_m(self, time_s: Floats, altitude_source: str) -> Floats:
        """Standard deviation of heights above this ground at times (n,), m.

        Of the level, and of how far heights of one log wander from the time when the level was seen: pressure with
        the weather, satellite heights within a minute (`altitude_source` as in Motion).
        """
        if self.frame_sd_m is not None:
            return lengths(self.level_sd_m, np.interp(time_s, self.level_time_s, self.frame_sd_m))
        after = np.clip(np.searchsorted(self.level_time_s, time_s), 1, max(len(self.level_time_s) - 1, 1))
        before = self.level_time_s[after - 1]
        away_s = np.minimum(
            np.abs(time_s - before),
            np.abs(time_s - self.level_time_s[np.minimum(after, len(self.level_time_s) - 1)]),
        )
        if altitude_source == "pressure":
            wander_m = lengths(PRESSURE_SD_M, PRESSURE_DRIFT_M_PER_HOUR / 3600.0 * away_s)
        else:
            wander_m = GNSS_WANDER_SD_M * np.sqrt(1.0 - np.exp(-(away_s + GNSS_SETTLED_S) / GNSS_WANDER_S))
        return lengths(self.level_sd_m, wander_m)


@dataclass(frozen=True)
class _Contact:
    """One take-off or touchdown: where, when, at which height, of which flight."""

    time_s: float
    east_m: float
    north_m: float
    altitude_m: float
    flight: int
    is_takeoff: bool
    stood_s: tuple[float, ...] = ()  # satellite heights alone: means over the time stood there
    stood_m: tuple[float, ...] = ()


def find_grounds(
    motion: Motion, spans: tuple[FlightSpan, ...], places: tuple[Place, ...], settings: Settings
) -> tuple[Ground, ...]:
    """The user's places, or without any the log's own take-offs and landings, each with its level in this log.

    Parameters
    ----------
    motion : Motion
        Of the whole log.
    spans : tuple of FlightSpan
        All flights of the log.
    places : tuple of Place
        From the pilot's file; empty: take-offs and touchdowns within `ground_radius_m` and `ground_level_m` of
        each other make one ground. It has the use `top_landing` where the log took off, and where it landed near
        a take-off of this log at about its height.
    settings : Settings
        `ground_radius_m` and the like.

    Returns
    -------
    tuple of Ground
        In the order of `places`, or in order of first contact.

    Notes
    -----
    A place where the log touched ground takes its level from there; another one its `elevation_m`, shifted by what
    the frame differs at the touched places (sd 4 m without any: GNSS calibration of the frame, M 1). Where the log
    landed and also started, the touchdowns tell the level: a launch a few steps down the slope lies metres lower.
    Take-offs beside a touchdown (`same_spot_m`, `same_spot_level_m`) count too: they follow the drift of pressure.
    Satellite heights alone wander for minutes: there the level is predicted from all the time stood on the ground
    (`level_nodes`); no level, however good, brings heights over it nearer than the wandering itself, 4 m.
    """
    contacts = [contact for span in spans for contact in _contacts(motion, span)]
    if motion.altitude_source == "gnss":
        contacts = [_with_stand(motion, contact, spans) for contact in contacts]
    if places:
        return _from_places(motion, contacts, places, settings)
    return _from_contacts(contacts, settings)


def _contacts(motion: Motion, span: FlightSpan) -> list[_Contact]:
    """Take-off and touchdown of a flight that lie in the log."""
    found = []
    if not span.starts_in_air:
        window = (span.start_s - 30.0, span.start_s - 2.0)
        found.append(_contact(motion, span, span.start_s, window, is_takeoff=True))
    if not span.ends_in_air:
        window = (span.touchdown_s + 2.0, span.touchdown_s + 22.0)
        found.append(_contact(motion, span, span.touchdown_s, window, is_takeoff=False))
    return found


def _contact(
    motion: Motion, span: FlightSpan, at_s: float, window: tuple[float, float], *, is_takeoff: bool
) -> _Contact:
    """Contact at a time; its height is the median of the ground time in the window, else that of the moment."""
    low, high = np.searchsorted(motion.time_s, window)
    at = int(np.clip(np.searchsorted(motion.time_s, at_s), 0, len(motion.time_s) - 1))
    east, north = motion.east_m[low:high], motion.north_m[low:high]
    near = lengths(east - motion.east_m[at], north - motion.north_m[at]) < 30.0
    altitude = motion.altitude_m[low:high][near]
    level = float(np.median(altitude)) if len(altitude) >= 3 else float(motion.altitude_m[at])
    return _Contact(
        at_s, float(motion.east_m[at]), float(motion.north_m[at]), level, span.number, is_takeoff
    )  # fmt: skip


def _with_stand(motion: Motion, contact: _Contact, spans: tuple[FlightSpan, ...]) -> _Contact:
    """The contact with the heights of all the time stood there, before a take-off or after a touchdown."""
    if contact.is_takeoff:
        ended = [span.touchdown_s for span in spans if span.touchdown_s < contact.time_s]
        window = (max([contact.time_s - STOOD_LONGEST_S, *(end + 2.0 for end in ended)]), contact.time_s - 2.0)
    else:
        later = [span.start_s for span in spans if span.start_s > contact.time_s]
        window = (contact.time_s + 2.0, min([contact.time_s + STOOD_LONGEST_S, *(one - 2.0 for one in later)]))
    low, high = np.searchsorted(motion.time_s, window)
    away = lengths(motion.east_m[low:high] - contact.east_m, motion.north_m[low:high] - contact.north_m)
    here = low + np.flatnonzero((away < STOOD_WITHIN_M) & np.isfinite(motion.altitude_m[low:high]))
    blocks = np.floor((motion.time_s[here] - window[0]) / STOOD_BLOCK_S)
    parts = [here[blocks == number] for number in np.unique(blocks)]
    if not parts:
        return contact
    return replace(
        contact,
        stood_s=tuple(float(motion.time_s[part].mean()) for part in parts),
        stood_m=tuple(float(motion.altitude_m[part].mean()) for part in parts),
    )


def _levels(contacts: list[_Contact]) -> tuple[Floats, Floats, Floats | None]:
    """Times and levels drawn from contacts, and for satellite heights how well each is known."""
    stood = sorted({pair for c in contacts for pair in zip(c.stood_s, c.stood_m, strict=True)})
    if not stood:
        return frozen_floats([c.time_s for c in contacts]), frozen_floats([c.altitude_m for c in contacts]), None
    stood = stood[:: -(-len(stood) // STOOD_MOST)]
    times, levels, sds = level_nodes(np.array([t for t, _ in stood]), np.array([z for _, z in stood]))
    return frozen_floats(times), frozen_floats(levels), frozen_floats(sds)


def _from_places(
    motion: Motion, contacts: list[_Contact], places: tuple[Place, ...], settings: Settings
) -> tuple[Ground, ...]:
    """The places on the plane of the motion, levels drawn from the contacts within them."""
    lat, lon = np.array([p.lat_deg for p in places]), np.array([p.lon_deg for p in places])
    east, north = motion.plane.to_plane(lat, lon)
    here: list[list[_Contact]] = [[] for _ in places]  # on the place itself: its level is known from them
    beside: list[list[_Contact]] = [[] for _ in places]  # top landings that missed it
    for contact in sorted(contacts, key=lambda c: c.time_s):
        apart = lengths(east - contact.east_m, north - contact.north_m)
        home, inside = _home(contact, apart, places, settings)
        if home is not None:
            (here if inside else beside)[home].append(contact)
    shifts = sorted(
        (c.time_s, c.altitude_m - place.elevation_m) for place, own in zip(places, here, strict=True) for c in own
    )
    return tuple(
        _known_ground(place, (float(x), float(y)), own, (*own, *missed), shifts, float(motion.time_s[0]), settings)
        for place, x, y, own, missed in zip(places, east, north, here, beside, strict=True)
    )


def _home(
    contact: _Contact, apart_m: Floats, places: tuple[Place, ...], settings: Settings
) -> tuple[int | None, bool]:
    """The place a contact belongs to, and whether it lies on it.

    On it: within its radius + 25 m (at least 60 m) at about its elevation, the nearest counts, measured in radii.
    A landing on no place at all belongs to a top-landing place within `top_landing_miss_m` beyond its radius.
    """
    level = [abs(contact.altitude_m - place.elevation_m) < settings.place_level_m for place in places]
    inside = [k for k, p in enumerate(places) if level[k] and apart_m[k] <= max(p.radius_m + 25.0, 60.0)]
    if not contact.is_takeoff and not any("landing" in places[k].use for k in inside):
        tops = [
            k
            for k, p in enumerate(places)
            if "top_landing" in p.use and level[k] and apart_m[k] <= p.radius_m + settings.top_landing_miss_m
        ]
        if tops:
            nearest = min(tops, key=lambda k: apart_m[k])
            return nearest, nearest in inside
    if not inside:
        return None, False
    return min(inside, key=lambda k: apart_m[k] / places[k].radius_m), True


def _known_ground(
    place: Place,
    centre: tuple[float, float],
    own: list[_Contact],
    touches: tuple[_Contact, ...],
    shifts: list[tuple[float, float]],
    start_s: float,
    settings: Settings,
) -> Ground:
    """A place as a ground: its level from its own contacts, else from its elevation in the frame of the log."""
    frame_sd = None
    if own:
        seen, sd = _level_contacts(own, settings)
        times, levels, frame_sd = _levels(seen)
    elif shifts:
        times = frozen_floats([t for t, _ in shifts])
        levels, sd = frozen_floats([place.elevation_m + shift for _, shift in shifts]), math.hypot(LEVEL_SD_M, 2.0)
    else:
        times, levels, sd = frozen_floats([start_s]), frozen_floats([place.elevation_m]), 4.0
    return Ground(
        place.name,
        *centre,
        place.radius_m,
        tuple(place.use),
        place.heading_deg,
        times,
        levels,
        sd,
        *_touches(touches),
        *_flights(touches),
        frame_sd_m=frame_sd,
    )


def _level_contacts(contacts: list[_Contact], settings: Settings) -> tuple[list[_Contact], float]:
    """The contacts that tell a ground's level, in order of time, and the standard deviation of that level.

    A take-off from there at another height tells of a slope: passes over it may have been flown to either end.
    """
    landed = [c for c in contacts if not c.is_takeoff]
    if not landed:
        return sorted(contacts, key=lambda c: c.time_s), LAUNCH_LEVEL_SD_M
    seen = [
        c
        for c in contacts
        if not c.is_takeoff
        or any(
            math.hypot(c.east_m - d.east_m, c.north_m - d.north_m) <= settings.same_spot_m
            and abs(c.altitude_m - d.altitude_m) <= settings.same_spot_level_m
            for d in landed
        )
    ]
    others = [c.altitude_m for c in contacts if c not in seen]
    nearest = min(c.altitude_m for c in seen), max(c.altitude_m for c in seen)
    slope_m = max((max(nearest[0] - z, z - nearest[1], 0.0) for z in others), default=0.0)
    return sorted(seen, key=lambda c: c.time_s), math.hypot(LEVEL_SD_M, slope_m / 2.0)


def _touches(contacts: Sequence[_Contact]) -> tuple[Floats, Floats]:
    """East and north of the touchdowns among these contacts."""
    landed = [c for c in contacts if not c.is_takeoff]
    return frozen_floats([c.east_m for c in landed]), frozen_floats([c.north_m for c in landed])


def _flights(contacts: Sequence[_Contact]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Numbers of the flights that landed, and of those that started, at these contacts."""
    landings = tuple(c.flight for c in contacts if not c.is_takeoff)
    return landings, tuple(c.flight for c in contacts if c.is_takeoff)


def _from_contacts(contacts: list[_Contact], settings: Settings) -> tuple[Ground, ...]:
    """Contacts near each other joined to grounds, in order of first contact."""
    clusters: list[list[_Contact]] = []
    for contact in sorted(contacts, key=lambda c: c.time_s):
        home = next((cluster for cluster in clusters if _is_near(cluster[0], contact, settings)), None)
        if home is None:
            clusters.append([contact])
        else:
            home.append(contact)
    takeoffs = [c for c in contacts if c.is_takeoff]
    return tuple(_inferred_ground(cluster, takeoffs, settings) for cluster in clusters)


def _is_near(first: _Contact, other: _Contact, settings: Settings) -> bool:
    """Whether two contacts are on one piece of ground."""
    apart = math.hypot(first.east_m - other.east_m, first.north_m - other.north_m)
    return (
        apart <= settings.ground_radius_m and abs(first.altitude_m - other.altitude_m) <= settings.ground_level_m
    )


def _inferred_ground(cluster: list[_Contact], takeoffs: list[_Contact], settings: Settings) -> Ground:
    """One ground from its contacts; the centre is where the log landed, else where it took off."""
    landed = [c for c in cluster if not c.is_takeoff]
    centre = landed or cluster
    landings, starts = _flights(cluster)
    seen, sd = _level_contacts(cluster, settings)
    use = (("launch",) if starts else ()) + (("landing",) if landed else ())
    times, levels, frame_sd = _levels(seen)
    top = bool(starts) or any(_at_a_takeoff(c, takeoffs, settings) for c in landed)
    return Ground(
        None,
        float(np.mean([c.east_m for c in centre])),
        float(np.mean([c.north_m for c in centre])),
        settings.ground_radius_m,
        (*use, "top_landing") if top else use,
        None,
        times,
        levels,
        sd,
        *_touches(cluster),
        landings,
        starts,
        frame_sd,
    )


def _at_a_takeoff(contact: _Contact, takeoffs: list[_Contact], settings: Settings) -> bool:
    """Whether a landing lies near a take-off of this log, at about its height."""
    return any(
        math.hypot(contact.east_m - t.east_m, contact.north_m - t.north_m) <= settings.top_landing_reach_m
        and abs(contact.altitude_m - t.altitude_m) <= settings.top_landing_level_m
        for t in takeoffs
    )
