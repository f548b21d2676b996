"""Which altitude to trust: pressure for every difference, GNSS for the level, and how the two are joined."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, middle, quantile
from flightlog.errors import Note
from flightlog.motion.interpolation import StraightLines
from flightlog.motion.outliers import jumps, quiet_noise_m, rounding_step_m, spikes
from flightlog.motion.pressure_lag import GNSS_LAG_PRIOR_SD_S, LAG_PRIOR_SD_S, pressure_lag_s, slopes_mps
from flightlog.settings import Settings

_LOWEST_M, _HIGHEST_M = -600.0, 15000.0  # Dead Sea shore with high pressure; no foot-launched wing goes higher
_GNSS_CORRELATION_S = 80.0  # GNSS height errors wander with this time (M 1)
_SLOWEST_WANDER_S = 300.0  # or more slowly, as the satellites move on; each log tells its own
_WANDER_LOOK_S = 60.0
_GNSS_USUAL_ERROR_M = 4.0
_POOR_GNSS_M = 25.0  # scatter of GNSS about pressure height beyond which the level is doubtful
_LAG_S = 10.0  # GNSS heights of some recorders are filtered and come 10-20 s late
_SETTLED = 1e-3  # standard errors: what a further round of the regression would change is a tenth of that
_LARGEST_SCALE = 0.09  # 27 K from the standard atmosphere; more is a broken sensor


@dataclass(frozen=True, eq=False)
class Altitudes:
    """The altitude of every fix from the chosen source, calibrated to mean sea level.

    `measured_m` = z (1 + scale) + offset (+ drift); NaN where missing. `noise_m` is the standard deviation of its
    short-term noise, rounding included. `lag_sd_s` is how uncertain the time of the heights is.
    """

    source: str  # "pressure" | "gnss"
    measured_m: Floats
    noise_m: float
    scale: float
    scale_sd: float
    offset_m: float
    notes: tuple[Note, ...]
    lag_sd_s: float = LAG_PRIOR_SD_S


def choose_altitudes(
    time_s: Floats, pressure_m: Floats | None, gnss_m: Floats | None, settings: Settings
) -> Altitudes:
    """Altitude from the better source: pressure where the log has it and it moves, else GNSS."""
    notes: list[Note] = []
    pressure = _cleaned(time_s, pressure_m, gnss_m, "pressure", settings, notes)
    gnss = _cleaned(time_s, gnss_m, pressure_m, "GNSS", settings, notes)
    if pressure is not None and gnss is not None and _is_copy(pressure, gnss):
        notes.append(Note("pressure_copies_gnss", "the pressure altitude is a copy of the GNSS altitude"))
        pressure = None
    if pressure is not None and gnss is not None and _is_stuck(pressure, gnss):
        notes.append(Note("pressure_stuck", "the pressure altitude does not follow the flight and is not used"))
        pressure = None
    if pressure is not None:
        return _from_pressure(time_s, pressure, gnss, settings, notes)
    if gnss is None:
        notes.append(Note("no_altitude", "the log holds no usable altitude: nothing is said about heights"))
        gnss = np.full(len(time_s), np.nan)
    else:
        notes.append(Note("gnss_altitude_only", "no pressure altitude: heights and climb rates are less sure"))
    rounding = rounding_step_m(gnss)
    noise = float(np.hypot(settings.gnss_height_noise_m, rounding / 12**0.5))
    return Altitudes("gnss", gnss, noise, 0.0, 0.0, 0.0, tuple(notes), GNSS_LAG_PRIOR_SD_S)


def _cleaned(
    time_s: Floats,
    heights_m: Floats | None,
    other_m: Floats | None,
    name: str,
    settings: Settings,
    notes: list[Note],
) -> Floats | None:
    """Heights without the impossible ones; None when too few remain to be of use."""
    if heights_m is None:
        return None
    heights = np.where((heights_m > _LOWEST_M) & (heights_m < _HIGHEST_M), heights_m, np.nan)
    heights[_lost(heights, other_m)] = np.nan
    before = np.isfinite(heights)
    jumped = jumps(time_s, heights, settings.fastest_height_mps, 20.0, settings.longest_jump_s)
    heights[jumped] = np.nan
    spike = spikes(time_s, heights, settings.height_spike_slack_m, settings.spike_curvature_mps2)
    heights[spike] = np.nan
    dropped = int((before & ~np.isfinite(heights)).sum())
    if dropped:
        notes.append(Note("height_spike", f"{name} heights that jump away are left out", count=dropped))
    return heights if np.isfinite(heights).sum() >= max(3, 0.3 * len(heights)) else None


def _lost(heights_m: Floats, other_m: Floats | None) -> Bools:
    """Mark zeros that stand for a height the recorder did not have."""
    zero = heights_m == 0.0
    if not zero.any() or zero.all():
        return np.asarray(zero & zero.all())
    known = heights_m[~zero & np.isfinite(heights_m)]
    if len(known) and np.abs(known).min() > 30.0:  # zero is reached from nowhere
        return np.asarray(zero)
    if other_m is None:
        return np.zeros(len(zero), dtype=np.bool_)
    apart = np.abs(other_m - heights_m)
    return np.asarray(zero & (apart > 300.0))


def _is_copy(pressure_m: Floats, gnss_m: Floats) -> bool:
    """Whether the one column repeats the other, figure by figure, over a flight's worth of heights."""
    both = np.isfinite(pressure_m) & np.isfinite(gnss_m)
    if both.sum() < 10 or np.ptp(gnss_m[both]) < 15.0:
        return False
    return bool(np.mean(np.abs(pressure_m[both] - gnss_m[both]) < 0.5) > 0.95)


