"""Which altitudes of a log are measurements: missing sensors, drop-outs, copies, and the level they count from."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.earth.geoid import geoid_height_m
from flightlog.tracks.notebook import Notebook

_NEAR_ZERO_M = 30.0  # zeros between altitudes lower than this are the sea shore, not a drop-out
_FROZEN_GNSS_SPAN_M = 20.0  # GNSS altitude moved this much while the other stood still: no sensor
_COPY_SHARE = 0.98  # a barometer never agrees with GNSS to the metre for so much of a flight
_COPY_SPAN_M = 10.0  # on flat ground agreement proves nothing


def checked_altitudes(
    pressure_m: Floats, gnss_m: Floats, is_3d: Bools, line: Ints, notebook: Notebook
) -> tuple[Floats | None, Floats | None]:
    """Pressure and GNSS altitude with drop-outs as NaN; None where the log has no such sensor.

    Zero is what a recorder writes for want of an altitude (IGC-2008, 4.1): all zeros are no sensor, zeros amid
    altitudes far from zero are drop-outs, and so is a zero GNSS altitude of a 2D fix.
    """
    gnss_m = gnss_m.copy()
    flat = (gnss_m == 0.0) & ~is_3d
    gnss_m[flat] = np.nan
    gnss = _without_dropouts(gnss_m, "gnss", "GNSS", line, notebook)
    pressure = _without_dropouts(pressure_m, "pressure", "pressure", line, notebook)
    if pressure is not None and gnss is not None:
        pressure = _independent_pressure(pressure, gnss, notebook)
    return pressure, gnss


def _without_dropouts(altitude_m: Floats, code: str, name: str, line: Ints, notebook: Notebook) -> Floats | None:
    """One altitude column: zeros that cannot be altitudes as NaN; None where nothing is left."""
    known = ~np.isnan(altitude_m)
    measured = np.flatnonzero(known & (altitude_m != 0.0))
    if measured.size == 0:
        notebook.add(f"no_{code}_altitude", f"the log has no {name} altitude")
        return None
    zero = np.flatnonzero(altitude_m == 0.0)
    after = np.searchsorted(measured, zero)
    previous = np.abs(altitude_m[measured[np.maximum(after - 1, 0)]])
    following = np.abs(altitude_m[measured[np.minimum(after, measured.size - 1)]])
    dropped = zero[np.minimum(previous, following) > _NEAR_ZERO_M]
    if dropped.size:
        altitude_m = altitude_m.copy()
        altitude_m[dropped] = np.nan
        message = f"{name} altitude drops out to zero; left out there"
        notebook.add(f"{code}_dropout", message, int(line[dropped[0]]), int(dropped.size))
    return altitude_m


def _independent_pressure(pressure_m: Floats, gnss_m: Floats, notebook: Notebook) -> Floats | None:
    """Pressure altitude, None where it is no measurement of its own."""
    both = ~np.isnan(pressure_m) & ~np.isnan(gnss_m)
    if not both.any():
        return pressure_m
    gnss_span = float(np.ptp(gnss_m[both]))
    if np.ptp(pressure_m[both]) == 0.0 and gnss_span > _FROZEN_GNSS_SPAN_M:
        notebook.add("no_pressure_altitude", "the pressure altitude never changes: no barometer")
        return None
    if gnss_span > _COPY_SPAN_M and np.mean(pressure_m[both] == gnss_m[both]) > _COPY_SHARE:
        message = "the pressure altitude is a copy of the GNSS altitude: no barometer"
        notebook.add("pressure_copied", message)
        return None
    return pressure_m


def above_sea_level(
    gnss_m: Floats | None, level: str | None, latitude_deg: Floats, longitude_deg: Floats, notebook: Notebook
) -> tuple[Floats | None, str]:
    """GNSS altitude above mean sea level and the level it was written from: geoid, ellipsoid or unknown.

    Foot-launched recorders write above the geoid, gliding recorders above the ellipsoid (IGC-2008, 4.1; Sporting
    Code 7H); a log that does not say is taken as the former.
    """
    if gnss_m is None:
        return None, "unknown"
    if level in ("GEO", "MSL"):
        return gnss_m, "geoid"
    if level != "ELL":
        message = "the log does not say which level GNSS altitude counts from; taken as mean sea level"
        notebook.add("gnss_datum_unknown", message)
        return gnss_m, "unknown"
    known = ~np.isnan(latitude_deg)
    height = geoid_height_m(latitude_deg[known], longitude_deg[known])
    message = f"GNSS altitude counts from the ellipsoid; {np.median(height):.0f} m geoid height taken off"
    notebook.add("gnss_above_ellipsoid", message)
    altitude = gnss_m.copy()
    altitude[known] -= height
    altitude[~known] -= np.median(height)  # fixes without a place of their own lie near the others
    return altitude, "ellipsoid"
