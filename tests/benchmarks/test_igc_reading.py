"""How fast fixes are decoded, beside a plain loop over the lines that does the same work, in the same run.

Prints the figures (pytest -s); fails on wrong values only, never on time.
"""

import time

import numpy as np
import pytest

from flightlog.tracks.igc import parse_igc
from flightlog.tracks.igc_fixes import decode_fixes
from flightlog.tracks.igc_header import read_igc_header
from flightlog.tracks.igc_lines import split_lines
from flightlog.tracks.notebook import Notebook


def igc_log(fixes, extensions):
    """A flight in circles over the middle of nowhere, one fix a second."""
    generator = np.random.default_rng(7)
    turn = np.arange(fixes) * 0.35
    latitude = (2_800_000 + np.cumsum(5 * np.cos(turn) + 1)).astype(int) % 5_000_000
    longitude = (700_000 + np.cumsum(7 * np.sin(turn))).astype(int) % 9_000_000
    height = (1500 + 900 * np.sin(np.arange(fixes) / 700) + generator.normal(0, 1, fixes)).astype(int)
    lines = ["AXXX001", "HFDTEDATE:010524,01", "HFALGALTGPS:GEO", "HFDTMGPSDATUM:WGS84"]
    if extensions:
        lines.append("I033638FXA3940SIU4143ENL")
    for k in range(fixes):
        second = (28_800 + k) % 86_400
        lines.append(
            f"B{second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
            f"{latitude[k] // 60000:02d}{latitude[k] % 60000:05d}N"
            f"{longitude[k] // 60000:03d}{longitude[k] % 60000:05d}E"
            f"A{height[k]:05d}{height[k] + 47:05d}" + ("01208123" if extensions else "")
        )
    return ("\r\n".join(lines) + "\r\n").encode()


def plain_line_loop(data, extensions=()):
    """The same columns by slicing each line and `int`: what a simple reader does."""
    columns = [[] for _ in range(5 + len(extensions))]
    for line in data.decode("latin-1").splitlines():
        if not line.startswith("B") or len(line) < 35:
            continue
        if line[24] not in "AV" or line[14] not in "NS" or line[23] not in "EW":
            continue
        try:
            second = int(line[1:3]) * 3600 + int(line[3:5]) * 60 + int(line[5:7])
            latitude = int(line[7:9]) + int(line[9:14]) / 60000
            longitude = int(line[15:18]) + int(line[18:23]) / 60000
            pressure, gnss = int(line[25:30]), int(line[30:35])
            further = [int(line[first - 1 : last]) for first, last in extensions]
        except ValueError:
            continue
        columns[0].append(second)
        columns[1].append(-latitude if line[14] == "S" else latitude)
        columns[2].append(-longitude if line[23] == "W" else longitude)
        columns[3].append(pressure)
        columns[4].append(gnss)
        for column, value in zip(columns[5:], further, strict=True):
            column.append(value)
    return [np.array(column, dtype=np.float64) for column in columns]


def decoded(data):
    notebook = Notebook()
    lines = split_lines(data, notebook)
    return decode_fixes(lines, read_igc_header(lines, notebook).layouts, notebook)


def seconds_taken(work, runs):
    best = np.inf
    for _ in range(runs):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


@pytest.mark.parametrize(("fixes", "extensions"), [(20_000, False), (20_000, True), (200_000, False)])
def test_block_decoding_beside_a_plain_line_loop(fixes, extensions):
    data = igc_log(fixes, extensions)
    places = ((36, 38), (39, 40), (41, 43)) if extensions else ()
    block, loop = decoded(data), plain_line_loop(data, places)
    np.testing.assert_array_equal(block.second_of_day, loop[0])
    np.testing.assert_allclose(block.latitude_deg, loop[1], rtol=0, atol=1e-12)
    np.testing.assert_allclose(block.longitude_deg, loop[2], rtol=0, atol=1e-12)
    np.testing.assert_array_equal(block.pressure_altitude_m, loop[3])
    np.testing.assert_array_equal(block.gnss_altitude_m, loop[4])
    for code, column in zip(("FXA", "SIU", "ENL"), loop[5:], strict=False):
        np.testing.assert_array_equal(block.extensions[code], column)
    runs = 7 if fixes < 100_000 else 3
    block_s = seconds_taken(lambda: decoded(data), runs)
    loop_s = seconds_taken(lambda: plain_line_loop(data, places), runs)
    track_s = seconds_taken(lambda: parse_igc(data, file="bench.igc"), runs)
    print(
        f"\n{fixes} fixes, {'3' if extensions else 'no'} extensions: block {fixes / block_s / 1e6:.2f} M fixes/s, "
        f"plain loop {fixes / loop_s / 1e6:.2f} M fixes/s, {loop_s / block_s:.1f} times; "
        f"whole parse_igc {track_s * 1e3:.1f} ms"
    )
