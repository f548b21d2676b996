"""Logs that nobody flew: huge, bent, or made to harm; each a function that writes one file."""

from __future__ import annotations

import gzip
import math
import random
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

from tests.unit.small_logs import fixes

HEAD = (
    "AXXXABC\r\nHFDTEDATE:140626\r\nHFPLTPILOTINCHARGE:{pilot}\r\nHFGTYGLIDERTYPE:{wing}\r\n"
    "HFDTM100GPSDATUM:WGS84\r\n"
)
GPX = (
    '<?xml version="1.0"?>{doctype}<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{body}'
    "</gpx>"
)
TRACK = "<trk><trkseg>{points}</trkseg></trk>"
BOMB = '<!DOCTYPE x [<!ENTITY a "0123456789">' + "".join(
    f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in zip("abcdefgh", "bcdefghi", strict=True)
) + "]>"  # fmt: skip
EXTERNAL = '<!DOCTYPE x [<!ENTITY i SYSTEM "file:///etc/passwd">]>'
QUADRATIC = f'<!DOCTYPE x [<!ENTITY i "{"a" * 100_000}">]>'

EVIL_NAMES = {
    "script": "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "path": "../../../../etc/cron.d/evil",
    "terminal": "\x1b]0;owned\x07\x1b[2J\x1b[31mred\x1b[0m\x9b2J",
    "right-to-left": "\u202egpj.exe\u202c \u2066x\u2069 \u200f",
    "formula": '=HYPERLINK("http://evil.example","click")',
    "template": '{{7*7}} ${7*7} #{sys.inputs} $x$ `code` #eval("1") \\u{0000}',
    "braces": "]]></svg><!--%s%n{0}{pilot.__class__}",
    "zalgo": "a" + "\u0301" * 3000,
    "long": "A" * 60_000,
    "surrogate": "\ufffe\uffff\ud7ff\U000e0001",
}


def clock(second: int) -> str:
    """Time of day in an IGC record."""
    return f"{second // 3600 % 24:02d}{second // 60 % 60:02d}{second % 60:02d}"


def b_record(second: int, latitude_deg: float, longitude_deg: float, altitude_m: float) -> str:
    """One fix."""
    north, east = round(abs(latitude_deg) * 60000), round(abs(longitude_deg) * 60000)
    return (
        f"B{clock(second)}{north // 60000:02d}{north % 60000:05d}{'N' if latitude_deg >= 0 else 'S'}"
        f"{east // 60000:03d}{east % 60000:05d}{'E' if longitude_deg >= 0 else 'W'}"
        f"A{round(altitude_m):05d}{round(altitude_m) + 40:05d}"
    )


def igc(records: list[str], pilot: str = "Ada Example", wing: str = "Invented 1") -> bytes:
    """A log with these records."""
    return (HEAD.format(pilot=pilot, wing=wing) + "\r\n".join(records) + "\r\n").encode("utf-8", "replace")


def many_flights(count: int) -> bytes:
    """So many fixes of one small flight after the other, for days; back to launch along the same way."""
    rows = fixes()
    records = []
    for second in range(count):
        lap, place = divmod(second, len(rows))
        _, lat, lon, altitude = rows[place if lap % 2 == 0 else len(rows) - 1 - place]
        records.append(b_record(second, lat, lon, altitude))
    return igc(records)


def gpx_points(rows: list[tuple[str, str, str, str]], extensions: str = "") -> bytes:
    """A GPX track: latitude, longitude, elevation and time of each point, as text."""
    points = "".join(
        f'<trkpt lat="{lat}" lon="{lon}"><ele>{ele}</ele><time>{time}</time>{extensions}</trkpt>'
        for lat, lon, ele, time in rows
    )
    return GPX.format(doctype="", body=TRACK.format(points=points)).encode("utf-8", "replace")


def day_time(second: int, *, year: int = 2026, millisecond: int = 0) -> str:
    """ISO 8601 time on a day in June."""
    return f"{year}-06-14T{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}.{millisecond:03d}Z"


