"""The cleaned track as an IGC log, unsigned, and marked as such.

Layout: IGC technical specification for GNSS flight recorders, Appendix 1 (2008): A, H, I, B and L records. There
is no G record: only a recorder can sign what it recorded.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from datetime import UTC, datetime

import numpy as np

from flightlog import __version__
from flightlog.arrays import Floats, Ints
from flightlog.errors import ReportError
from flightlog.writers.open_formats.cleaned import CleanTrack

DAY_S = 86400
LONGEST_LINE = 76
"""Letters of a line (IGC 2008, 2.1)."""
FURTHER_DIGITS = 4
"""Decimals of a thousandth of a minute, in LAD and LOD: 0.2 mm."""
_RESERVED = "$*!\\^~"  # IGC 2008, 6: not for texts


def igc_bytes(track: CleanTrack) -> bytes:
    """The track as an IGC log that reads back to the same fixes; altitudes to the metre, as the format has them.

    Raises
    ------
    ReportError
        A silence of a day or more: the times of an IGC log hold no date.
    """
    if len(track.time_s) > 1 and float(np.diff(track.time_s).max()) >= DAY_S:
        raise ReportError("the track goes on after a day or more", "an IGC log holds one day: cut it with --crop")
    return ("\r\n".join([*_head(track), *_fixes(track)]) + "\r\n").encode("ascii")


def _head(track: CleanTrack) -> Iterator[str]:
    """All that stands before the fixes."""
    yield f"AXXXFLG flightlog {__version__}"
    if track.has_date:
        yield f"HFDTEDATE:{_utc(track.time_s[0]):%d%m%y},01"
    for code, text in (
        ("PLTPILOTINCHARGE", track.pilot),
        ("GTYGLIDERTYPE", track.wing),
        ("FTYFRTYPE", track.recorder),
    ):
        if text:
            yield f"HF{code}:{plain(text)}"[:LONGEST_LINE]
    yield "HFDTMGPSDATUM:WGS84"
    yield f"HFALGALTGPS:{'GEO' if np.isfinite(track.gnss_altitude_m).any() else 'NIL'}"
    yield f"HFALPALTPRESSURE:{'ISA' if np.isfinite(track.pressure_altitude_m).any() else 'NIL'}"
    if track.utc_offset_s is not None:
        minutes = round(abs(track.utc_offset_s) / 60.0)
        sign = "-" if track.utc_offset_s < 0 else "+"
        yield f"HFTZNTIMEZONE:{sign}{minutes // 60:02d}:{minutes % 60:02d}"
    at, extensions = 36, ""
    for code, width in _extensions(track):
        extensions += f"{at:02d}{at + width - 1:02d}{code}"
        at += width
    if extensions:
        yield f"I{len(extensions) // 7:02d}{extensions}"
    yield f"LXXXCONVERTED AND CLEANED BY FLIGHTLOG {__version__}"
    yield "LXXXNOT SIGNED: NO EVIDENCE OF A FLIGHT, AND NOT AS RECORDED"
    yield f"LXXXFROM {plain(track.file)}"[:LONGEST_LINE]


def plain(text: str) -> str:
    r"""A text in the letters that an IGC log may hold (IGC 2008, 6).

    >>> plain("Zoë Ålund*"), plain("a\\b")
    ('Zoe Alund-', 'a-b')
    """
    ascii_text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii")
    return "".join("-" if letter in _RESERVED else letter for letter in ascii_text if " " <= letter <= "~")


def _utc(time_s: float) -> datetime:
    """The UTC time of a fix."""
    return datetime.fromtimestamp(float(time_s), tz=UTC)


def _thousandths(angle_deg: Floats) -> tuple[Ints, Ints]:
    """Whole thousandths of a minute of an angle without its sign, and further digits."""
    digits = 10**FURTHER_DIGITS
    total = np.round(np.abs(angle_deg) * 60000.0 * digits).astype(np.int64)
    return total // digits, total % digits


def _extensions(track: CleanTrack) -> list[tuple[str, int]]:
    """Code and width of the extensions that this track needs."""
    found = []
    if _thousandths(track.latitude_deg)[1].any() or _thousandths(track.longitude_deg)[1].any():
        found += [("LAD", FURTHER_DIGITS), ("LOD", FURTHER_DIGITS)]
    if (np.round(track.time_s * 1000.0).astype(np.int64) % 1000).any():
        found.append(("TDS", 3))
    return found


def _fixes(track: CleanTrack) -> Iterator[str]:
    """The B records."""
    codes = [code for code, _ in _extensions(track)]
    thousandths_s = np.round(track.time_s * 1000.0).astype(np.int64)
    north, north_digits = _thousandths(track.latitude_deg)
    east, east_digits = _thousandths(track.longitude_deg)
    rows = zip(
        thousandths_s.tolist(),
        north.tolist(),
        north_digits.tolist(),
        np.signbit(track.latitude_deg).tolist(),
        east.tolist(),
        east_digits.tolist(),
        np.signbit(track.longitude_deg).tolist(),
        _heights(track.pressure_altitude_m),
        _heights(track.gnss_altitude_m),
        np.isfinite(track.gnss_altitude_m).tolist(),
        strict=True,
    )
    for time, lat, lat_more, is_south, lon, lon_more, is_west, pressure, gnss, is_3d in rows:
        second = time // 1000 % DAY_S
        text = f"B{second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
        text += f"{lat // 60000:02d}{lat % 60000:05d}{'S' if is_south else 'N'}"
        text += f"{lon // 60000:03d}{lon % 60000:05d}{'W' if is_west else 'E'}"
        text += f"{'A' if is_3d else 'V'}{pressure}{gnss}"
        if "LAD" in codes:
            text += f"{lat_more:0{FURTHER_DIGITS}d}{lon_more:0{FURTHER_DIGITS}d}"
        if "TDS" in codes:
            text += f"{time % 1000:03d}"
        yield text


def _heights(values: Floats) -> list[str]:
    """Altitudes in five letters, whole metres; 00000 where there is none.

    >>> _heights(np.array([812.4, -12.0, np.nan]))
    ['00812', '-0012', '00000']
    """
    bounded = np.clip(np.nan_to_num(np.round(values), nan=0.0), -9999, 99999).astype(np.int64)
    return [f"{value:05d}" for value in bounded.tolist()]
