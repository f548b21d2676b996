"""Finding logs: files, folders, archives, standard input; hostile ones too."""

import datetime
import gzip
import io
import os
import pickle
import sys
import types
import zipfile

import pytest

from flightlog.errors import TrackFileError
from flightlog.tracks.reading import find_logs, read_log, read_track

FIXES = [f"B10{k // 60:02d}{k % 60:02d}47{k * 6:05d}N01000000EA0{1500 - k}0{1550 - k}" for k in range(20)]
IGC = ("\r\n".join(["AXXX001", "HFDTE160701", "HFALGALTGPS:GEO", *FIXES, ""])).encode()
GPX = (
    b'<gpx version="1.1" creator="r"><trk><trkseg><trkpt lat="46" lon="7"><ele>9</ele>'
    b"<time>2024-05-01T10:00:00Z</time></trkpt></trkseg></trk></gpx>"
)


def names(*paths):
    return [source.name for source in find_logs(paths)]


def zipped(path, **members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


def test_content_decides_not_the_ending(tmp_path):
    (tmp_path / "a.gpx").write_bytes(IGC)
    (tmp_path / "b.igc").write_bytes(GPX)
    (tmp_path / "c").write_bytes(IGC)
    assert read_track(tmp_path / "a.gpx").format == "igc"
    assert read_track(tmp_path / "b.igc").format == "gpx"
    assert read_track(tmp_path / "c").format == "igc"


def test_a_folder_is_walked_in_order_and_what_is_no_log_is_passed_over(tmp_path):
    (tmp_path / "z.igc").write_bytes(IGC)
    (tmp_path / "a.gpx").write_bytes(GPX)
    (tmp_path / "notes.txt").write_text("nothing to see")
    (tmp_path / ".hidden.igc").write_bytes(IGC)
    (tmp_path / "empty.igc").write_bytes(b"")
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "m.igc.gz").write_bytes(gzip.compress(IGC))
    zipped(inner / "n.zip", **{"x.igc": IGC, "readme.txt": b"hello"})
    hidden = tmp_path / ".trash"
    hidden.mkdir()
    (hidden / "x.igc").write_bytes(IGC)
    assert names(tmp_path) == ["a.gpx", "z.igc", "m.igc.gz", "x.igc"]
    assert [read_log(source).time_s.size for source in find_logs([tmp_path])] == [1, 20, 20, 20]


def test_a_loop_of_links_is_not_followed(tmp_path):
    (tmp_path / "a.igc").write_bytes(IGC)
    (tmp_path / "loop").symlink_to(tmp_path, target_is_directory=True)
    assert names(tmp_path) == ["a.igc"]


def test_a_pipe_in_a_folder_does_not_block(tmp_path):
    (tmp_path / "a.igc").write_bytes(IGC)
    os.mkfifo(tmp_path / "pipe")
    assert names(tmp_path) == ["a.igc"]


def test_one_bad_log_does_not_stop_the_others(tmp_path):
    good, bad, missing = tmp_path / "a.igc", tmp_path / "b.igc", tmp_path / "c.igc"
    good.write_bytes(IGC)
    bad.write_bytes(b"AXXX001\r\nHFDTE160701\r\n")
    sources = list(find_logs([missing, bad, good]))
    for source, found in ((sources[0], "cannot be read"), (sources[1], "no fix")):
        with pytest.raises(TrackFileError, match=found) as caught:
            read_log(source)
        assert str(caught.value).startswith(f"{source.path}:1: ")
    assert read_log(sources[2]).time_s.size == 20


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "an empty file"),
        (b"<html>log in</html>", "a web page"),
        (b"hello", "no GPX, IGC, KML, NMEA, CSV log"),
        (b"\x89PNG", "no "),
    ],
)
def test_a_file_that_is_no_log(tmp_path, data, found):
    path = tmp_path / "x.igc"
    path.write_bytes(data)
    with pytest.raises(TrackFileError, match=found):
        read_track(path)


def test_a_folder_without_logs(tmp_path):
    with pytest.raises(TrackFileError, match="no log in this folder"):
        read_track(tmp_path)


def test_several_logs_where_one_was_expected(tmp_path):
    for name in "ab":
        (tmp_path / f"{name}.igc").write_bytes(IGC)
    with pytest.raises(TrackFileError, match="more than one"):
        read_track(tmp_path)


