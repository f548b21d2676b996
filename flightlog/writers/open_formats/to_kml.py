"""The cleaned track as KML 2.2 (OGC 07-147r2): a timed track for each phase, as `gx:Track` of the 2.2 extension.

KML 2.3 (OGC 12-007r2) has the same element as `Track`, in its own namespace. A document of 2.2 with the extension
keeps both schemas, ogckml22.xsd and kml22gx.xsd.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape

from flightlog import __version__
from flightlog.errors import one_line
from flightlog.measures.results import Event
from flightlog.writers.open_formats.cleaned import EVENTS, CleanTrack, Stretch, connected, iso_time, stretches
from flightlog.writers.words import PHASES

COLOURS = {
    "": "ff7a7a7a",
    "launch_run": "ffa779cc",
    "climb": "ff005ed5",
    "glide": "ffb27200",
    "search": "ff7a7a7a",
    "approach": "ff739e00",
}
"""Kind -> colour of its line, as KML writes colours: opacity, blue, green, red."""


def kml_bytes(track: CleanTrack) -> bytes:
    """The track as KML: a folder a flight, a placemark a phase; altitudes above mean sea level.

    All `when` of a track stand before all `gx:coord`, as the schema orders them.
    """
    return "\n".join(_lines(track)).encode("utf-8", "replace") + b"\n"


def _lines(track: CleanTrack) -> Iterator[str]:
    """The document, line by line."""
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield '<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2">'
    yield "<Document>"
    yield f"<name>{escape(track.file)}</name>"
    named = [f"{what}: {text}" for what, text in (("Pilot", track.pilot), ("Wing", track.wing)) if text]
    yield f"<description>{escape('; '.join([*named, f'made by flightlog {__version__}']))}</description>"
    for kind, colour in COLOURS.items():
        yield f'<Style id="{_style(kind)}"><LineStyle><color>{colour}</color><width>2</width></LineStyle></Style>'
    open_flight: int | None = None
    for stretch in stretches(track):
        if stretch.flight != open_flight:
            if open_flight is not None:
                yield "</Folder>"
            open_flight = stretch.flight
            yield f"<Folder><name>{f'Flight {open_flight}' if open_flight else 'On the ground'}</name>"
            for one in track.events:
                if one.flight == open_flight:
                    yield from _point(one.event, EVENTS[one.kind])
        yield from _placemark(track, stretch)
    yield "</Folder>"
    yield "</Document>"
    yield "</kml>"


def _style(kind: str) -> str:
    """Name of a kind's style."""
    return f"line-{kind.replace('_', '-') or 'ground'}"


def _placemark(track: CleanTrack, stretch: Stretch) -> Iterator[str]:
    """One phase: a track, or several where the recording has gaps."""
    parts = connected(track, stretch)
    name = PHASES.get(stretch.kind, "on the ground")
    yield f"<Placemark><name>{escape(name)}</name><styleUrl>#{_style(stretch.kind)}</styleUrl>"
    if len(parts) > 1:
        yield "<gx:MultiTrack><altitudeMode>absolute</altitudeMode>"
    for part in parts:
        yield "<gx:Track><altitudeMode>absolute</altitudeMode>"
        for time_s in track.time_s[part].tolist():
            yield f"<when>{iso_time(time_s)}</when>"
        rows = zip(
            track.longitude_deg[part].tolist(),
            track.latitude_deg[part].tolist(),
            track.smooth_altitude_m[part].tolist(),
            strict=True,
        )
        for longitude, latitude, altitude in rows:
            yield f"<gx:coord>{longitude:.7f} {latitude:.7f} {altitude:.1f}</gx:coord>"
        yield "</gx:Track>"
    if len(parts) > 1:
        yield "</gx:MultiTrack>"
    yield "</Placemark>"


def _point(event: Event, name: str) -> Iterator[str]:
    """Take-off or landing."""
    place = f"{name}, {event.place}" if event.place else name
    yield f"<Placemark><name>{escape(one_line(place))}</name>"
    yield f"<TimeStamp><when>{iso_time(event.time.timestamp())}</when></TimeStamp>"
    where = f"{event.lon_deg:.7f},{event.lat_deg:.7f}"
    if event.altitude_m is None:
        yield f"<Point><coordinates>{where}</coordinates></Point></Placemark>"
        return
    yield "<Point><altitudeMode>absolute</altitudeMode>"
    yield f"<coordinates>{where},{event.altitude_m:.1f}</coordinates></Point></Placemark>"
