"""The small flight of `small_logs` in the other formats that are read."""

from __future__ import annotations

from functools import reduce

from tests.unit.small_logs import fixes


def nmea(sentence: str) -> str:
    """A sentence with its checksum: exclusive or of the bytes between `$` and `*`."""
    return f"${sentence}*{reduce(lambda value, letter: value ^ ord(letter), sentence, 0):02X}"


def nmea_angle(degrees: float, width: int) -> str:
    """Degrees and minutes as NMEA writes them."""
    whole = int(abs(degrees))
    return f"{whole:0{width}d}{(abs(degrees) - whole) * 60:08.5f}"


def nmea_text(*, talker: str = "GP", kinds: str = "GGA RMC", date: str = "140626") -> str:
    """GGA and RMC each second."""
    lines = []
    for second, lat, lon, altitude in fixes():
        clock = f"11{second // 60:02d}{second % 60:02d}.00"
        place = f"{nmea_angle(lat, 2)},N,{nmea_angle(lon, 3)},E"
        if "GGA" in kinds:
            lines.append(nmea(f"{talker}GGA,{clock},{place},1,09,0.9,{altitude:.1f},M,48.0,M,,"))
        if "RMC" in kinds:
            lines.append(nmea(f"{talker}RMC,{clock},A,{place},019.4,084.4,{date},,,A"))
        lines.append(nmea(f"{talker}VTG,084.4,T,,M,019.4,N,036.0,K,A"))
    return "\r\n".join(lines) + "\r\n"


KML = '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2">{}</kml>'
"""The namespaces are those of OGC KML 2.3."""


def iso(second: int) -> str:
    return f"2026-06-14T11:{second // 60:02d}:{second % 60:02d}Z"


def kml_text(*, mode: str = "absolute", interleaved: bool = False) -> str:
    """A gx:Track."""
    whens = [f"<when>{iso(second)}</when>" for second, *_ in fixes()]
    coords = [f"<gx:coord>{lon:.7f} {lat:.7f} {altitude:.1f}</gx:coord>" for _, lat, lon, altitude in fixes()]
    if interleaved:
        body = "".join(when + coord for when, coord in zip(whens, coords, strict=True))
    else:
        body = "".join(whens) + "".join(coords)
    kind = f"<altitudeMode>{mode}</altitudeMode>" if mode else ""
    return KML.format(
        f"<Document><name>Sunday</name><Placemark><gx:Track>{kind}{body}</gx:Track></Placemark></Document>"
    )


def csv_text(
    header: str = "time,lat,lon,alt", row: str = "{time},{lat:.7f},{lon:.7f},{alt:.1f}", end: str = "\r\n"
) -> str:
    """A table; `row` may use time (ISO), clock, epoch, second, lat, lon, alt and feet."""
    rows = [
        row.format(
            time=iso(second),
            clock=iso(second)[11:19],
            epoch=1_781_434_800 + second,
            second=second,
            lat=lat,
            lon=lon,
            alt=altitude,
            feet=altitude / 0.3048,
        )
        for second, lat, lon, altitude in fixes()
    ]
    return end.join([header, *rows, ""])
