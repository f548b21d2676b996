"""How long a GPX track of a whole day takes: the guard, gpxpy alone, and the two together (pytest -s shows it)."""

import time

import gpxpy

from flightlog.tracks.gpx import parse_gpx
from flightlog.tracks.gpx_guard import guarded_points
from flightlog.tracks.notebook import Notebook

FIXES = 18_000


def gpx_log(fixes):
    points = "".join(
        f'  <trkpt lat="{46 + k * 1e-5:.6f}" lon="{7 + k * 1e-5:.6f}">\n    <ele>{1000 + k % 500}.0</ele>\n'
        f"    <time>2024-05-01T{8 + k // 3600:02d}:{k // 60 % 60:02d}:{k % 60:02d}Z</time>\n  </trkpt>\n"
        for k in range(fixes)
    )
    return f'<gpx version="1.1" creator="r"><trk><name>n</name><trkseg>\n{points}</trkseg></trk></gpx>'.encode()


def seconds_taken(work):
    best = float("inf")
    for _ in range(3):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def test_a_day_of_gpx():
    data = gpx_log(FIXES)
    assert parse_gpx(data, file="x.gpx").time_s.size == FIXES
    guard = seconds_taken(lambda: guarded_points(data, "x.gpx", Notebook()))
    plain = seconds_taken(lambda: gpxpy.parse(data.decode()))
    whole = seconds_taken(lambda: parse_gpx(data, file="x.gpx"))
    print(f"\n{FIXES} points: guard {guard:.2f} s, gpxpy alone {plain:.2f} s, parse_gpx {whole:.2f} s of CPU")
