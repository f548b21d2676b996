"""The IGC format against its specification.

Source of all vectors unless named otherwise: FAI/IGC Technical Specification for GNSS Flight Recorders, Appendix 1
(2008 text), sections 2 to 9, with the digests of the editions AL6 (2020) and AL7 (2022) for the newer forms.
"""

import datetime

import numpy as np
import pytest

from flightlog.tracks.file_dates import date_in_name
from flightlog.tracks.igc import parse_igc
from flightlog.tracks.igc_records import (
    altimeter_setting_pa,
    read_date_line,
    read_declaration,
    read_declared_point,
    read_differential,
    read_event,
    read_extensions,
    read_header_line,
    read_satellites,
)

DEGREES = 1e-7


def read(*lines, file="test.igc", date=None):
    return parse_igc(("\r\n".join(lines) + "\r\n").encode(), file=file, date=date)


def epoch_s(year, month, day, hour=0, minute=0, second=0):
    return datetime.datetime(year, month, day, hour, minute, second, tzinfo=datetime.UTC).timestamp()


def codes(track):
    return {note.code for note in track.notes}


def test_the_sample_fix_with_three_extensions():  # section 9 and preface
    track = read(
        "AXXXABC", "HFDTE160701", "I033638FXA3940SIU4143ENL", "B1602405407121N00249342WA002800042120509950"
    )
    assert track.time_s[0] == epoch_s(2001, 7, 16, 16, 2, 40)
    assert track.latitude_deg[0] == pytest.approx(54.1186833, abs=DEGREES)
    assert track.longitude_deg[0] == pytest.approx(-2.8223667, abs=DEGREES)
    assert (track.pressure_altitude_m[0], track.gnss_altitude_m[0]) == (280.0, 421.0)
    assert track.recorded["position_error_m"][0] == 205.0
    assert (track.recorded["siu"][0], track.recorded["enl"][0]) == (9.0, 950.0)


def test_a_fix_without_extensions():  # section 4.2
    track = read("AXXXABC", "HFDTE160701", "B1045334945333N01132444EA0135701501")
    assert track.time_s[0] == epoch_s(2001, 7, 16, 10, 45, 33)
    assert track.latitude_deg[0] == pytest.approx(49.75555, abs=DEGREES)
    assert track.longitude_deg[0] == pytest.approx(11.5407333, abs=DEGREES)
    assert (track.pressure_altitude_m[0], track.gnss_altitude_m[0]) == (1357.0, 1501.0)


def test_an_event_stands_before_the_fix_of_its_time():  # section 4.2
    track = read("AXXXABC", "HFDTE160701", "E104555EON", "B1045554945333N01132444EA0133701567")
    assert track.header.events == ((epoch_s(2001, 7, 16, 10, 45, 55), "EON", ""),)
    assert track.time_s[0] == track.header.events[0][0]


def test_the_altimeter_setting_event_in_both_printed_forms():  # sections 4.2 and 7
    assert read_event("E104544ATS102312") == (38744.0, "ATS", "102312")
    assert altimeter_setting_pa("102312") == 102312.0
    assert altimeter_setting_pa("1013.2") == pytest.approx(101320.0)
    assert altimeter_setting_pa("QNH") is None


@pytest.mark.parametrize("layout", ["J010812HDT", "J0812HDT"])  # section 4.4 prints it both ways
def test_a_k_record_belongs_to_the_nearest_fix(layout):  # sections 3.5 and 4.4
    track = read(
        "AXXXABC",
        "HFDTE160701",
        layout,
        "B1602445107126N00149300WA0028800429",
        "K16024800090",
        "B1602495107134N00149283WA0029000432",
    )
    assert np.isnan(track.recorded["heading_deg"][0])
    assert track.recorded["heading_deg"][1] == 90.0


def test_satellites_in_use():  # section 9
    second, satellites = read_satellites("F160240040609123624221821")
    assert second == 16 * 3600 + 2 * 60 + 40
    assert satellites == ("04", "06", "09", "12", "36", "24", "22", "18", "21")


def test_differential_station():  # section 9
    assert read_differential("D20331") == (True, "0331")


def test_the_declaration_of_a_task():  # section 9
    declaration = read_declaration("C150701213841160701000102500K Tri")
    assert declaration.declared_date == datetime.date(2001, 7, 15)
    assert declaration.declared_second_of_day == 21 * 3600 + 38 * 60 + 41
    assert declaration.flight_date == datetime.date(2001, 7, 16)
    assert (declaration.task, declaration.turn_points, declaration.text) == ("0001", 2, "500K Tri")


