"""How late a recorder's pressure altitude comes, found by holding it against the GNSS altitude.

A barometer behind a small hole, read through a filter, shows where the pilot was half a second to a second ago. At
a steady climb that shifts all heights alike and no difference suffers; but a climb starts out of sink and ends in
fading lift, and a height that comes 0.7 s late there is wrong by 2 m.
"""

from __future__ import annotations

import math

import numpy as np

from flightlog.arrays import Floats, middle

LAG_PRIOR_SD_S = 0.6
"""Pressure altitudes come up to about a second late (trade knowledge, no source)."""
GNSS_LAG_PRIOR_SD_S = 0.3
"""GNSS heights are not quite prompt either; of those that come later than pressure nothing can be learned."""
GNSS_LATE_S, UNKNOWN_LAG_SD_S = -0.3, 0.5
AROUND_S = 10.0
"""Heights are taken against their mean so long before and after: errors of GNSS heights wander more slowly."""
ERROR_TIME_S = 8.0
"""Such differences of GNSS heights are alike for about so long."""
SLOPE_S = 2.0
FEWEST_FIXES, SHORTEST_S = 60, 240.0
LARGEST_RESIDUALS = 3.0


def pressure_lag_s(time_s: Floats, pressure_m: Floats, gnss_m: Floats | None) -> tuple[float, float]:
    """Seconds by which the pressure altitude is late, 0 or more, and the standard deviation of that.

    Parameters
    ----------
    time_s, pressure_m, gnss_m : (n,) arrays
        NaN where a height is missing; `gnss_m` None: there is none.

    Notes
    -----
    Only how much later pressure comes than GNSS can be seen. Both lags are given a prior about zero, normal and
    narrower for GNSS; what is seen is shared out between them. What is left to doubt stands in the standard
    deviation: it is 0.3 s at best.
    """
    seen = _relative_lag_s(time_s, pressure_m, gnss_m)
    if seen is None:
        return 0.0, LAG_PRIOR_SD_S
    lag_s, sd_s = seen
    if lag_s < GNSS_LATE_S:
        return 0.0, UNKNOWN_LAG_SD_S
    gain = LAG_PRIOR_SD_S**2 / (LAG_PRIOR_SD_S**2 + GNSS_LAG_PRIOR_SD_S**2 + sd_s**2)
    return max(gain * lag_s, 0.0), LAG_PRIOR_SD_S * math.sqrt(1.0 - gain)


def slopes_mps(time_s: Floats, heights_m: Floats) -> Floats:
    """Rate of climb at each time from the heights 2 s before and after; one fix, where they lie farther apart."""
    known = np.isfinite(heights_m)
    if np.count_nonzero(known) < 2:
        return np.zeros_like(time_s)
    known_s, known_m = time_s[known], heights_m[known]
    step = max(SLOPE_S, middle(np.diff(time_s)) if time_s.size > 1 else SLOPE_S)
    before, after = (np.clip(time_s + way * step, time_s[0], time_s[-1]) for way in (-1.0, 1.0))
    change = np.interp(after, known_s, known_m) - np.interp(before, known_s, known_m)
    return np.asarray(change / np.maximum(after - before, 1e-9))


def _relative_lag_s(time_s: Floats, pressure_m: Floats, gnss_m: Floats | None) -> tuple[float, float] | None:
    """How much later pressure comes than GNSS, and the standard deviation; None where too little is there."""
    if gnss_m is None:
        return None
    known = np.isfinite(pressure_m) & np.isfinite(gnss_m)
    if known.sum() < FEWEST_FIXES or time_s[known][-1] - time_s[known][0] < SHORTEST_S:
        return None
    time, pressure, gnss = time_s[known], pressure_m[known], gnss_m[known]
    inside = (time > time[0] + AROUND_S) & (time < time[-1] - AROUND_S)
    late, slope = _against_means(time, gnss - pressure), _against_means(time, slopes_mps(time, pressure))
    late, slope = late[inside], slope[inside]
    scatter = 1.4826 * middle(np.abs(late))
    good = np.abs(late) <= LARGEST_RESIDUALS * max(scatter, 0.5)  # spikes and gaps
    late, slope = late[good], slope[good]
    total = float((slope**2).sum())
    if total <= 0.0:
        return None
    lag_s = float((slope * late).sum() / total)
    independent = max(1.0, ERROR_TIME_S / middle(np.diff(time)))
    variance = float(((late - lag_s * slope) ** 2).mean())
    return lag_s, math.sqrt(variance * independent / total)


def _against_means(time_s: Floats, values: Floats) -> Floats:
    """Values less the mean of those `AROUND_S` before and after."""
    before, after = (np.interp(time_s + way * AROUND_S, time_s, values) for way in (-1.0, 1.0))
    return np.asarray(values - 0.5 * (before + after))
