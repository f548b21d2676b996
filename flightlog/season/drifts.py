"""How far climbs probably drifted: what was reckoned with, drawn toward the winds of the season."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flightlog.measures.thermal_sources import CIRCLES_PLACE_SD_M, CORE_PLACE_SD_M
from flightlog.season.traces import Traces

LEAST_CLIMBS = 8
"""Fewer say too little of the season's winds."""
LEAST_DRIFT_M, LEAST_HEIGHT_M = 1.0, 50.0


def likely_drifts(traces: Traces) -> Traces:
    """The same climbs with each drift as it probably was, given its error and the drifts of all the others.

    A drift that was told shorter than others is shorter in part because its wind was told too weak, and its trace
    then stops short of the source; and where one wind prevails, short drifts are what says where the source is.
    Drift for each metre of height is taken as normal over the season, its error as what is unsure across the
    drift beyond the place where the air was met; each is drawn toward the mean as the two variances tell.

    References
    ----------
    Regression calibration: Carroll, Ruppert, Stefanski & Crainiceanu 2006, Measurement Error in Nonlinear Models,
    chapter 4. (From memory.)
    """
    if len(traces.east_m) < LEAST_CLIMBS:
        return traces
    height = np.maximum(traces.height_m, LEAST_HEIGHT_M)
    told = traces.drift_m * np.stack([np.sin(traces.drift_to_rad), np.cos(traces.drift_to_rad)])  # (2, n)
    place_variance = 0.5 * (CORE_PLACE_SD_M**2 + CIRCLES_PLACE_SD_M**2)
    error = np.maximum(traces.across_sd_m**2 - place_variance, 0.0) / height**2
    lean = told / height
    mean_error, mean = float(error.mean()), lean.mean(axis=1, keepdims=True)
    size, axes = np.linalg.eigh(np.cov(lean) - mean_error * np.eye(2))
    size = np.maximum(size, max(mean_error, 1e-12))  # no season's winds are known to be more alike than measured
    off = axes.T @ (lean - mean)
    drift = (mean + axes @ (off * size[:, None] / (size[:, None] + error))) * height
    length = np.hypot(*drift)
    is_told = length >= LEAST_DRIFT_M
    moved = np.where(is_told, told - drift, 0.0)
    longer = np.where(is_told, length, traces.drift_m) / np.maximum(traces.drift_m, LEAST_DRIFT_M)
    stretch = np.maximum(traces.along_sd_m**2 - traces.across_sd_m**2, 0.0) * longer**2
    return replace(
        traces,
        east_m=traces.east_m + moved[0],
        north_m=traces.north_m + moved[1],
        along_sd_m=np.hypot(traces.across_sd_m, np.sqrt(stretch)),
        drift_to_rad=np.where(is_told, np.arctan2(*drift), traces.drift_to_rad),
        drift_m=np.where(is_told, length, traces.drift_m),
    )
