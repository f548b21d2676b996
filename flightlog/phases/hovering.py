"""Short stops that were none: a wing parked into the wind above the ground stands as still as one on it.

In wind as fast as the wing flies there is no speed over the ground, and in smooth slope lift hardly any climb: the
chain that tells ground from air (M 2) then sees a stop in the middle of a flight. Heights tell: who stands keeps
his height, and stands no higher than the ground beside him.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from flightlog.arrays import Floats
from flightlog.motion.motion import Motion, Spell
from flightlog.settings import Settings

END_S = 3.0
"""At each end of a stop so many seconds may belong to the flights beside it."""


def without_hovering(
    motion: Motion, stretches: list[Spell], spells: tuple[Spell, ...], settings: Settings
) -> list[Spell]:
    """The stretches in the air, those joined that only hovering above the ground parts.

    Parameters
    ----------
    motion : Motion
        Of the whole log.
    stretches : list of Spell
        In the air, in order of time.
    spells : tuple of Spell
        All spells of the log: those on the ground that last tell how high the ground is.
    settings : Settings
        Those whose names begin with `hover_`.

    Notes
    -----
    Weak: a relaunch within two minutes from ground steeper than `hover_slope` beside ground already known.
    """
    ground = _known_ground(motion, spells, settings)
    joined = stretches[:1]
    for before, after in pairwise(stretches):
        if _is_hovering(motion, before.end_s, after.start_s, ground, settings):
            joined[-1] = Spell("air", joined[-1].start_s, after.end_s, joined[-1].sure and after.sure)
        else:
            joined.append(after)
    return joined


def _known_ground(motion: Motion, spells: tuple[Spell, ...], settings: Settings) -> Floats:
    """Ground surely stood on (k, 4): time, east, north, altitude; one row each ten seconds at most."""
    step = max(1, round(10.0 / motion.interval_s))
    inside = np.zeros(len(motion.time_s), dtype=bool)
    for spell in spells:
        if spell.kind == "ground" and spell.end_s - spell.start_s > settings.hover_longest_s:
            low, high = np.searchsorted(motion.time_s, [spell.start_s + 10.0, spell.end_s - 10.0])
            inside[low:high:step] = True
    columns = (motion.time_s, motion.east_m, motion.north_m, motion.altitude_m)
    rows: Floats = np.column_stack([column[inside] for column in columns])
    return rows


def _is_hovering(motion: Motion, start_s: float, end_s: float, ground: Floats, settings: Settings) -> bool:
    """Whether the pilot was still in the air: height changed on the spot, or too high for the ground beside."""
    if end_s - start_s > settings.hover_longest_s:
        return False
    low, high = np.searchsorted(motion.time_s, [start_s + END_S, end_s - END_S])
    if high - low < 3 or float(np.diff(motion.time_s[low:high]).max()) > settings.longest_bridge_s:
        return False
    east, north, altitude = (column[low:high] for column in (motion.east_m, motion.north_m, motion.altitude_m))
    wander_m = settings.gnss_altitude_wander_m if motion.altitude_source == "gnss" else 0.0
    moved_m = float(np.hypot(np.ptp(east), np.ptp(north)))
    if float(np.ptp(altitude)) > settings.hover_height_m + wander_m + settings.hover_slope * moved_m:
        return True
    if len(ground) == 0:
        return False
    away_m = np.hypot(ground[:, 1] - np.median(east), ground[:, 2] - np.median(north))
    drift_m = settings.hover_drift_m_per_hour * np.abs(ground[:, 0] - start_s) / 3600.0
    least_m = settings.hover_above_m + wander_m + settings.hover_slope * away_m + drift_m
    beside = away_m < settings.hover_beside_m
    return bool((beside & (np.median(altitude) - ground[:, 3] > least_m)).any())
