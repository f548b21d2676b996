"""Tracks in open formats: read back by our reader and by others, the same fixes; nothing moved, nobody named."""

from __future__ import annotations

import csv
import io
import itertools
import json
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace

import gpxpy
import numpy as np
import pyarrow.parquet as pq
import pytest

from flightlog import debrief, read_track
from flightlog.debriefing import Debrief
from flightlog.earth.geoid import geoid_height_m
from flightlog.errors import ReportError
from flightlog.tracks.gpx import parse_gpx
from flightlog.tracks.igc import parse_igc
from flightlog.writers.anonymous import without_names
from flightlog.writers.display import display_in
from flightlog.writers.open_formats.cleaned import CleanTrack, cleaned_track, stretches
from flightlog.writers.open_formats.converting import FORMATS, track_bytes, write_track
from flightlog.writers.open_formats.to_geojson import geojson_bytes
from flightlog.writers.open_formats.to_igc import igc_bytes
from tests.unit.made_debrief import HOSTILE, made_debrief
from tests.unit.small_logs import gpx_text, igc_text, write_log

SPIKED_AT = 150
ENDINGS = tuple(FORMATS)
GPX_ORDER = ["ele", "time", "type"]  # the order of the schema's sequence (gpx.xsd 1.1, wptType), of those we write


KML, GX = "{http://www.opengis.net/kml/2.2}", "{http://www.google.com/kml/ext/2.2}"
"""OGC KML 2.2 (07-147r2), and the extension in which Track stands until KML 2.3 (12-007r2) took it over."""
KML_ORDER = {
    f"{KML}kml": ["Document"],
    f"{KML}Document": ["name", "description", "Style", "Folder"],
    f"{KML}Style": ["LineStyle"],
    f"{KML}LineStyle": ["color", "width"],
    f"{KML}Folder": ["name", "Placemark"],
    f"{KML}Placemark": ["name", "TimeStamp", "styleUrl", "Point", "Track", "MultiTrack"],
    f"{KML}TimeStamp": ["when"],
    f"{KML}Point": ["altitudeMode", "coordinates"],
    f"{GX}MultiTrack": ["altitudeMode", "Track"],
    f"{GX}Track": ["altitudeMode", "when", "coord"],
}
"""The order of the sequences in ogckml22.xsd and kml22gx.xsd, of the elements we write."""


def debriefed(tmp_path, name: str, text: str) -> Debrief:
    return debrief(read_track(write_log(tmp_path / name, text)))


def spiked(text: str) -> str:
    """The log with one fix a degree away, and one written twice."""
    lines = text.split("\r\n")
    at = next(number for number, line in enumerate(lines) if line.startswith("B")) + SPIKED_AT
    degrees = int(lines[at][7:9]) + 1
    lines[at] = f"{lines[at][:7]}{degrees:02d}{lines[at][9:]}"
    lines.insert(at + 60, lines[at + 59])
    return "\r\n".join(lines)


@pytest.fixture(scope="module")
def flown(tmp_path_factory) -> Debrief:
    return debriefed(tmp_path_factory.mktemp("log"), "monday.igc", spiked(igc_text()))


@pytest.fixture(scope="module")
def track(flown) -> CleanTrack:
    return cleaned_track(flown)


def elements(content: bytes, name: str) -> list[ET.Element]:
    return [one for one in ET.fromstring(content).iter() if one.tag.rpartition("}")[2] == name]  # noqa: S314 (ours)


def name_of(element: ET.Element) -> str:
    return element.tag.rpartition("}")[2]


def test_the_track_is_cleaned_and_not_moved(flown, track):
    assert len(track.time_s) == 359  # 360 fixes and a repeat, less the repeat and the spike
    raw = flown.track
    for time_s, latitude, longitude in zip(track.time_s, track.latitude_deg, track.longitude_deg, strict=True):
        at = np.flatnonzero(raw.time_s == time_s)
        assert (latitude, longitude) in set(zip(raw.latitude_deg[at], raw.longitude_deg[at], strict=True))
    assert np.abs(np.diff(track.latitude_deg)).max() < 0.001


def test_stretches_are_the_phases_of_the_results(flown, track):
    found = [(one.flight, one.kind, one.mode) for one in stretches(track) if one.flight]
    told = [(1, phase.kind, phase.mode or "") for phase in flown.flights[0].phases]
    assert [one for one in found if one[1]] == [one for one in told if one in found]
    assert len({kind for _, kind, _ in found}) > 1
    assert next(one.flight for one in stretches(track)) == 0


# ---------------------------------------------------------------- back through our own reader


