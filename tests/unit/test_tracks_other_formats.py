"""NMEA 0183, KML, KMZ and CSV: the same flight comes out of all, and what is odd is said."""

import datetime
import gzip
import io
import math
import sys
import types
import zipfile

import numpy as np
import pytest

from flightlog.errors import TrackFileError
from flightlog.tracks.csv_columns import columns_asked
from flightlog.tracks.kinds import is_csv
from flightlog.tracks.nmea import parse_nmea
from flightlog.tracks.reading import find_logs, is_log, read_log, read_track
from tests.unit.other_logs import KML, csv_text, kml_text, nmea, nmea_text
from tests.unit.small_logs import fixes

FIXES = fixes()
START_S = datetime.datetime(2026, 6, 14, 11, tzinfo=datetime.UTC).timestamp()


def read(tmp_path, text, name="log", **options):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_track(path, **options)


def codes(track):
    return {note.code for note in track.notes}


def check_same_flight(track, *, start_s=START_S, altitude=True):
    second, lat, lon, alt = np.array(FIXES).T
    assert np.array_equal(track.time_s, start_s + second)
    assert np.allclose(track.latitude_deg, lat, atol=2e-7)
    assert np.allclose(track.longitude_deg, lon, atol=2e-7)
    if altitude:
        assert np.allclose(track.gnss_altitude_m, alt, atol=0.06)


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "BD"])
def test_nmea_of_any_talker(tmp_path, talker):
    track = read(tmp_path, nmea_text(talker=talker))
    check_same_flight(track)
    assert (track.format, track.gnss_datum, track.header.date) == ("nmea", "geoid", "2026-06-14")
    assert codes(track) == set()
    assert np.allclose(track.recorded["ground_speed_mps"], 19.4 * 1852 / 3600)
    assert np.allclose(track.recorded["course_deg"], 84.4)
    assert track.line[:3].tolist() == [1, 4, 7]


def test_nmea_sentences_as_published():
    # the example sentences that receiver manuals print for GGA and RMC, with their checksums (common practice)
    text = (
        b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
        b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"
    )
    track = parse_nmea(text, file="x")
    assert track.latitude_deg[0] == pytest.approx(48 + 7.038 / 60)
    assert track.longitude_deg[0] == pytest.approx(11 + 31 / 60)
    assert track.gnss_altitude_m[0] == 545.4
    assert track.header.date == "1994-03-23"
    assert "bad_checksum" not in codes(track)


def test_nmea_with_one_kind_of_sentence(tmp_path):
    heights = read(tmp_path, nmea_text(kinds="GGA"))
    check_same_flight(heights, start_s=11 * 3600.0)
    assert heights.header.date is None
    assert "no_date" in codes(heights)
    check_same_flight(read(tmp_path, nmea_text(kinds="GGA"), date=datetime.date(2026, 6, 14)))
    places = read(tmp_path, nmea_text(kinds="RMC"))
    check_same_flight(places, altitude=False)
    assert places.gnss_altitude_m is None
    assert "no_gnss_altitude" in codes(places)


def test_nmea_damage_is_told(tmp_path):
    lines = nmea_text().splitlines()
    lines[30] = lines[30].replace("4600", "4700")  # the checksum fits no more
    lines[60] = lines[60].partition("*")[0]
    lines[90] = nmea("GPGGA,110030.00,,,,,0,00,,,M,,M,,")
    lines[93] = nmea("GPGGA,110031.00,46xx,N,00800.0,E,1,08,0.9,1500,M,48,M,,")
    track = read(tmp_path, "noise \x00\xff" + "\n".join(lines))
    assert {"bad_checksum", "no_checksum", "no_position", "bad_sentence"} <= codes(track)
    assert next(note.line for note in track.notes if note.code == "bad_checksum") == 31
    assert track.time_s.size == len(FIXES)  # RMC has the position where GGA was damaged
    assert abs(track.latitude_deg - 46).max() < 0.01


def test_nmea_over_midnight(tmp_path):
    lines = [
        nmea(f"GPRMC,{clock},A,4600.000,N,00800.000,E,,,{date},,,A") + "\n"
        + nmea(f"GPGGA,{later},4600.001,N,00800.000,E,1,08,,,M,,M,,")
        for clock, later, date in (("235958", "235959", "311226"), ("000000", "000001", "010127"))
    ]  # fmt: skip
    track = read(tmp_path, "\n".join(lines))
    assert np.diff(track.time_s).tolist() == [1.0, 1.0, 1.0]
    assert track.header.date == "2026-12-31"


def test_nmea_south_and_west(tmp_path):
    track = read(tmp_path, nmea("GPRMC,120000,A,3330.000,S,07030.000,W,,,140626,,,A"))
    assert (track.latitude_deg[0], track.longitude_deg[0]) == (-33.5, -70.5)


