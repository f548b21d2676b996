"""Own wind and airspeed beside those the recorder wrote, as a check; the two are never mixed.

A recorder with a speed sensor writes airspeed, many write a wind of their own. Agreement says that both are sane;
disagreement may be either side's fault: a vane or pitot tube on a foot-launched wing may be off by several per
cent, which shows as bias with good correlation. A column that never changes (no sensor fitted) gives no check.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from flightlog.air.air import Air
from flightlog.air.triangles import vector
from flightlog.arrays import Bools, Floats
from flightlog.errors import Note
from flightlog.motion.motion import Motion
from flightlog.tracks.track import Track

LEAST_COUNT = 30
LEAST_BIAS_MPS = 0.05
"""A smaller difference is none in words that give tenths."""
SLOWEST_SENSED_MPS = 4.0
"""Below it a sensor is at rest or stuck; no wing flies so slowly."""


COLUMN_NAMES = {
    "airspeed_mps": "true airspeed",
    "wind_mps": "wind speed",
    "wind_from_deg": "wind direction",
}
QUANTITIES = {
    "airspeed": "airspeed",
    "airspeed_circling": "airspeed in circles",
    "airspeed_straight": "airspeed outside circles",
    "wind": "wind",
}


@dataclass(frozen=True)
class RecorderCheck:
    """How one recorded quantity compares: own value less the recorder's, over `count` fixes.

    `bias_mps` is the mean difference, `scatter_mps` its standard deviation and `rms_mps` its root mean square; of
    the wind, the bias is that of its speed, scatter and rms are those of the vector difference. `ratio` is the
    median of own over recorded, `correlation` that of the two series (1: they rise and fall together), None where
    either hardly varies. `sentence` says it in words.
    """

    quantity: str  # "airspeed" | "airspeed_circling" | "airspeed_straight" | "wind"
    count: int
    bias_mps: float
    rms_mps: float
    ratio: float
    correlation: float | None
    scatter_mps: float = 0.0
    sentence: str = ""


def check_against_recorder(track: Track, motion: Motion, air: Air) -> tuple[RecorderCheck, ...]:
    """Compare own airspeed and wind with the recorder's columns; empty where the log has none that change."""
    checks = []
    sensed = _changing(track, "airspeed_mps")
    if sensed is not None:
        recorded = np.where(sensed[motion.fix] >= SLOWEST_SENSED_MPS, sensed[motion.fix], np.nan)
        everywhere = np.ones(recorded.size, dtype=np.bool_)
        for name, part in (
            ("airspeed", everywhere),
            ("airspeed_circling", air.circling != 0),
            ("airspeed_straight", air.circling == 0),
        ):
            checks.append(_compare_speed(name, air.airspeed_mps, recorded, part))
    wind_from, wind_speed = _changing(track, "wind_from_deg"), _changing(track, "wind_mps")
    if wind_from is not None and wind_speed is not None:
        checks.append(_compare_wind(air, wind_from[motion.fix], wind_speed[motion.fix]))
    return tuple(check for check in checks if check is not None)


def constant_columns(track: Track) -> tuple[Note, ...]:
    """A note for every column of airspeed or wind that never changes: no sensor wrote it."""
    notes = []
    for name, words in COLUMN_NAMES.items():
        column = track.recorded.get(name)
        if column is not None and column.size >= LEAST_COUNT and _changing(track, name) is None:
            message = f"the recorded {words} never changes: no sensor wrote it, and nothing is compared with it"
            notes.append(Note("column_constant", message))
    return tuple(notes)


def _changing(track: Track, name: str) -> Floats | None:
    """A recorded column that changes at least once; None where there is no such column."""
    column = track.recorded.get(name)
    if column is None:
        return None
    known = column[np.isfinite(column)]
    return column if known.size and known.min() < known.max() else None


def _compare_speed(quantity: str, own: Floats, recorded: Floats, part: Bools) -> RecorderCheck | None:
    """One speed against the other."""
    both = part & np.isfinite(own) & np.isfinite(recorded)
    if both.sum() < LEAST_COUNT:
        return None
    mine, theirs = own[both], recorded[both]
    difference = mine - theirs
    return _with_sentence(
        RecorderCheck(
            quantity=quantity,
            count=int(both.sum()),
            bias_mps=float(difference.mean()),
            rms_mps=float(np.sqrt((difference**2).mean())),
            ratio=float(np.median(mine / theirs)),
            correlation=_correlation(mine, theirs),
            scatter_mps=float(difference.std()),
        )
    )


def _with_sentence(check: RecorderCheck) -> RecorderCheck:
    """The check with its sentence in m/s."""
    return replace(check, sentence=check_in_words(check, lambda speed_mps: f"{speed_mps:.1f} m/s"))


def check_in_words(check: RecorderCheck, speed: Callable[[float], str]) -> str:
    """What a check says, with speeds as `speed` writes those given in m/s.

    >>> check = RecorderCheck("airspeed", 99, -0.5, 0.8, 0.95, 0.9, 0.6)
    >>> check_in_words(check, lambda speed_mps: f"{3.6 * speed_mps:.1f} km/h")
    "Over 99 fixes the airspeed found here is 1.8 km/h lower than the recorder's (scatter 2.2 km/h)."
    """
    is_wind = check.quantity == "wind"
    words = ("stronger", "weaker") if is_wind else ("higher", "lower")
    apart = "the same as"
    if abs(check.bias_mps) >= LEAST_BIAS_MPS:
        apart = f"{speed(abs(check.bias_mps))} {words[check.bias_mps < 0]} than"
    start = f"Over {check.count} fixes the {QUANTITIES[check.quantity]} found here is {apart} the recorder's"
    if is_wind:
        return f"{start}; the two differ by {speed(check.rms_mps)}, direction included."
    return f"{start} (scatter {speed(check.scatter_mps)})."


def _compare_wind(air: Air, from_deg: Floats, speed_mps: Floats) -> RecorderCheck | None:
    """The own wind vector against the recorder's."""
    east, north = vector(from_deg, -speed_mps)
    both = np.isfinite(air.wind_east_mps) & np.isfinite(east) & np.isfinite(north) & (speed_mps > 0.0)
    if both.sum() < LEAST_COUNT:
        return None
    off_east, off_north = (air.wind_east_mps - east)[both], (air.wind_north_mps - north)[both]
    mine = np.hypot(air.wind_east_mps, air.wind_north_mps)[both]
    bias, rms = float((mine - speed_mps[both]).mean()), float(np.sqrt((off_east**2 + off_north**2).mean()))
    return _with_sentence(
        RecorderCheck(
            quantity="wind",
            count=int(both.sum()),
            bias_mps=bias,
            rms_mps=rms,
            ratio=float(np.median(mine / speed_mps[both])),
            correlation=_correlation(mine, speed_mps[both]),
            scatter_mps=float(np.hypot(off_east.std(), off_north.std())),
        )
    )


def _correlation(a: Floats, b: Floats) -> float | None:
    """Pearson's correlation, None where either side is constant."""
    if a.std() < 1e-6 or b.std() < 1e-6:
        return None
    return float(np.corrcoef(a, b)[0, 1])