def test_gzip_single_joined_and_damaged(tmp_path):
    path = tmp_path / "a.igc.gz"
    half = len(IGC) // 2
    path.write_bytes(gzip.compress(IGC[:half]) + gzip.compress(IGC[half:]))
    assert read_track(path).time_s.size == 20
    path.write_bytes(gzip.compress(IGC)[:-20])
    with pytest.raises(TrackFileError, match=r"cut off"):
        read_track(path)
    path.write_bytes(gzip.compress(IGC)[:20] + b"x" * 100)
    with pytest.raises(TrackFileError, match=r"damaged"):
        read_track(path)


def test_a_gzip_bomb_is_refused(tmp_path):
    path = tmp_path / "bomb.igc.gz"
    path.write_bytes(gzip.compress(IGC + b"L" * 60_000_000))
    with pytest.raises(TrackFileError, match="far more than a log"):
        read_track(path)


def test_a_zip_bomb_is_refused(tmp_path):
    path = zipped(tmp_path / "bomb.zip", **{"a.igc": IGC + b"L" * 60_000_000})
    with pytest.raises(TrackFileError, match="far more than a log"):
        read_track(path)


def test_names_that_climb_out_of_a_zip_are_harmless(tmp_path):
    path = zipped(tmp_path / "a.zip", **{"../../evil.igc": IGC, "/abs.igc": IGC, "..\\win.igc": IGC})
    assert sorted(names(path)) == ["abs.igc", "evil.igc", "win.igc"]
    assert all(read_log(source).time_s.size == 20 for source in find_logs([path]))
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.zip"]


def test_an_archive_inside_an_archive_is_refused(tmp_path):
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("a.igc", IGC)
    path = zipped(tmp_path / "a.zip", **{"b.zip": inner.getvalue(), "c.igc": IGC})
    sources = list(find_logs([path]))
    with pytest.raises(TrackFileError, match="archive inside an archive"):
        read_log(sources[0])
    assert read_log(sources[1]).time_s.size == 20


def test_zips_that_are_empty_damaged_or_crowded(tmp_path):
    with pytest.raises(TrackFileError, match="no log in this archive"):
        read_track(zipped(tmp_path / "empty.zip"))
    damaged = tmp_path / "damaged.zip"
    damaged.write_bytes(zipped(tmp_path / "a.zip", **{"a.igc": IGC}).read_bytes()[:-30])
    with pytest.raises(TrackFileError, match=r"cut off|damaged"):
        read_track(damaged)
    crowded = zipped(tmp_path / "crowded.zip", **{f"{k}.txt": b"" for k in range(10_001)})
    with pytest.raises(TrackFileError, match="more than 10000 files"):
        read_track(crowded)


def test_a_member_that_lies_about_its_bytes(tmp_path):
    data = bytearray(zipped(tmp_path / "a.zip", **{"a.igc": IGC}).read_bytes())
    data[60:70] = b"\xff" * 10
    (tmp_path / "b.zip").write_bytes(bytes(data))
    with pytest.raises(TrackFileError, match="damaged"):
        read_track(tmp_path / "b.zip")


@pytest.mark.parametrize("data", [IGC, GPX, gzip.compress(IGC)])
def test_standard_input(monkeypatch, data):
    monkeypatch.setattr(sys, "stdin", types.SimpleNamespace(buffer=io.BytesIO(data)))
    track = read_track("-")
    assert track.file == "standard input"
    monkeypatch.setattr(sys, "stdin", types.SimpleNamespace(buffer=io.BytesIO(b"")))
    with pytest.raises(TrackFileError, match="standard input is empty"):
        read_track("-")


def test_sources_travel_to_other_processes(tmp_path):
    path = zipped(tmp_path / "a.zip", **{"a.igc": IGC})
    source = pickle.loads(pickle.dumps(next(iter(find_logs([path])))))  # noqa: S301 - our own bytes
    assert read_log(source).time_s.size == 20


def test_a_wrong_date_argument_is_the_programmers():
    with pytest.raises(ValueError, match="1969"):
        read_log(next(iter(find_logs(["x.igc"]))), date=datetime.date(1969, 1, 1))


def test_messages_stay_on_one_line(tmp_path):
    path = zipped(tmp_path / "a.zip", **{"evil\n\x1b[31m.igc": b"AXXX001\n"})
    with pytest.raises(TrackFileError) as caught:
        read_track(path)
    assert "\n" not in str(caught.value)
    assert "\x1b" not in str(caught.value)
