"""Odd logs as recorders, phones and programs really write them: one test for each oddity met in practice.

Where the literal text was seen in a public report, or follows from the specification, the comment says so;
"from memory" marks what is common knowledge of the trade without a source.
"""

import datetime
from pathlib import Path

import numpy as np
import pytest

from flightlog.errors import TrackFileError
from flightlog.tracks.health import check_track
from flightlog.tracks.igc import parse_igc
from flightlog.tracks.igc_records import read_date_line, read_header_line

HEAD = ("AXXX001", "HFDTE160701", "HFALGALTGPS:GEO", "HFDTM100GPSDATUM:WGS-1984")


def read(*lines, end="\r\n", file="test.igc", **options):
    return parse_igc(end.join([*lines, ""]).encode(), file=file, **options)


def fix(second, latitude="4700000N", longitude="01000000E", flag="A", pressure="01000", gnss="01050", more=""):
    """A B record `second` seconds after 10:00:00."""
    time = f"{10 + second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
    return f"B{time}{latitude}{longitude}{flag}{pressure}{gnss}{more}"


def glide(count, start=0, **options):
    """Fixes a second apart, going north at about 11 m/s and down at 1 m/s."""
    return [
        fix(start + k, f"47{k * 6 % 60000:05d}N", pressure=f"{1500 - k:05d}", gnss=f"{1550 - k:05d}", **options)
        for k in range(count)
    ]


def note(track, code):
    found = [note for note in track.notes if note.code == code]
    assert found, f"no note {code} among {[note.code for note in track.notes]}"
    return found[0]


def codes(track):
    return {note.code for note in track.notes}


def epoch_s(year, month, day, hour=0, minute=0, second=0):
    return datetime.datetime(year, month, day, hour, minute, second, tzinfo=datetime.UTC).timestamp()


def test_the_long_date_form():
    # BAD-01: HFDTEDATE:010918,01, read in a public issue tracker; other programs failed on it for years
    track = read("AXXX001", "HFDTEDATE:010918,01", *glide(3))
    assert track.header.date == "2018-09-01"
    assert track.time_s[0] == epoch_s(2018, 9, 1, 10)


@pytest.mark.parametrize("line", ["HFDTEDATE060626", "HFDTE DATE:060626", "HPDTE060626", "HFDTE:060626"])
def test_date_forms_with_and_without_colon(line):
    # BAD-02: the first form read in a report, the others from memory
    assert read_date_line(line)[0] == datetime.date(2026, 6, 6)
    assert read("AXXX001", line, *glide(3)).header.date == "2026-06-06"


def test_no_date_at_all():
    # BAD-03: an airborne start leaves the date out, read in a report; the long file name may hold it
    track = read("AXXX001", *glide(3), file="2026-06-06-XXX-001-02.IGC")
    assert track.header.date is None
    assert track.time_s[0] == epoch_s(1970, 1, 1, 10)
    assert "2026-06-06" in note(track, "no_date").message


def test_a_date_that_is_given_stands_in_for_the_logs_own():
    # BAD-03 and BAD-04: what a pilot does about them
    day = datetime.date(2026, 6, 6)
    for header in ([], ["HFDTE010170"], ["HFDTE160701"]):
        track = read("AXXX001", *header, *glide(3), date=day)
        assert track.header.date == "2026-06-06"
        assert track.time_s[0] == epoch_s(2026, 6, 6, 10)
        assert "no_date" not in codes(track)


def test_a_clock_that_was_not_set():
    # BAD-04: HFDTE010170, read in a report: no date rather than a wrong one
    track = read("AXXX001", "HFDTE010170", *glide(3))
    assert track.header.date is None
    assert note(track, "clock_not_set").line == 2
    assert "no_date" in codes(track)


def test_a_rolled_over_week_count_is_seen_beside_the_file_name():
    # BAD-04: 1024 weeks lie between the two dates (arithmetic)
    day = datetime.date(2026, 6, 6)
    rolled = day - datetime.timedelta(weeks=1024)
    track = read("AXXX001", f"HFDTE{rolled:%d%m%y}", *glide(3), file=f"{day}-XXX-001-01.IGC")
    assert "rolled over" in note(track, "date_differs_from_name").message


def test_the_same_date_again_is_no_new_flight():
    # BAD-05, from memory
    track = read(*HEAD, *glide(3), "HFDTE160701", *glide(3, start=3))
    assert np.all(np.diff(track.time_s) == 1.0)
    assert np.all(track.segment == 0)
    assert "repeated_date" in codes(track)


