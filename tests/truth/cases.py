"""Simulated logs through the whole analysis: what came out beside what was true, one plain record a log."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

import flightlog
from flightlog.debriefing import Debrief

from .simulator import Scenario, SimulatedLog, TrueFlight, simulate

KINDS = ("launch_run", "climb", "glide", "search", "approach")
Case = tuple[Scenario, int]
Record = dict[str, Any]


def records_of(cases: Sequence[Case], *, with_places: bool = True, jobs: int = 2) -> list[Record]:
    """One record a case, in order, on both cores."""
    if jobs == 1:
        return [record_of(case, with_places) for case in cases]
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        return list(pool.map(record_of, cases, [with_places] * len(cases), chunksize=2))


def record_of(case: Case, with_places: bool = True) -> Record:
    """Simulate, analyse and compare one case."""
    log = simulate(*case)
    debrief = analysed(log, with_places=with_places)
    scenario = case[0]
    record: Record = {
        "name": scenario.name,
        "interval_s": scenario.interval_s,
        "wing_class": scenario.wing_class,
        "wind_mps": scenario.wind_mps,
        "pressure": scenario.pressure,
    }
    record |= _flights(log, debrief)
    record |= _phases(log, debrief)
    record |= _climbs(log, debrief)
    record |= _winds(log, debrief)
    record |= _glides(log, debrief)
    record |= _passes(log, debrief)
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


def seconds(time: datetime) -> float:
    """UTC seconds of a published time."""
    return time.timestamp()


def _true_flights(log: SimulatedLog) -> list[tuple[TrueFlight, float, float]]:
    """True flights with the part of each that the log holds."""
    first, last = float(log.truth.recorded_s[0]), float(log.truth.recorded_s[1])
    held = []
    for flight in log.truth.flights:
        start = max(flight.liftoff_s, first)
        end = min(flight.touchdown_s or math.inf, last)
        if end - start > 30:
            held.append((flight, start, end))
    return held


def _pairs(log: SimulatedLog, debrief: Debrief) -> list[tuple[TrueFlight, Any]]:
    """Each true flight with the found flight that shares most of its time."""
    made = []
    for flight, start, end in _true_flights(log):
        shared = [
            (min(end, seconds(f.landing.time)) - max(start, seconds(f.takeoff.time)), f) for f in debrief.flights
        ]
        best = max(shared, key=lambda item: item[0], default=(0.0, None))
        if best[0] > 0.5 * (end - start):
            made.append((flight, best[1]))
    return made


def _flights(log: SimulatedLog, debrief: Debrief) -> Record:
    """Take-offs, touchdowns and launches."""
    pairs = _pairs(log, debrief)
    liftoff, touchdown, runs, headwinds = [], [], [], []
    for true, found in pairs:
        if true.liftoff_recorded and found.takeoff.kind != "start_of_log":
            liftoff.append(seconds(found.takeoff.time) - true.liftoff_s)
            if found.launch is not None:
                runs.append((found.launch.run_length_m, true.run_length_m))
                if found.launch.headwind_mps is not None:
                    e = found.launch.headwind_mps
                    headwinds.append((e.value - true.headwind_at_liftoff_mps, (e.high - e.low) / 2))
        if true.touchdown_recorded and found.landing.kind != "end_of_log":
            touchdown.append(seconds(found.landing.time) - (true.touchdown_s or 0.0))
    kinds = [
        (found.landing.kind, true.landing_kind if true.touchdown_recorded else "end_of_log")
        for true, found in pairs
    ]
    return {
        "flights_true": len(_true_flights(log)),
        "flights_found": len(debrief.flights),
        "liftoff_s": liftoff,
        "touchdown_s": touchdown,
        "run_length_m": runs,
        "headwind_mps": headwinds,
        "landing_kinds": kinds,
    }


def _phases(log: SimulatedLog, debrief: Debrief) -> Record:
    """Seconds of every true phase by the phase found, flights only, and errors of circling boundaries."""
    times, kinds, _modes = log.truth.per_second()
    found = np.full(len(times), "ground", dtype=object)
    for flight in debrief.flights:
        for phase in flight.phases:
            a, b = np.searchsorted(times, (seconds(phase.start), seconds(phase.end)))
            found[a:b] = phase.kind
    confusion: dict[str, int] = {}
    for true, seen in zip(kinds, found, strict=True):
        key = f"{true}>{seen}"
        confusion[key] = confusion.get(key, 0) + 1
    bounds = []
    runs = [(seconds(p.start), seconds(p.end)) for f in debrief.flights for p in f.phases if p.mode == "circling"]
    for climb in log.truth.climbs:
        if climb.mode != "circling" or climb.turns < 1.5:
            continue
        near = [r for r in runs if min(r[1], climb.end_s) - max(r[0], climb.start_s) > 0.5 * (r[1] - r[0])]
        if near:
            bounds += [near[0][0] - climb.start_s, near[-1][1] - climb.end_s]
    return {"confusion": confusion, "circling_bounds_s": bounds}


def _climbs(log: SimulatedLog, debrief: Debrief) -> Record:
    """Climbs found and missed, and their figures against the truth over the same time."""
    first, last = log.truth.recorded_s
    true = [
        c
        for c in log.truth.climbs
        if c.start_s >= first and c.end_s <= last and c.end_s - c.start_s > 30 and c.gain_m > 15
    ]
    found = [c for f in debrief.flights for c in f.climbs]
    hits_true = sum(_covered(c.start_s, c.end_s, found) > 0.5 for c in true)
    spans = [(c.start_s, c.end_s) for c in log.truth.climbs]
    big = [c for c in found if seconds(c.end) - seconds(c.start) > 30 and c.gain_m > 15]
    hits_found = sum(
        sum(max(0.0, min(b, seconds(c.end)) - max(a, seconds(c.start))) for a, b in spans)
        > 0.5 * (seconds(c.end) - seconds(c.start))
        for c in big
    )
    means, banks, airmasses, cores = [], [], [], []
    directions = [0, 0]
    for climb in found:
        start, end = seconds(climb.start), seconds(climb.end)
        z = log.truth.at(np.array([start, end]), "altitude_m")
        mean = float(z[1] - z[0]) / max(end - start, 1.0)
        if end - start >= 30:
            e = climb.mean_climb_mps
            means.append((e.value - mean, (e.high - e.low) / 2))
        match = [
            c
            for c in log.truth.climbs
            if c.mode == "circling" and min(end, c.end_s) - max(start, c.start_s) > 0.6 * (end - start)
        ]
        if climb.mode == "circling" and match:
            if match[0].turn_direction in ("left", "right") and match[0].turns > 2:
                directions[1] += 1
                directions[0] += climb.turn_direction == match[0].turn_direction
            rows = log.truth._rows(start, end)
            if climb.airmass_mps is not None:
                e = climb.airmass_mps
                truth = float(rows[:, 11].mean())
                airmasses.append((e.value - truth, (e.high - e.low) / 2))
            if climb.core is not None and match[0].core_strength_mps:
                s, r = climb.core.strength_mps, climb.core.radius_m
                cores.append(
                    (
                        s.value,
                        s.low,
                        s.high,
                        match[0].core_strength_mps,
                        r.value,
                        r.low,
                        r.high,
                        match[0].core_radius_m,
                    )
                )
            if climb.bank_deg is not None:
                banks.append(climb.bank_deg - float(np.degrees(np.abs(rows[:, 6])).mean()))
    return {
        "climbs_true": len(true),
        "climbs_true_found": hits_true,
        "climbs_found": len(big),
        "climbs_found_true": hits_found,
        "mean_climb_mps": means,
        "bank_deg": banks,
        "airmass_mps": airmasses,
        "cores": cores,
        "directions": directions,
    }


def _covered(start_s: float, end_s: float, climbs: Sequence[Any]) -> float:
    """Share of a stretch that the climbs cover."""
    shared = sum(max(0.0, min(end_s, seconds(c.end)) - max(start_s, seconds(c.start))) for c in climbs)
    return shared / (end_s - start_s)


def _winds(log: SimulatedLog, debrief: Debrief) -> Record:
    """Errors of both components with the standard error given: per climb, per band of height, mean."""
    climbs, bands, means = [], [], []
    for true, flight in _pairs(log, debrief):
        for climb in flight.climbs:
            if climb.wind is not None and climb.mode == "circling":
                climbs.append(
                    _wind_error(climb.wind, log.truth.mean_wind(seconds(climb.start), seconds(climb.end)))
                )
        start, end = true.liftoff_s, min(true.touchdown_s or math.inf, log.truth.recorded_s[1])
        rows = log.truth._rows(max(start, log.truth.recorded_s[0]), end)
        for band in flight.wind.profile:
            inside = (rows[:, 3] >= band.altitude_low_m) & (rows[:, 3] < band.altitude_high_m)
            if inside.sum() > 50:
                wind = (float(rows[inside, 7].mean()), float(rows[inside, 8].mean()))
                bands.append(_wind_error(band.wind, wind))
        if flight.wind.mean is not None:
            means.append(_wind_error(flight.wind.mean, (float(rows[:, 7].mean()), float(rows[:, 8].mean()))))
    missing = sum(c.wind is None for f in debrief.flights for c in f.climbs if c.mode == "circling")
    return {"wind_climb": climbs, "wind_band": bands, "wind_mean": means, "wind_climb_missing": missing}


def _wind_error(wind: Any, true: tuple[float, float]) -> tuple[float, float, float]:
    """Error east, error north, standard error."""
    return wind.east_mps - true[0], wind.north_mps - true[1], wind.se_mps


def _glides(log: SimulatedLog, debrief: Debrief) -> Record:
    """Relative errors of glide ratios of glides of a minute or more, against the truth over the same time."""
    ground, air, sinks = [], [], []
    for flight in debrief.flights:
        for glide in flight.glides:
            start, end = seconds(glide.start), seconds(glide.end)
            if end - start < 60:
                continue
            rows = log.truth._rows(start, end)
            lost = float(rows[0, 3] - rows[-1, 3])
            way = float(np.hypot(np.diff(rows[:, 1]), np.diff(rows[:, 2])).sum())
            through = float(rows[:, 4].mean()) * (end - start)
            sinks.append(
                (glide.sink_mps.value - lost / (end - start), (glide.sink_mps.high - glide.sink_mps.low) / 2)
            )
            if lost < 40:
                continue
            for errors, estimate, truth in (
                (ground, glide.glide_ratio_ground, way / lost),
                (air, glide.glide_ratio_air, through / lost),
            ):
                if estimate is not None:
                    errors.append(
                        (
                            estimate.value / truth - 1,
                            estimate.low <= truth <= estimate.high,
                            (estimate.high - estimate.low) / 2 / truth,
                        )
                    )
    return {"glide_ground": ground, "glide_air": air, "glide_sink": sinks}


def _passes(log: SimulatedLog, debrief: Debrief) -> Record:
    """Counts of passes at the top meadow, and errors of those matched."""
    first, last = log.truth.recorded_s
    true = [p for p in log.truth.passes if p.on_top and first <= p.start_s and p.end_s <= last]
    pad = log.truth.world.hill.pad.name
    found = [p for f in debrief.flights for p in f.passes if p.certainty == "sure" and p.place in (pad, None)]
    possible = sum(p.certainty == "possible" for f in debrief.flights for p in f.passes)
    left = list(found)
    outcomes, decisions, heights, missed = [0, 0], [], [], []
    for one in true:
        near = [
            p
            for p in left
            if min(one.end_s, seconds(p.end)) - max(one.start_s, seconds(p.start)) > 0
            or abs(seconds(p.end) - one.end_s) < 10
        ]
        if not near:
            missed.append((one.outcome, one.lowest_height_m, one.decision_height_m))
            continue
        best = min(near, key=lambda p: abs(seconds(p.end) - one.end_s))
        left.remove(best)
        outcomes[1] += 1
        outcomes[0] += best.outcome == one.outcome
        if one.outcome == best.outcome == "go_around" and best.decision is not None:
            decisions.append(seconds(best.decision.time) - one.end_s)
        if one.lowest_height_m is not None:
            heights.append(best.lowest_height_m - one.lowest_height_m)
    return {
        "passes_true": len(true),
        "passes_found": len(found),
        "passes_possible": possible,
        "passes_false": len(left),
        "passes_missed": missed,
        "pass_outcomes": outcomes,
        "decision_s": decisions,
        "lowest_m": heights,
    }
