"""Reader of IGC logs: the fixes as one numpy block, everything else record by record.

Layout: IGC technical specification for GNSS flight recorders, Appendix 1 (text of 2008 and digests of later
editions). Whatever a recorder writes beside it becomes a note; only a log without a usable fix is an error.
"""

from __future__ import annotations

import datetime
import hashlib

import numpy as np

from flightlog.arrays import Bools, Floats, frozen_floats, frozen_ints
from flightlog.errors import TrackFileError
from flightlog.tracks.altitudes import above_sea_level, checked_altitudes
from flightlog.tracks.igc_dates import date_lines, public_header
from flightlog.tracks.igc_fixes import FixBlock, decode_fixes
from flightlog.tracks.igc_header import IgcHeader, read_igc_header
from flightlog.tracks.igc_lines import Lines, split_lines
from flightlog.tracks.igc_slow import slow_columns
from flightlog.tracks.igc_times import dated_times
from flightlog.tracks.limits import require_few_fixes
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.odd_times import note_darkness
from flightlog.tracks.recorded import median_ground_speed_mps, recorded_columns
from flightlog.tracks.track import Track

_FEW_FIXES = 10  # fewer may share a second
_CLOCK_SET_S = 3600.0  # a leap of the time before the first position: the clock was set then


def parse_igc(data: bytes, *, file: str, date: datetime.date | None = None) -> Track:
    """The track of an IGC log.

    Parameters
    ----------
    data : bytes
        The log.
    file : str
        Its name, for messages, the Track and the date that may stand in it.
    date : datetime.date, optional
        UTC date of the first fix, in place of what the log says.

    Raises
    ------
    TrackFileError
        No fix with a position, or no times.
    """
    notebook = Notebook()
    lines = split_lines(data, notebook)
    header = read_igc_header(lines, notebook)
    require_few_fixes(int(lines.of_letter("B").size), file)
    block = decode_fixes(lines, header.layouts, notebook)
    _require_fixes(block, file, notebook)
    line = block.line_index + 1
    has_position = ~np.isnan(block.latitude_deg)
    dates = date_lines(header, block, date, file, notebook)
    time_s = dated_times(block.second_of_day, dates, has_position, line, notebook)
    used = _usable(block, time_s, has_position, notebook)
    latitude, longitude = _positions(block, notebook)
    pressure, gnss, datum = _altitudes(header, block, latitude, longitude, notebook)
    if dates:
        note_darkness(time_s[used], latitude[used], longitude[used], notebook)
    recorded = _recorded(lines, header, block, time_s, notebook)
    return Track(
        time_s=frozen_floats(time_s[used]),
        latitude_deg=frozen_floats(latitude[used]),
        longitude_deg=frozen_floats(longitude[used]),
        pressure_altitude_m=None if pressure is None else frozen_floats(pressure[used]),
        gnss_altitude_m=None if gnss is None else frozen_floats(gnss[used]),
        line=frozen_ints(line[used]),
        segment=frozen_ints(np.searchsorted(header.recordings, block.line_index[used], side="right") - 1),
        gnss_datum=datum,
        header=public_header(header, block, time_s, dates),
        file=file,
        format="igc",
        sha256=hashlib.sha256(data).hexdigest(),
        records_read=block.records_read,
        has_fractional_seconds=bool(np.any(block.second_of_day % 1.0 != 0.0)),
        recorded={name: frozen_floats(values[used]) for name, values in recorded.items()},
        notes=notebook.notes(),
    )