def test_declared_points():  # section 9
    track = read(
        "AXXXABC",
        "HFDTE160701",
        "C150701213841160701000102500K Tri",
        "C5111359N00101899WTAKE-OFF",
        "C5110179N00102644WSTART",
        "C5209092N00255227WFIRST",
        "C5230147N00017612WSECOND",
        "C0000000N00000000ELANDING",
        "B1602405407121N00249342WA0028000421",
    )
    names, latitudes, longitudes = zip(*track.header.declared_task, strict=True)
    assert names == ("TAKE-OFF", "START", "FIRST", "SECOND")  # the landing is left open
    assert latitudes[1:] == pytest.approx((51.16965, 52.1515333, 52.50245), abs=DEGREES)
    assert longitudes[1:] == pytest.approx((-1.0440667, -2.92045, -0.2935333), abs=DEGREES)
    assert track.header.other["TSK"] == "500K Tri"


def test_an_open_point_with_the_printed_zero_too_many():  # section 3.6.3
    assert read_declared_point("C00000000N000000000E")[1:] == (0.0, 0.0)


def test_lad_appends_to_the_minutes():  # rule of section 7; value derived from it
    track = read("AXXXABC", "HFDTE160701", "I023637LAD3839LOD", "B1602405107126N00149342WA00280004213412")
    assert track.latitude_deg[0] == pytest.approx(51.118772333, abs=1e-9)
    assert track.longitude_deg[0] == pytest.approx(
        -(1 + 49.34212 / 60), abs=1e-9
    )  # away from zero in the west too


def test_tds_appends_to_the_seconds():  # section 7
    track = read("AXXXABC", "HFDTE160701", "I013637TDS", "B1602405107126N00149342WA002800042125")
    assert track.time_s[0] == epoch_s(2001, 7, 16, 16, 2, 40) + 0.25
    assert track.has_fractional_seconds


@pytest.mark.parametrize(
    ("line", "date", "number"),
    [
        ("HFDTE160701", datetime.date(2001, 7, 16), None),  # section 3.3.1
        ("HFDTE280709", datetime.date(2009, 7, 28), None),
        ("HFDTEDATE:160701,02", datetime.date(2001, 7, 16), 2),  # AL6: flight number of the day
        ("HFDTE311294", datetime.date(1994, 12, 31), None),  # format of December 1994: 94 to 99 are 19xx
        ("HFDTE010100", datetime.date(2000, 1, 1), None),
    ],
)
def test_dates(line, date, number):
    assert read_date_line(line) == (date, number)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("2003-06-17-XXX-ABC-02.IGC", "2003-06-17"),  # section 2.5.2
        ("36HXABC2.IGC", "17 June of a year that ends in 3"),  # section 2.5.2
        ("16AFXYZ2.IGC", "10 June of a year that ends in 1"),  # section 2.5.5
        ("1CVFXYZ2.IGC", "31 December of a year that ends in 1"),  # section 2.5.1: C is 12, V is 31
        ("monday.igc", ""),
    ],
)
def test_the_date_in_a_file_name_is_offered_when_the_log_has_none(name, says):
    assert date_in_name(name)[0] == says
    track = read("AXXXABC", "B1602405407121N00249342WA0028000421", file=name)
    note = next(note for note in track.notes if note.code == "no_date")
    assert ("its name says" in note.message) == bool(says)
    assert says in note.message
    assert track.header.date is None
    assert track.time_s[0] == epoch_s(1970, 1, 1, 16, 2, 40)


@pytest.mark.parametrize(
    ("line", "code", "value"),
    [
        ("HFPLTPILOTINCHARGE:Nobody Anna", "PLT", "Nobody Anna"),  # section 3.3
        ("HFPLTPILOT:Nobody Anna", "PLT", "Nobody Anna"),  # old form, from memory
        ("HFGTYGLIDERTYPE: Wing 1", "GTY", "Wing 1"),  # section 9 prints the space in one edition
        ("HFDTM100GPSDATUM:WGS-1984", "DTM", "WGS-1984"),
        ("HFDTMGPSDATUM:WGS84", "DTM", "WGS84"),  # AL6
        ("HSCCLCOMPETITION CLASS:FAI-3", "CCL", "FAI-3"),
        ("HFFXA035", "FXA", "035"),
        ("HFTZNTIMEZONE:2", "TZN", "2"),
    ],
)
def test_header_lines(line, code, value):
    header = read_header_line(line)
    assert (header.code, header.value) == (code, value)


def test_altitude_above_the_ellipsoid_is_brought_to_sea_level():  # 4.1: gliding recorders write ELL
    ellipsoid = read(
        "AXXXABC", "HFDTE160701", "HFALGALTGPS:ELL", "HFDTMGPSDATUM:WGS84", "B1602404700000N01000000EA0100001050"
    )
    assert ellipsoid.gnss_datum == "ellipsoid"
    assert ellipsoid.gnss_altitude_m[0] == pytest.approx(1050 - 48.5, abs=2.0)  # geoid in the Alps: 46 to 52 m


def test_altitude_above_the_geoid_is_taken_as_written():  # Sporting Code 7H: foot-launched recorders write GEO
    geoid = read("AXXXABC", "HFDTE160701", "HFALGALTGPS:GEO", "B1602404700000N01000000EA0100001050")
    assert (geoid.gnss_datum, geoid.gnss_altitude_m[0]) == ("geoid", 1050.0)
    silent = read("AXXXABC", "HFDTE160701", "B1602404700000N01000000EA0100001050")
    assert (silent.gnss_datum, silent.gnss_altitude_m[0]) == ("unknown", 1050.0)
    assert "gnss_datum_unknown" in codes(silent)


