"""What one simulated log got right: flights, phases, passes. Times are UTC seconds, errors are found less true."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np

from flightlog.debriefing import Debrief
from flightlog.phases.approaches import PLAIN_BELOW_M

from .phase_truth import true_kinds
from .simulator import SimulatedLog, TrueClimb, TrueFlight, TruePass
from .simulator.truth import COLUMN

Record = dict[str, Any]
SHORTEST_FLIGHT_S = 30.0
SILENCE_S, SILENCE_NEAR_S = 12.0, 10.0
"""A recorder silent for longer, so near to the end of a pass, does not show it."""
TURNING_SHARE, TURNING_LEAST_RAD, TURNING_FOR_ROWS = 0.4, math.radians(8), 25
"""A turn is steady from the moment the bank is this share of the climb's, and that much, for 5 s."""


def interval_error(estimate: Any, true: float, *, share: bool = False) -> tuple[float, bool, float]:
    """Error, whether the interval holds the truth, half its width; as shares of the truth where asked."""
    by = true if share else 1.0
    inside = bool(estimate.low <= true <= estimate.high)
    return (estimate.value - true) / by, inside, (estimate.high - estimate.low) / 2 / by


def seconds(time: datetime) -> float:
    """UTC seconds of a published time."""
    return time.timestamp()


def true_flights(log: SimulatedLog) -> list[tuple[TrueFlight, float, float]]:
    """True flights with the part of each that the log holds."""
    first, last = float(log.truth.recorded_s[0]), float(log.truth.recorded_s[1])
    held = []
    for flight in log.truth.flights:
        start, end = max(flight.liftoff_s, first), min(flight.touchdown_s or math.inf, last)
        if end - start > SHORTEST_FLIGHT_S:
            held.append((flight, start, end))
    return held


def flight_pairs(log: SimulatedLog, debrief: Debrief) -> list[tuple[TrueFlight, Any]]:
    """Each true flight with the found flight that shares most of its time."""
    made = []
    for flight, start, end in true_flights(log):
        shared = [
            (min(end, seconds(f.landing.time)) - max(start, seconds(f.takeoff.time)), f) for f in debrief.flights
        ]
        best = max(shared, key=lambda item: item[0], default=(0.0, None))
        if best[0] > 0.5 * (end - start):
            made.append((flight, best[1]))
    return made


def flight_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """Take-offs, touchdowns and launches."""
    record: Record = {
        "flights_true": len(true_flights(log)),
        "flights_found": len(debrief.flights),
        **{key: [] for key in ("liftoff_s", "touchdown_s", "run_length_m", "headwind_mps", "landing_kinds")},
    }
    for true, found in flight_pairs(log, debrief):
        if true.liftoff_recorded and found.takeoff.kind != "start_of_log":
            record["liftoff_s"].append(seconds(found.takeoff.time) - true.liftoff_s)
            if found.launch is not None:
                record["run_length_m"].append((found.launch.run_length_m, true.run_length_m))
                if found.launch.headwind_mps is not None:
                    e = found.launch.headwind_mps
                    error = e.value - true.headwind_at_liftoff_mps
                    record["headwind_mps"].append((error, (e.high - e.low) / 2))
        if true.touchdown_recorded and found.landing.kind != "end_of_log":
            record["touchdown_s"].append(seconds(found.landing.time) - (true.touchdown_s or 0.0))
        kind = true.landing_kind if true.touchdown_recorded else "end_of_log"
        record["landing_kinds"].append((found.landing.kind, kind))
    return record


def phase_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """Seconds of every true phase by the phase found, and errors of the ends of circling."""
    times, kinds = true_kinds(log)
    found = np.full(len(times), "ground", dtype=object)
    for flight in debrief.flights:
        for phase in flight.phases:
            a, b = np.searchsorted(times, (seconds(phase.start), seconds(phase.end)))
            found[a:b] = phase.kind
    meant = true_kinds(log, as_meant=True)[1]
    bounds = []
    runs = [(seconds(p.start), seconds(p.end)) for f in debrief.flights for p in f.phases if p.mode == "circling"]
    for climb in log.truth.climbs:
        if climb.mode != "circling" or climb.turns < 1.5:
            continue
        near = [r for r in runs if min(r[1], climb.end_s) - max(r[0], climb.start_s) > 0.5 * (r[1] - r[0])]
        steady = steady_turn(log, climb)
        if near and steady is not None:
            bounds += [near[0][0] - steady[0], near[-1][1] - steady[1]]
    return {
        "confusion": _confusion(kinds, found),
        "confusion_meant": _confusion(meant, found),
        "circling_bounds_s": bounds,
    }


def _confusion(kinds: Sequence[str], found: Sequence[str]) -> dict[str, int]:
    """Seconds of each pair of a true kind of phase and the one found."""
    counts: dict[str, int] = {}
    for true, seen in zip(kinds, found, strict=True):
        counts[f"{true}>{seen}"] = counts.get(f"{true}>{seen}", 0) + 1
    return counts


def steady_turn(log: SimulatedLog, climb: TrueClimb) -> tuple[float, float] | None:
    """When the pilot of a climb began to circle and when the last turn was rolled out, by the bank flown."""
    rows = log.truth.rows(climb.start_s, climb.end_s)
    bank = rows[:, COLUMN["bank_rad"]]
    least = max(TURNING_LEAST_RAD, TURNING_SHARE * math.radians(climb.mean_bank_deg))
    steady = np.zeros(len(bank), bool)
    for turning in (bank > least, bank < -least):
        run = np.convolve(turning, np.ones(TURNING_FOR_ROWS), "valid") > TURNING_FOR_ROWS - 0.5
        for k in np.flatnonzero(run):
            steady[k : k + TURNING_FOR_ROWS] = True
    where = np.flatnonzero(steady)
    return (float(rows[where[0], 0]), float(rows[where[-1], 0])) if len(where) else None


