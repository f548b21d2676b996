"""Whose clock a page shows: the one asked for, else the one the log names, else that of the place of take-off."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from flightlog.debriefing import Debrief
from flightlog.writers.display import MINUS, Display

FARTHEST_FROM_SUN_S = 3.6 * 3600.0
"""Legal time is nowhere farther from the mean time of the meridian (west of China: 3.1 h; summer time adds 1 h at
most elsewhere); a log whose header names an offset beyond that names a clock that was never set."""


def settled(debrief: Debrief, show: Display) -> Display:
    """The display with a clock for this log; one that was asked for stays as it is.

    The offset that the log's header names comes first (IGC record HFTZN), unless no clock there could show it.
    Without one, the place of take-off decides, by its legal time on the day (IANA names and rules). Where neither
    is known the page is in UTC, and `zone_reason` says why.
    """
    if not show.follows_log:
        return show
    place = _zone_of_place(debrief)
    offset_s = debrief.track.header.utc_offset_s
    if offset_s is not None and _fits_place(offset_s, debrief):
        return _named_in_log(debrief, show, offset_s, place)
    if place is None:
        return _with_zone(show, UTC, "UTC", "the log does not tell the local time")
    if debrief.log.date is None:
        return _with_zone(show, UTC, "UTC", "local time changes with the date, and the log has none")
    return _with_zone(show, *place, "legal time at take-off" if debrief.flights else "legal time at the place")


def _named_in_log(debrief: Debrief, show: Display, offset_s: float, place: tuple[tzinfo, str] | None) -> Display:
    """The clock of the log's header; under the name of the place's own time where the two agree."""
    if place is None or debrief.log.date is None:
        return _with_zone(show, *_fixed(offset_s), "named in the log")
    legal_s = _offset_s(place[0], _moment(debrief))
    if legal_s == offset_s:
        return _with_zone(show, *place, "legal time at take-off, as the log says")
    if offset_s == 0.0:  # what recorders write whose owner never set it
        return _with_zone(show, *place, "legal time at take-off; the log says UTC")
    return _with_zone(show, *_fixed(offset_s), f"named in the log; legal time there was {offset_name(legal_s)}")


def _with_zone(show: Display, zone: tzinfo, name: str, reason: str) -> Display:
    """The display on that clock."""
    return replace(show, zone=zone, zone_name=name, zone_reason=reason, follows_log=False)


def zone_shared_by(displays: Iterable[Display], show: Display) -> Display:
    """One clock for a page about several logs: theirs where all have the same, else UTC, and it says so."""
    if not show.follows_log:
        return show
    found = {one.zone_name: one for one in displays}
    if len(found) == 1:
        one = next(iter(found.values()))
        return _with_zone(show, one.zone, one.zone_name, one.zone_reason)
    return _with_zone(show, UTC, "UTC", "the logs are from several time zones" if found else "no log tells it")


def zone_shared_at(positions_deg: Iterable[tuple[float, float]], show: Display) -> Display:
    """As `zone_shared_by`, from where take-offs were: latitude and longitude, each rounded place once."""
    if not show.follows_log:
        return show
    zones = (zone_at(*place) for place in {(round(lat, 1), round(lon, 1)) for lat, lon in positions_deg})
    known = sorted({zone[1]: zone for zone in zones if zone is not None}.items())
    clocks = [_with_zone(show, *zone, "legal time at take-off") for _, zone in known]
    return zone_shared_by(clocks, show)


def _moment(debrief: Debrief) -> datetime:
    """When the day began: the first take-off, else the first fix."""
    if debrief.flights:
        return debrief.flights[0].takeoff.time
    return datetime.fromtimestamp(float(debrief.motion.time_s[0]), tz=UTC)


def _position_deg(debrief: Debrief) -> tuple[float, float]:
    """Where the day began: the first take-off, else the first fix that was used."""
    if debrief.flights:
        takeoff = debrief.flights[0].takeoff
        return takeoff.lat_deg, takeoff.lon_deg
    first = int(debrief.motion.fix[0])
    return float(debrief.track.latitude_deg[first]), float(debrief.track.longitude_deg[first])


def _fits_place(offset_s: float, debrief: Debrief) -> bool:
    """Whether a clock at that offset from UTC could be one of the place."""
    sun_s = _position_deg(debrief)[1] / 15.0 * 3600.0
    return abs((offset_s - sun_s + 43200.0) % 86400.0 - 43200.0) <= FARTHEST_FROM_SUN_S


def _zone_of_place(debrief: Debrief) -> tuple[tzinfo, str] | None:
    """Legal time where the day began, and its name; None where nobody knows it."""
    lat_deg, lon_deg = _position_deg(debrief)
    return zone_at(lat_deg, lon_deg)


def zone_at(lat_deg: float, lon_deg: float) -> tuple[tzinfo, str] | None:
    """Legal time at a place, with its IANA name; at sea the nautical zone, a plain offset from UTC.

    >>> zone_at(60.0, 10.0)[1], zone_at(0.0, -30.0)[1]
    ('Europe/Oslo', 'UTC−2')
    """
    import tzfpy

    if not (math.isfinite(lat_deg) and math.isfinite(lon_deg)):
        return None
    name = tzfpy.get_tz(lon_deg, lat_deg)
    try:
        zone = ZoneInfo(name) if name else None
    except (OSError, ValueError, KeyError):  # a name newer than the rules installed here
        return None
    if zone is None:
        return None
    if name.startswith("Etc/"):  # their names carry the sign the other way round
        return _fixed(_offset_s(zone, datetime(2000, 1, 1, tzinfo=UTC)))
    return zone, name


def _offset_s(zone: tzinfo, moment: datetime) -> float:
    """Local time less UTC at that moment."""
    offset = moment.astimezone(zone).utcoffset()
    return offset.total_seconds() if offset else 0.0


def _fixed(offset_s: float) -> tuple[tzinfo, str]:
    """A clock at an offset from UTC that never changes, and its name."""
    return timezone(timedelta(seconds=round(offset_s))), offset_name(offset_s)


def offset_name(offset_s: float) -> str:
    """An offset from UTC as it is written.

    >>> offset_name(7200.0), offset_name(-12600.0), offset_name(20700.0), offset_name(0.0)
    ('UTC+2', 'UTC−3:30', 'UTC+5:45', 'UTC')
    """
    minutes = round(abs(offset_s) / 60.0)
    if minutes == 0:
        return "UTC"
    sign = "+" if offset_s > 0 else MINUS
    return f"UTC{sign}{minutes // 60}" + (f":{minutes % 60:02d}" if minutes % 60 else "")
