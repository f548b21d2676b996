"""Any bytes at all: a reader gives a Track or a FlightlogError, nothing else, and soon."""

import datetime
import gzip
import io
import zipfile

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from flightlog.errors import FlightlogError, Note
from flightlog.places import read_places
from flightlog.tracks.gpx import parse_gpx
from flightlog.tracks.health import check_track
from flightlog.tracks.igc import parse_igc
from flightlog.tracks.reading import find_logs, read_log
from flightlog.tracks.track import Track
from flightlog.wings import read_wing

BOUNDED = settings(max_examples=150, deadline=None, derandomize=True, database=None)

RECORDS = st.sampled_from(
    [
        "AXXX001",
        "HFDTE160701",
        "HFDTEDATE:310226,01",
        "HFDTE999999",
        "HFALGALTGPS:ELL",
        "HFALG",
        "HFTZN+99",
        "I023638TAS3940TDS",
        "I033637LAD3839LOD4041TDS",
        "I9936",
        "J010812HDT",
        "K10000100090",
        "E100001PEV",
        "E",
        "F100001",
        "D2",
        "C150701213841160701000102500K Tri",
        "C5110179N00102644W",
        "C",
        "LXXX",
        "G",
        "",
        "<gpx>",
        "B1000004700000N01000000EA0150001550",
        "B1000014700006N01000000EA014990154903612",
        "B1000024700012S17959999WV-001200000",
        "B2400009000000N18000000EA0000000000",
        "B0000000000000N00000000EV0039100000",
        "B1000034760000N01000000EA     -----",
    ]
)
FIXES = st.integers(0, 86_399).map(
    lambda s: f"B{s // 3600:02d}{s // 60 % 60:02d}{s % 60:02d}47{s % 60000:05d}N010{s % 59999:05d}EA0150001550"
)
IGC_TEXT = st.lists(RECORDS | FIXES | st.text(max_size=50), max_size=40)
POINT = st.builds(
    "<trkpt lat='{}' lon='{}'><ele>{}</ele><time>{}</time></trkpt>".format,
    st.floats() | st.text(max_size=5),
    st.floats() | st.integers(-200, 200),
    st.floats() | st.text(max_size=5),
    st.datetimes().map(lambda t: t.isoformat() + "Z") | st.text(max_size=20),
)
GPX_PIECE = POINT | st.sampled_from(
    [
        "<trkseg>",
        "</trkseg>",
        "<trk>",
        "</trk>",
        "</gpx>",
        "<!DOCTYPE x>",
        "<!--",
        "&x;",
        "<![CDATA[",
        "<time>0001-01-01T00:00:00+14:00</time>",
        "<trkpt lat='1' lon='2'><time>9999-12-31T23:59:59-14:00</time></trkpt>",
        "\x00",
    ]
)


def check_message(error):
    """One line that says what was found and what to do."""
    assert "\n" not in str(error)
    assert error.found
    assert error.advice


def check(read):
    """A Track with sound arrays, or a FlightlogError of one line."""
    try:
        track = read()
    except FlightlogError as error:
        check_message(error)
        return
    assert isinstance(track, Track)
    size = track.time_s.size
    assert size >= 1
    assert np.isfinite(track.time_s).all()
    columns = [track.latitude_deg, track.longitude_deg, track.line, track.segment, *track.recorded.values()]
    columns += [a for a in (track.pressure_altitude_m, track.gnss_altitude_m) if a is not None]
    assert all(column.shape == (size,) for column in columns)
    known = ~np.isnan(track.latitude_deg)
    assert known.any()
    assert (np.abs(track.latitude_deg[known]) <= 90).all()
    assert ((track.longitude_deg[known] >= -180) & (track.longitude_deg[known] < 180)).all()
    assert track.records_read >= size
    assert all(isinstance(note, Note) and "\n" not in note.message for note in track.notes)
    check_track(track)


