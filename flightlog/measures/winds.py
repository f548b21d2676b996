"""The wind of a flight: its mean, its change with height, and the single estimates behind them."""

from __future__ import annotations

import numpy as np

from flightlog.air.air import Air
from flightlog.air.windows import mean_wind
from flightlog.estimates import known, wind_from_vector
from flightlog.measures.overview import instant
from flightlog.measures.results import WindBand, WindResult, WindSample
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings

MOST_BANDS = 100
"""A hostile log with heights from -1 to 100 km still gives a readable profile."""


def measure_wind(motion: Motion, air: Air, span: FlightSpan, settings: Settings) -> WindResult:
    """Mean wind of the flight, its profile in bands of `wind_band_m` of altitude, and every estimate.

    A band without an estimate of its own is left out: nothing is carried over from other heights; and so is one
    whose wind is less sure than `wind_band_sd_limit_mps` (most of those in which nobody circled: their winds were
    1.1 to 1.3 m/s off, RMS of the vector, in two simulators, against 0.5 of the others). Without any
    estimate in this flight the mean is None and the note says why.
    """
    mean = mean_wind(air, span.liftoff_s, span.touchdown_s)
    samples = _samples(motion, air, span)
    note = None if mean is not None else "no circles, and no straight flight on several headings, tell the wind"
    return WindResult(mean, _profile(air, span, settings), samples, note)


def _inside(air: Air, span: FlightSpan) -> np.ndarray:
    """Which windows of the air lie in this flight, by their middle."""
    middle = 0.5 * (air.windows.start_s + air.windows.end_s)
    return (middle >= span.liftoff_s) & (middle <= span.touchdown_s)


def _samples(motion: Motion, air: Air, span: FlightSpan) -> tuple[WindSample, ...]:
    """The estimate of every window, in order of time."""
    windows = air.windows
    middle = 0.5 * (windows.start_s + windows.end_s)
    places = np.flatnonzero(_inside(air, span))
    places = places[np.argsort(middle[places], kind="stable")]
    variance = np.trace(windows.covariance_mps2[places], axis1=1, axis2=2) / 2.0
    columns = (
        middle[places],
        windows.altitude_m[places],
        windows.east_mps[places],
        windows.north_mps[places],
        np.sqrt(np.maximum(variance, 0.0)),
        windows.turned_deg[places] / 360.0,
    )
    return tuple(
        WindSample(instant(time_s, motion), known(altitude_m), wind_from_vector(east, north, se_mps, circles))
        for time_s, altitude_m, east, north, se_mps, circles in zip(*(c.tolist() for c in columns), strict=True)
    )


def _profile(air: Air, span: FlightSpan, settings: Settings) -> tuple[WindBand, ...]:
    """Mean wind of every band of altitude in which it is sure enough, lowest first."""
    altitude = air.windows.altitude_m[_inside(air, span)]
    altitude = altitude[np.isfinite(altitude)]
    if altitude.size == 0:
        return ()
    height = settings.wind_band_m
    bands = []
    for number in np.unique(np.floor(altitude / height))[:MOST_BANDS]:
        low_m, high_m = float(number * height), float((number + 1) * height)
        wind = mean_wind(air, span.liftoff_s, span.touchdown_s, low_m, high_m)
        if wind is not None and wind.se_mps <= settings.wind_band_sd_limit_mps:
            bands.append(WindBand(low_m, high_m, wind))
    return tuple(bands)
