"""What one simulated log got right of its thermals: centring, ways in and out, drift and lean, source."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from flightlog.debriefing import Debrief
from flightlog.measures.results import Climb

from .air_scores import climb_at
from .flight_scores import Record, interval_error, seconds
from .simulator import SimulatedLog
from .simulator.truth import COLUMN
from .simulator.world import Thermal

CORE_LOOKED_AT_S = 90.0
"""So much of a climb, from its first circle, is what its core and its centring speak of."""
STEADY_FROM = 0.8
"""Of the usual climb over one circle: steady from there on, by the published definition."""
PARCEL_SHARE, PARCEL_LEAST_MPS = 0.8, 1.5
"""Rise of the simulator's air on its way up, as a share of the rise of its core."""
END_KEYS = ("steady_climb_mps", "entry_s", "entry_loss_m", "leaving_s", "leaving_loss_m")
KEYS = ("centred", *END_KEYS, "drift_mps", "lean_deg", "source_m")


def thermal_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """The details of all climbs in circles, each against the thermal that the pilot went up in."""
    record: Record = {key: [] for key in KEYS}
    for climb in (c for f in debrief.flights for c in f.climbs if c.detail is not None):
        match = climb_at(log, seconds(climb.start), seconds(climb.end))
        thermal = None if match is None else log.truth.thermal_of(match)
        if thermal is not None:
            _score(record, log, climb, thermal)
    return record


def _score(record: Record, log: SimulatedLog, climb: Climb, thermal: Thermal) -> None:
    """One climb."""
    detail: Any = climb.detail
    start, end = seconds(climb.start), seconds(climb.end)
    if detail.centred_share is not None:
        until = min(end - detail.leaving_s, start + CORE_LOOKED_AT_S)
        true = true_centred_share(log, thermal, start + detail.entry_s, until, true_radius_m(log, start, end))
        record["centred"].append(interval_error(detail.centred_share, true))
    ends = None if detail.entry_interval_s is None else true_ends(log, start, end)
    if ends is not None:
        for key in END_KEYS:
            name, unit = key.rsplit("_", 1)
            record[key].append(interval_error(getattr(detail, f"{name}_interval_{unit}"), getattr(ends, key)))
    if detail.lean is not None:
        shift, gain = true_shift_m(log, thermal, start, end)
        record["drift_mps"].append(interval_error(detail.lean.drift_mps, shift / (end - start)))
        lean = math.degrees(math.atan2(shift, gain))
        record["lean_deg"].append(interval_error(detail.lean.track_lean_deg, lean))
    if detail.source is not None:
        found = detail.source.lat_deg, detail.source.lon_deg
        away = away_m(found, true_places(log, thermal, start, end)[0])
        record["source_m"].append((away, away <= detail.source.radius_m, detail.source.radius_m))


def true_radius_m(log: SimulatedLog, start_s: float, end_s: float) -> float:
    """Radius of the circles of a climb through the air: the way through it over the angle turned."""
    rows = log.truth.rows(start_s, end_s)
    turned = float(np.abs(np.diff(rows[:, COLUMN["heading_rad"]])).sum())
    return float(rows[:, COLUMN["airspeed_mps"]].mean()) * float(rows[-1, 0] - rows[0, 0]) / turned


def true_centred_share(
    log: SimulatedLog, thermal: Thermal, start_s: float, end_s: float, radius_m: float
) -> float:
    """Climb in this thermal along the way flown, over that on circles of this radius about its core."""
    rows = log.truth.rows(start_s, end_s)
    flown, centred = [], []
    for time, east, north, z in rows[:: max(len(rows) // 200, 1), :4]:
        since = time - log.truth.epoch_s
        core = thermal.core(since, z)
        flown.append(thermal.rise(since, east, north, z))
        centred.append(thermal.rise(since, core[0] + radius_m, core[1], z))
    air, z = rows[:, COLUMN["airmass_mps"]], rows[:, COLUMN["altitude_m"]]
    sink = float(air.mean()) - float(z[-1] - z[0]) / float(rows[-1, 0] - rows[0, 0])
    return (float(np.mean(flown)) - sink) / (float(np.mean(centred)) - sink)


@dataclass(frozen=True)
class TrueEnds:
    """The steady part of a climb, and what the way in and the way out took and cost."""

    steady_climb_mps: float
    entry_s: float
    entry_loss_m: float
    leaving_s: float
    leaving_loss_m: float


def true_ends(log: SimulatedLog, start_s: float, end_s: float) -> TrueEnds | None:
    """What steady climbing would have given more on the way in and out; None of a climb never steady.

    By the published definition, from the heights and the headings really flown: a circle is a full turn of the
    wing's heading, wherever it was begun.
    """
    rows = log.truth.rows(start_s, end_s)
    time, z = rows[:, 0], rows[:, COLUMN["altitude_m"]]
    turned = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(rows[:, COLUMN["heading_rad"]])))])
    last = int(np.searchsorted(turned, turned[-1] - 2 * math.pi))
    if last < 2:
        return None
    after = np.searchsorted(turned, turned[:last] + 2 * math.pi)
    climb = (z[after] - z[:last]) / (time[after] - time[:last])
    steady = np.flatnonzero(climb >= STEADY_FROM * np.median(climb))
    first, final = int(steady[0]), int(after[steady[-1]])
    rate = (z[final] - z[first]) / (time[final] - time[first])
    entry_s, leaving_s = float(time[first] - time[0]), float(time[-1] - time[final])
    return TrueEnds(
        steady_climb_mps=float(rate),
        entry_s=entry_s,
        entry_loss_m=float(rate * entry_s - (z[first] - z[0])),
        leaving_s=leaving_s,
        leaving_loss_m=float(rate * leaving_s - (z[-1] - z[final])),
    )


def true_shift_m(log: SimulatedLog, thermal: Thermal, start_s: float, end_s: float) -> tuple[float, float]:
    """How far the thermal's core went over the ground from where the pilot came in to where he left, and up."""
    first, last = (float(z) for z in log.truth.at(np.array([start_s, end_s]), "altitude_m"))
    before = thermal.core(start_s - log.truth.epoch_s, first)
    after = thermal.core(end_s - log.truth.epoch_s, last)
    return math.hypot(after[0] - before[0], after[1] - before[1]), last - first


def true_places(
    log: SimulatedLog, thermal: Thermal, start_s: float, end_s: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where the air met in the middle of a climb left the ground, and where it was met: degrees."""
    middle = 0.5 * (start_s + end_s)
    z = float(log.truth.at(middle, "altitude_m"))
    since = middle - log.truth.epoch_s
    age = (z - thermal.base_m) / max(PARCEL_SHARE * thermal.strength_mps, PARCEL_LEAST_MPS)
    left, met = thermal.core(since - age, thermal.base_m), thermal.core(since, z)
    return log.latitude_longitude(*left), log.latitude_longitude(*met)


def away_m(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Distance between two near points."""
    east = (one[1] - other[1]) * math.cos(math.radians(one[0]))
    return math.hypot(one[0] - other[0], east) * 111_195.0