def around(latitude_deg: float, longitude_deg: float, count: int = 1200) -> list[tuple[float, float, float]]:
    """Degrees and metres of a circling descent around any place on the earth, a pole or the date line included."""
    rows = []
    for k in range(count):
        angle = math.radians(k * 14.0)
        north_m = 60.0 * math.cos(angle) + 1.5 * k
        east_m = 60.0 * math.sin(angle)
        lat = latitude_deg + north_m / 111_195.0
        if lat > 90.0:
            lat = 180.0 - lat
        lon = longitude_deg + east_m / 111_195.0 / max(math.cos(math.radians(lat)), 1e-6)
        rows.append((lat, (lon + 180.0) % 360.0 - 180.0, 2500.0 - 1.1 * k if 60 < k < count - 60 else 2500.0))
    return rows


def igc_around(latitude_deg: float, longitude_deg: float) -> bytes:
    """The same as a log."""
    return igc([b_record(36_000 + k, *row) for k, row in enumerate(around(latitude_deg, longitude_deg))])


def gpx_around(count: int, time_of: Callable[[int], str]) -> bytes:
    """The circling descent as GPX, with these times."""
    rows = around(46.0, 8.0, count)
    return gpx_points([(str(lat), str(lon), str(alt), time_of(k)) for k, (lat, lon, alt) in enumerate(rows)])


def gpx_not_finite() -> bytes:
    """Positions and heights that are no numbers, or none that a sensor gives; digits of other scripts."""
    odd = ["NaN", "inf", "-inf", "1e308", "-1e308", "1e-320", "0x10", "1_000", "\u0661\u0662\u0663"]
    rows = [
        (str(lat), str(lon), odd[k % 9], day_time(36_000 + k)) for k, (lat, lon, _) in enumerate(around(46, 8))
    ]
    places = [("nan", "8"), ("inf", "8"), ("46", "-inf"), ("1e999", "8"), ("46", "180.0000001"), ("", "")]
    return gpx_points([(lat, lon, "1", day_time(35_000)) for lat, lon in places] + rows)


def wild_heights() -> bytes:
    """A straight way at any height from one second to the next."""
    dice = random.Random(7)
    return igc([b_record(36_000 + k, 46 + k * 1e-4, 8, dice.uniform(-999, 9999)) for k in range(5000)])


def odd_columns() -> bytes:
    """Columns of the recorder's own that hold anything but numbers."""
    odd = ["NAN", "INF", "-99", "999", "   ", "1E9", "---", "000"]
    records = [
        f"{b_record(36_000 + k, *row)}{odd[k % 8]}{odd[k // 8 % 8]}" for k, row in enumerate(around(46.0, 8.0))
    ]
    return igc(["I023638TAS3941WDI", *records])


def globe_trotter(count: int = 5000) -> bytes:
    """Every fix anywhere on earth."""
    dice = random.Random(4)
    return igc(
        [
            b_record(30_000 + k, dice.uniform(-90, 90), dice.uniform(-180, 180), dice.uniform(-400, 9000))
            for k in range(count)
        ]
    )


def zipped(members: dict[str, bytes]) -> Callable[[Path], None]:
    """A .zip of these entries, whatever their names."""

    def write(path: Path) -> None:
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, data in members.items():
                archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)

    return write


def gzip_bomb(path: Path, unpacked_bytes: int = 600_000_000) -> None:
    """Six hundred megabytes of nothing in six hundred kilobytes."""
    packer = zlib.compressobj(9, wbits=31)
    with path.open("wb") as file:
        block = b"\0" * 10_000_000
        for _ in range(unpacked_bytes // len(block)):
            file.write(packer.compress(block))
        file.write(packer.flush())


def gzip_chain(path: Path) -> None:
    """A million empty parts, one after the other: each is a whole .gz."""
    path.write_bytes(gzip.compress(b"", mtime=0) * 1_000_000)