def test_igc_reads_back_to_the_same_fixes(track):
    again = parse_igc(igc_bytes(track), file="again.igc")
    assert np.array_equal(again.time_s, track.time_s)
    assert np.array_equal(again.latitude_deg, track.latitude_deg)
    assert np.array_equal(again.longitude_deg, track.longitude_deg)
    assert np.array_equal(again.pressure_altitude_m, track.pressure_altitude_m)
    assert np.array_equal(again.gnss_altitude_m, track.gnss_altitude_m)
    assert (again.header.pilot, again.header.date) == ("Ada Example", "2026-06-14")


def test_igc_from_a_finer_gpx_keeps_places_and_fractions(tmp_path):
    text = gpx_text().replace(":30Z</time>", ":30.250Z</time>")
    track = cleaned_track(debriefed(tmp_path, "a.gpx", text))
    again = parse_igc(igc_bytes(track), file="again.igc")
    assert np.abs(again.latitude_deg - track.latitude_deg).max() < 2e-9  # 0.2 mm
    assert np.abs(again.longitude_deg - track.longitude_deg).max() < 2e-9
    assert np.abs(again.time_s - track.time_s).max() < 1e-3
    assert again.has_fractional_seconds
    assert np.abs(again.gnss_altitude_m - track.gnss_altitude_m).max() <= 0.5
    assert again.pressure_altitude_m is None


def test_south_west_and_below_the_sea():
    made = cleaned_track(made_debrief())
    moved = replace(
        made,
        latitude_deg=-np.abs(made.latitude_deg),
        longitude_deg=made.longitude_deg - 8.5,  # both sides of the meridian of Greenwich
        pressure_altitude_m=np.full(len(made.time_s), -212.0),
        gnss_altitude_m=np.full(len(made.time_s), -170.0),
    )
    again = parse_igc(igc_bytes(moved), file="again.igc")
    assert np.abs(again.latitude_deg - moved.latitude_deg).max() < 2e-9
    assert np.abs(again.longitude_deg - moved.longitude_deg).max() < 2e-9
    assert set(again.pressure_altitude_m) == {-212.0}
    assert set(again.gnss_altitude_m) == {-170.0}