def pass_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """Passes at the top meadow: how many of each flight, and errors of those matched."""
    first, last = log.truth.recorded_s
    true = [p for p in log.truth.passes if p.on_top and first <= p.start_s and p.end_s <= last]
    found = [p for f in debrief.flights for p in _sure_passes(log, f)]
    record: Record = {
        "passes_true": len(true),
        "passes_found": len(found),
        "passes_possible": sum(p.certainty == "possible" for f in debrief.flights for p in f.passes),
        "pass_counts": [
            (sum(_is_in(p, one) for p in true), len(_sure_passes(log, other)))
            for one, other in flight_pairs(log, debrief)
        ],
        "pass_counts_defined": [
            _agrees_by_definition(log, debrief, one, other) for one, other in flight_pairs(log, debrief)
        ],
        "go_around_counts": [
            _go_arounds(true, one, other)
            for one, other in flight_pairs(log, debrief)
            if other.go_arounds is not None
        ],
        "passes_missed": [],
        "pass_outcomes": [0, 0],
        "decision_s": [],
        "lowest_m": [],
        "lowest_is_pressure": [],
    }
    left = list(found)
    for one in true:
        near = [p for p in left if _is_near(one, p)]
        if not near:
            record["passes_missed"].append((one.outcome, one.lowest_height_m, one.decision_height_m))
            continue
        best = min(near, key=lambda p: abs(seconds(p.end) - one.end_s))
        left.remove(best)
        record["pass_outcomes"][1] += 1
        record["pass_outcomes"][0] += best.outcome == one.outcome
        if one.outcome == best.outcome == "go_around" and best.decision is not None:
            record["decision_s"].append(seconds(best.decision.time) - one.end_s)
        if one.lowest_height_m is not None:
            error = best.lowest_height_m - one.lowest_height_m
            record["lowest_m"].append((error, 1.96 * best.lowest_height_sd_m))
            record["lowest_is_pressure"].append(debrief.motion.altitude_source == "pressure")
    return record | {"passes_false": len(left)}


def _go_arounds(true: Sequence[TruePass], flight: TrueFlight, found: Any) -> tuple[int, float, float, float]:
    """Go-arounds flown in a flight, those counted, and the ends of the interval."""
    flown = sum(_is_in(one, flight) and one.outcome == "go_around" for one in true)
    return flown, found.go_arounds.value, found.go_arounds.low, found.go_arounds.high


def _agrees_by_definition(log: SimulatedLog, debrief: Debrief, flight: TrueFlight, found: Any) -> bool:
    """Whether the passes listed for a flight agree with what was flown, as the published definition has it.

    Every landing, and every try that came down to `PLAIN_BELOW_M` over the meadow, is listed as sure; every higher
    one is listed, sure or possible; nothing is listed as sure but tries. A try given up before it came over the
    meadow may be listed or not, as may one in which the recorder was silent.
    """
    left = list(_sure_passes(log, found))
    listed = [p for p in found.passes if p.place in (log.truth.world.hill.pad.name, None)]
    first, last = log.truth.recorded_s
    flown = [
        p for p in log.truth.passes if p.on_top and _is_in(p, flight) and first <= p.start_s and p.end_s <= last
    ]
    agrees = True
    for one in sorted(flown, key=lambda p: p.lowest_height_m or 0.0):
        near = [p for p in left if _is_near(one, p)]
        if near:
            left.remove(min(near, key=lambda p: abs(seconds(p.end) - one.end_s)))
        elif not _was_silent(debrief, one):
            is_plain = one.outcome == "landed" or (one.lowest_height_m or 0.0) <= PLAIN_BELOW_M
            agrees &= not is_plain and any(_is_near(one, p) for p in listed)
    tries = [p for p in log.truth.given_up if _is_in(p, flight)]
    return agrees and all(any(_is_near(one, p) for one in tries) for p in left)


def _was_silent(debrief: Debrief, one: TruePass) -> bool:
    """Whether the recorder was silent within `SILENCE_NEAR_S` of the end of a pass."""
    times = debrief.motion.time_s
    gaps = np.flatnonzero(np.diff(times) > max(SILENCE_S, 3 * debrief.motion.interval_s))
    near = (times[gaps] < one.end_s + SILENCE_NEAR_S) & (times[gaps + 1] > one.end_s - SILENCE_NEAR_S)
    return bool(near.any())


def _is_in(one: TruePass, flight: TrueFlight) -> bool:
    """Whether a pass was flown in this flight."""
    return flight.liftoff_s < one.end_s <= (flight.touchdown_s or math.inf) + 0.1


def _sure_passes(log: SimulatedLog, flight: Any) -> Sequence[Any]:
    """The passes of a flight at the meadow that were counted."""
    pad = log.truth.world.hill.pad.name
    return [p for p in flight.passes if p.certainty == "sure" and p.place in (pad, None)]


def _is_near(one: TruePass, found: Any) -> bool:
    """Whether a pass found shares time with a true one, or ends where it does."""
    shared = min(one.end_s, seconds(found.end)) - max(one.start_s, seconds(found.start))
    return shared > 0 or abs(seconds(found.end) - one.end_s) < 10