def test_several_dates_in_one_file():
    # BAD-05, from memory: each date holds for the fixes after it
    track = read(*HEAD, *glide(3), "HFDTE180701", *glide(3))
    assert track.time_s[0] == epoch_s(2001, 7, 16, 10)
    assert track.time_s[3] == epoch_s(2001, 7, 18, 10)
    assert note(track, "several_dates").line == 8


def test_a_new_date_written_shortly_before_midnight():
    # BAD-05, from memory: the date changes with the recorder's clock a moment too early
    track = read(
        "AXXX001",
        "HFDTE160701",
        "B2359554700000N01000000EA0100001050",
        "HFDTE170701",
        "B2359584700001N01000000EA0100001050",
        "B0000014700002N01000000EA0100001050",
    )
    assert np.all(np.diff(track.time_s) == 3.0)


def test_any_source_letter():
    # BAD-06: HSCCLCOMPETITION CLASS:FAI-3, read in a public issue tracker (S is a misprint of the specification)
    track = read(*HEAD, "HSCCLCOMPETITION CLASS:FAI-3", *glide(3))
    assert track.header.other["CCL"] == "FAI-3"


def test_observer_source_and_mixed_case():
    # BAD-07: HODTM100GPSDATUM:WGS-84 and HOSITSite:?, read in reports
    track = read("AXXX001", "HFDTE160701", "HODTM100GPSDATUM:WGS-84", "HOSITSite:Somewhere", *glide(3))
    assert track.header.site == "Somewhere"
    assert "no_map_datum" not in codes(track)


@pytest.mark.parametrize(
    ("line", "datum"),
    [("HFALG:GEO", "geoid"), ("HFALGGEO", "geoid"), ("HFALGALTGPS:ELL", "ellipsoid"), ("HFALGELL", "ellipsoid")],
)
def test_altitude_level_with_and_without_name_and_colon(line, datum):
    # BAD-08: forms read in reports
    assert read("AXXX001", "HFDTE160701", line, *glide(3)).gnss_datum == datum


@pytest.mark.parametrize("line", ["HFALPISA", "HFALPALTPRESSURE:ISA"])
def test_pressure_level_with_and_without_name_and_colon(line):
    # BAD-08: forms read in reports
    assert read_header_line(line).value == "ISA"
    assert read(*HEAD, line, *glide(3)).pressure_altitude_m is not None


def test_no_map_datum_is_taken_as_wgs_84():
    # BAD-09: read in reports
    track = read("AXXX001", "HFDTE160701", "HFGPSANYRECEIVER,12", *glide(3))
    assert "WGS 84" in note(track, "no_map_datum").message
    assert track.header.other["GPS"] == "ANYRECEIVER,12"


def test_first_fixes_at_zero_with_flag_v():
    # BAD-10: B2243510000000N00000000EV0039100000, read in a report; the clock is not set either
    lines = ["B2243510000000N00000000EV0039100000", fix(0, "0000000N", "00000000E", "V", "00391", "00000")]
    track = read(*HEAD, *lines, *glide(3, start=1))
    assert track.records_read == 5
    assert note(track, "clock_not_set").count == 1  # the one of 22:43
    assert note(track, "no_position").count == 2
    assert np.isnan(track.latitude_deg[0])
    assert track.pressure_altitude_m[0] == 391.0
    assert np.isnan(track.gnss_altitude_m[0])
    assert track.time_s[0] == epoch_s(2001, 7, 16, 10)


def test_zero_position_with_flag_a():
    # BAD-11, from memory
    track = read(*HEAD, fix(0, "0000000N", "00000000E"), *glide(3, start=1))
    assert np.isnan(track.latitude_deg[0])
    assert np.isnan(track.longitude_deg[0])
    assert track.pressure_altitude_m[0] == 1000.0


def test_no_barometer_writes_zeros():
    # BAD-12: Sporting Code 7H allows 00000
    lines = [line[:25] + "00000" + line[30:] for line in glide(30)]
    track = read(*HEAD, *lines)
    assert track.pressure_altitude_m is None
    assert "no_pressure_altitude" in codes(track)
    assert "pressure_dropout" not in codes(track)


def test_a_constant_is_no_measurement():
    # BAD-12, from memory
    lines = [line[:25] + "00123" + line[30:] for line in glide(30)]
    track = read(*HEAD, *lines)
    assert track.pressure_altitude_m is None
    assert track.gnss_altitude_m is not None


def test_pressure_altitude_copied_from_gnss():
    # BAD-12, from memory
    lines = [line[:25] + line[30:35] * 2 for line in glide(30)]
    track = read(*HEAD, *lines)
    assert track.pressure_altitude_m is None
    assert "pressure_copied" in codes(track)
    assert track.gnss_altitude_m[0] == 1550.0