@pytest.mark.parametrize("interleaved", [False, True])
def test_kml_track(tmp_path, interleaved):
    track = read(tmp_path, kml_text(interleaved=interleaved))
    check_same_flight(track)
    assert (track.format, track.gnss_datum, track.header.date) == ("kml", "geoid", "2026-06-14")
    assert track.header.other["name"] == "Sunday"
    assert codes(track) == set()


def test_kml_altitude_modes(tmp_path):
    drawn = read(tmp_path, kml_text(mode="clampToGround"))
    check_same_flight(drawn)
    assert {"altitude_mode", "gnss_datum_unknown"} <= codes(drawn)
    assert "gnss_datum_unknown" in codes(read(tmp_path, kml_text(mode="")))
    relative = read(tmp_path, kml_text(mode="relativeToGround"))
    assert relative.gnss_altitude_m is None
    assert "relative_height" in codes(relative)


def test_kml_points_with_time_stamps(tmp_path):
    marks = "".join(
        f"<Placemark><TimeStamp><when>2026-06-14T11:{s // 60:02d}:{s % 60:02d}Z</when></TimeStamp><Point>"
        f"<altitudeMode>absolute</altitudeMode><coordinates>{lon:.7f},{lat:.7f},{alt:.1f}</coordinates></Point></Placemark>"
        for s, lat, lon, alt in FIXES
    )
    check_same_flight(read(tmp_path, KML.format(f"<Document>{marks}</Document>")))


def test_kml_tracks_are_segments_and_uneven_ones_are_told(tmp_path):
    one = "<gx:Track><when>2026-06-14T1{h}:00:00Z</when><when>2026-06-14T1{h}:00:01Z</when>"
    one += "<gx:coord>8 46 900</gx:coord>{more}</gx:Track>"
    body = one.format(h=1, more="") + one.format(h=2, more="<gx:coord>8 46.001 901</gx:coord>")
    track = read(tmp_path, KML.format(f"<Placemark><gx:MultiTrack>{body}</gx:MultiTrack></Placemark>"))
    assert track.segment.tolist() == [0, 1, 1]
    assert "uneven_track" in codes(track)
    assert track.records_read == 4


def test_a_path_without_times_is_refused(tmp_path):
    path = "<Placemark><LineString><coordinates>8,46,900 8,46.1,950</coordinates></LineString></Placemark>"
    with pytest.raises(TrackFileError, match=r"log:1: a path without times \(LineString\); .*gx:Track"):
        read(tmp_path, KML.format(path))
    with pytest.raises(TrackFileError, match="no track"):
        read(tmp_path, KML.format("<Document/>"))
    with pytest.raises(TrackFileError, match="document type or entity"):
        read(tmp_path, '<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/passwd">]>' + kml_text()[21:])


def test_kmz_is_called_as_its_file(tmp_path):
    with zipfile.ZipFile(tmp_path / "sunday.kmz", "w") as archive:
        archive.writestr("doc.kml", kml_text())
        archive.writestr("images/pin.png", b"\x89PNG")
    track = read_track(tmp_path / "sunday.kmz")
    check_same_flight(track)
    assert track.file == "sunday.kmz"


