"""A log in another format: which formats there are, which part of the track, and the way into a file."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

from flightlog.debriefing import Debrief
from flightlog.errors import ReportError
from flightlog.writers.display import Display
from flightlog.writers.files import write_new
from flightlog.writers.open_formats.cleaned import CleanTrack, cleaned_track, cropped
from flightlog.writers.open_formats.to_geojson import geojson_bytes
from flightlog.writers.open_formats.to_gpx import gpx_bytes
from flightlog.writers.open_formats.to_igc import igc_bytes
from flightlog.writers.open_formats.to_kml import kml_bytes
from flightlog.writers.open_formats.to_tables import csv_bytes, parquet_bytes
from flightlog.writers.zones import settled

FORMATS: dict[str, Callable[[CleanTrack], bytes]] = {
    "gpx": gpx_bytes,
    "geojson": geojson_bytes,
    "kml": kml_bytes,
    "csv": csv_bytes,
    "parquet": parquet_bytes,
    "igc": igc_bytes,
}
"""Ending of the file -> what makes its content."""
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d+)?))?")


def track_bytes(
    debrief: Debrief, ending: str, *, crop: tuple[str, str] | None = None, display: Display | None = None
) -> bytes:
    """The cleaned track of a log in one of the formats.

    Parameters
    ----------
    debrief : Debrief
        From `flightlog.debrief`; `without_names` makes it anonymous.
    ending : str
        gpx, geojson, kml, csv, parquet or igc.
    crop : (from, to), optional
        Times of day (`14:05:00`, in the zone of the log or of `display`) or ISO 8601 times; both are included.
    display : Display, optional
        Its time zone holds for `crop`; without it the log's own.

    Raises
    ------
    ReportError
        No fix lies between the two times, the times cannot be read, or the format cannot hold the track.
    """
    track = cleaned_track(debrief)
    if crop is not None:
        show = settled(debrief, display or Display(follows_log=True))
        track = _between(track, crop, show)
    return FORMATS[ending](track)


def write_track(
    debrief: Debrief,
    path: Path | str,
    *,
    crop: tuple[str, str] | None = None,
    display: Display | None = None,
    force: bool = False,
) -> Path:
    """Write the cleaned track of a log; the ending of the path chooses the format.

    The other parameters are those of `track_bytes`. A file that stands there is left alone, unless it is the same
    to the byte or `force` is given.
    """
    path = Path(path)
    ending = path.suffix.lower().removeprefix(".")
    if ending not in FORMATS:
        raise ReportError(
            f"{path.suffix or 'no ending'} names no format", f"use one of .{', .'.join(FORMATS)}", path
        )
    return write_new(path, track_bytes(debrief, ending, crop=crop, display=display), force=force)


def _between(track: CleanTrack, crop: tuple[str, str], show: Display) -> CleanTrack:
    """The part of a track between two times as written."""
    first, last = (datetime.fromtimestamp(float(track.time_s[at]), tz=UTC) for at in (0, -1))
    start = moment(crop[0], first, last, show.zone)
    end = moment(crop[1], first, last, show.zone)
    if end < start and _CLOCK.fullmatch(crop[1].strip()):
        end += timedelta(days=1)
    part = cropped(track, start.timestamp(), end.timestamp())
    if not len(part.time_s):
        raise ReportError(
            f"no fix lies between {crop[0]} and {crop[1]}",
            f"the log runs from {show.date(first)} {show.clock(first)} to {show.clock(last)} {show.zone_name}",
            track.file,
        )
    return part


def moment(text: str, first: datetime, last: datetime, zone: tzinfo) -> datetime:
    """The moment that a user's time means, in a log from `first` to `last`.

    >>> first, last = datetime(2026, 6, 14, 22, 0, tzinfo=UTC), datetime(2026, 6, 15, 1, 0, tzinfo=UTC)
    >>> moment("00:30", first, last, UTC).isoformat(), moment("2026-06-14T23:00:00+02:00", first, last, UTC).hour
    ('2026-06-15T00:30:00+00:00', 23)
    """
    text = text.strip()
    match = _CLOCK.fullmatch(text)
    try:
        if match is None:
            found = datetime.fromisoformat(text)
            return found if found.tzinfo else found.replace(tzinfo=zone)
        hours, minutes, seconds = int(match.group(1)), int(match.group(2)), float(match.group(3) or 0.0)
        if hours > 24 or minutes > 59 or seconds >= 60.0:
            raise ValueError(text)
    except ValueError as error:
        raise ReportError(
            f"{text!r} is no time", "write 14:05:00, in the time of the log, or 2026-06-14T12:05:00Z"
        ) from error
    midnight = first.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    found = midnight + timedelta(hours=hours, minutes=minutes, seconds=seconds)
    tomorrow = found + timedelta(days=1)
    return tomorrow if found < first and tomorrow <= last else found