def _is_stuck(pressure_m: Floats, gnss_m: Floats) -> bool:
    """Whether pressure stays put while GNSS shows a flight."""
    both = np.isfinite(pressure_m) & np.isfinite(gnss_m)
    if both.sum() < 10:
        return not np.isfinite(pressure_m).any()
    pressure_range, gnss_range = (
        quantile(heights[both], 0.98) - quantile(heights[both], 0.02) for heights in (pressure_m, gnss_m)
    )
    return gnss_range > 40.0 and pressure_range < 0.15 * gnss_range


def _from_pressure(
    time_s: Floats, pressure_m: Floats, gnss_m: Floats | None, settings: Settings, notes: list[Note]
) -> Altitudes:
    """Pressure altitude, shifted and stretched to agree with GNSS in the mean."""
    noise = quiet_noise_m(time_s, pressure_m)
    rounding = rounding_step_m(pressure_m)
    sensor = np.sqrt(max(noise**2 - rounding**2 / 12, 0.0)) if np.isfinite(noise) else 0.5
    sensor = float(np.clip(sensor, settings.pressure_noise_low_m, settings.pressure_noise_high_m))
    total = float(np.hypot(sensor, rounding / 12**0.5))
    lag_s, lag_sd_s = pressure_lag_s(time_s, pressure_m, gnss_m)
    if lag_s > 0.0:
        pressure_m = pressure_m + lag_s * slopes_mps(time_s, pressure_m)
    prior_sd = settings.altitude_scale_prior_sd
    if gnss_m is None:
        notes.append(Note("pressure_altitude_only", "no GNSS altitude: heights are above the 1013.25 hPa level"))
        return Altitudes("pressure", pressure_m, total, 0.0, prior_sd, 0.0, tuple(notes))
    fit = _calibration(time_s, pressure_m, gnss_m, settings)
    if fit.scatter_m > _POOR_GNSS_M or abs(fit.scale) > _LARGEST_SCALE:
        notes.append(
            Note("gnss_altitude_poor", "GNSS and pressure altitudes disagree: absolute heights are doubtful")
        )
        offset = float(np.nanmedian(gnss_m - pressure_m))
        return Altitudes("pressure", pressure_m + offset, total, 0.0, prior_sd, offset, tuple(notes), lag_sd_s)
    measured = pressure_m * (1.0 + fit.scale) + fit.offset_m + fit.drift_mps * (time_s - fit.middle_s)
    return Altitudes("pressure", measured, total, fit.scale, fit.scale_sd, fit.offset_m, tuple(notes), lag_sd_s)