def test_igc_across_midnight(track):
    late = replace(track, time_s=track.time_s + 12.96 * 3600.0 // 1)
    assert np.array_equal(parse_igc(igc_bytes(late), file="again.igc").time_s, late.time_s)


def test_an_igc_log_holds_one_day(track):
    time = track.time_s.copy()
    time[200:] += 86400.0
    with pytest.raises(ReportError, match="cut it with --crop"):
        igc_bytes(replace(track, time_s=time))


def test_igc_is_marked_as_unsigned_and_keeps_to_the_layout(track):
    content = igc_bytes(replace(track, pilot="Zoë Ålund $*!" + "x" * 200))
    lines = content.decode("ascii").split("\r\n")
    assert lines[0].startswith("AXXX")  # no approved maker (IGC 2008, 3.1)
    assert not any(line.startswith("G") for line in lines)
    assert any(line.startswith("L") and "NOT SIGNED" in line for line in lines)
    assert all(len(line) <= 76 for line in lines)  # IGC 2008, 2.1
    assert not set("$*!\\^~") & set("".join(lines))  # IGC 2008, 6
    order = "".join(dict.fromkeys(line[0] for line in lines if line))
    assert order == "AHLB"


def test_gpx_reads_back_to_the_same_fixes(track):
    again = parse_gpx(track_bytes_of(track, "gpx"), file="again.gpx")
    assert np.array_equal(again.time_s, track.time_s)
    assert np.abs(again.latitude_deg - track.latitude_deg).max() <= 0.51e-7
    assert np.abs(again.longitude_deg - track.longitude_deg).max() <= 0.51e-7
    assert np.abs(again.gnss_altitude_m - track.altitude_m).max() < 0.051


def track_bytes_of(track: CleanTrack, ending: str) -> bytes:
    return FORMATS[ending](track)


@pytest.mark.parametrize("ending", ["kml", "csv"])
def test_kml_and_tables_read_back_to_the_same_fixes(flown, track, tmp_path, ending):
    again = read_track(write_track(flown, tmp_path / f"again.{ending}"))
    time_s, at = np.unique(again.time_s, return_index=True)  # in KML lines meet: the fix between two stands twice
    assert np.array_equal(time_s, track.time_s)
    assert np.abs(again.latitude_deg[at] - track.latitude_deg).max() <= 0.51e-7
    assert np.abs(again.longitude_deg[at] - track.longitude_deg).max() <= 0.51e-7


def test_results_from_the_converted_log_are_those_of_the_log(flown, tmp_path):
    path = write_track(flown, tmp_path / "again.igc")
    again = debrief(read_track(path))
    first, second = flown.flights[0], again.flights[0]
    assert second.takeoff.time == first.takeoff.time
    assert second.landing.time == first.landing.time
    assert second.max_altitude_m == pytest.approx(first.max_altitude_m, abs=0.01)
    assert [phase.kind for phase in second.phases] == [phase.kind for phase in first.phases]


# ---------------------------------------------------------------- as others read them


def test_gpx_as_gpxpy_reads_it(flown, track):
    gpx = gpxpy.parse(track_bytes(flown, "gpx").decode())
    assert (gpx.version, gpx.author_name) == ("1.1", "Ada Example")
    points = [point for line in gpx.tracks for segment in line.segments for point in segment.points]
    assert [point.time.timestamp() for point in points] == track.time_s.tolist()
    assert [line.name for line in gpx.tracks] == ["On the ground", "Flight 1", "On the ground"]
    assert [waypoint.name for waypoint in gpx.waypoints] == ["Take-off 1", "Landing 1"]


def test_gpx_keeps_to_the_order_of_the_schema(flown):
    content = track_bytes(flown, "gpx")
    root = ET.fromstring(content)  # noqa: S314 (ours)
    assert root.tag == "{http://www.topografix.com/GPX/1/1}gpx"
    groups = list(dict.fromkeys(name_of(child) for child in root))
    assert groups == ["metadata", "wpt", "trk"]  # gpx.xsd 1.1, gpxType
    for point in elements(content, "trkpt"):
        names = [name_of(child) for child in point]
        assert names == [name for name in GPX_ORDER if name in names]
        assert -90.0 <= float(point.get("lat")) <= 90.0
        assert -180.0 <= float(point.get("lon")) < 180.0


def test_geojson_keeps_the_rules(flown):
    """RFC 7946: 3.1.1 positions, 3.1.4 lines of two or more, 3.2 features, 4 ellipsoid heights, 5 box."""
    document = json.loads(track_bytes(flown, "geojson"))
    assert document["type"] == "FeatureCollection"
    west, south, east, north = document["bbox"]
    assert west < east
    for feature in document["features"]:
        assert feature["type"] == "Feature"
        assert isinstance(feature["properties"], dict)
        kind, positions = feature["geometry"]["type"], feature["geometry"]["coordinates"]
        assert kind in ("LineString", "Point")
        rows = [positions] if kind == "Point" else positions
        assert kind == "Point" or len(rows) >= 2
        for longitude, latitude, _ in rows:
            assert west - 1e-4 <= longitude <= east + 1e-4
            assert south - 1e-4 <= latitude <= north + 1e-4
    line = document["features"][0]
    longitude, latitude, height = line["geometry"]["coordinates"][0]
    altitude = line["properties"]["altitudes_m"][0]
    assert height - altitude == pytest.approx(float(geoid_height_m(latitude, longitude)), abs=0.11)
    assert len(line["properties"]["times"]) == len(line["geometry"]["coordinates"])


def test_geojson_phases_meet_and_cover_the_whole_track(flown, track):
    document = json.loads(track_bytes(flown, "geojson"))
    lines = [one for one in document["features"] if one["geometry"]["type"] == "LineString"]
    for one, following in itertools.pairwise(lines):
        assert one["geometry"]["coordinates"][-1] == following["geometry"]["coordinates"][0]
    times = {time for one in lines for time in one["properties"]["times"]}
    assert len(times) == len(track.time_s)


def test_geojson_is_cut_at_gaps_and_at_the_180th_meridian():
    made = cleaned_track(made_debrief())  # half a minute is missing in its middle
    moved = replace(made, longitude_deg=(made.longitude_deg - 8.0 + 179.99 + 180.0) % 360.0 - 180.0, events=())
    document = json.loads(geojson_bytes(moved))
    west, _, east, _ = document["bbox"]
    assert west > 179.0  # RFC 7946, 5.2: the box goes on past the meridian
    assert east < -179.0
    parts = []
    for feature in document["features"]:
        geometry = feature["geometry"]
        parts += geometry["coordinates"] if geometry["type"] == "MultiLineString" else [geometry["coordinates"]]
    for part in parts:
        longitudes = [position[0] for position in part]
        assert max(longitudes) - min(longitudes) < 1.0
    gap = next(one for one in document["features"] if one["geometry"]["type"] == "MultiLineString")
    assert [len(times) for times in gap["properties"]["times"]] == [
        len(line) for line in gap["geometry"]["coordinates"]
    ]


def test_kml_tracks_hold_a_time_for_every_place(flown, track):
    content = track_bytes(flown, "kml")
    tracks = elements(content, "Track")
    assert tracks
    seen = set()
    for one in tracks:
        names = [name_of(child) for child in one]
        count = names.count("when")
        assert names == ["altitudeMode", *["when"] * count, *["coord"] * count]  # the order of the schema
        assert one[0].text == "absolute"
        seen |= {child.text for child in one if name_of(child) == "when"}
        for child in one:
            if name_of(child) == "coord":
                longitude, latitude, altitude = map(float, child.text.split(" "))
                assert 7.0 < longitude < 9.0
                assert 45.0 < latitude < 47.0
                assert 500.0 < altitude < 3000.0
    assert len(seen) == len(track.time_s)
    styles = {one.get("id") for one in elements(content, "Style")}
    assert {one.text.removeprefix("#") for one in elements(content, "styleUrl")} <= styles


@pytest.mark.parametrize("has_gap", [False, True])
def test_kml_keeps_the_schemas_of_2_2_and_of_its_extension(tmp_path, has_gap):
    lines = igc_text().split("\r\n")
    if has_gap:
        fixes = [number for number, line in enumerate(lines) if line.startswith("B")]
        lines = [line for number, line in enumerate(lines) if number not in fixes[150:190]]
    root = ET.fromstring(track_bytes(debriefed(tmp_path, "monday.igc", "\r\n".join(lines)), "kml"))  # noqa: S314
    assert root.tag == f"{KML}kml"
    multi = 0
    for parent in root.iter():
        children = [name_of(child) for child in parent]
        if not children:
            continue
        order = KML_ORDER[parent.tag]  # nothing stands in another namespace, or where no schema has it
        assert children == sorted(children, key=order.index)
        for child in parent:
            is_extension = name_of(child) in ("Track", "MultiTrack", "coord")
            assert child.tag.startswith(GX if is_extension else KML)
        multi += parent.tag == f"{GX}MultiTrack"
    assert bool(multi) is has_gap


def test_csv_as_the_csv_module_reads_it(flown, track):
    rows = list(csv.DictReader(io.StringIO(track_bytes(flown, "csv").decode("ascii"))))
    assert len(rows) == len(track.time_s)
    assert [float(row["latitude_deg"]) for row in rows] == pytest.approx(track.latitude_deg.tolist(), abs=1e-7)
    assert {row["flight"] for row in rows} == {"", "1"}
    assert rows[0]["time"] == "2026-06-14T11:00:00Z"


def test_csv_holds_no_text_that_a_spreadsheet_would_run():
    bad = made_debrief(pilot="=cmd()", file="@SUM(A1).igc", place="+1", note="-1")
    for row in csv.reader(io.StringIO(track_bytes(bad, "csv").decode("ascii"))):
        for cell in row:
            assert not cell.startswith(("=", "@", "+", "\t", "\r"))
            assert not cell.startswith("-") or float(cell) < 0.0


def test_parquet_as_pyarrow_reads_it(flown, track):
    table = pq.read_table(io.BytesIO(track_bytes(flown, "parquet")))
    assert str(table.schema.field("time").type) == "timestamp[us, tz=UTC]"
    assert [time.timestamp() for time in table["time"].to_pylist()] == track.time_s.tolist()
    assert table["latitude_deg"].to_pylist() == track.latitude_deg.tolist()
    assert set(table["flight"].to_pylist()) == {None, 1}
    assert table["pressure_altitude_m"].null_count == 0


def test_what_is_not_known_is_null_in_parquet_and_empty_in_csv(tmp_path):
    flown = debriefed(tmp_path, "a.gpx", gpx_text())
    table = pq.read_table(io.BytesIO(track_bytes(flown, "parquet")))
    assert table["pressure_altitude_m"].null_count == table.num_rows
    rows = csv.DictReader(io.StringIO(track_bytes(flown, "csv").decode("ascii")))
    assert {row["pressure_altitude_m"] for row in rows} == {""}


def test_parquet_without_pyarrow_says_what_to_install(flown, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(ReportError, match="pyarrow, which is not installed; install it by: pip install"):
        track_bytes(flown, "parquet")


# ---------------------------------------------------------------- names, hostile texts, crops, files


@pytest.mark.parametrize("ending", ENDINGS)
def test_anonymous_names_nobody_and_moves_nothing(ending, tmp_path):
    text = igc_text(pilot="Ada Example").replace("AXXXABC", "AXXXSN-4711\r\nHFGIDGLIDERID:D-1234")
    named = debriefed(tmp_path, "ada-example.igc", text)
    content = track_bytes(without_names(named), ending)
    for word in (b"Ada Example", b"ada-example", b"4711", b"D-1234"):
        assert word not in content
    one, other = cleaned_track(named), cleaned_track(without_names(named))
    assert np.array_equal(one.latitude_deg, other.latitude_deg)
    assert np.array_equal(one.longitude_deg, other.longitude_deg)
    assert np.array_equal(one.time_s, other.time_s)


@pytest.mark.parametrize("ending", ENDINGS)
def test_serial_numbers_are_not_passed_on(ending, tmp_path):
    text = igc_text().replace("AXXXABC", "AXXXSN-4711")
    assert b"4711" not in track_bytes(debriefed(tmp_path, "a.igc", text), ending)


@pytest.mark.parametrize("ending", ["gpx", "kml"])
def test_hostile_names_stay_texts_in_xml(ending):
    bad = f"{HOSTILE}]]><trk></Document>\x00\x1b"
    content = track_bytes(made_debrief(pilot=bad, file=f"{bad}.igc", place=bad), ending)
    root = ET.fromstring(content)  # noqa: S314 (ours)
    assert any("<script>alert" in (one.text or "") for one in root.iter())
    assert not elements(content, "script")


@pytest.mark.parametrize("ending", ENDINGS)
def test_the_same_log_gives_the_same_bytes(flown, ending):
    assert track_bytes(flown, ending) == track_bytes(flown, ending)


def times_in(content: bytes) -> list[str]:
    return [row["time"] for row in csv.DictReader(io.StringIO(content.decode("ascii")))]


@pytest.mark.parametrize(
    ("crop", "zone"),
    [
        (("13:02:00", "13:04:00"), None),  # the place has UTC+2 in June
        (("2026-06-14T11:02:00Z", "2026-06-14T11:04:00Z"), None),
        (("2026-06-14T13:02:00", "2026-06-14T12:04:00+01:00"), None),
        (("16:47", "16:49"), "Asia/Kathmandu"),
    ],
)
def test_crop_to_times_in_the_zone_of_the_log(flown, crop, zone):
    show = display_in("metric", zone) if zone else None
    times = times_in(track_bytes(flown, "csv", crop=crop, display=show))
    assert times[0] == "2026-06-14T11:02:00Z"
    assert times[-1] == "2026-06-14T11:04:00Z"


def test_a_crop_over_midnight(flown):
    show = display_in("metric", "Pacific/Auckland")  # 23:00 there at 11:00 UTC
    late = replace(flown, motion=replace(flown.motion, time_s=flown.motion.time_s + 3420.0))
    times = times_in(track_bytes(late, "csv", crop=("23:59:00", "00:01:00"), display=show))
    assert (times[0], times[-1]) == ("2026-06-14T11:59:00Z", "2026-06-14T12:01:00Z")
    times = times_in(track_bytes(late, "csv", crop=("00:01", "00:02"), display=show))
    assert (times[0], times[-1]) == ("2026-06-14T12:01:00Z", "2026-06-14T12:02:00Z")


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("crop", [("13:02:00", "13:02:00"), ("13:02:00", "13:02:01")])
def test_a_crop_of_one_or_two_fixes_can_be_written(flown, ending, crop):
    assert track_bytes(flown, ending, crop=crop)


def test_events_outside_a_crop_are_left_out(flown):
    gpx = gpxpy.parse(track_bytes(flown, "gpx", crop=("13:02:00", "13:04:00")).decode())
    assert not gpx.waypoints


@pytest.mark.parametrize(
    ("crop", "message"),
    [
        (("09:00", "09:30"), r"no fix lies between 09:00 and 09:30; the log runs from 2026-06-14 13:00:00 to"),
        (("noon", "13:00"), "'noon' is no time; write 14:05:00"),
        (("13:61", "14:00"), "'13:61' is no time"),
        (("25:00", "26:00"), "'25:00' is no time"),
    ],
)
def test_a_crop_that_cannot_be(flown, crop, message):
    with pytest.raises(ReportError, match=message):
        track_bytes(flown, "csv", crop=crop)


def test_another_file_is_left_alone(flown, tmp_path):
    path = tmp_path / "monday.gpx"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match="another file stands there"):
        write_track(flown, path)
    assert path.read_text(encoding="utf-8") == "mine"
    write_track(flown, path, force=True)
    content = path.read_bytes()
    assert content.startswith(b"<?xml")
    assert write_track(flown, path) == path  # the same to the byte


def test_an_ending_that_names_no_format(flown, tmp_path):
    with pytest.raises(ReportError, match=r"\.doc names no format; use one of \.gpx"):
        write_track(flown, tmp_path / "a.doc")
