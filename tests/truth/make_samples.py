"""Write the sample tracks that ship with the project: `python -m tests.truth.make_samples`.

Everything in them is invented: the hill, the pilots, the wings, the weather. The same command gives the same
bytes; tests/truth/test_samples.py fails when the committed files differ.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from .simulator import Scenario, SimulatedLog, simulate

FOLDER = Path(__file__).resolve().parents[2] / "sample_tracks"
HILL = "Quillback"
TOP_LANDING_SEED, CROSS_COUNTRY_SEED, GPX_SEED, TASK_SEED, DAMAGED_SEED = 8113, 8214, 8303, 8401, 8502
TASK_PILOTS = ("Mira Aldwend", "Joren Fastwick", "Tove Lumbray", "Iko Brandevar")
START_AT_S, START_RADIUS_M, CYLINDER_M, GOAL_M = 2100.0, 2500.0, 400.0, 400.0

TOP_LANDING = Scenario(
    "top-landing day", kind="top_landing", wing_class="paraglider", wind_mps=5.2, wind_from_deg=236.0,
    wind_off_slope_deg=8.0, gust_mps=0.5, thermal_mps=0.0, anabatic_mps=0.7, flight_minutes=45.0, go_arounds=(3,),
    low_passes=1, edge_beats=1, aborted_runs=1, wait_s=(300.0, 500.0), site=0, hill_name=HILL,
    pilot_name="Mira Aldwend",
)  # fmt: skip
CROSS_COUNTRY = Scenario(
    "cross-country", kind="cross_country", wing_class="hang_glider", wind_mps=3.6, wind_from_deg=250.0,
    gust_mps=0.6, thermal_mps=3.0, anabatic_mps=1.0, flight_minutes=95.0, lift_lines=6, site=0,
    hill_name=HILL,
    pilot_name="Joren Fastwick",
)  # fmt: skip
GPX = Scenario(
    "cross-country at 4 s", kind="cross_country", wing_class="paraglider", wind_mps=3.0, wind_from_deg=215.0,
    gust_mps=0.6, thermal_mps=3.0, anabatic_mps=1.0, flight_minutes=90.0, interval_s=4.0, form="gpx", site=0,
    hill_name=HILL, pilot_name="Tove Lumbray",
)  # fmt: skip
DAMAGED = Scenario(
    "damaged", kind="cross_country", wing_class="rigid_wing", wind_mps=4.0, wind_from_deg=240.0, thermal_mps=3.0,
    flight_minutes=35.0, interval_s=2.0, spikes=5, duplicates=6, stale_spells=3, drop_outs=3, date_form="old",
    site=0, hill_name=HILL, pilot_name="Iko Brandevar",
)  # fmt: skip


def task_turnpoints() -> tuple[tuple[float, float], ...]:
    """Middle of the start cylinder, three turnpoints and goal: metres east and north of the hill."""
    return ((0.0, 0.0), (5200.0, 2600.0), (9400.0, -1800.0), (13500.0, 3200.0), (18500.0, 1500.0))


def task_scenario(number: int) -> Scenario:
    """The race as the pilot of this number flies it."""
    shares = ((0.95, 1.2), (1.0, 1.35), (0.95, 1.1), (1.0, 1.25))
    return Scenario(
        f"task pilot {number + 1}", kind="task", wing_class="paraglider", wind_mps=3.2, wind_from_deg=255.0,
        thermal_mps=3.2, anabatic_mps=1.6, flight_minutes=110.0, turnpoints=task_turnpoints(),
        cylinder_m=CYLINDER_M, goal_cylinder_m=GOAL_M, start_radius_m=START_RADIUS_M, start_at_s=START_AT_S,
        glide_speed_share=shares[number],
        centring_error_m=(14.0, 22.0, 18.0, 30.0)[number], interval_s=2.0, world_seed=TASK_SEED, site=0,
        hill_name=HILL, pilot_name=TASK_PILOTS[number],
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Samples:
    """The files by name, and the simulated logs behind them."""

    files: dict[str, str]
    logs: dict[str, SimulatedLog]


def make_samples() -> Samples:
    """All sample files with their text, and what is true about them."""
    logs = {
        "top-landing-day.igc": simulate(TOP_LANDING, TOP_LANDING_SEED),
        "cross-country.igc": simulate(CROSS_COUNTRY, CROSS_COUNTRY_SEED),
        "cross-country-4s.gpx": simulate(GPX, GPX_SEED),
        "damaged.igc": simulate(DAMAGED, DAMAGED_SEED),
    }
    for number, name in enumerate(TASK_PILOTS):
        logs[f"task-day/{name.lower().replace(' ', '-')}.igc"] = simulate(
            task_scenario(number), TASK_SEED + 1 + number
        )
    files = {name: log.text for name, log in logs.items()}
    files["damaged.igc"] = damaged(files["damaged.igc"])
    files["places.geojson"] = logs["top-landing-day.igc"].places_geojson
    files["task-day/task.toml"] = task_toml(logs["task-day/mira-aldwend.igc"])
    for wing, name in (
        ("paraglider", "top-landing-day.igc"), ("hang-glider", "cross-country.igc"), ("rigid-wing", "damaged.igc"),
    ):  # fmt: skip
        files[f"wing-{wing}.toml"] = logs[name].wing_toml
    return Samples(files, logs)


def task_toml(log: SimulatedLog) -> str:
    """The race as a task file."""
    epoch = log.truth.epoch_s
    clock = lambda seconds: datetime.fromtimestamp(epoch + seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")  # noqa: E731
    points = task_turnpoints()
    start, *middle, goal = points
    cylinders = [("Quillback start", start, START_RADIUS_M, "start")]
    names = ("Dry lake", "Sheep pens", "Broken tower")
    cylinders += [(name, point, CYLINDER_M, "turnpoint") for name, point in zip(names, middle, strict=True)]
    cylinders += [("Long meadow", goal, 1000.0, "speed_end"), ("Long meadow goal", goal, GOAL_M, "goal")]
    lines = [
        'name = "Quillback race"', 'kind = "race"', f"start_opens = {clock(START_AT_S)}",
        f"deadline = {clock(START_AT_S + 3 * 3600)}", "start_gates_s = [0]", 'earth = "wgs84"',
    ]  # fmt: skip
    for name, (east, north), radius, role in cylinders:
        latitude, longitude = log.latitude_longitude(east, north)
        lines += [
            "", "[[cylinder]]", f'name = "{name}"', f"lat_deg = {latitude:.6f}", f"lon_deg = {longitude:.6f}",
            f"radius_m = {radius:.0f}", f'role = "{role}"',
        ]  # fmt: skip
    return "\n".join(lines) + "\n"


def damaged(text: str) -> str:
    """The same log after a hard life: odd lines of many kinds, most fixes still good."""
    rng = random.Random("damaged sample")
    lines = text.split("\r\n")
    head = [line for line in lines if line[:1] in "AH"]
    body = [line for line in lines if line.startswith("B")]
    head.insert(2, "HFDTE010170")
    head.insert(3, head[1])
    head.append("HOSITSite:?")
    odd = [
        "", "   ", "<html><body>not a track</body></html>", "LXXXsome words of the recorder", "E093000PEV",
        "B1200009530999N10226924EA0100001000", "B0930004652", "BGARBAGE", "K0930000000",
        "B2460004652459N10226924EA0100001000", "B0000000000000N00000000EV0050000000", "X" * 400,
    ]  # fmt: skip
    for line in odd:
        body.insert(rng.randrange(40, len(body) - 40), line)
    for k in rng.sample(range(50, len(body) - 50), 12):  # lower case, blanks behind, no satellite height
        line = body[k]
        if len(line) == 35 and line.startswith("B"):
            body[k] = rng.choice((line.lower(), line + "  ", line[:24] + "V" + line[25:30] + "00000", line[:20]))
    for k in rng.sample(range(60, len(body) - 60), 3):  # time goes back
        body[k], body[k + 1] = body[k + 1], body[k]
    last = body[-1][: math.floor(len(body[-1]) * 0.6)]
    return "﻿" + "\n".join(head + body[:-1]) + "\r\n\r\n" + last


def write(folder: Path = FOLDER) -> list[Path]:
    """Write the samples; the paths written."""
    written = []
    for name, text in make_samples().files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode("utf-8"))
        written.append(path)
    return written


if __name__ == "__main__":
    for path in write():
        print(path)
