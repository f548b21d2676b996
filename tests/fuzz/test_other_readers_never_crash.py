"""Any bytes at all, and mutated logs, as NMEA, KML and tables: a Track or a FlightlogError, nothing else."""

import datetime

from hypothesis import given
from hypothesis import strategies as st

from flightlog.tracks.csv_columns import QUANTITIES, columns_asked
from flightlog.tracks.csv_log import parse_csv
from flightlog.tracks.kinds import is_csv, is_kml, is_nmea
from flightlog.tracks.kml import parse_kml
from flightlog.tracks.nmea import parse_nmea
from flightlog.tracks.plain_names import plain_text
from tests.fuzz.test_readers_never_crash import BOUNDED, EDITS, check, mutated
from tests.unit.other_logs import KML, csv_text, kml_text, nmea, nmea_text

SOUND = {
    parse_nmea: "\n".join(nmea_text().splitlines()[:150]).encode(),
    parse_kml: kml_text()[:9000].encode(),
    parse_csv: "\n".join(csv_text().splitlines()[:80]).encode(),
}
DATES = st.none() | st.dates(datetime.date(1970, 1, 1), datetime.date(2199, 1, 1))
ODD_NUMBERS = st.sampled_from(["", "nan", "inf", "-1e999", "1e308", "0", "-0", "1_0", "\u0663", "x", "12:00", "="])
CELLS = ODD_NUMBERS | st.floats().map(str) | st.datetimes().map(str) | st.text(max_size=8)
FIELDS = st.lists(CELLS | st.sampled_from(["A", "N", "120000"]), max_size=12)
TIMES = st.datetimes().map(lambda moment: moment.isoformat()) | st.sampled_from(
    ["2026", "2026-06", "0001-01-01T00:00:00+23:59", "9999-12-31T23:59:59-23:59", "24:00:00", "1e300", "23:59:60"]
)


@BOUNDED
@given(st.binary(max_size=300), DATES)
def test_any_bytes(data, date):
    for is_it, parse in ((is_nmea, parse_nmea), (is_kml, parse_kml), (is_csv, parse_csv)):
        assert is_it(data) in (True, False)
        check(lambda parse=parse: parse(data, file="x", date=date))


@BOUNDED
@given(EDITS, st.sampled_from(list(SOUND)), DATES)
def test_mutated_logs(edits, parse, date):
    data = mutated(SOUND[parse], edits)
    check(lambda: parse(data, file="x", date=date))


@BOUNDED
@given(st.lists(st.tuples(st.sampled_from(["GPGGA", "GNRMC", "GPVTG"]), FIELDS), max_size=8))
def test_any_sentences(sentences):
    text = "\n".join(nmea(",".join([kind, *cells])) for kind, cells in sentences)
    check(lambda: parse_nmea(text.encode("utf-8", "replace"), file="x"))


@BOUNDED
@given(
    st.lists(st.tuples(TIMES, CELLS, CELLS, CELLS), max_size=8),
    st.sampled_from(["absolute", "", "relativeToGround"]),
)
def test_any_kml_values(rows, mode):
    clean = [
        tuple(plain_text(str(cell)).replace("<", "&lt;").replace("&", "&amp;") for cell in row) for row in rows
    ]
    body = "".join(f"<when>{time}</when><gx:coord>{a} {b} {c}</gx:coord>" for time, a, b, c in clean)
    text = KML.format(f"<Placemark><gx:Track><altitudeMode>{mode}</altitudeMode>{body}</gx:Track></Placemark>")
    check(lambda: parse_kml(text.encode("utf-8", "replace"), file="x"))


@BOUNDED
@given(
    st.lists(st.lists(CELLS | TIMES, min_size=3, max_size=7), max_size=10),
    st.sampled_from([",", ";", "\t", "|"]),
    st.sampled_from(
        ["time,lat,lon,alt", "date,time,lat,lon", "t,lat (rad),lon,alt_ft,tas,hdg", "epoch,lng,lat,qne"]
    ),
)
def test_any_table(rows, separator, header):
    lines = [header.replace(",", separator), *(separator.join(row) for row in rows)]
    data = "\n".join(lines).encode("utf-8", "replace")
    check(lambda: parse_csv(data, file="x"))
    check(lambda: parse_csv(data, file="x", columns={"time": "1", "lat": "2", "lon": "3"}))


@BOUNDED
@given(
    st.text(max_size=60)
    | st.lists(st.sampled_from([*QUANTITIES, "=", ",", "1", "[ft]"]), max_size=12).map("".join)
)
def test_any_wish_for_columns(text):
    try:
        asked = columns_asked(text)
    except ValueError:
        return
    check(lambda: parse_csv(SOUND[parse_csv], file="x", columns=asked))
