"""Simulated logs through the whole analysis: what came out beside what was true, one plain record a log."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import flightlog
from flightlog.debriefing import Debrief
from flightlog.gliding.pooling import glide_log, pool_gliding

from .air_scores import climb_scores, glide_scores, wind_scores
from .flight_scores import Record, flight_scores, interval_error, pass_scores, phase_scores
from .simulator import Scenario, SimulatedLog, simulate
from .simulator.scenarios import calm_suite, polar_suite, top_landing_suite, wind_and_glide_suite
from .speed_scores import speed_scores
from .thermal_scores import thermal_scores

Case = tuple[Scenario, int]
Suites = dict[str, list[Record]]
CASES_A_TASK = 4
SCORES = (
    flight_scores, phase_scores, climb_scores, thermal_scores, wind_scores, glide_scores, speed_scores,
    pass_scores,
)  # fmt: skip


def run_suites(jobs: int = 2) -> Suites:
    """Records of all suites: `air`, `top`, `calm` (one a log) and `polar` (one a wing). Minutes, on both cores."""
    suites = {"air": wind_and_glide_suite(), "top": top_landing_suite(), "calm": calm_suite()}
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        polars = [pool.submit(polar_record, cases) for cases, _ in polar_suite()]
        logs = {name: pool.map(record_of, cases, chunksize=CASES_A_TASK) for name, cases in suites.items()}
        return {name: list(records) for name, records in logs.items()} | {"polar": [p.result() for p in polars]}


def records_of(cases: Sequence[Case], *, with_places: bool = True, jobs: int = 2) -> list[Record]:
    """One record a case, in order, on both cores."""
    if jobs == 1:
        return [record_of(case, with_places) for case in cases]
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        return list(pool.map(record_of, cases, [with_places] * len(cases), chunksize=CASES_A_TASK))


def record_of(case: Case, with_places: bool = True) -> Record:
    """Simulate, analyse and compare one case."""
    log = simulate(*case)
    debrief = analysed(log, with_places=with_places)
    scenario = case[0]
    about: Record = {
        "name": scenario.name,
        "interval_s": scenario.interval_s,
        "wing_class": scenario.wing_class,
        "wind_mps": scenario.wind_mps,
        "pressure": scenario.pressure,
    }
    for score in SCORES:
        about |= score(log, debrief)
    return about


def polar_record(cases: Sequence[Case]) -> Record:
    """The polar of several flights of one wing, pooled, beside the wing's own."""
    logs = [simulate(*case) for case in cases]
    wing, scenario = logs[0].wing, cases[0][0]
    gliding = pool_gliding((glide_log(analysed(log)) for log in logs), wing_class=wing.wing_class)
    polar = gliding.groups[0].performance.polar
    record: Record = {
        "name": scenario.name,
        "thermic": "thermic" in scenario.name,
        "off_class": scenario.best_ratio is not None,
        "minutes": round(sum(case[0].flight_minutes for case in cases)),
        **{key: [] for key in ("best_glide", "best_glide_speed", "min_sink", "min_sink_speed")},
    }
    if polar is not None:
        record["best_glide"] = [interval_error(polar.best_glide_ratio, wing.best_ratio, share=True)]
        record["best_glide_speed"] = [interval_error(polar.best_glide_airspeed_mps, wing.best_ratio_mps)]
        record["min_sink"] = [interval_error(polar.min_sink_mps, wing.min_sink_mps)]
        record["min_sink_speed"] = [interval_error(polar.min_sink_airspeed_mps, wing.min_sink_speed_mps)]
    return record


def analysed(log: SimulatedLog, *, with_places: bool = True) -> Debrief:
    """The log written to disk and analysed as a pilot would have it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"log.{log.scenario.form}"
        path.write_text(log.text)
        places: Sequence[Any] = ()
        if with_places:
            places_file = Path(folder) / "places.geojson"
            places_file.write_text(log.places_geojson)
            places = flightlog.read_places(places_file)
        return flightlog.debrief(flightlog.read_track(path), places=places)
