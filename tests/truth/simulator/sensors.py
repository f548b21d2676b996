"""What the recorder makes of the truth: GNSS and pressure errors, drop-outs, spikes, stale and doubled fixes.

Sizes: correlated GNSS noise of 1.5-3 m horizontally and 3-5 m vertically over about 80 s, plus 0.6 m over 3 s and
0.4 m white; pressure 0.3-1 m, a temperature scale error of about 1.5 %, an offset from the pressure of the day.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import numpy as np

from .scenario import Scenario


@dataclass(frozen=True)
class SensorTruth:
    """The errors that this recorder was given."""

    horizontal_m: float
    vertical_m: float
    pressure_noise_m: float
    pressure_scale: float  # pressure altitude grows by 1 + this for each metre of true altitude
    pressure_offset_m: float
    pressure_drift_m_per_h: float


@dataclass
class Fixes:
    """Fixes as the recorder would write them; arrays of one length."""

    time_s: np.ndarray  # since the start of the simulated day
    east_m: np.ndarray
    north_m: np.ndarray
    gnss_m: np.ndarray  # above the geoid
    pressure_m: np.ndarray | None
    valid: np.ndarray


def draw_errors(scenario: Scenario, rng: random.Random) -> SensorTruth:
    """A recorder's errors, drawn from the usual range."""
    n = scenario.noise
    return SensorTruth(
        n * rng.uniform(1.5, 3.0), n * rng.uniform(3.0, 5.0), n * rng.uniform(0.3, 1.0), n * rng.gauss(0, 0.015),
        n * rng.uniform(-100, 100), n * rng.gauss(0, 4),
    )  # fmt: skip


def correlated(rng: random.Random, times: np.ndarray, spread: float, correlation_s: float) -> np.ndarray:
    """Ornstein-Uhlenbeck noise at these times."""
    out = np.zeros(len(times))
    if spread <= 0:
        return out
    value, last = rng.gauss(0, spread), times[0]
    values = []
    for time in times.tolist():
        keep = math.exp(-max(time - last, 0.0) / correlation_s)
        value = value * keep + spread * math.sqrt(1 - keep * keep) * rng.gauss(0, 1)
        last = time
        values.append(value)
    out[:] = values
    return out


def white(rng: random.Random, count: int, spread: float) -> np.ndarray:
    """White noise."""
    return np.array([rng.gauss(0, spread) for _ in range(count)]) if spread > 0 else np.zeros(count)


def fix_times(scenario: Scenario, start: float, end: float, rng: random.Random) -> np.ndarray:
    """When the recorder writes: every interval, or irregularly around it."""
    step = scenario.interval_s
    first = math.ceil(start / step) * step if step >= 1 else start
    times = np.arange(first, end, step)
    if scenario.irregular:
        whole = 1.0 if scenario.form == "igc" or step >= 1 else step
        gaps, t = [], first
        while t < end:
            gaps.append(t)
            t += max(whole, round(step * rng.choice((0.5, 1, 1, 1, 1.5, 2, 3)) / whole) * whole)
        times = np.array(gaps)
    return np.round(times, 3)


def record(
    scenario: Scenario, states: np.ndarray, start: float, end: float, rng: random.Random
) -> tuple[Fixes, SensorTruth]:
    """Fixes of the states between two times, with this recorder's errors."""
    errors = draw_errors(scenario, rng)
    times = fix_times(scenario, max(start, states[0, 0]), min(end, states[-1, 0]), rng)
    east, north, up = (np.interp(times, states[:, 0], states[:, k]) for k in (1, 2, 3))
    n = scenario.noise
    calm = rng.uniform(0.7, 1.05) * n  # some receivers smooth more than others
    calm_up = rng.uniform(0.35, 1.0) * n
    short = [correlated(rng, times, 0.6 * calm, 3.0) + white(rng, len(times), 0.4 * calm) for _ in range(2)]
    east_fix = east + correlated(rng, times, errors.horizontal_m, 80) + short[0]
    north_fix = north + correlated(rng, times, errors.horizontal_m, 80) + short[1]
    gnss = (
        up
        + correlated(rng, times, errors.vertical_m, 80)
        + correlated(rng, times, 0.9 * calm_up, 3.0)
        + white(rng, len(times), 0.5 * calm_up)
    )
    pressure = None
    if scenario.pressure:
        noise = correlated(rng, times, 0.7 * errors.pressure_noise_m, 2.5) + white(
            rng, len(times), 0.7 * errors.pressure_noise_m
        )
        hours = (times - times[0]) / 3600
        pressure = (
            up * (1 + errors.pressure_scale)
            + errors.pressure_offset_m
            + errors.pressure_drift_m_per_h * hours
            + noise
        )
    fixes = Fixes(times, east_fix, north_fix, gnss, pressure, np.ones(len(times), bool))
    return _spoil(scenario, fixes, rng), errors


def _spoil(scenario: Scenario, fixes: Fixes, rng: random.Random) -> Fixes:
    """Spikes, stale spells, drop-outs and doubled fixes, as many as the scenario asks for."""
    count = len(fixes.time_s)
    for _ in range(scenario.spikes):
        k = rng.randrange(3, count - 3)
        size, way = rng.uniform(25, 400), rng.uniform(0, 6.28)
        fixes.east_m[k] += size * math.sin(way)
        fixes.north_m[k] += size * math.cos(way)
        fixes.gnss_m[k] += rng.gauss(0, size / 3)
    for _ in range(scenario.stale_spells):
        k, length = rng.randrange(3, count - 12), rng.randint(2, 6)
        for column in (fixes.east_m, fixes.north_m, fixes.gnss_m):
            column[k : k + length] = column[k]
    keep = np.ones(count, bool)
    for _ in range(scenario.drop_outs):
        k = rng.randrange(5, count - 5)
        gap = rng.uniform(5, 60)
        keep &= ~((fixes.time_s > fixes.time_s[k]) & (fixes.time_s < fixes.time_s[k] + gap))
    order = np.flatnonzero(keep)
    doubled = sorted(rng.randrange(0, len(order)) for _ in range(scenario.duplicates))
    order = np.sort(np.concatenate([order, order[doubled]])) if doubled else order
    return Fixes(
        fixes.time_s[order], fixes.east_m[order], fixes.north_m[order], fixes.gnss_m[order],
        None if fixes.pressure_m is None else fixes.pressure_m[order], fixes.valid[order],
    )  # fmt: skip
