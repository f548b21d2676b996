"""Tasks from GPX routes and IGC declarations, and what tells them from TOML."""

from __future__ import annotations

from pathlib import Path

import pytest

import flightlog
from flightlog.errors import TaskFileError

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "task-day" / "task.toml"
ROUTE = """<?xml version="1.0"?>
<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="1" lon="1"><name>elsewhere</name></wpt>
<rte><name>Ridge &amp; back</name>
<rtept lat="46.0" lon="10.0"><name>Top</name></rtept>
<rtept lat="46.1" lon="10.1"><name>Saddle</name></rtept>
<rtept lat="46.0" lon="10.3"><ele>500</ele></rtept>
</rte>
<rte><rtept lat="0" lon="0"/></rte>
</gpx>
"""
DECLARATION = """AXXX001
HFDTE140626
C140626083000140626000102 500 m tasks
C4600000N01000000ETAKE OFF
C4600500N01000000ESTART
C4606000N01006000EONE
C4612000N01000000ETWO
C4606000N00954000EFINISH
C4606000N00953000ELANDING
B0900004600000N01000000EA0100001000
C4800000N01000000ELATE
"""


def test_a_gpx_route_is_a_task(tmp_path):
    path = tmp_path / "route.gpx"
    path.write_text(ROUTE)
    task = flightlog.read_task(path, radius_m=1000.0)
    assert (task.name, task.kind) == ("Ridge & back", "elapsed")
    assert [(one.name, one.role, one.radius_m) for one in task.cylinders] == [
        ("Top", "start", 1000.0), ("Saddle", "turnpoint", 1000.0), ("goal 3", "goal", 1000.0),
    ]  # fmt: skip
    assert task.cylinders[0].direction == "exit"
    assert flightlog.read_task(path).cylinders[0].radius_m == 400.0


def test_an_igc_declaration_is_a_task(tmp_path):
    path = tmp_path / "log.igc"
    path.write_text(DECLARATION)
    task = flightlog.read_task(path, radius_m=500.0)
    assert [(one.name, one.role) for one in task.cylinders] == [
        ("START", "start"), ("ONE", "turnpoint"), ("TWO", "turnpoint"), ("FINISH", "goal"),
    ]  # fmt: skip
    assert task.cylinders[1].lat_deg == pytest.approx(46.1)
    path.write_text("\n".join(line for line in DECLARATION.split("\n") if line.startswith("C")))
    assert len(flightlog.read_task(path, radius_m=500.0).cylinders) >= 4  # bare lines of a declaration


def test_the_sample_is_a_race():
    task = flightlog.read_task(SAMPLE)
    assert (task.kind, len(task.cylinders)) == ("race", 6)
    with pytest.raises(TaskFileError, match="--radius is for routes"):
        flightlog.read_task(SAMPLE, radius_m=400.0)


BAD = {
    "entity bomb": (
        '<!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><gpx><rte/></gpx>',
        ":1: a document type",
    ),
    "external entity": ('<!DOCTYPE gpx SYSTEM "file:///etc/passwd"><gpx></gpx>', ":1: a document type or entity"),
    "deep": ("<gpx>" + "<a>" * 90, "nested more than"),
    "no route": ("<gpx><trk/></gpx>", "no route with points in this GPX file"),
    "no place": ('<gpx><rte><rtept lat="95" lon="0"/></rte></gpx>', ":1: a route point that is no place"),
    "not a number": ('<gpx><rte>\n<rtept lat="nan" lon="0"/></rte></gpx>', ":2: a route point that is no place"),
    "one point": ('<gpx><rte><rtept lat="5" lon="0"/></rte></gpx>', "1 points; a task needs a start and a goal"),
    "too many": ("<gpx><rte>" + '<rtept lat="5" lon="0"/>' * 60 + "</rte></gpx>", "60 points, more than 50"),
    "endless": (
        "<gpx><rte>" + '<rtept lat="5" lon="0"/>\n' * 2000 + "</rte></gpx>",
        "more than 1000 route points",
    ),
    "no declaration": ("AXXX001\nHFDTE140626\n", "no task declared in this IGC file"),
    "far apart": (
        '<gpx><rte><rtept lat="5" lon="0"/>\n<rtept lat="5" lon="90"/></rte></gpx>',
        ":2: point 2: it lies",
    ),
}


@pytest.mark.parametrize(("text", "said"), BAD.values(), ids=BAD.keys())
def test_a_bad_file_gets_one_line(tmp_path, text, said):
    path = tmp_path / "bad"
    path.write_text(text)
    with pytest.raises(TaskFileError, match=said) as caught:
        flightlog.read_task(path)
    assert str(caught.value).isprintable()


@pytest.mark.parametrize("radius_m", [0.0, -5.0, float("nan"), float("inf")])
def test_a_radius_that_is_none(tmp_path, radius_m):
    path = tmp_path / "route.gpx"
    path.write_text(ROUTE)
    with pytest.raises(TaskFileError, match="check --radius"):
        flightlog.read_task(path, radius_m=radius_m)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(TaskFileError, match="cannot be read"):
        flightlog.read_task(tmp_path / "none.toml")
