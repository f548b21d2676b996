"""GPX against its schema, and against hostile and damaged files.

Source unless named otherwise: gpx.xsd of GPX 1.1, namespace http://www.topografix.com/GPX/1/1.
"""

import datetime

import numpy as np
import pytest

from flightlog.errors import TrackFileError
from flightlog.tracks.gpx import parse_gpx
from flightlog.tracks.kinds import is_gpx

ROOT = '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="recorder 1">'


def point(second, lat="46.0", lon="7.0", ele="1000.0", time=None, more=""):
    time = f"2024-05-01T10:{second // 60:02d}:{second % 60:02d}Z" if time is None else time
    inside = (f"<ele>{ele}</ele>" if ele else "") + (f"<time>{time}</time>" if time else "") + more
    return f'<trkpt lat="{lat}" lon="{lon}">{inside}</trkpt>'


def gpx(*segments, root=ROOT, before="", after=""):
    inner = "".join(f"<trkseg>{segment}</trkseg>" for segment in segments)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{root}{before}<trk><name>A</name>{inner}</trk>{after}</gpx>'


def read(text, **options):
    return parse_gpx(text.encode() if isinstance(text, str) else text, file="test.gpx", **options)


def epoch_s(*parts):
    return datetime.datetime(*parts, tzinfo=datetime.UTC).timestamp()


def codes(track):
    return {note.code for note in track.notes}


def test_namespace_version_and_creator():  # GPX-01
    track = read(gpx(point(0) + point(1)))
    assert track.format == "gpx"
    assert track.header.recorder == "recorder 1"
    assert track.header.other["name"] == "A"
    assert track.header.date == "2024-05-01"


@pytest.mark.parametrize(
    "root",
    [
        '<gpx xmlns="http://www.topografix.com/GPX/1/0" version="1.0" creator="r">',
        '<gpx version="1.1">',
        "<gpx>",
        '<g:gpx xmlns:g="http://www.topografix.com/GPX/1/1" version="1.1" creator="r">',
    ],
)
def test_roots_of_both_versions_and_none(root):  # GPX-01, and what programs leave out
    text = gpx(point(0) + point(1), root=root)
    if root.startswith("<g:"):
        for name in ("gpx", "trk", "trkseg", "trkpt", "ele", "time", "name"):
            text = text.replace(f"<{name}", f"<g:{name}").replace(f"</{name}", f"</g:{name}")
        text = text.replace("<g:g:", "<g:")
    track = read(text)
    assert track.latitude_deg.tolist() == [46.0, 46.0]
    assert track.gnss_altitude_m.tolist() == [1000.0, 1000.0]


def test_routes_and_waypoints_are_no_track():  # GPX-02
    before = '<metadata><author><name>Nobody</name></author></metadata><wpt lat="1" lon="1"/>'
    route = '<rte><rtept lat="2" lon="2"/></rte>'
    track = read(gpx(point(0), before=before + route, after="<extensions><x/></extensions>"))
    assert track.header.pilot == "Nobody"
    assert next(note for note in track.notes if note.code == "not_a_track").count == 2
    with pytest.raises(TrackFileError, match="no track point"):
        read(f"{ROOT}{route}</gpx>")


def test_all_children_of_a_point_may_stand_or_lack():  # GPX-03
    more = "<magvar>2.0</magvar><geoidheight>50</geoidheight><fix>3d</fix><sat>7</sat><hdop>1.2</hdop>"
    extension = '<extensions><e:ele xmlns:e="urn:e">9</e:ele><e:time xmlns:e="urn:e">x</e:time></extensions>'
    track = read(gpx(point(0, more=more + extension) + point(1, ele="")))
    assert track.gnss_altitude_m[0] == 1000.0
    assert np.isnan(track.gnss_altitude_m[1])
    assert track.time_s.tolist() == [epoch_s(2024, 5, 1, 10), epoch_s(2024, 5, 1, 10, 0, 1)]


@pytest.mark.parametrize(
    ("lat", "lon", "good"),
    [
        ("90", "-180", True),
        ("-90.0", "179.9999", True),
        ("90.1", "0", False),
        ("46", "181", False),
        ("x", "7", False),
        ("nan", "7", False),
        ("", "7", False),
    ],
)
def test_bounds_of_positions(lat, lon, good):  # GPX-04
    track = read(gpx(point(0) + point(1, lat=lat, lon=lon)))
    assert track.records_read == 2
    assert track.time_s.size == (2 if good else 1)
    assert ("bad_position" in codes(track)) != good


def test_the_date_line_is_written_as_west():  # GPX-04: longitude 180 is excluded; Track keeps to [-180, 180)
    assert read(gpx(point(0, lon="180.0"))).longitude_deg[0] == -180.0


@pytest.mark.parametrize(
    ("time", "wanted"),
    [
        ("2024-05-01T10:00:00Z", (10, 0, 0)),
        ("2024-05-01T10:00:00.25Z", (10, 0, 0, 250000)),
        ("2024-05-01T12:00:00+02:00", (10, 0, 0)),
        ("2024-05-01T05:30:00-04:30", (10, 0, 0)),
        ("2024-05-01T10:00:00", (10, 0, 0)),  # no zone: UTC
    ],
)
def test_forms_of_time(time, wanted):  # GPX-05: ISO 8601, UTC, fractions allowed
    track = read(gpx(point(0, time=time)))
    assert track.time_s[0] == pytest.approx(epoch_s(2024, 5, 1, *wanted), abs=1e-6)
    assert track.has_fractional_seconds == (len(wanted) == 4)


