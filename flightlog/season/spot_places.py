"""Where spots are, and how sure that is: climbs of one spot share errors, which more climbs do not average out.

Each climb of a spot was traced down to a ground that was assumed, mostly too low or too high for all of them
alike, and with one guess of how fast parcels rise on their way up, the same for the whole season. Both move every
trace along its drift in proportion to it. And drift does not grow from nothing as what is reckoned with does:
parcels start slowly, in another wind than that of the climb, and what is measured of a calm day is mostly error.
All are unknowns beside the place: traces down winds from many sides tell them, traces down one wind do not. The
place is then unsure along that wind however many climbs there are: the spot lies in an ellipse, and the radius
told reaches to the ends of its long axis.

What this does not know: a wind near the ground that is the same every day whatever the wind above, as on the
slopes of a valley, moves all traces of a spot alike, and no trace tells it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flightlog.arrays import Floats
from flightlog.estimates import NORMAL_95
from flightlog.measures.thermal_sources import PARCEL_SHARE_SD, RAYLEIGH_95
from flightlog.season.drifts import likely_drifts
from flightlog.season.traces import DRIFT_MEAN, Traces

SEASON_SHARE_SD = 0.25
"""Of `PARCEL_SHARE_SD`: what all climbs share, the rise of parcels in that country at those heights. Nobody has
measured it: half of the variance (own). The rest, 0.245, is each climb's own."""
LOWEST_LAYER_SD_M = 125.0
"""Drift that is there, or missing, however long the drift reckoned with: parcels need two minutes for the lowest
150 metres, where they start from rest, in a wind that differs by 1 m/s from that taken for them (own). With 100 or
150 the radii of `tests.truth.season_study` hold the source in as many cases, to 3 in 100."""
LEAST_LEAN = 1e-3
"""Metres of drift for each metre of height, below which the height of the ground matters nothing."""
MOST_GROUND_SD_M = 800.0
LEAST_PART = 0.02
"""Climbs less likely than this from a spot say nothing of its place."""
_BUT_DRIFT = [0, 1, 3, 4]
"""Unknowns of a spot: east, north, how much longer the drift was than taken, how much higher the ground, and the
drift of the lowest layer."""


@dataclass(frozen=True)
class SpotPlace:
    """Where a spot is, in the plane of its traces, and the radius that holds it in 95 of 100 cases."""

    east_m: float
    north_m: float
    radius_m: float


def place_spots(traces: Traces, shares: Floats) -> tuple[SpotPlace, ...]:
    """The places of k spots from the climbs that each sent.

    Parameters
    ----------
    traces : Traces
        n climbs.
    shares : (k, n) array
        How likely each climb is from each spot.

    Returns
    -------
    tuple of SpotPlace
        By generalised least squares with the ground's height and the lowest layer's drift of each spot and the
        season's share of drift as further unknowns of known variance; errors widened where the traces miss each
        other by more than they should (Birge 1932, Phys. Rev. 40:207-227), never narrowed.

    References
    ----------
    Least squares with prior variances: Gelb 1974, Applied Optimal Estimation, section 4.2. (Both from memory.)
    """
    equations = _all_equations(traces, shares)
    drift, drift_precision = _season_drift(equations)
    return tuple(_place(one, drift, drift_precision) for one in equations)


def season_drift(traces: Traces, shares: Floats) -> float:
    """By what share the climbs drifted farther than they were taken to, as the spots tell: arguments as above."""
    return _season_drift(_all_equations(traces, shares))[0]


@dataclass(frozen=True, eq=False)
class _Equations:
    """Normal equations of one spot: information (5, 5), its right side (5,), sum of squares, weight of climbs."""

    information: Floats
    right: Floats
    squares: float
    climbs: float


def _all_equations(traces: Traces, shares: Floats) -> list[_Equations]:
    """The equations of each spot, from drifts as they probably were."""
    likely = likely_drifts(traces)
    return [_normal_equations(likely, row) for row in shares]