def _require_fixes(block: FixBlock, file: str, notebook: Notebook) -> None:
    """Refuse a log without a usable fix, or without times."""
    if block.line_index.size == 0:
        found = "no fix can be read" if block.records_read else "no fix (B record) in this log"
        raise TrackFileError(found, "is it the whole file, as the recorder wrote it?", file)
    first = int(block.line_index[0]) + 1
    if np.isnan(block.latitude_deg).all():
        if "bad_position" in notebook:
            found = f"none of {block.records_read} fixes lies on the earth (beyond 90 or 180 degrees)"
            raise TrackFileError(found, "is it the file as the recorder wrote it?", file, first)
        found = f"none of {block.records_read} fixes has a position"
        raise TrackFileError(found, "the recorder had no reception; there is nothing to analyse", file, first)
    if block.second_of_day.size >= _FEW_FIXES and np.ptp(block.second_of_day) == 0.0:
        found = f"all {block.records_read} fixes bear the same time"
        raise TrackFileError(found, "a track without times cannot be analysed", file, first)


def _usable(block: FixBlock, time_s: Floats, has_position: Bools, notebook: Notebook) -> Bools:
    """Fixes that say something: a position or a pressure altitude, at a time the clock was set."""
    used: Bools = has_position | (~np.isnan(block.pressure_altitude_m) & (block.pressure_altitude_m != 0.0))
    first = int(np.argmax(has_position))
    leaps = np.flatnonzero((np.diff(time_s[: first + 1]) < 0) | (np.diff(time_s[: first + 1]) > _CLOCK_SET_S))
    if leaps.size:
        before = int(leaps[-1]) + 1
        used[:before] = False
        message = "the clock was not set before the first position; these fixes are left out"
        notebook.add("clock_not_set", message, int(block.line_index[0]) + 1, before)
    return used


def _positions(block: FixBlock, notebook: Notebook) -> tuple[Floats, Floats]:
    """Latitude and longitude; a V fix that repeats the position before it has none (IGC-2008, 4.1)."""
    latitude, longitude = block.latitude_deg.copy(), block.longitude_deg.copy()
    if not block.is_3d.any():
        notebook.add("all_fixes_v", "every fix is marked V (no 3D position); the positions are used all the same")
        return latitude, longitude
    repeated = np.zeros(latitude.size, dtype=np.bool_)
    repeated[1:] = (latitude[1:] == latitude[:-1]) & (longitude[1:] == longitude[:-1]) & ~block.is_3d[1:]
    if repeated.any():
        message = "V fixes repeat the last position for want of a new one; only their pressure altitude is used"
        first = int(block.line_index[np.argmax(repeated)]) + 1
        notebook.add("no_new_position", message, first, int(repeated.sum()))
    latitude[repeated], longitude[repeated] = np.nan, np.nan
    return latitude, longitude


def _altitudes(
    header: IgcHeader, block: FixBlock, latitude: Floats, longitude: Floats, notebook: Notebook
) -> tuple[Floats | None, Floats | None, str]:
    """Pressure altitude, GNSS altitude above sea level, and the level the latter was written from."""
    line = block.line_index + 1
    pressure, gnss = checked_altitudes(
        block.pressure_altitude_m, block.gnss_altitude_m, block.is_3d, line, notebook
    )
    if header.pressure_datum == "MSL" and pressure is not None:
        message = "pressure altitude is set to a sea level pressure, not to 1013.25 hPa; its differences hold"
        notebook.add("pressure_above_sea_level", message)
    pressure = None if header.pressure_datum == "NIL" else pressure
    gnss = None if header.gnss_datum == "NIL" else gnss
    return pressure, *above_sea_level(gnss, header.gnss_datum, latitude, longitude, notebook)


def _recorded(
    lines: Lines, header: IgcHeader, block: FixBlock, time_s: Floats, notebook: Notebook
) -> dict[str, Floats]:
    """The recorder's own columns in SI: those of its fixes, and those of K records where no fix has them."""
    columns = slow_columns(lines, header, block, notebook) | block.extensions
    layouts = [layout for _, layout in (*header.slow_layouts, *header.layouts)]
    widths = {extension.code: extension.width for layout in layouts for extension in layout}
    if not columns:
        return {}
    ground_speed_mps = median_ground_speed_mps(time_s, block.latitude_deg, block.longitude_deg)
    return recorded_columns(columns, widths, ground_speed_mps, notebook)
