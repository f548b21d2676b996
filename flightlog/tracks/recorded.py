"""The recorder's own columns, from the units of the format to SI."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from flightlog.arrays import Floats
from flightlog.tracks.notebook import Notebook
from flightlog.units import KMH_MPS

_SPEEDS = {"TAS": "airspeed_mps", "IAS": "indicated_airspeed_mps", "GSP": "ground_speed_mps"}
_WINDS = ("WSP", "WVE")
_ANGLES = {"HDT": "heading_deg", "TRT": "course_deg", "WDI": "wind_from_deg"}
_CLIMBS = ("VAR", "VAT")  # plain before compensated
_SPEED_DIGITS = 3  # whole km/h
_TENTHS = 10.0
_MOVING_MPS = 3.0  # slower is standing, or noise of standing
_LIKELY_RATIO = (0.6, 1.6)  # airspeed to ground speed, medians of a flight
_METRES_A_DEGREE = 111_195.0  # of latitude, on the mean sphere: enough for a median speed


def recorded_columns(
    columns: Mapping[str, Floats], widths: Mapping[str, int], ground_speed_mps: float | None, notebook: Notebook
) -> dict[str, Floats]:
    """Columns by their name in Track.recorded, SI; what has no name there keeps its code, as written.

    Speeds are km/h in three digits, angles degrees, VAR and VAT tenths of a metre a second, FXA metres of two
    standard deviations (IGC-2008, 7). A wider speed column may hold decimals or leading zeros; which of the two
    is told by the speed over the ground (`ground_speed_mps`, the median of the flight), and where there is none
    the column stays as written.
    """
    found: dict[str, Floats] = {}
    for code, values in columns.items():
        plain = widths.get(code, _SPEED_DIGITS) <= _SPEED_DIGITS
        divisor = 1.0 if plain else _decimals(values, ground_speed_mps)
        if code in _SPEEDS and divisor is not None:
            found[_SPEEDS[code]] = values / divisor * KMH_MPS
        elif code in _WINDS and plain:
            found.setdefault("wind_mps", values * KMH_MPS)
        elif code in _ANGLES and np.nanmax(values) <= 360.0:
            found[_ANGLES[code]] = np.mod(values, 360.0)
        elif code == "FXA":
            found["position_error_m"] = values
        elif code in _CLIMBS:
            found["climb_mps"] = columns["VAR" if "VAR" in columns else "VAT"] / _TENTHS
        else:
            found[code.lower()] = values
    _note_doubtful_airspeed(found.get("airspeed_mps"), ground_speed_mps, notebook)
    return found


def median_ground_speed_mps(time_s: Floats, latitude_deg: Floats, longitude_deg: Floats) -> float | None:
    """Median speed over the ground while moving; None for a log that never moves."""
    east = (np.diff(longitude_deg) + 180.0) % 360.0 - 180.0
    metres = np.hypot(np.diff(latitude_deg), east * np.cos(np.radians(latitude_deg[:-1]))) * _METRES_A_DEGREE
    elapsed_s = np.diff(time_s)
    good = (elapsed_s > 0) & ~np.isnan(metres)
    speed = metres[good] / elapsed_s[good]
    moving = speed[speed > _MOVING_MPS]
    return float(np.median(moving)) if moving.size else None


def _decimals(values: Floats, ground_speed_mps: float | None) -> float | None:
    """Power of ten by which a wide speed column must be divided to come nearest to the speed over the ground."""
    positive = values[values > 0]
    if ground_speed_mps is None or positive.size == 0:
        return None
    ratio = float(np.median(positive)) * KMH_MPS / ground_speed_mps
    return min((1.0, 10.0, 100.0), key=lambda divisor: abs(np.log(ratio / divisor)))


def _note_doubtful_airspeed(
    airspeed_mps: Floats | None, ground_speed_mps: float | None, notebook: Notebook
) -> None:
    """Say where a recorded airspeed cannot be what its unit says; all noughts are no airspeed in any unit."""
    if airspeed_mps is None or ground_speed_mps is None or not airspeed_mps.any():
        return
    flown = airspeed_mps[airspeed_mps > _MOVING_MPS]
    ratio = float(np.median(flown)) / ground_speed_mps if flown.size else 0.0
    if not _LIKELY_RATIO[0] <= ratio <= _LIKELY_RATIO[1]:
        message = f"the recorded airspeed, taken as km/h, is {ratio:.1f} times the speed over the ground"
        notebook.add("airspeed_doubtful", message)
