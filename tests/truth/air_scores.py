"""What one simulated log got right: climbs, wind, glides; each against the truth over the same time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from flightlog.debriefing import Debrief

from .circle_truth import true_circle
from .flight_scores import Record, flight_pairs, interval_error, seconds
from .simulator import SimulatedLog, TrueClimb
from .simulator.truth import COLUMN

CLIMB_AT_LEAST_S, CLIMB_AT_LEAST_M = 30.0, 15.0
GLIDE_AT_LEAST_S, GLIDE_AT_LEAST_M = 60.0, 40.0
MIXED_BETWEEN = (0.16, 0.24)
"""A climb went both ways when a fifth of the turning or more was the other way; this near to it both words are
right."""
CIRCLE_KEYS = ("circle_period_s", "circle_radius_m", "bank_deg")
BAND_AT_LEAST_ROWS = 50  # 10 s in a band of height


def climb_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """Climbs found and missed, and their figures."""
    first, last = log.truth.recorded_s
    true = [
        c for c in log.truth.climbs
        if c.start_s >= first and c.end_s <= last
        and c.end_s - c.start_s > CLIMB_AT_LEAST_S and c.gain_m > CLIMB_AT_LEAST_M
    ]  # fmt: skip
    found = [c for f in debrief.flights for c in f.climbs]
    spans = [(seconds(c.start), seconds(c.end)) for c in found]
    big = [
        (a, b) for (a, b), c in zip(spans, found, strict=True)
        if b - a > CLIMB_AT_LEAST_S and c.gain_m > CLIMB_AT_LEAST_M
    ]  # fmt: skip
    true_spans = [(c.start_s, c.end_s) for c in log.truth.climbs]
    record: Record = {
        "climbs_true": len(true),
        "climbs_true_found": sum(_covered(c.start_s, c.end_s, spans) > 0.5 for c in true),
        "climbs_found": len(big),
        "climbs_found_true": sum(_covered(a, b, true_spans) > 0.5 for a, b in big),
        **{key: [] for key in (*CIRCLE_KEYS, "mean_climb_mps", "airmass_mps", "cores")},
        "directions": [0, 0, 0],
    }
    for climb, (start, end) in zip(found, spans, strict=True):
        if end - start >= CLIMB_AT_LEAST_S:
            z = log.truth.at(np.array([start, end]), "altitude_m")
            record["mean_climb_mps"].append(_error(climb.mean_climb_mps, float(z[1] - z[0]) / (end - start)))
        match = climb_at(log, start, end)
        if climb.mode == "circling" and match is not None:
            _score_circling(record, log, climb, match)
    return record


def _score_circling(record: Record, log: SimulatedLog, climb: Any, match: TrueClimb) -> None:
    """Direction, bank, rise of the air and core of a climb in circles."""
    rows = log.truth.rows(seconds(climb.start), seconds(climb.end))
    if match.turns > 2:
        told = climb.turn_direction is not None
        right = told and climb.turn_direction in _directions_flown(rows)
        for k, counts in enumerate((right, told, True)):
            record["directions"][k] += counts
    if climb.airmass_mps is not None:
        record["airmass_mps"].append(_error(climb.airmass_mps, float(rows[:, COLUMN["airmass_mps"]].mean())))
    _score_circles(record, log, climb)
    strength = None if climb.core is None else log.truth.core_strength_mps(match, climb.core.altitude_m)
    if strength:
        s, r = climb.core.strength_mps, climb.core.radius_m
        true = (strength, match.core_radius_m)
        record["cores"].append((s.value, s.low, s.high, true[0], r.value, r.low, r.high, true[1]))


def _score_circles(record: Record, log: SimulatedLog, climb: Any) -> None:
    """The mean circle of a climb: error, whether the interval held it, half the width."""
    if climb.bank_interval_deg is None:
        return
    circle = true_circle(log, seconds(climb.start), seconds(climb.end))
    if circle is not None:
        record["bank_deg"].append(interval_error(climb.bank_interval_deg, circle.bank_deg))
        record["circle_radius_m"].append(interval_error(climb.circle_radius_interval_m, circle.radius_m))
        record["circle_period_s"].append(interval_error(climb.circle_period_interval_s, circle.period_s))


def _directions_flown(rows: np.ndarray) -> set[str]:
    """Which way the turning of these states went: mixed when a fifth or more was the other way."""
    turned = np.diff(rows[:, COLUMN["heading_rad"]])
    share = float(turned[turned > 0].sum() / max(float(np.abs(turned).sum()), 1e-9))
    main, other = ("right", 1.0 - share) if share > 0.5 else ("left", share)
    least, most = MIXED_BETWEEN
    return ({main} if other <= most else set()) | ({"mixed"} if other >= least else set())


def climb_at(log: SimulatedLog, start_s: float, end_s: float) -> TrueClimb | None:
    """The true climb in circles that shares most of a stretch."""
    for climb in log.truth.climbs:
        shared = min(end_s, climb.end_s) - max(start_s, climb.start_s)
        if climb.mode == "circling" and shared > 0.6 * (end_s - start_s):
            return climb
    return None


def _covered(start_s: float, end_s: float, spans: Sequence[tuple[float, float]]) -> float:
    """Share of a stretch that some spans cover."""
    return sum(max(0.0, min(end_s, b) - max(start_s, a)) for a, b in spans) / (end_s - start_s)


def _error(estimate: Any, true: float) -> tuple[float, float]:
    """Error and half the width of the interval."""
    return estimate.value - true, (estimate.high - estimate.low) / 2


def wind_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """Errors of the wind: per climb, per band of height, mean of a flight.

    The truth is the wind along the path flown over the same time, gusts left out; for climbs also with the gusts
    that were flown through, which is the air that carried the pilot.
    """
    record: Record = {"wind_climb": [], "wind_band": [], "wind_mean": []}
    for true, flight in flight_pairs(log, debrief):
        for climb in flight.climbs:
            if climb.wind is not None and climb.mode == "circling":
                span = seconds(climb.start), seconds(climb.end)
                mean, met = log.truth.mean_wind(*span), log.truth.mean_wind(*span, gusts=True)
                record["wind_climb"].append((*_wind_error(climb.wind, mean), *_wind_error(climb.wind, met)[:2]))
        end = min(true.touchdown_s or math.inf, log.truth.recorded_s[1])
        rows = log.truth.rows(max(true.liftoff_s, log.truth.recorded_s[0]), end)
        altitude = rows[:, COLUMN["altitude_m"]]
        for band in flight.wind.profile:
            inside = (altitude >= band.altitude_low_m) & (altitude < band.altitude_high_m)
            if inside.sum() > BAND_AT_LEAST_ROWS:
                record["wind_band"].append(_wind_error(band.wind, _mean_wind(rows[inside])))
        if flight.wind.mean is not None:
            record["wind_mean"].append(_wind_error(flight.wind.mean, _mean_wind(rows)))
    climbs = [c for f in debrief.flights for c in f.climbs if c.mode == "circling"]
    return record | {"wind_climb_missing": sum(c.wind is None for c in climbs)}


def _mean_wind(rows: np.ndarray) -> tuple[float, float]:
    """Mean wind of some states."""
    return float(rows[:, COLUMN["wind_east_mps"]].mean()), float(rows[:, COLUMN["wind_north_mps"]].mean())


def _wind_error(wind: Any, true: tuple[float, float]) -> tuple[float, float, float]:
    """Error east, error north, standard error."""
    return wind.east_mps - true[0], wind.north_mps - true[1], wind.se_mps


def glide_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """Glides of a minute or more: sink, and relative errors of the glide ratios."""
    record: Record = {"glide_ground": [], "glide_air": [], "glide_sink": []}
    for glide in (g for f in debrief.flights for g in f.glides):
        start, end = seconds(glide.start), seconds(glide.end)
        if end - start < GLIDE_AT_LEAST_S:
            continue
        rows = log.truth.rows(start, end)
        lost = float(rows[0, COLUMN["altitude_m"]] - rows[-1, COLUMN["altitude_m"]])
        record["glide_sink"].append(_error(glide.sink_mps, lost / (end - start)))
        if lost < GLIDE_AT_LEAST_M:
            continue
        way = float(np.hypot(np.diff(rows[:, COLUMN["east_m"]]), np.diff(rows[:, COLUMN["north_m"]])).sum())
        through = float(rows[:, COLUMN["airspeed_mps"]].mean()) * (end - start)
        for key, estimate, true in (
            ("glide_ground", glide.glide_ratio_ground, way / lost),
            ("glide_air", glide.glide_ratio_air, through / lost),
        ):
            if estimate is not None:
                inside, width = estimate.low <= true <= estimate.high, estimate.high - estimate.low
                record[key].append((estimate.value / true - 1, inside, width / 2 / true))
    return record