def test_a_drop_out_of_gnss_altitude_is_no_dive():
    # BAD-13: V and 00000 amid good fixes (IGC-2008, 2.4)
    lines = glide(30)
    lines[10] = lines[10][:24] + "V" + lines[10][25:30] + "00000"
    lines[20] = lines[20][:30] + "00000"
    track = read(*HEAD, *lines)
    assert np.flatnonzero(np.isnan(track.gnss_altitude_m)).tolist() == [10, 20]
    assert not np.isnan(track.latitude_deg[10])  # a 2D fix has its own position
    assert not np.isnan(track.pressure_altitude_m).any()


def test_a_drop_out_of_pressure_altitude():
    # BAD-13, the same for the barometer
    lines = glide(30)
    lines[10] = lines[10][:25] + "00000" + lines[10][30:]
    track = read(*HEAD, *lines)
    assert np.flatnonzero(np.isnan(track.pressure_altitude_m)).tolist() == [10]
    assert note(track, "pressure_dropout").line == len(HEAD) + 11


def test_zero_altitude_by_the_sea_is_an_altitude():
    # the other side of BAD-13: a soaring flight along the beach
    heights = [6, 4, 2, 1, 0, 0, 1, 3, 5]
    lines = [fix(k, f"47{k * 6:05d}N", pressure=f"{h:05d}", gnss=f"{h + 1:05d}") for k, h in enumerate(heights)]
    track = read(*HEAD, *lines)
    assert track.pressure_altitude_m.tolist() == heights


@pytest.mark.parametrize("text", ["-0012", "0-012", "  -12", " -012"])
def test_negative_altitudes(text):
    # BAD-14: the first form is the specification's, the others from memory
    track = read(*HEAD, fix(0, pressure=text, gnss="-0003"), fix(1, "4700006N", pressure="-0013", gnss=text))
    assert track.pressure_altitude_m.tolist() == [-12.0, -13.0]
    assert track.gnss_altitude_m.tolist() == [-3.0, -12.0]


def test_a_negative_altitude_that_lost_its_padding():
    # BAD-14, from memory: -012 for -0012, the record is one byte short, the altitudes after it still count
    track = read(*HEAD, "I013638TAS", fix(0, pressure="-012", gnss="00040", more="036"), fix(1, more="036"))
    assert track.pressure_altitude_m.tolist() == [-12.0, 1000.0]
    assert track.gnss_altitude_m.tolist() == [40.0, 1050.0]
    assert track.recorded["airspeed_mps"] == pytest.approx([10.0, 10.0])


def test_more_bytes_than_explained():
    # BAD-15, from memory
    track = read(*HEAD, *glide(3, more="123456"))
    assert track.time_s.size == 3
    assert note(track, "extra_bytes").count == 3
    assert not track.recorded


def test_fewer_bytes_than_promised():
    # BAD-15, from memory: the 35 bytes count
    track = read(*HEAD, "I013638TAS", fix(0, more="036"), fix(1), fix(2, more="036"))
    assert track.time_s.size == 3
    assert note(track, "short_extension").line == len(HEAD) + 3
    assert np.isnan(track.recorded["airspeed_mps"][1])


@pytest.mark.parametrize(
    "layout", ["I033638TAS3940SIU", "I013638TAS3940SIU", "I023638TAS4039SIU", "I033638TAS3739FXA3940SIU", "I0136"]
)
def test_a_wrong_i_record(layout):
    # BAD-16, from memory: wrong count, end before start, overlap, cut off
    track = read(*HEAD, layout, *glide(3, more="03609"))
    assert "bad_extension_record" in codes(track)
    assert track.time_s.size == 3
    if "TAS" in layout:
        assert track.recorded["airspeed_mps"] == pytest.approx(10.0)


def test_an_i_record_that_points_into_the_fix():
    # BAD-16, from memory: bytes below 36 are the fix's own
    track = read(*HEAD, "I022530XXX3638TAS", *glide(3, more="036"))
    assert set(track.recorded) == {"airspeed_mps"}


@pytest.mark.parametrize("end", ["\n", "\r", "\r\r\n", "\r\n\r\n", "  \r\n"])
def test_line_ends(end):
    # BAD-17, from memory
    track = read(*HEAD, *glide(5), end=end)
    assert track.time_s.size == 5
    assert track.header.date == "2001-07-16"
    assert not codes(track) & {"unknown_record", "extra_bytes", "no_a_record"}


