"""Full circles: where the pilot turned round and round, and which way.

A chain of three states, straight, right and left, on the turn rate (Rabiner 1989). Give it the turn rate
through the air where the wind is known: over the ground, a wind of more than 0.6 of the airspeed hides circles.

Slow recorders: a heading can be followed only while it turns by less than half a circle between two fixes. Circles
shorter than two intervals (15 s ones at 8 s) look like slower ones the other way; none can be told at 10 s.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, lengths
from flightlog.motion.chains import most_likely_path
from flightlog.motion.motion import Motion, Spell, Turning
from flightlog.settings import Settings

STRAIGHT, RIGHT, LEFT = 0, 1, 2
_REVERSAL = float(np.exp(-1.0))  # from one turn straight into the other is that much rarer than levelling out
_NEVER = -60.0
_VAGUE_TURN_DEG = 110.0
"""Turned more than so far between two fixes, it may as well have been the other way round."""


def find_turnings(
    motion: Motion, turn_rate_degps: Floats, settings: Settings, within: Sequence[Spell] = ()
) -> tuple[Turning, ...]:
    """Runs of turning one way through nearly a full circle or more, in order of time.

    Parameters
    ----------
    motion : Motion
        As cleaned.
    turn_rate_degps : (n,) array
        Right positive, one value a fix; NaN where unknown. Best in the air frame, see `turn_rates_degps`.
    settings : Settings
        `least_turn_deg` and `shortest_turning_s` decide what counts.
    within : sequence of Spell
        Only there; empty: anywhere. No turning bridges a gap.
    """
    rate = np.asarray(turn_rate_degps, dtype=np.float64)
    if rate.shape != motion.time_s.shape:
        raise ValueError(f"turn_rate_degps must have one value a fix, {motion.time_s.shape}, not {rate.shape}")
    share = _time_share(motion)
    ways = _seen_as(motion, rate, share, settings)
    likelihood = _log_likelihood(ways, share, settings)
    likelihood[~_inside(motion, within)] = [0.0, _NEVER, _NEVER]
    moves, which = _log_transitions(motion, settings)
    path = most_likely_path(likelihood, moves, np.log([0.8, 0.1, 0.1]), which, forgets=True)
    if motion.interval_s <= settings.longest_chord_s:  # beyond, tight circles look like wide ones the other way
        _mark_wide_circles(motion, path, np.where(np.isfinite(rate), rate, 0.0) * share, likelihood, settings)
    turned = np.take_along_axis(ways, path[:, None], axis=1)[:, 0]
    return _long_enough(motion, path, np.where(np.isfinite(turned), turned, 0.0) * share, share, settings)


def turn_rates_degps(
    motion: Motion, wind_east_mps: Floats | float = 0.0, wind_north_mps: Floats | float = 0.0
) -> Floats:
    """Turn rate at every fix, right positive, of the motion through air that moves with this wind, (n,).

    At short intervals from the smoothed velocity and acceleration; from 3 s on from the headings of the straight
    lines between fixes, whose differences the smoother cannot flatten. NaN where the speed is below 1 m/s.
    """
    if motion.interval_s < 3.0:
        east, north = motion.velocity_east_mps - wind_east_mps, motion.velocity_north_mps - wind_north_mps
        square = east**2 + north**2
        cross = north * motion.acceleration_east_mps2 - east * motion.acceleration_north_mps2
        return np.asarray(np.where(square > 1.0, np.degrees(cross / np.maximum(square, 1.0)), np.nan))
    return _chord_turn_rates(motion, wind_east_mps, wind_north_mps)


def _chord_turn_rates(motion: Motion, wind_east_mps: Floats | float, wind_north_mps: Floats | float) -> Floats:
    """Turn rate from the change of direction between the lines before and after each fix."""
    step = np.diff(motion.time_s)
    turn = np.radians(motion.plane.convergence_at_deg(motion.east_m, motion.north_m))[:-1]
    east, north = np.diff(motion.measured_east_m) / step, np.diff(motion.measured_north_m) / step
    winds = (np.broadcast_to(wind, motion.time_s.shape) for wind in (wind_east_mps, wind_north_mps))
    wind_east, wind_north = (0.5 * (wind[1:] + wind[:-1]) for wind in winds)
    east, north = east * np.cos(turn) + north * np.sin(turn), north * np.cos(turn) - east * np.sin(turn)
    east, north = east - wind_east, north - wind_north
    known = (lengths(east, north) > 1.0) & (np.diff(motion.piece) == 0)
    heading = np.where(known, np.degrees(np.arctan2(east, north)), np.nan)
    change = np.mod(np.diff(heading) + 180.0, 360.0) - 180.0
    rate = np.full(len(motion.time_s), np.nan)
    rate[1:-1] = change / (0.5 * (step[1:] + step[:-1]))
    return rate


def _time_share(motion: Motion) -> Floats:
    """Seconds that each fix stands for: half-way to its neighbours, inside its piece."""
    step = np.where(np.diff(motion.piece) == 0, np.diff(motion.time_s), 0.0)
    return np.asarray(0.5 * (np.concatenate([[0.0], step]) + np.concatenate([step, [0.0]])))


def _inside(motion: Motion, within: Sequence[Spell]) -> Bools:
    """Mark the fixes inside one of the spells; all of them when there are none."""
    inside = np.full(len(motion.time_s), not within)
    for spell in within:
        low, high = np.searchsorted(motion.time_s, (spell.start_s, spell.end_s))
        inside[low:high] = True
    return inside


def _seen_as(motion: Motion, rate: Floats, share: Floats, settings: Settings) -> Floats:
    """The turn rates (n, 3) of each fix as straight flight, a right and a left turn.

    Between two fixes of a slow recorder a turn of 160 degrees to the left looks like one of 200 to the right.
    Which it was its neighbours tell: nobody turns half round the other way and back within a few seconds. Beyond
    `longest_chord_s` every turn would be vague, and what is seen is taken as it is.
    """
    if not settings.slow_recorder_s <= motion.interval_s <= settings.longest_chord_s:
        return np.repeat(rate[:, None], 3, axis=1)
    whole = 360.0 / np.maximum(share, 1e-9)
    vague = np.abs(rate) * share > _VAGUE_TURN_DEG
    right = np.where(vague & (rate < 0.0), rate + whole, rate)
    left = np.where(vague & (rate > 0.0), rate - whole, rate)
    return np.stack([rate, right, left], axis=1)


def _log_likelihood(ways: Floats, share: Floats, settings: Settings) -> Floats:
    """Logarithm of the likelihood of each fix's turn rates, (n, 3); 0 where the rate is unknown."""
    usual, spread = settings.circling_rate_degps, settings.circling_rate_sd_degps
    clipped = np.minimum(np.maximum(ways, -150.0), 150.0)

    def normal(state: int, mean: float, sd: float) -> Floats:
        return np.asarray(np.exp(-0.5 * ((clipped[:, state] - mean) / sd) ** 2) / sd)

    states = [0.9 * normal(STRAIGHT, 0.0, 5.0) + 0.1 * normal(STRAIGHT, 0.0, 15.0)]
    for state, sign in ((RIGHT, 1.0), (LEFT, -1.0)):
        states.append(0.9 * normal(state, sign * usual, spread) + 0.1 * normal(state, sign * 50.0, 30.0))
    likelihood: Floats = np.log(np.maximum(np.stack(states, axis=1), 1e-20))
    weight = share / settings.turn_rate_correlation_s
    return np.where(np.isfinite(likelihood), likelihood * weight[:, None], 0.0)


