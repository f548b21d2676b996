"""The mean circle of a climb as it was flown: its period, its radius through the air and its bank."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .simulator import SimulatedLog
from .simulator.truth import COLUMN

STEP_S = 0.2
CIRCLING_SHARE = 0.5
"""Circling is where the turn over one circle's time around is this share of a circle or more."""
LONGEST_CIRCLE_S = 60.0
GRAVITY_MPS2 = 9.80665


@dataclass(frozen=True)
class TrueCircle:
    """The mean circle while the wing circled; the bank is that of an even turn at its airspeed and turn rate."""

    period_s: float
    radius_m: float
    bank_deg: float


def true_circle(log: SimulatedLog, start_s: float, end_s: float) -> TrueCircle | None:
    """The mean circle between two times, from the headings and airspeeds really flown; None without circling.

    Nothing of the analysis is in it but the two times. Turning against the circle around counts negative.
    """
    rows = log.truth.rows(start_s - LONGEST_CIRCLE_S, end_s + LONGEST_CIRCLE_S)
    time, heading = rows[:, 0], rows[:, COLUMN["heading_rad"]]
    inside = (time >= start_s) & (time <= end_s)
    turned = float(np.abs(np.diff(heading[inside])).sum())
    if turned < math.pi:
        return None
    at = np.arange(start_s, end_s, STEP_S)
    half_step = 0.5 * STEP_S
    steps = np.interp(at + half_step, time, heading) - np.interp(at - half_step, time, heading)
    period = min(2.0 * math.pi * (end_s - start_s) / turned, LONGEST_CIRCLE_S)
    for _ in range(2):  # the period of the circling, not of the way in and out as well
        half = 0.5 * period
        around = np.interp(at + half, time, heading) - np.interp(at - half, time, heading)
        circling = np.abs(around) >= CIRCLING_SHARE * 2.0 * math.pi
        if not circling.any():
            return None
        rate = float((np.sign(around) * steps)[circling].mean()) / STEP_S
        period = min(2.0 * math.pi / rate, LONGEST_CIRCLE_S)
    airspeed = float(np.interp(at, time, rows[:, COLUMN["airspeed_mps"]])[circling].mean())
    bank = math.degrees(math.atan(airspeed * rate / GRAVITY_MPS2))
    return TrueCircle(2.0 * math.pi / rate, airspeed / rate, bank)
