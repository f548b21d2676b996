"""Fixes as text: IGC (FAI/IGC Technical Specification, Appendix 1) and GPX 1.1, and the places as GeoJSON."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime

from .scenario import Scenario
from .sensors import Fixes
from .terrain import Ground, Site, to_latitude_longitude


def _angle(value: float, digits: int, positive: str, negative: str) -> str:
    """Degrees and thousandths of a minute, as a B record has them."""
    thousandths = round(abs(value) * 60000)
    return f"{thousandths // 60000:0{digits}d}{thousandths % 60000:05d}{positive if value >= 0 else negative}"


def _altitude(value: float) -> str:
    metres = round(value)
    return f"{metres:05d}" if metres >= 0 else f"-{-metres:04d}"


def b_record(
    epoch_s: float, latitude: float, longitude: float, valid: bool, pressure_m: float, gnss_m: float
) -> str:
    """One B record of 35 bytes."""
    second = int(epoch_s) % 86400
    clock = f"{second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
    where = _angle(latitude, 2, "N", "S") + _angle(longitude, 3, "E", "W")
    return f"B{clock}{where}{'A' if valid else 'V'}{_altitude(pressure_m)}{_altitude(gnss_m)}"


def igc_text(scenario: Scenario, site: Site, fixes: Fixes, epoch_s: float, wing_name: str) -> str:
    """An IGC file with CRLF line ends."""
    day = datetime.fromtimestamp(epoch_s + float(fixes.time_s[0]), UTC)
    date = day.strftime("%d%m%y")
    lines = [
        "AXXX001FLIGHTLOG SIMULATED",
        f"HFDTEDATE:{date},01" if scenario.date_form == "new" else f"HFDTE{date}",
        f"HFPLTPILOTINCHARGE:{scenario.pilot_name}",
        f"HFGTYGLIDERTYPE:{wing_name}",
        "HFDTMGPSDATUM:WGS84",
        "HFFTYFRTYPE:flightlog,simulator",
        f"HFALGALTGPS:{scenario.altitude_datum}",
        f"HFALPALTPRESSURE:{'ISA' if scenario.pressure else 'NIL'}",
    ]
    above = site.geoid_m if scenario.altitude_datum == "ELL" else 0.0
    pressure = fixes.pressure_m if fixes.pressure_m is not None else [0.0] * len(fixes.time_s)
    rows = zip(fixes.time_s.tolist(), fixes.east_m.tolist(), fixes.north_m.tolist(), fixes.gnss_m.tolist(),
               list(pressure), fixes.valid.tolist(), strict=True)  # fmt: skip
    for time, east, north, gnss, baro, valid in rows:
        latitude, longitude = to_latitude_longitude(site, east, north)
        lines.append(b_record(epoch_s + time, latitude, longitude, valid, baro, gnss + above))
    lines.append("GSIMULATEDNOSIGNATURE")
    return "\r\n".join(lines) + "\r\n"


def gpx_text(scenario: Scenario, site: Site, fixes: Fixes, epoch_s: float) -> str:
    """A GPX 1.1 file; a new segment after every gap of more than 20 s and five intervals."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="flightlog simulator" xmlns="http://www.topografix.com/GPX/1/1">',
        f"<trk><name>{scenario.name}</name><trkseg>",
    ]
    last = float(fixes.time_s[0])
    for time, east, north, gnss in zip(
        fixes.time_s.tolist(), fixes.east_m.tolist(), fixes.north_m.tolist(), fixes.gnss_m.tolist(), strict=True
    ):
        if time - last > max(20.0, 5 * scenario.interval_s):
            lines.append("</trkseg><trkseg>")
        last = time
        latitude, longitude = to_latitude_longitude(site, east, north)
        stamp = epoch_s + time
        clock = datetime.fromtimestamp(math.floor(stamp + 1e-6), UTC).strftime("%Y-%m-%dT%H:%M:%S")
        fraction = round((stamp - math.floor(stamp + 1e-6)) * 1000)
        tail = f".{fraction:03d}Z" if fraction > 0 else "Z"
        lines.append(
            f'<trkpt lat="{latitude:.7f}" lon="{longitude:.7f}"><ele>{gnss:.1f}</ele>'
            f"<time>{clock}{tail}</time></trkpt>"
        )
    lines.append("</trkseg></trk></gpx>")
    return "\n".join(lines) + "\n"


def places_geojson(site: Site, places: tuple[Ground, ...]) -> str:
    """The named pieces of ground, as a places file."""
    features = []
    for place in places:
        latitude, longitude = to_latitude_longitude(site, place.x_m, place.y_m)
        features.append({
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [round(longitude, 7), round(latitude, 7)]},
            "properties": {
                "name": place.name,
                "elevation_m": round(place.elevation_m, 1), "radius_m": round(place.radius_m, 1),
                "use": list(place.use),
            },
        })  # fmt: skip
    return json.dumps({"type": "FeatureCollection", "features": features}, indent=1) + "\n"