def test_nil_means_that_there_is_no_such_sensor():  # AL7: NIL, then the field is 00000
    track = read("AXXXABC", "HFDTE160701", "HFALPALTPRESSURE:NIL", "B1602404700000N01000000EA0100001050")
    assert track.pressure_altitude_m is None


def test_midnight_writes_no_new_date():  # section 2.5.4
    track = read(
        "AXXXABC",
        "HFDTE160701",
        "B2359584700000N01000000EA0100001050",
        "B0000014700001N01000000EA0100001050",
    )
    assert np.diff(track.time_s) == 3.0
    assert track.header.date == "2001-07-16"


def test_the_samples_own_oddities_are_read_and_said():
    """Section 9 as printed: a leap of 340 km, a time that goes back, FXA before DTE, S as a source letter."""
    track = read(
        "AXXXABC",
        "HFFXA035",
        "HFDTE160701",
        "HFPLTPILOTINCHARGE: Nobody",
        "HSCIDCOMPETITIONID:XYZ-78910",
        "I033638FXA3940SIU4143ENL",
        "J010812HDT",
        "F160240040609123624221821",
        "B1602405407121N00249342WA002800042120509950",
        "D20331",
        "E160245PEV",
        "B1602455107126N00149300WA002880042919509020",
        "B1602505107134N00149283WA002900043221009015",
        "B1602555107140N00149221WA002900043221009009",
        "F1603000609123624221821",
        "B1603005107150N00149202WA002910043220009015",
        "E160305PEV",
        "B1603055107180N00149185WA002910043521008024",
        "B1603105107212N00149174WA002930043519608024",
        "K16024800090",
        "B1602485107220N00149150WA004940043619008018",
        "B1602525107330N00149127WA004960043919508015",
        "LXXXRURITANIAN STANDARD NATIONALS DAY 1",
        "GREJNGJERJKNJKRE31895478537H43982FJN9248F942389T433T",
    )
    assert track.records_read == track.time_s.size == 9
    assert "time_backward" in codes(track)
    assert track.header.other["CID"] == "XYZ-78910"
    assert track.header.other["SATELLITES"] == "8 to 9 in use"
    assert track.header.other["DGPS"] == "station 0331"
    assert [event[1] for event in track.header.events] == ["PEV", "PEV"]
    assert track.line[0] == 9


def test_legs_of_the_sample_at_five_seconds():  # derived from section 9 on WGS 84
    geod = pytest.importorskip("pyproj").Geod(ellps="WGS84")
    track = read(
        "AXXXABC",
        "HFDTE160701",
        "B1602455107126N00149300WA0028800429",
        "B1602505107134N00149283WA0029000432",
        "B1602555107140N00149221WA0029000432",
        "B1603005107150N00149202WA0029100432",
        "B1603055107180N00149185WA0029100435",
        "B1603105107212N00149174WA0029300435",
    )
    _, _, legs = geod.inv(
        track.longitude_deg[:-1], track.latitude_deg[:-1], track.longitude_deg[1:], track.latitude_deg[1:]
    )
    assert legs == pytest.approx([24.77, 73.20, 28.90, 59.06, 60.71], abs=0.05)


def test_satellite_names_and_lower_case_of_the_newest_rendering():
    """A rendering of 2026 calls satellite names blank-separated and lower case invalid; both are read."""
    assert read_satellites("F160240 04 06 09")[1] == ("04", "06", "09")
    track = read("AXXXABC", "HFDTE160701", "b1045334945333n01132444ea0135701501")
    assert track.latitude_deg[0] == pytest.approx(49.75555, abs=DEGREES)


def test_columns_of_an_i_record():  # section 3.4
    extensions, wrong = read_extensions("I033638FXA3940SIU4143ENL")
    assert wrong == ""
    assert [(extension.first, extension.last, extension.code) for extension in extensions] == [
        (36, 38, "FXA"),
        (39, 40, "SIU"),
        (41, 43, "ENL"),
    ]


def test_recorder_columns_in_si_units():  # section 7: km/h, degrees true, tenths of m/s
    track = read(
        "AXXXABC",
        "HFDTE160701",
        "I073638TAS3941IAS4244GSP4547TRT4850WDI5153WSP5457VAT",
        "B1602404700000N01000000EA0100001050036034072270090018-012",
    )
    recorded = {name: float(values[0]) for name, values in track.recorded.items()}
    assert recorded == pytest.approx(
        {
            "airspeed_mps": 10.0,
            "indicated_airspeed_mps": 34 / 3.6,
            "ground_speed_mps": 20.0,
            "course_deg": 270.0,
            "wind_from_deg": 90.0,
            "wind_mps": 5.0,
            "climb_mps": -1.2,
        }
    )