def _log_transitions(motion: Motion, settings: Settings) -> tuple[Floats, Ints]:
    """Transitions (u, 3, 3), and which of them leads into each fix after the first, by the time since the last."""
    step = np.round(np.diff(motion.time_s), 1)
    tenths = np.minimum(np.maximum(step * 10.0, 1.0), 6000.0).round().astype(np.int64)
    seen = np.bincount(tenths) > 0
    lengths, which = np.flatnonzero(seen) / 10.0, (np.cumsum(seen) - 1)[tenths]
    if len(lengths) > 64:  # a recorder at odd times: to a tenth of its size is near enough
        lengths, which = np.unique(np.round(np.log(np.clip(step, 0.1, 600.0)) * 10.0), return_inverse=True)
        lengths = np.exp(lengths / 10.0)
    stay = np.exp(-lengths / settings.turning_leave_s)
    matrices = np.empty((len(lengths), 3, 3))
    matrices[:, STRAIGHT, RIGHT] = matrices[:, STRAIGHT, LEFT] = 0.5 * (1.0 - stay)
    for one, other in ((RIGHT, LEFT), (LEFT, RIGHT)):
        matrices[:, one, STRAIGHT] = (1.0 - stay) / (1.0 + _REVERSAL)
        matrices[:, one, other] = (1.0 - stay) * _REVERSAL / (1.0 + _REVERSAL)
    for state in range(3):
        matrices[:, state, state] = stay
    return np.log(matrices), which.reshape(-1)


def _mark_wide_circles(
    motion: Motion, path: Ints, turned_deg: Floats, likelihood: Floats, settings: Settings
) -> None:
    """Make turns, in `path`, of straight flight that keeps turning one way through one and a half circles or more.

    Circles of 40 to 70 s, as in wide weak lift, turn fix by fix no faster than straight flight wanders; but that
    wanders to and fro, and a bend of a glide ends.
    """
    half_s = 0.5 * settings.wide_circle_window_s
    sums = np.concatenate([[0.0], np.cumsum(turned_deg)])
    first = np.searchsorted(motion.time_s, motion.time_s - half_s)
    stop = np.searchsorted(motion.time_s, motion.time_s + half_s)
    least_deg = settings.wide_circle_least_degps * settings.wide_circle_window_s
    around_deg = sums[stop] - sums[first]
    way = np.where(np.abs(around_deg) >= least_deg, np.sign(around_deg), 0.0)
    way[(path != STRAIGHT) | (likelihood[:, RIGHT] <= _NEVER)] = 0.0
    starts = np.flatnonzero(np.diff(way * (motion.piece[-1] + 1) * 2 + motion.piece, prepend=np.inf))
    stops = np.append(starts[1:], len(path))
    wide = (way[starts] != 0.0) & (np.abs(sums[stops] - sums[starts]) >= settings.wide_circle_turn_deg)
    for start, stop_at in zip(starts[wide].tolist(), stops[wide].tolist(), strict=True):
        path[start:stop_at] = RIGHT if way[start] > 0 else LEFT


def _long_enough(
    motion: Motion, path: Ints, turned_deg: Floats, share: Floats, settings: Settings
) -> tuple[Turning, ...]:
    """The runs of turning one way that make a circle and last."""
    starts = np.flatnonzero(np.diff(path * (motion.piece[-1] + 1) + motion.piece, prepend=-1))
    stops = np.append(starts[1:], len(path))
    turned = np.add.reduceat(turned_deg, starts)
    lasted = np.add.reduceat(share, starts)
    sign = np.where(path[starts] == RIGHT, 1.0, -1.0)
    keep = (
        (path[starts] != STRAIGHT)
        & (sign * turned >= settings.least_turn_deg)
        & (lasted >= settings.shortest_turning_s)
    )
    return tuple(
        Turning(int(starts[i]), int(stops[i]), "right" if sign[i] > 0 else "left", float(abs(turned[i])))
        for i in np.flatnonzero(keep)
    )
