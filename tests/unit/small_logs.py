"""Small logs as text, each of a minute on the ground, a short flight and a minute on the ground again."""

from __future__ import annotations

import math
from pathlib import Path

EARTH_RADIUS_M = 6371000.0
GROUND_S, FLIGHT_S = 60, 240


def fixes(seed: int = 0, turn_degps: float = 0.9) -> list[tuple[int, float, float, float]]:
    """Seconds, latitude, longitude, altitude at 1 Hz; `seed` shifts the place, so that logs differ."""
    rows = []
    east = north = 0.0
    altitude = 1500.0
    for second in range(2 * GROUND_S + FLIGHT_S):
        flown = min(max(second - GROUND_S, 0), FLIGHT_S)
        if 0 < flown < FLIGHT_S:
            heading = math.radians(flown * turn_degps)
            speed = min(2.0 * flown, 10.0)
            east += speed * math.sin(heading)
            north += speed * math.cos(heading)
            altitude += -1.1 + 0.4 * math.sin(second / 2.3)
        lat = 46.0 + 0.01 * seed + math.degrees(north / EARTH_RADIUS_M)
        lon = 8.0 + math.degrees(east / EARTH_RADIUS_M / math.cos(math.radians(46.0)))
        rows.append((second, lat, lon, altitude))
    return rows


def igc_text(
    *, pilot: str = "Ada Example", seed: int = 0, date: str | None = "140626", turn_degps: float = 0.9
) -> str:
    """The flight as an IGC log; it bends all the way."""
    head = [
        "AXXXABC",
        *([f"HFDTEDATE:{date}"] if date else []),
        f"HFPLTPILOTINCHARGE:{pilot}",
        "HFDTM100GPSDATUM:WGS84",
    ]
    return "\r\n".join([*head, *(_b_record(*fix) for fix in fixes(seed, turn_degps))]) + "\r\n"


def _b_record(second: int, lat: float, lon: float, altitude: float) -> str:
    clock = f"{11 + second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
    north, east = round(abs(lat) * 60000), round(abs(lon) * 60000)
    place = f"{north // 60000:02d}{north % 60000:05d}N{east // 60000:03d}{east % 60000:05d}E"
    return f"B{clock}{place}A{round(altitude):05d}{round(altitude) + 40:05d}"


def gpx_text(*, with_times: bool = True) -> str:
    """The flight as a GPX track."""
    points = "".join(
        f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><ele>{altitude:.1f}</ele>'
        + (f"<time>2026-06-14T11:{second // 60:02d}:{second % 60:02d}Z</time>" if with_times else "")
        + "</trkpt>"
        for second, lat, lon, altitude in fixes()
    )
    root = '<gpx version="1.1" creator="a recorder" xmlns="http://www.topografix.com/GPX/1/1">'
    return f'<?xml version="1.0"?>{root}<trk><trkseg>{points}</trkseg></trk></gpx>'


def write_log(path: Path, text: str | None = None) -> Path:
    """The log in a file, its folder made."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes((igc_text() if text is None else text).encode())
    return path
