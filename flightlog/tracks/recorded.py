"""The recorder's own columns, from the units of the format to SI."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from flightlog.arrays import Floats
from flightlog.units import KMH_MPS

_SPEEDS = {
    "TAS": "airspeed_mps",
    "IAS": "indicated_airspeed_mps",
    "GSP": "ground_speed_mps",
    "WSP": "wind_mps",
    "WVE": "wind_mps",
}
_ANGLES = {"HDT": "heading_deg", "TRT": "course_deg", "WDI": "wind_from_deg"}
_CLIMBS = ("VAR", "VAT")  # plain before compensated
_SPEED_DIGITS = 3  # whole km/h; further digits are decimals
_TENTHS = 10.0


def recorded_columns(columns: Mapping[str, Floats], widths: Mapping[str, int]) -> dict[str, Floats]:
    """Columns by their name in Track.recorded, SI; what has no name there keeps its code, as written.

    Speeds are km/h in three digits, further digits decimals; angles degrees in three; VAR and VAT tenths of a
    metre a second; FXA metres, two standard deviations (IGC-2008, 7).
    """
    found: dict[str, Floats] = {}
    for code, values in columns.items():
        decimals = 10.0 ** max(0, widths.get(code, _SPEED_DIGITS) - _SPEED_DIGITS)
        if code in _SPEEDS:
            found.setdefault(_SPEEDS[code], values / decimals * KMH_MPS)
        elif code in _ANGLES:
            found[_ANGLES[code]] = np.mod(values / decimals, 360.0)
        elif code == "FXA":
            found["position_error_m"] = values
        elif code not in _CLIMBS:
            found[code.lower()] = values
    for code in _CLIMBS:
        if code in columns:
            found.setdefault("climb_mps", columns[code] / _TENTHS)
    return found
