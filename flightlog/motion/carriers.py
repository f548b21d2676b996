"""Wing or wheels: a second look at every stretch that moved, with more than a second's worth of evidence.

Second by second a smooth flight and a road look alike. Over minutes they do not: in any wind a wing keeps its
speed through the air, so its velocities over ground lie on a circle about the wind; a car stops, starts and races,
and its height is the road's.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, lengths
from flightlog.motion.evidence import Grid
from flightlog.motion.motion import Motion, Spell
from flightlog.settings import Settings

WIND_SD_MPS = 5.0
"""Prior of one wind component before any data: 10 m/s is the most a foot-launched wing flies in."""
AIRSPEED_MPS, AIRSPEED_SD_MPS = 10.5, 2.5
FITS = 8
ENDS_S = 8.0
"""Beside a stretch the pilot stands; its bounds are good to a few seconds."""
LOOSE_M = 3.0
"""More height lost or gained over one place than recorders feign (M 1)."""
PART_S = 180.0
"""Long enough for several headings, short enough for one wind and height."""
MOST_PARTS = 9
"""Their median is sure enough; more only take time."""
CIRCLES, CIRCLES_WITHIN_S, CIRCLING_MPS = 2.0, 90.0, 2.5
"""Full turns one way within so many seconds, moving at least so fast: thermalling takes 12-35 s a turn, while
hairpins turn back, a roundabout or a slip road turns once, and no lap of a track is that short."""
PARTS_AT_ONCE = 100
"""Worked out together: bounds memory in logs of many stretches."""


def by_wing_or_wheels(
    motion: Motion, grid: Grid, still: Bools, spells: tuple[Spell, ...], settings: Settings
) -> tuple[Spell, ...]:
    """The spells with flights and drives told apart over whole stretches; `still`: where the pilot stands, (g,).

    A stretch of `carrier_least_s` or more is a drive when the speed through the air that fits it best is missed by
    more than `drive_spread_mps` (root mean square; `blurred_drive_spread_mps` where a slow recorder shows no
    stop), or by more than `stopping_spread_mps` where it also stands at traffic stops and its height keeps to the
    ground, or where it stands for `sure_traffic_stop_share` of it. It is a flight when the speed is missed by less
    than `flight_spread_mps` and height shakes; between them the label stays, unless it went back and forth over
    the same country without a stop (`soaring_wandering`), as soaring does and driving does not. A shorter stretch
    goes with the drive next to it: nobody lays out or packs a wing in `carrier_change_s`. Recorded at more than
    `carrier_longest_interval_s`, speeds in circles are too blurred to tell, and nothing is changed.
    """
    if motion.interval_s > settings.carrier_longest_interval_s:
        return spells
    changed = list(spells)
    long = [
        number
        for number, spell in enumerate(spells)
        if spell.kind != "ground" and spell.end_s - spell.start_s >= settings.carrier_least_s
    ]
    spreads = airspeed_spreads_mps(motion, [spells[number] for number in long])
    for number, spread in zip(long, spreads, strict=True):
        changed[number] = _second_look(motion, grid, still, spells[number], spread, settings)
    moved = [number for number, spell in enumerate(changed) if spell.kind != "ground"]
    for order in (moved, moved[::-1]):
        for before, number in pairwise(order):
            changed[number] = _beside_a_drive(changed[number], changed[before], settings)
    return _joined(changed)


def airspeed_spreads_mps(motion: Motion, spells: list[Spell]) -> list[float]:
    """How far each is from flying at one airspeed in one wind, m/s: median over up to 9 parts of 3 min.

    The root mean square of |v - W| - V for the best wind W and airspeed V with weak priors (robust Gauss-Newton).
    NaN where there are fewer than six fixes.
    """
    parts = [_parts(motion, spell) for spell in spells]
    low, high = np.concatenate([np.zeros((2, 0), dtype=np.int64), *parts], axis=1)
    blocks = range(0, len(low), PARTS_AT_ONCE)
    found = [_spreads_mps(motion, low[a : a + PARTS_AT_ONCE], high[a : a + PARTS_AT_ONCE]) for a in blocks]
    ends = np.cumsum([part.shape[1] for part in parts])
    every = np.split(np.concatenate([[], *found]), ends[:-1])
    return [float(np.median(own)) if len(own) else math.nan for own in every[: len(spells)]]


def _parts(motion: Motion, spell: Spell) -> Ints:
    """First fix, and one past the last, of each part of a spell that is looked at, (2, k)."""
    parts = max(1, round((spell.end_s - spell.start_s) / PART_S))
    edges = np.searchsorted(motion.time_s, np.linspace(spell.start_s, spell.end_s, parts + 1))
    chosen = np.unique(np.linspace(0, parts - 1, min(parts, MOST_PARTS)).astype(np.int64))
    both = np.stack([edges[chosen], edges[chosen + 1]])
    return np.asarray(both[:, both[1] - both[0] > 5], dtype=np.int64)


def _joined(spells: list[Spell]) -> tuple[Spell, ...]:
    """Neighbours of one kind made one."""
    joined: list[Spell] = []
    for spell in spells:
        if joined and joined[-1].kind == spell.kind and spell.start_s <= joined[-1].end_s:
            joined[-1] = replace(joined[-1], end_s=spell.end_s, sure=joined[-1].sure and spell.sure)
        else:
            joined.append(spell)
    return tuple(joined)


def _second_look(
    motion: Motion, grid: Grid, still: Bools, spell: Spell, spread: float, settings: Settings
) -> Spell:
    """The spell with the label that the `spread` of its airspeed and its stops ask for."""
    if spell.kind == "air" and _circles(motion, spell):
        return spell
    stopped_share, loose_share = _stops_and_looseness(grid, still, spell)
    stops = stopped_share >= settings.traffic_stop_share
    on_a_road = stops and loose_share <= settings.road_loose_share
    if stopped_share >= settings.sure_traffic_stop_share and on_a_road:
        return replace(spell, kind="vehicle")
    blurred = motion.interval_s > settings.slow_recorder_s and not stops
    if spread > (settings.blurred_drive_spread_mps if blurred else settings.drive_spread_mps) or (
        on_a_road and spread > settings.stopping_spread_mps
    ):
        return replace(spell, kind="vehicle")
    low, high = np.searchsorted(motion.time_s, [spell.start_s, spell.end_s])
    shakes = np.std(motion.climb_mps[low:high]) > settings.least_climb_spread_mps
    soars = not stops and _wandering(motion, low, high) >= settings.soaring_wandering
    most = settings.blurred_drive_spread_mps if soars else settings.flight_spread_mps
    if spread < most and shakes and not on_a_road:
        return replace(spell, kind="air")
    return spell


def _circles(motion: Motion, spell: Spell) -> bool:
    """Whether the way led round and round one way, as circling in lift does and roads do not."""
    low, high = np.searchsorted(motion.time_s, [spell.start_s, spell.end_s])
    east, north = motion.velocity_east_mps[low:high], motion.velocity_north_mps[low:high]
    if len(east) < 3:
        return False
    turned = np.angle(np.exp(1j * np.diff(np.arctan2(east, north))))
    slow = lengths(east, north) < CIRCLING_MPS
    turned[slow[1:] | slow[:-1] | ~np.isfinite(turned)] = 0.0
    course = np.concatenate([[0.0], np.cumsum(turned)])
    times = motion.time_s[low:high]
    later = np.searchsorted(times, times + CIRCLES_WITHIN_S, side="right") - 1
    return bool(np.abs(course[later] - course).max() >= CIRCLES * 2.0 * math.pi)


def _wandering(motion: Motion, low: int, high: int) -> float:
    """Way flown or driven between two fixes, by the width of the country it lies in."""
    east, north = motion.east_m[low:high], motion.north_m[low:high]
    if len(east) < 2:
        return 0.0
    way = float(lengths(east[1:] - east[:-1], north[1:] - north[:-1]).sum())
    return way / max(float(np.hypot(np.ptp(east), np.ptp(north))), 1.0)


def _stops_and_looseness(grid: Grid, still: Bools, spell: Spell) -> tuple[float, float]:
    """Shares of a stretch, without its ends, stood still and with height changes that no slope explains."""
    inside = (grid.time_s > spell.start_s + ENDS_S) & (grid.time_s < spell.end_s - ENDS_S)
    if not inside.any():
        return 0.0, 0.0
    return float(np.mean(still[inside])), float(np.mean(grid.loose_m[inside] > LOOSE_M))


def _beside_a_drive(spell: Spell, other: Spell, settings: Settings) -> Spell:
    """A short stretch of flight within a minute or two of a drive is part of the drive."""
    apart = max(spell.start_s - other.end_s, other.start_s - spell.end_s)
    short = spell.end_s - spell.start_s < settings.carrier_least_s
    if spell.kind == "air" and other.kind == "vehicle" and short and apart < settings.carrier_change_s:
        return replace(spell, kind="vehicle")
    return spell


def _spreads_mps(motion: Motion, low: Ints, high: Ints) -> Floats:
    """Root mean square of |v - W| - V at the best W and V, for fixes low..high-1 of each of k parts."""
    columns = np.arange(int((high - low).max()))
    used = (columns < (high - low)[:, None]).astype(np.float64)  # (k, m), 0 beyond the end of a part
    fixes = np.minimum(low[:, None] + columns, high[:, None] - 1)
    east, north = motion.velocity_east_mps[fixes], motion.velocity_north_mps[fixes]
    prior = np.array([0.0, 0.0, AIRSPEED_MPS])
    inverse = np.diag([WIND_SD_MPS**-2, WIND_SD_MPS**-2, AIRSPEED_SD_MPS**-2])
    state = np.tile(prior, (len(low), 1))
    slopes = np.empty((len(low), 3, len(columns)))
    for _ in range(FITS):
        off_east, off_north = east - state[:, :1], north - state[:, 1:2]
        speed = np.sqrt(off_east**2 + off_north**2) + 1e-9
        miss = speed - state[:, 2:]
        weight = used * (0.2 / np.maximum(1.0, np.abs(miss) / 1.5))  # about one independent value in five
        slopes[:, 0], slopes[:, 1], slopes[:, 2] = -off_east / speed, -off_north / speed, -1.0
        weighted = slopes * weight[:, None, :]
        normal = weighted @ slopes.transpose(0, 2, 1) + inverse
        pull = (weighted @ miss[:, :, None])[:, :, 0] + (state - prior) @ inverse
        step = np.linalg.solve(normal, -pull[:, :, None])[:, :, 0]
        state += step * np.minimum(1.0, 3.0 / np.maximum(np.abs(step).max(axis=1), 1e-9))[:, None]
    miss = np.sqrt((east - state[:, :1]) ** 2 + (north - state[:, 1:2]) ** 2) - state[:, 2:]
    return np.asarray(np.sqrt((miss**2 * used).sum(axis=1) / (high - low)))