def test_points_without_a_time_are_left_out():  # GPX-05
    track = read(gpx(point(0) + point(1, time="") + point(2, time="yesterday") + point(3)))
    assert track.time_s.size == 2
    assert next(note for note in track.notes if note.code == "no_time").count == 2
    with pytest.raises(TrackFileError, match="without times"):
        read(gpx(point(0, time="") + point(1, time="")))


def test_the_level_of_elevations_is_not_stated():  # GPX-06
    track = read(gpx(point(0) + point(1)))
    assert track.gnss_datum == "unknown"
    assert track.pressure_altitude_m is None
    assert "gnss_datum_unknown" in codes(track)
    assert read(gpx(point(0, ele="") + point(1, ele=""))).gnss_altitude_m is None


def test_segments_are_counted():  # GPX-07
    track = read(gpx(point(0) + point(1), point(60)))
    assert track.segment.tolist() == [0, 0, 1]


def test_dates_can_be_set():
    track = read(gpx(point(0) + point(1)), date=datetime.date(2026, 6, 6))
    assert track.time_s.tolist() == [epoch_s(2026, 6, 6, 10), epoch_s(2026, 6, 6, 10, 0, 1)]
    assert track.header.date == "2026-06-06"


LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    + ROOT
    + "<trk><name>&b;</name><trkseg>"
    + point(0)
    + "</trkseg></trk></gpx>"
)


@pytest.mark.parametrize(
    "text",
    [
        LAUGHS,
        LAUGHS.replace('<!ENTITY a "ha">', '<!ENTITY a SYSTEM "file:///etc/passwd">'),
        LAUGHS.replace('<!ENTITY a "ha">', '<!ENTITY % a SYSTEM "file:///etc/passwd"> %a;'),
        f'<!DOCTYPE gpx SYSTEM "http://127.0.0.1/x.dtd">{ROOT}<trk><trkseg>{point(0)}</trkseg></trk></gpx>',
        f"<!DOCTYPE gpx>{ROOT}<trk><trkseg>{point(0)}</trkseg></trk></gpx>",
    ],
)
def test_no_document_type_and_no_entity(text):
    with pytest.raises(TrackFileError, match="document type or entity"):
        read(text)


def test_depth_is_bounded():
    with pytest.raises(TrackFileError, match="nested"):
        read(gpx(point(0), before="<a>" * 100_000))


def test_a_file_that_is_cut_off_keeps_its_points():
    text = gpx("".join(point(k) + "\n" for k in range(100)))
    track = read(text[: len(text) // 2])
    assert 40 < track.time_s.size < 60
    cut = next(note for note in track.notes if note.code == "cut_off")
    assert cut.line > 40
    np.testing.assert_array_equal(track.time_s, read(text).time_s[: track.time_s.size])


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (lambda text: ("\n \n" + text).encode(), None),
        (lambda text: b"\xef\xbb\xbf" + text.encode(), None),
        (lambda text: text.replace("UTF-8", "UTF-16").encode("utf-16"), None),
        (
            lambda text: text.replace("UTF-8", "ISO-8859-1").replace("<name>A", "<name>\xe9").encode("latin-1"),
            None,
        ),
        (lambda text: text.replace("UTF-8", "Klingon").encode(), "encoding"),
        (lambda text: b"HTTP/1.1 200 OK\n" + text.encode(), "leading_junk"),
        (lambda text: text.encode().replace(b"<name>A", b"<name>A\xff\xfe"), "damaged_text"),
        (lambda text: text.encode().replace(b"<name>A", b"<name>A\x03\x00"), "damaged_text"),
        (lambda text: text.encode().replace(b"<name>A", b"<name>A & B &nbsp;"), "damaged_text"),
        (lambda text: text.encode() + b"<<<junk", "cut_off"),
    ],
)
def test_encodings_and_junk(make, code):
    data = make(gpx(point(0) + point(1)))
    assert is_gpx(data)
    track = read(data)
    assert track.time_s.size == 2
    assert code is None or code in codes(track)
    if code is None:
        assert codes(track) == {"gnss_datum_unknown"}


@pytest.mark.parametrize("text", ["<html><body><gpx></body></html>", "<gpx", "", "<kml></kml>"])
def test_no_gpx(text):
    with pytest.raises(TrackFileError, match=r"no GPX|no track point"):
        read(text)


def test_the_parser_agrees_with_gpxpy_on_a_plain_file():
    gpxpy = pytest.importorskip("gpxpy")
    text = gpx("".join(point(k, lat=f"{46 + k * 1e-5:.7f}", ele=f"{1000 + k / 7:.2f}") for k in range(50)))
    points = gpxpy.parse(text).tracks[0].segments[0].points
    track = read(text)
    assert track.latitude_deg.tolist() == [p.latitude for p in points]
    assert track.gnss_altitude_m.tolist() == [p.elevation for p in points]
    assert track.time_s.tolist() == [p.time.timestamp() for p in points]
