"""Own wind and airspeed beside those the recorder wrote, as a check; the two are never mixed.

A recorder with a speed sensor writes airspeed, many write a wind of their own. Agreement says that both are sane;
disagreement may be either side's fault: a vane or pitot tube on a foot-launched wing may be off by several per
cent, which shows as bias with good correlation. A column of zeros (no sensor fitted) gives no check at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.air.triangles import vector
from flightlog.arrays import Bools, Floats
from flightlog.motion.motion import Motion
from flightlog.tracks.track import Track

LEAST_COUNT = 30
SLOWEST_SENSED_MPS = 4.0
"""Below it a sensor is at rest or stuck; no wing flies so slowly."""


@dataclass(frozen=True)
class RecorderCheck:
    """How one recorded quantity compares: own value less the recorder's, over `count` fixes.

    `bias_mps` is the mean difference and `rms_mps` its root mean square (of the vector difference for the wind);
    `ratio` is the median of own over recorded, `correlation` that of the two series (1: they rise and fall
    together), None where either hardly varies.
    """

    quantity: str  # "airspeed" | "airspeed_circling" | "airspeed_straight" | "wind"
    count: int
    bias_mps: float
    rms_mps: float
    ratio: float
    correlation: float | None


def check_against_recorder(track: Track, motion: Motion, air: Air) -> tuple[RecorderCheck, ...]:
    """Compare own airspeed and wind with the recorder's columns; empty where the log has none."""
    checks = []
    sensed = track.recorded.get("airspeed_mps")
    if sensed is not None:
        recorded = np.where(sensed[motion.fix] >= SLOWEST_SENSED_MPS, sensed[motion.fix], np.nan)
        everywhere = np.ones(recorded.size, dtype=np.bool_)
        for name, part in (
            ("airspeed", everywhere),
            ("airspeed_circling", air.circling != 0),
            ("airspeed_straight", air.circling == 0),
        ):
            checks.append(_compare_speed(name, air.airspeed_mps, recorded, part))
    wind_from, wind_speed = track.recorded.get("wind_from_deg"), track.recorded.get("wind_mps")
    if wind_from is not None and wind_speed is not None:
        checks.append(_compare_wind(air, wind_from[motion.fix], wind_speed[motion.fix]))
    return tuple(check for check in checks if check is not None)


def _compare_speed(quantity: str, own: Floats, recorded: Floats, part: Bools) -> RecorderCheck | None:
    """One speed against the other."""
    both = part & np.isfinite(own) & np.isfinite(recorded)
    if both.sum() < LEAST_COUNT:
        return None
    mine, theirs = own[both], recorded[both]
    difference = mine - theirs
    return RecorderCheck(
        quantity=quantity,
        count=int(both.sum()),
        bias_mps=float(difference.mean()),
        rms_mps=float(np.sqrt((difference**2).mean())),
        ratio=float(np.median(mine / theirs)),
        correlation=_correlation(mine, theirs),
    )


def _compare_wind(air: Air, from_deg: Floats, speed_mps: Floats) -> RecorderCheck | None:
    """The own wind vector against the recorder's."""
    east, north = vector(from_deg, -speed_mps)
    both = np.isfinite(air.wind_east_mps) & np.isfinite(east) & np.isfinite(north) & (speed_mps > 0.0)
    if both.sum() < LEAST_COUNT:
        return None
    off_east, off_north = (air.wind_east_mps - east)[both], (air.wind_north_mps - north)[both]
    mine = np.hypot(air.wind_east_mps, air.wind_north_mps)[both]
    return RecorderCheck(
        quantity="wind",
        count=int(both.sum()),
        bias_mps=float((mine - speed_mps[both]).mean()),
        rms_mps=float(np.sqrt((off_east**2 + off_north**2).mean())),
        ratio=float(np.median(mine / speed_mps[both])),
        correlation=_correlation(mine, speed_mps[both]),
    )


def _correlation(a: Floats, b: Floats) -> float | None:
    """Pearson's correlation, None where either side is constant."""
    if a.std() < 1e-6 or b.std() < 1e-6:
        return None
    return float(np.corrcoef(a, b)[0, 1])
