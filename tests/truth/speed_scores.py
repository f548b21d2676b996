"""What one simulated log got right of the speeds flown: their cost by the theory of the speed to fly."""

from __future__ import annotations

from typing import Any

import numpy as np

from flightlog.debriefing import Debrief

from .flight_scores import Record, seconds
from .simulator import SimulatedLog
from .simulator.truth import COLUMN
from .simulator.wing import density_speed_factor

SPEED_STEPS = 2000


def speed_scores(log: SimulatedLog, debrief: Debrief) -> Record:
    """Costs of the speeds of all glides, in time and in height."""
    record: Record = {"speed_cost_s": [], "speed_cost_m": []}
    for flight in debrief.flights:
        for glide, said in zip(flight.glides, flight.speed_to_fly, strict=True):
            climb = None if said.cost_s is None else _climb_named(flight, glide, said)
            if said.cost_s is not None and climb is not None:
                z = log.truth.at(np.array([seconds(climb.start), seconds(climb.end)]), "altitude_m")
                rate = float(z[1] - z[0]) / (seconds(climb.end) - seconds(climb.start))
                record["speed_cost_s"].append(_interval(said.cost_s, true_cost_s(log, glide, rate)))
            if said.cost_m is not None:
                record["speed_cost_m"].append(_interval(said.cost_m, true_cost_m(log, glide)))
    return record


def _interval(estimate: Any, true: float) -> tuple[float, bool, float]:
    """Error, whether the interval holds the truth, half its width."""
    return estimate.value - true, estimate.low <= true <= estimate.high, (estimate.high - estimate.low) / 2


def _climb_named(flight: Any, glide: Any, said: Any) -> Any:
    """The climb whose rate was taken for the one to come; None where it was several."""
    named = (c for c in flight.climbs if c.mean_climb_mps is not None and c.start >= glide.start)
    return next((c for c in named if c.mean_climb_mps.value == said.climb_mps), None)


def _flown(log: SimulatedLog, glide: Any) -> tuple[np.ndarray, np.ndarray, float, float, float, float]:
    """Airspeeds the wing could fly, its sink at each; the mean airspeed flown, its sink, the air's rise, the time.

    True speeds at the mean altitude of the glide, of the wing's own polar; the first two are (n,) arrays.
    """
    rows = log.truth.rows(seconds(glide.start), seconds(glide.end))
    factor = density_speed_factor(float(rows[:, COLUMN["altitude_m"]].mean()))
    speed, air = (float(rows[:, COLUMN[name]].mean()) for name in ("airspeed_mps", "airmass_mps"))
    wing = log.wing
    fastest = max(wing.top_mps * factor, speed)
    speeds = np.linspace(0.8 * wing.min_sink_speed_mps * factor, fastest, SPEED_STEPS)
    sinks = np.array([factor * wing.sink_mps(float(v) / factor) for v in speeds])
    return speeds, sinks, speed, factor * wing.sink_mps(speed / factor), air, float(rows[-1, 0] - rows[0, 0])


def true_cost_s(log: SimulatedLog, glide: Any, climb_mps: float) -> float:
    """Time of a glide and of the climb that wins its height back, less the shortest that the wing could do."""
    speeds, sinks, speed, sink, air, duration = _flown(log, glide)
    way = speed * duration
    flown = duration * (1.0 + (sink - air) / climb_mps)
    return float(flown - (way / speeds * (1.0 + (sinks - air) / climb_mps)).min())


def true_cost_m(log: SimulatedLog, glide: Any) -> float:
    """Height lost over the way on the ground, less the least that the wing could have lost in the same air."""
    speeds, sinks, speed, sink, air, duration = _flown(log, glide)
    rows = log.truth.rows(seconds(glide.start), seconds(glide.end))
    way = float(np.hypot(np.diff(rows[:, COLUMN["east_m"]]), np.diff(rows[:, COLUMN["north_m"]])).sum())
    over_ground = speeds + way / duration - speed
    onward = over_ground > 0.5
    return float(duration * (sink - air) - (way / over_ground[onward] * (sinks - air)[onward]).min())