@dataclass(frozen=True)
class _Calibration:
    """GNSS height = z (1 + scale) + offset + drift (t - middle), and the scatter about it."""

    scale: float
    scale_sd: float
    offset_m: float
    drift_mps: float
    middle_s: float
    scatter_m: float


def _calibration(time_s: Floats, pressure_m: Floats, gnss_m: Floats, settings: Settings) -> _Calibration:
    """Huber regression of GNSS minus pressure height on pressure height, climb and, in long logs, time.

    The climb takes up GNSS heights that come late. The errors of GNSS wander over 80 s or more, as this log has
    it, so that it counts as one measurement in twice that time.
    """
    index = np.flatnonzero(np.isfinite(pressure_m) & np.isfinite(gnss_m))
    index = index[:: max(1, len(index) // 2000)]
    t, z, difference = time_s[index], pressure_m[index], gnss_m[index] - pressure_m[index]
    if len(index) < 3:
        offset = middle(difference) if len(index) else 0.0
        return _Calibration(0.0, settings.altitude_scale_prior_sd, offset, 0.0, float(time_s[0]), 0.0)
    span_s = float(t[-1] - t[0])
    middle_s, mean_m = float(t.mean()), float(z.mean())
    climb_mps = (np.interp(t + _LAG_S, t, z) - np.interp(t - _LAG_S, t, z)) / (2.0 * _LAG_S)
    a_minute_on = StraightLines(t[t < t[-1] - _WANDER_LOOK_S] + _WANDER_LOOK_S, t)
    design = np.stack([np.ones_like(z), z - mean_m, -climb_mps, (t - middle_s) / 3600.0], axis=1)
    long = span_s > settings.altitude_drift_from_s
    drift_sd = settings.altitude_drift_prior_mps * 3600.0
    prior_sd = np.array([np.inf, settings.altitude_scale_prior_sd, _LAG_S, drift_sd])
    if not long:
        design, prior_sd = design[:, :3], prior_sd[:3]
    weight = np.ones(len(index))
    solution: Floats = np.zeros(design.shape[1])
    solution[0] = middle(difference)
    for _ in range(8):
        residual = difference - design @ solution
        independent = (1.0 + span_s / (2.0 * _wander_time_s(a_minute_on, residual))) / len(index)
        scatter = 1.4826 * middle(np.abs(residual - middle(residual)))
        sigma = max(scatter, _GNSS_USUAL_ERROR_M)
        weight = np.minimum(1.0, 1.5 * sigma / np.maximum(np.abs(residual), 1e-9))
        weighted = design.T * (weight * (independent / sigma**2))
        precision = weighted @ design + np.diag(1.0 / prior_sd**2)
        right = weighted @ difference
        before, solution = solution, np.asarray(np.linalg.solve(precision, right), dtype=np.float64)
        change = solution - before
        if change @ precision @ change < _SETTLED**2:
            break
    scale_sd = float(np.sqrt(np.linalg.inv(precision)[1, 1]))
    scale = float(solution[1])
    return _Calibration(
        scale=scale,
        scale_sd=scale_sd,
        offset_m=float(solution[0]) - scale * mean_m,
        drift_mps=float(solution[3]) / 3600.0 if long else 0.0,
        middle_s=middle_s,
        scatter_m=scatter,
    )


def _wander_time_s(a_minute_on: StraightLines, residual_m: Floats) -> float:
    """Correlation time of GNSS height errors, from how alike those a minute apart are."""
    later = len(a_minute_on.share)  # of the residuals from the first on, that many have others a minute later
    if later < 3:
        return _GNSS_CORRELATION_S
    limit_m = 3.0 * max(1.4826 * middle(np.abs(residual_m)), 0.5)
    held = np.minimum(np.maximum(residual_m - residual_m.mean(), -limit_m), limit_m)
    alike = float((held[:later] * a_minute_on.at(held)).mean() / max(float((held**2).mean()), 1e-9))
    time_s = -_WANDER_LOOK_S / math.log(min(max(alike, 0.01), 0.99))
    return min(max(time_s, _GNSS_CORRELATION_S), _SLOWEST_WANDER_S)
