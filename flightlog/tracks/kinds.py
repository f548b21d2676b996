"""Which kind of log is it? Its first bytes tell; nothing heavy is imported to look at them."""

from __future__ import annotations

import re
from collections.abc import Callable

from flightlog.tracks.csv_columns import named_columns_in, opened_table

SENTENCE = re.compile(rb"\$([A-Z]{2})(GGA|RMC),([^*$\r\n]{0,120})(?:\*([0-9A-Fa-f]{2}))?")
"""An NMEA 0183 sentence with a position: talker, kind, fields, checksum."""
_FIX_START = re.compile(rb"(?:^|[\r\n])[ \t\0]*[Bb]\d{6}[0-9 ]{7}[NSns ]")


def is_gpx(head: bytes) -> bool:
    """Whether the first bytes of a file hold the root of a GPX file, in any encoding."""
    plain = head.replace(b"\0", b"").lower()
    return b"<gpx" in plain or b":gpx" in plain


def is_igc(head: bytes) -> bool:
    """Whether the first bytes of a file look like an IGC log: an A record with its maker, a date, or a fix."""
    text = head.lstrip(b"\xef\xbb\xbf\r\n \t\0")
    return bool(re.match(rb"[Aa][A-Za-z0-9]{3}", text) or re.match(rb"H[A-Z]DTE", text) or _FIX_START.search(head))


def is_kml(head: bytes) -> bool:
    """Whether the first bytes of a file hold the root of a KML file, in any encoding."""
    plain = head.replace(b"\0", b"").lower()
    return b"<kml" in plain or b":kml" in plain


def is_nmea(head: bytes) -> bool:
    """Whether the first bytes of a file hold a sentence with a position."""
    return SENTENCE.search(head) is not None


def is_csv(head: bytes) -> bool:
    """Whether one of the first lines of a file names columns for time, latitude and longitude."""
    return named_columns_in(opened_table(head)) is not None


KINDS: tuple[tuple[str, Callable[[bytes], bool]], ...] = (
    ("GPX", is_gpx),
    ("IGC", is_igc),
    ("KML", is_kml),
    ("NMEA", is_nmea),
    ("CSV", is_csv),
)
"""Name, and "is it one?" by the first bytes, in the order in which they are asked."""


def kind_of(head: bytes) -> str | None:
    """The kind of log that a file is, by its first bytes; None for none that is read here."""
    return next((name for name, is_it in KINDS if is_it(head)), None)


def is_log(head: bytes) -> bool:
    """Whether the first bytes of a file look like a log of any kind that is read here."""
    return kind_of(head) is not None
