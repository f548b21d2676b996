"""Files made to harm: each costs bounded time and memory in a child process, and ends in a result or one line."""

from __future__ import annotations

import json
import os
import random
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.fuzz import hostile_logs as made
from tests.fuzz.bounded import MOST_BYTES, MOST_SECONDS, Run, run_bounded
from tests.fuzz.prepared import Prepared, prepared
from tests.unit.small_logs import igc_text

Maker = Callable[[Path], object]
HUGE = 190_000_000
"""Bytes, just below what is read at all."""


def repeated(start: bytes, piece: bytes, size: int = HUGE) -> Maker:
    return lambda path: path.write_bytes(start + piece * (size // len(piece)))


def junk(path: Path) -> None:
    block = random.Random(5).randbytes(10_000_000)
    with path.open("wb") as file:
        for _ in range(HUGE // len(block)):
            file.write(block)


def content(data: bytes) -> Maker:
    return lambda path: path.write_bytes(data)


def zip_of_bombs(path: Path) -> None:
    made.zipped({"a.igc": igc_text().encode() + b"L" * 60_000_000, "b.igc": b"AXXX001\r\n" + b"B" * 60_000_000})(
        path
    )


def kml_with(doctype: str) -> bytes:
    track = (
        "<Placemark><name>&i;</name><gx:Track><when>&i;</when><gx:coord>8 46 900</gx:coord></gx:Track></Placemark>"
    )
    return (
        f'<?xml version="1.0"?>{doctype}<kml xmlns:gx="http://www.google.com/kml/ext/2.2">{track}</kml>'.encode()
    )


def xml_with(doctype: str) -> bytes:
    body = "<name>&i;</name>" + made.TRACK.format(points='<trkpt lat="46" lon="8"/>')
    return made.GPX.format(doctype=doctype, body=body).encode()


REFUSED: dict[str, Maker] = {
    "junk.igc": junk,
    "junk-after-a-record.igc": lambda path: path.write_bytes(b"AXXX001\r\n" + random.Random(6).randbytes(HUGE)),
    "larger-than-any-log.igc": repeated(b"AXXX001\r\n", b"LXXX a comment\r\n", 230_000_000),
    "empty-lines.igc": repeated(b"AXXX001\r\n", b"\n"),
    "carriage-returns.igc": repeated(b"AXXX001\r\n", b"\r"),
    "headers.igc": repeated(b"AXXX001\r\n", b"HFPLT:x\r\n"),
    "column-tables.igc": repeated(b"AXXX001\r\n", b"I013638TAS\r\n"),
    "one-line.igc": repeated(b"AXXX001\r\n", b"B"),
    "short-fixes.igc": repeated(b"AXXX001\r\n", b"BX\r\n"),
    "fixes.igc": repeated(b"AXXX001\r\n", b"B1000004600000N00800000EA0150001540\r\n"),
    "half-a-million-fixes.igc": repeated(b"AXXX001\r\n", b"B1000004600000N00800000EA0150001540\r\n", 20_000_000),
    "points.gpx": repeated(
        b"<gpx><trk><trkseg>", b'<trkpt lat="46" lon="8"><time>2026-06-14T11:00:00Z</time></trkpt>'
    ),
    "elements.gpx": repeated(b"<gpx><trk><trkseg>", b"<a/>"),
    "text.gpx": repeated(b"<gpx><trk><trkseg>", b"a"),
    "wide-text.gpx": repeated("<gpx><trk><name>\U0001f400</name><trkseg>".encode(), b"a"),
    "ampersands.gpx": repeated(b"<gpx><trk><trkseg>", b"&"),
    "nothing.gpx": repeated(b"<gpx><trk><trkseg>", b"\0"),
    "attributes.gpx": repeated(
        b"<gpx><trk><trkseg>", b"<a " + b" ".join(b'a%d="1"' % k for k in range(9000)) + b"/>"
    ),
    "one-tag.gpx": repeated(b'<gpx><trk><trkseg><trkpt lat="', b"9"),
    "one-comment.gpx": repeated(b"<gpx><!--", b"x"),
    "deep.gpx": repeated(b"<gpx>", b"<a>"),
    "bomb.igc.gz": made.gzip_bomb,
    "chain.igc.gz": made.gzip_chain,
    "entity-bomb.gpx": content(xml_with(made.BOMB)),
    "external-entity.gpx": content(xml_with(made.EXTERNAL)),
    "quadratic-entity.gpx": content(xml_with(made.QUADRATIC)),
    "bombs.zip": zip_of_bombs,
    "sentences.nmea": repeated(b"", b"$GPGGA,110000,4600.0,N,00800.0,E,1,08,0.9,1500.0,M,48.0,M,,\r\n"),
    "starts-of-sentences.nmea": repeated(b"$GPGGA,1*00\r\n", b"$GPGGA,"),
    "coordinates.kml": repeated(b"<kml><gx:Track>", b"<gx:coord>8 46 900</gx:coord>"),
    "path.kml": repeated(b"<kml><LineString><coordinates>", b"8,46,900 "),
    "entity-bomb.kml": content(kml_with(made.BOMB)),
    "external-entity.kml": content(kml_with(made.EXTERNAL)),
    "entity-bomb.kmz": made.zipped({"doc.kml": kml_with(made.BOMB)}),
    "external-entity.kmz": made.zipped({"doc.kml": kml_with(made.EXTERNAL)}),
    "rows.csv": repeated(b"time,lat,lon,alt\n", b"2026-06-14T11:00:00Z,46,8,900\n"),
    "one-field.csv": repeated(b'time,lat,lon,alt\n"', b"x"),
    "many-fields.csv": repeated(b"time,lat,lon,alt\n", b","),
    "many-flights.igc": lambda path: path.write_bytes(made.many_flights(290_000)),
    "globe-trotter.igc": content(made.globe_trotter()),
    "milliseconds.gpx": content(made.gpx_around(8000, lambda k: made.day_time(36_000, millisecond=k % 1000))),
    "all-years.gpx": content(made.gpx_around(1200, lambda k: f"{1990 + k % 200}-06-14T10:00:00Z")),
}
"""Nothing can be made of these; `.zip` gives one line for each file in it."""

DONE: dict[str, Maker] = {
    "north-pole.igc": content(made.igc_around(89.99, 0.0)),
    "south-pole.igc": content(made.igc_around(-89.999, 0.0)),
    "date-line.igc": content(made.igc_around(10.0, 179.9995)),
    "equator.igc": content(made.igc_around(0.0, 0.0)),
    "year-ahead.gpx": content(made.gpx_around(1200, lambda k: made.day_time(36_000 + k, year=2026 + (k > 500)))),
    "years-back.gpx": content(
        made.gpx_around(1200, lambda k: made.day_time(36_000 + k, year=2026 - 20 * (k > 500)))
    ),
    "two-hundred-years.gpx": content(made.gpx_around(1200, lambda k: f"{1990 + k // 6}-06-14T10:00:0{k % 6}Z")),
    "not-finite.gpx": content(made.gpx_not_finite()),
    "alternating.igc": content(
        made.igc([made.b_record(36_000 + k, 46 + k % 2, 8, 1500 + k % 2 * 900) for k in range(9000)])
    ),
    "wild-heights.igc": content(made.wild_heights()),
    "not-finite-columns.igc": content(made.odd_columns()),
}
"""These are analysed: whatever comes out is a document by the schema."""


def lines_of(run: Run) -> list[str]:
    return [line for line in run.stderr.splitlines() if line.strip()]


def check_cost(run: Run) -> None:
    assert run.seconds < MOST_SECONDS
    assert run.peak_bytes < MOST_BYTES
    assert "Traceback" not in run.stderr
    assert "failed on this log" not in run.stderr
    assert "it failed" not in run.stderr


LISTS = ("index.html", ".flightlog-reports.json")
"""What is written of several logs beside their reports."""


def files_under(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if not path.is_dir())


@pytest.fixture
def desk(tmp_path):
    """A working folder inside a folder that nothing may be written to."""
    folder = tmp_path / "outer" / "desk"
    folder.mkdir(parents=True)
    return folder


@pytest.fixture(scope="module")
def program() -> Iterator[Prepared]:
    """The program, imported once; every run of it is a process of its own."""
    with prepared() as process:
        yield process


@pytest.mark.parametrize("name", REFUSED)
def test_refused_in_one_line_at_bounded_cost(program, desk, name):
    REFUSED[name](desk / name)
    run = program.run(["debrief", name, "--to", "html,json", "--out", "out"], desk)
    (desk / name).unlink()
    check_cost(run)
    assert run.status == 2, run.stderr
    assert len(lines_of(run)) == (2 if name == "bombs.zip" else 1)
    assert all(re.match(rf"{re.escape(name)}[^:]*:\d+: [^;]+; .+", line) for line in lines_of(run))
    assert files_under(desk) == []
    assert "root:" not in run.stderr + run.stdout


@pytest.mark.parametrize("name", DONE)
def test_done_at_bounded_cost(program, desk, name):
    DONE[name](desk / name)
    run = program.run(["debrief", name, "--to", "json", "--out", "-"], desk)
    check_cost(run)
    assert run.status == 0, run.stderr
    document = json.loads(run.stdout, parse_constant=pytest.fail)  # NaN and infinities are no JSON (RFC 8259)
    assert document["schema"] == "flightlog/debrief/1"
    assert files_under(desk) == [name]


def test_standard_input_is_bounded_too(desk, tmp_path):
    repeated(b"AXXX001\r\n", b"\n", 230_000_000)(tmp_path / "stream")
    run = run_bounded(["check", "-"], desk, stdin=tmp_path / "stream")
    check_cost(run)
    assert run.status == 2
    assert len(lines_of(run)) == 1


def test_names_inside_a_zip_lead_nowhere(desk):
    log = igc_text().encode()
    names = [
        "../../outer.igc",
        "/etc/absolute.igc",
        "..\\..\\windows.igc",
        "C:\\drive.igc",
        "a/../../b/../../up.igc",
    ]
    made.zipped(dict.fromkeys(names, log))(desk / "logs.zip")
    run = run_bounded(["debrief", "logs.zip", "--to", "html,json", "--out", "out", "--jobs", "1"], desk)
    check_cost(run)
    assert run.status == 0, run.stderr
    written = [name for name in files_under(desk.parent) if not name.endswith((".stdout", ".stderr", "logs.zip"))]
    assert all(name.startswith("desk/out/") for name in written)
    assert len([name for name in written if Path(name).name not in LISTS]) == 2 * len(names)


def test_a_file_name_that_is_no_text_is_no_trouble(desk):
    path = os.fsencode(desk) + b"/b\xff\xfe \x1b[2J.igc"
    Path(os.fsdecode(path)).write_bytes(igc_text().encode())
    run = run_bounded(["debrief", ".", "--to", "html,json", "--out", "out"], desk)
    check_cost(run)
    assert run.status == 0, run.stderr
    page, document = sorted(path for path in (desk / "out").iterdir() if path.name not in LISTS)
    assert (page.suffix, document.suffix) == (".html", ".json")
    assert re.fullmatch(r"[\w -]+\.json", document.name, re.ASCII)
    assert json.loads(document.read_text("utf-8"))["log"]["file"] == "b [2J.igc"


def test_names_of_pilot_and_wing_stay_text(desk):
    fixes = [line for line in igc_text().splitlines() if line.startswith("B")]
    for kind, name in made.EVIL_NAMES.items():
        (desk / f"{kind}.igc").write_bytes(made.igc(fixes, pilot=name, wing=name))
    run = run_bounded(["debrief", ".", "--to", "html,json", "--out", "out"], desk, patience=3)
    assert run.status == 0, run.stderr
    assert "Traceback" not in run.stderr
    written = {name for name in files_under(desk) if not name.endswith(".igc")}
    reports = {f"out/{kind}.{ending}" for kind in made.EVIL_NAMES for ending in ("html", "json")}
    assert written == reports | {f"out/{name}" for name in LISTS}
    for path in (desk / "out").glob("*.html"):
        page = path.read_text("utf-8")
        for harmful in ("<script>alert", "<img src=x", "]]></svg>", "\x1b", "\u202e"):
            assert harmful not in page, path.name
        assert len(page) < 10_000_000
    for kind in made.EVIL_NAMES:
        assert len(json.loads((desk / "out" / f"{kind}.json").read_text("utf-8"))["log"]["pilot"]) <= 200
    tables = run_bounded(["glides", ".", "--to", "csv"], desk)
    shown = run_bounded(["check", "."], desk)
    for told in (run, tables, shown):
        text = told.stdout + told.stderr
        assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", text)
    assert not re.search(r'(?m)(^|,)"?[=+@]', tables.stdout)