CSV = {
    "plain": (csv_text(), {}),
    "semicolons and decimal commas": (
        csv_text("Time;Latitude;Longitude;Altitude (m)", "{time};{lat:.7f};{lon:.7f};{alt:.1f}").replace(".", ","),
        {},
    ),
    "tabs, feet": (csv_text("timestamp\tlat\tlong\taltitude_ft", "{time}\t{lat:.7f}\t{lon:.7f}\t{feet:.2f}"), {}),
    "seconds since 1970": (csv_text("epoch,lat,lng,ele", "{epoch},{lat:.7f},{lon:.7f},{alt:.1f}"), {}),
    "milliseconds since 1970": (csv_text("unix_time,lat,lng,ele", "{epoch}000,{lat:.7f},{lon:.7f},{alt:.1f}"), {}),
    "date and time apart": (
        csv_text("date,time,lat,lon,alt", "14.06.2026,{clock},{lat:.7f},{lon:.7f},{alt:.1f}"), {}
    ),
    "quoted, comments, a line of units": (
        "# a logger\r\n" + csv_text('"time","lat","lon","alt"', '"{time}","{lat:.7f}","{lon:.7f}","{alt:.1f}"'), {}
    ),
    "columns asked for by name": (
        csv_text("UTC clock,y,x,Height", "{time},{lat:.7f},{lon:.7f},{feet:.2f}"),
        {"columns": "time=UTC clock,lat=y,lon=x,alt=Height [ft]"},
    ),
    "columns asked for by number": (
        csv_text("", "x|{time}|{lat:.7f}|{lon:.7f}|{alt:.1f}").lstrip(),
        {"columns": "time=2,lat=3,lon=4,alt=5 [m]"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", CSV)
def test_tables(tmp_path, kind):
    text, options = CSV[kind]
    track = read(tmp_path, text, **options)
    check_same_flight(track)
    assert track.format == "csv"
    assert track.line[-1] == text.count("\n")


def test_tables_of_simulators_count_seconds_from_the_start(tmp_path):
    rows = [f"{s},{math.radians(lat)!r},{math.radians(lon)!r},{alt:.1f},20" for s, lat, lon, alt in FIXES]
    text = "\n".join(["sim time (s),latitude (rad),longitude (rad),altitude (m),TAS [kt]", *rows])
    track = read(tmp_path, text)
    check_same_flight(track, start_s=0.0)
    assert track.header.date is None
    assert np.allclose(track.recorded["airspeed_mps"], 20 * 1852 / 3600)
    check_same_flight(read(tmp_path, text, date=datetime.date(2026, 6, 14)), start_s=START_S - 11 * 3600)


def test_what_a_table_does_not_say_is_told(tmp_path):
    track = read(tmp_path, csv_text(row="{time:.19},{lat:.7f},{lon:.7f},{alt:.1f}"))
    assert {"unit_unknown", "time_zone_unknown", "gnss_datum_unknown"} <= codes(track)
    odd = csv_text().splitlines()
    odd[5] = "2026-06-14T11:00:04Z,46"
    odd[6] = "noon,46,8,1500"
    odd[7] = "2026-06-14T11:00:06Z,96,8,1500"
    odd[8] = "2026-06-14T11:00:07Z,=1+1,8,1500"
    track = read(tmp_path, "\n".join(odd))
    assert {"short_row", "bad_time", "bad_position"} <= codes(track)
    assert track.time_s.size == len(FIXES) - 4
    assert {note.code: note.line for note in track.notes}["bad_time"] == 7


def test_dates_that_can_be_read_in_two_ways_are_refused(tmp_path):
    text = csv_text("date,time,lat,lon", "03/04/2026,{clock},{lat:.7f},{lon:.7f}")
    with pytest.raises(TrackFileError, match="two ways"):
        read(tmp_path, text)
    assert read(tmp_path, text.replace("03/04", "04/14")).header.date == "2026-04-14"
    assert read(tmp_path, text.replace("03/04", "14/04")).header.date == "2026-04-14"


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("time=1,lat=2,lon=9", "no column '9'"),
        ("time=1,lat=2,lon=3,alt=4 [yd]", "unit that is not known, 'yd'"),
        ("time=when,lat=2,lon=3", "no column 'when'"),
    ],
)
def test_columns_that_are_not_there(tmp_path, asked, found):
    with pytest.raises(TrackFileError, match=found):
        read(tmp_path, csv_text(), columns=asked)


@pytest.mark.parametrize(
    "asked", ["", "time", "time=", "time=1,lat=2", "time=1,lat=2,lon=3,wing=4", "time=1,time=2"]
)
def test_columns_that_cannot_be_understood(asked):
    with pytest.raises(ValueError, match=r"is not NAME=COLUMN|no column is named for lon"):
        columns_asked(asked)


def test_prose_and_other_tables_are_no_logs():
    assert not is_csv(b"Dear all,\nwe flew on time, late, and long.\n")
    assert not is_csv(b"name,age,city\nAda,36,London\n")
    assert not is_log(b"lat,lon\n1,2\n")
    assert is_csv(b"\xef\xbb\xbftime,lat,lon\r\n")
    assert is_csv("time\tlat\tlon\n".encode("utf-16"))


@pytest.mark.parametrize("text", [nmea_text(), kml_text(), csv_text()], ids=["nmea", "kml", "csv"])
def test_gzip_zip_folder_and_standard_input(tmp_path, monkeypatch, text):
    (tmp_path / "a.gz").write_bytes(gzip.compress(text.encode()))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inner/b.txt", text)
    (tmp_path / "c.zip").write_bytes(packed.getvalue())
    (tmp_path / "d.txt").write_text(text, newline="")
    (tmp_path / "notes.txt").write_text("nothing here")
    tracks = [read_log(source) for source in find_logs([tmp_path])]
    assert [track.file for track in tracks] == ["a.gz", "b.txt", "d.txt"]
    for given in (text.encode(), gzip.compress(text.encode()), packed.getvalue()):
        monkeypatch.setattr(sys, "stdin", types.SimpleNamespace(buffer=io.BytesIO(given)))
        tracks.append(read_track("-"))
    for track in tracks:
        check_same_flight(track)