def test_lines_are_counted_as_an_editor_counts_them():
    # BAD-17: every note names its line
    for end in ("\n", "\r", "\r\n"):
        assert read(*HEAD, *glide(5), end=end).line.tolist() == [5, 6, 7, 8, 9]


def test_byte_order_mark_and_nul_padding():
    # BAD-17, from memory
    text = "\r\n".join([*HEAD, *glide(5), ""]).encode()
    track = parse_igc(b"\xef\xbb\xbf" + text + b"\0" * 500, file="test.igc")
    assert track.time_s.size == 5
    assert {"byte_order_mark", "nul_bytes"} <= codes(track)
    assert "no_a_record" not in codes(track)


def test_a_last_line_that_is_cut_off():
    # BAD-17, from memory
    text = "\r\n".join([*HEAD, *glide(5)]).encode()[:-12]
    track = parse_igc(text, file="test.igc")
    assert track.time_s.size == 4
    assert note(track, "cut_off").line == 9
    assert track.records_read == 5


def test_lower_case():
    # BAD-18, from memory
    plain, small = read(*HEAD, *glide(5)), read(*(line.lower() for line in [*HEAD, *glide(5)]))
    np.testing.assert_array_equal(plain.latitude_deg, small.latitude_deg)
    np.testing.assert_array_equal(plain.time_s, small.time_s)
    assert small.header.date == "2001-07-16"


@pytest.mark.parametrize("latitude", ["4760000N", "9000001N", "9530999N", "47000x0N", "4700000Q"])
def test_a_place_that_does_not_exist(latitude):
    # BAD-18, from memory: the position goes, the pressure altitude stays
    track = read(*HEAD, *glide(3), fix(3, latitude), *glide(3, start=4))
    assert np.isnan(track.latitude_deg[3])
    assert track.pressure_altitude_m[3] == 1000.0
    assert note(track, "bad_position").line == len(HEAD) + 4


def test_duplicate_and_backward_times_are_kept_in_the_order_of_the_file():
    # BAD-19, from memory
    track = read(*HEAD, fix(0), fix(1), fix(1), fix(2), fix(1), fix(3))
    assert np.diff(track.time_s).tolist() == [1, 0, 1, -1, 2]
    assert note(track, "duplicate_time").count == 1
    assert note(track, "time_backward").line == len(HEAD) + 5


def test_24_hours_are_the_next_midnight_and_second_60_is_a_leap_second():
    # BAD-19, from memory
    track = read(
        "AXXX001",
        "HFDTE160701",
        "B2359604700000N01000000EA0100001050",
        "B2400004700001N01000000EA0100001050",
        "B0000014700002N01000000EA0100001050",
    )
    assert track.time_s.tolist() == [epoch_s(2001, 7, 17), epoch_s(2001, 7, 17), epoch_s(2001, 7, 17, 0, 0, 1)]


def test_one_wrong_time_is_no_midnight():
    # BAD-19, from memory: a single 00:00:00 amid a flight must not move the rest by a day
    line = "B0000004700000N01000000EA0100001050"
    track = read("AXXX001", "HFDTE160701", *glide(3, start=7200), line, *glide(3, start=7203))
    assert track.time_s[-1] == epoch_s(2001, 7, 16, 12, 0, 5)


def test_one_late_time_in_the_morning_is_no_midnight():
    # BAD-19, from memory: a single 23:59:59 amid a flight, the same the other way
    line = "B2359594700000N01000000EA0100001050"
    track = read("AXXX001", "HFDTE160701", *glide(3), line, *glide(3, start=3))
    assert track.time_s[-1] == epoch_s(2001, 7, 16, 10, 0, 5)


def test_a_long_silence_is_no_midnight():
    # IGC-2008, 2.5.4: only a fall of the time is midnight
    lines = [fix(0), "B2330004700000N01000000EA0100001050", "B0010004700000N01000000EA0100001050"]
    track = read("AXXX001", "HFDTE160701", *lines, "B1500004700000N01000000EA0100001050")
    hours = (track.time_s - epoch_s(2001, 7, 16)) / 3600
    assert hours.tolist() == pytest.approx([10.0, 23.5, 24 + 1 / 6, 39.0])


def test_a_date_that_another_follows_before_any_fix():
    # BAD-05: the last one before the fixes holds
    track = read("AXXX001", "HFDTE150701", "HFDTE160701", *glide(3))
    assert track.header.date == "2001-07-16"
    assert track.time_s[0] == epoch_s(2001, 7, 16, 10)