def mutated(data, edits):
    changed = bytearray(data)
    for place, byte, length in edits:
        at = place % (len(changed) + 1)
        changed[at : at + length] = bytes([byte])
    return bytes(changed)


EDITS = st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255), st.integers(0, 40)), max_size=12)
SOUND_IGC = "\r\n".join(
    ["AXXX001", "HFDTE160701", "HFALGALTGPS:ELL", "I033638TAS3940SIU4141TDS", "J010812HDT"]
    + [f"B1000{k:02d}47{k * 6:05d}N01000000EA0{1500 - k}0{1550 - k}036125" for k in range(60)]
    + ["K10000500090", "E100010PEV", "GABC"]
).encode()
SOUND_GPX = (
    "<?xml version='1.0' encoding='UTF-8'?><gpx version='1.1'><trk><name>x</name><trkseg>"
    + "".join(
        f"<trkpt lat='46.{k:03d}' lon='7'><ele>{k}</ele><time>2024-05-01T10:00:{k:02d}Z</time></trkpt>"
        for k in range(60)
    )
    + "</trkseg></trk></gpx>"
).encode()


@BOUNDED
@given(st.binary(max_size=400))
def test_any_bytes(data):
    check(lambda: parse_igc(data, file="x"))
    check(lambda: parse_gpx(data, file="x"))


@BOUNDED
@given(
    IGC_TEXT, st.sampled_from(["\n", "\r\n", "\r"]), st.dates(datetime.date(1970, 1, 1), datetime.date(2199, 1, 1))
)
def test_any_records_in_any_order(lines, end, date):
    data = end.join(lines).encode("utf-8", errors="replace")
    check(lambda: parse_igc(data, file="36HXABC2.IGC"))
    check(lambda: parse_igc(data, file="x", date=date))


@BOUNDED
@given(EDITS)
def test_a_mutated_igc_log(edits):
    data = mutated(SOUND_IGC, edits)
    check(lambda: parse_igc(data, file="x"))


@BOUNDED
@given(EDITS)
def test_a_mutated_gpx_log(edits):
    data = mutated(SOUND_GPX, edits)
    check(lambda: parse_gpx(data, file="x"))


@BOUNDED
@given(st.lists(GPX_PIECE, max_size=15))
def test_any_pieces_of_gpx(pieces):
    data = ("<gpx version='1.1'><trk><trkseg>" + "".join(pieces)).encode("utf-8", errors="replace")
    check(lambda: parse_gpx(data, file="x"))
    check(lambda: parse_gpx(data, file="x", date=datetime.date(2026, 6, 6)))


def packed_gzip(data):
    return gzip.compress(data, mtime=0)


def packed_zip(data):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo("a.igc"), data)
    return buffer.getvalue()


@settings(BOUNDED, max_examples=80)
@given(EDITS, st.sampled_from([packed_gzip, packed_zip]))
def test_a_mutated_archive(tmp_path_factory, edits, pack):
    path = tmp_path_factory.mktemp("archive") / "log"
    path.write_bytes(mutated(pack(SOUND_IGC), edits))
    for source in find_logs([path]):
        check(lambda source=source: read_log(source))


GOOD_PLACES = (
    b'{"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": {"type": "Point", "coordinates":'
    b' [7.5, 46.25]}, "properties": {"name": "A", "elevation_m": 600, "use": ["landing"]}}]}'
)
GOOD_WING = (
    b'name = "W"\nclass = "paraglider"\nempty_kg = 5\nall_up_kg = 95\n'
    b"[[polar]]\nairspeed_mps = 10\nsink_mps = 1.1\n"
)


@BOUNDED
@given(EDITS)
def test_mutated_places_and_wings(tmp_path_factory, edits):
    path = tmp_path_factory.mktemp("files") / "file"
    for good, read in ((GOOD_PLACES, read_places), (GOOD_WING, read_wing)):
        path.write_bytes(mutated(good, edits))
        try:
            read(path)
        except FlightlogError as error:
            check_message(error)