def _normal_equations(traces: Traces, shares: Floats) -> _Equations:
    """The equations of one spot, without what is known of the season's drift beforehand."""
    told = np.flatnonzero(shares >= LEAST_PART)
    if told.size == 0:
        told = np.array([int(np.argmax(shares))])
    part, some = np.maximum(shares[told], 1e-6), traces.chosen(told)
    east, north, drift = np.sin(some.drift_to_rad), np.cos(some.drift_to_rad), some.drift_m
    lean = drift / np.maximum(some.height_m, 1.0)
    stretch = np.maximum(some.along_sd_m**2 - some.across_sd_m**2, 0.0)
    ground_sd = np.sqrt(np.maximum(stretch - (PARCEL_SHARE_SD * drift) ** 2, 0.0)) / np.maximum(lean, LEAST_LEAN)
    own_sd = np.hypot(some.across_sd_m, math.sqrt(PARCEL_SHARE_SD**2 - SEASON_SHARE_SD**2) * drift)
    ee, nn, en = replace(some, along_sd_m=own_sd).precision()
    off = lean * (float(np.average(some.ground_altitude_m, weights=part)) - some.ground_altitude_m)
    ground = float(np.clip(np.sqrt(np.average(ground_sd**2, weights=part)), 1.0, MOST_GROUND_SD_M))
    one, none = np.ones(told.size), np.zeros(told.size)
    row_e = np.stack([one, none, east * drift, -east * lean, east])  # (5, m)
    row_n = np.stack([none, one, north * drift, -north * lean, north])
    y_e, y_n = some.east_m + east * off, some.north_m + north * off
    weighed_e = part * (ee * row_e + en * row_n)
    weighed_n = part * (en * row_e + nn * row_n)
    information = weighed_e @ row_e.T + weighed_n @ row_n.T
    information[[3, 4], [3, 4]] += 1.0 / np.array([ground, LOWEST_LAYER_SD_M]) ** 2
    squares = float((part * (ee * y_e**2 + 2.0 * en * y_e * y_n + nn * y_n**2)).sum())
    return _Equations(information, weighed_e @ y_e + weighed_n @ y_n, squares, float(part.sum()))


def _season_drift(equations: list[_Equations]) -> tuple[float, float]:
    """How much longer the drift was than it was taken, as all spots tell it together, and its precision."""
    precision = 1.0 / SEASON_SHARE_SD**2
    right = (DRIFT_MEAN - 1.0) * precision  # some drift much farther, none much less: longer in the mean
    for one in equations:
        across = one.information[2, _BUT_DRIFT]
        solved = np.linalg.solve(
            one.information[np.ix_(_BUT_DRIFT, _BUT_DRIFT)], np.column_stack([one.right[_BUT_DRIFT], across])
        )
        precision += float(one.information[2, 2] - across @ solved[:, 1])
        right += float(one.right[2] - across @ solved[:, 0])
    return right / precision, precision


def _place(one: _Equations, drift: float, drift_precision: float) -> SpotPlace:
    """One spot, given the season's drift."""
    inverse = np.linalg.inv(one.information[np.ix_(_BUT_DRIFT, _BUT_DRIFT)])
    across = one.information[_BUT_DRIFT, 2]
    found = inverse @ (one.right[_BUT_DRIFT] - across * drift)
    by_drift = inverse @ across
    covariance = (inverse + np.outer(by_drift, by_drift) / drift_precision)[:2, :2]
    whole = np.insert(found, 2, drift)
    misfit = one.squares - 2.0 * float(whole @ one.right) + float(whole @ one.information @ whole)
    freedom = 2.0 * one.climbs - 2.0
    widened = max(1.0, misfit / freedom) if freedom >= 1.0 else 1.0
    narrow, wide = np.sqrt(np.clip(np.linalg.eigvalsh(covariance * widened), 0.0, None))
    radius = np.hypot(RAYLEIGH_95 * narrow, NORMAL_95 * np.sqrt(max(wide**2 - narrow**2, 0.0)))
    return SpotPlace(float(found[0]), float(found[1]), float(radius))