def test_signature_and_comments_anywhere():
    # BAD-20: proprietary lines between fixes read in reports; L after G allowed (AL6)
    lines = [text for line in glide(5) for text in (line, "LXXXANYTHING AT ALL")]
    track = read(*HEAD, *lines, "GABCDEF", "LPLTAFTER THE SIGNATURE", "GMORE")
    assert track.time_s.size == 5
    assert not track.notes


def test_no_a_record():
    # BAD-21, from memory
    track = read("HFDTE160701", *glide(3))
    assert note(track, "no_a_record").line == 1
    assert track.header.recorder_id is None


def test_joined_recordings_are_split_at_the_a_record():
    # BAD-21, from memory: each with its own date and columns
    second = ("AXXX002", "HFDTE170701", "I013638ENL", *glide(3, more="009"))
    track = read(*HEAD, "I013638TAS", *glide(3, more="036"), *second)
    assert track.segment.tolist() == [0, 0, 0, 1, 1, 1]
    assert track.time_s[3] == epoch_s(2001, 7, 17, 10)
    assert note(track, "joined_files").line == 9
    assert track.header.recorder_id == "XXX001"
    assert track.recorded["airspeed_mps"][0] == pytest.approx(10.0)
    assert np.isnan(track.recorded["airspeed_mps"][3])
    assert track.recorded["enl"][3] == 9.0


def test_local_times_show_by_the_dark():
    # BAD-22, from memory: it cannot be proven, but noon in New Zealand is no daylight at 12:00 UTC
    far = [line.replace("01000000E", "17000000E").replace("N170", "S170") for line in glide(5, start=7200)]
    assert "flown_in_the_dark" in codes(read(*HEAD, *far))
    assert "flown_in_the_dark" not in codes(read(*HEAD, *glide(5, start=7200)))


def test_the_offset_of_local_time_is_read():
    # BAD-22: forms of IGC-2008, 7 and of the 2026 rendering
    assert read(*HEAD, "HFTZNTIMEZONE:2", *glide(3)).header.utc_offset_s == 7200.0
    assert read(*HEAD, "HFTZNUTCOFFSET:+05:30", *glide(3)).header.utc_offset_s == 19800.0
    assert read(*HEAD, "HFTZNTIMEZONE:?", *glide(3)).header.utc_offset_s is None


def test_stale_positions_are_said():
    # BAD-23, from memory: the position stands while the wing flies on, then leaps
    lines = glide(30)
    for k in range(11, 16):
        lines[k] = lines[k][:7] + lines[10][7:24] + lines[k][24:]
    health = check_track(read(*HEAD, *lines))
    assert "stale_positions" in {problem.code for problem in health.problems}
    healthy = check_track(read(*HEAD, *glide(30)))
    assert "stale_positions" not in {problem.code for problem in healthy.problems}


def test_v_fixes_that_repeat_a_position():
    # BAD-23 with IGC-2008, 4.1: without reception the last position is repeated under V
    lines = glide(10)
    for k in (5, 6):
        lines[k] = lines[k][:7] + lines[4][7:24] + "V" + lines[k][25:30] + "00000"
    track = read(*HEAD, *lines)
    assert np.flatnonzero(np.isnan(track.latitude_deg)).tolist() == [5, 6]
    assert not np.isnan(track.pressure_altitude_m).any()
    assert note(track, "no_new_position").count == 2


def test_both_altitudes_are_kept_apart():
    # BAD-24: barometric bias of -15 to -5 m beside GNSS (Animal Biotelemetry 2023, doi 10.1186/s40317-023-00342-1)
    health = check_track(read(*HEAD, *glide(30)))
    assert health.pressure_less_gnss_m == -50.0


def test_the_same_oddity_on_many_lines_is_one_note():
    track = read(*HEAD, fix(0), "B10", fix(1), "B11", "B12", fix(2))
    assert note(track, "short_record").count == 3
    assert note(track, "short_record").line == len(HEAD) + 2
    assert [n.code for n in track.notes].count("short_record") == 1


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (["AXXX001", "HFDTE160701"], "no fix"),
        (["AXXX001", "HFDTE160701", "B10"], "no fix can be read"),
        (["AXXX001", fix(0, "0000000N", "00000000E")], "has a position"),
        (["AXXX001", fix(0, "9530999N", "00000000E")], "lies on the earth"),
        (["AXXX001", *[fix(0, f"47{k:05d}N") for k in range(20)]], "same time"),
    ],
)
def test_a_log_without_a_usable_track_is_an_error(lines, found):
    with pytest.raises(TrackFileError, match=found) as caught:
        read(*lines)
    assert "\n" not in str(caught.value)
    assert str(caught.value).count(";") >= 1
    assert caught.value.path == "test.igc" or isinstance(caught.value.path, Path)
