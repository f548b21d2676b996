"""The track: what a log file said, unrepaired."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from flightlog.arrays import Floats, Ints
from flightlog.errors import Note


@dataclass(frozen=True)
class Header:
    """What the log says about itself, as written in the file; None where it says nothing."""

    pilot: str | None = None
    wing: str | None = None
    wing_id: str | None = None
    recorder: str | None = None
    recorder_id: str | None = None
    site: str | None = None
    date: str | None = None  # first date, ISO 8601, UTC; None: the log has none
    utc_offset_s: float | None = None
    declared_task: tuple[tuple[str, float, float], ...] = ()  # C records: name, lat_deg, lon_deg
    events: tuple[tuple[float, str, str], ...] = ()  # E records: time_s, code, text
    other: Mapping[str, str] = field(default_factory=dict)  # remaining H records, by three-letter code


@dataclass(frozen=True, eq=False)
class Track:
    """What the file said, unrepaired: n fixes in the order of the file.

    All arrays have one length, n >= 1, and are read-only. NaN stands where a fix lacks that value.
    """

    time_s: Floats  # (n,) UTC, seconds since 1970-01-01; midnight already handled; may step back
    latitude_deg: Floats  # (n,) WGS 84, north positive
    longitude_deg: Floats  # (n,) east positive, [-180, 180)
    pressure_altitude_m: Floats | None  # (n,) above the 1013.25 hPa level; None: no barometer in this log
    gnss_altitude_m: Floats | None  # (n,) above mean sea level, converted from the ellipsoid where need be
    line: Ints  # (n,) line of the file each fix stands on, 1 is the first; 0: not known
    segment: Ints  # (n,) number of the unbroken recording (GPX track segment, block of a joined file)
    gnss_datum: str  # "geoid" as written, "ellipsoid" converted here, "unknown" taken as geoid
    header: Header
    file: str  # name of the file, without its folder
    format: str  # "igc" | "gpx" | "kml" | "nmea" | "csv"
    sha256: str  # of the bytes as found
    records_read: int  # fixes met in the file, unusable ones included
    has_fractional_seconds: bool = False
    recorded: Mapping[str, Floats] = field(default_factory=dict)
    # (n,) the recorder's own columns in SI: "airspeed_mps" (true), "indicated_airspeed_mps", "wind_from_deg",
    # "wind_mps", "heading_deg", "course_deg", "ground_speed_mps", "climb_mps", "position_error_m"; any other
    # extension by its three-letter code in lower case, as written
    notes: tuple[Note, ...] = ()  # lines skipped and why
