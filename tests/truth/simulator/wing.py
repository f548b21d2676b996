"""The wing: a quadratic polar in equivalent airspeed, and what bank and air density do to it.

Sources: load factor and turn rate in a level banked turn (references TRN-11: 10 m/s, 20 degrees, 28.0 m, 17.6 s);
sizes of foot-launched wings are common practice, no single source.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

GRAVITY_MPS2 = 9.81


@dataclass(frozen=True)
class Wing:
    """A wing with its still-air polar at sea level and its handling."""

    name: str
    wing_class: str  # "paraglider", "hang_glider" or "rigid_wing"
    best_ratio: float
    best_ratio_mps: float  # equivalent airspeed of the best glide ratio
    min_sink_speed_mps: float
    trim_mps: float
    top_mps: float
    lift_off_mps: float
    speed_lag_s: float
    roll_lag_s: float
    roll_rate_rad: float  # radians a second
    empty_kg: float
    all_up_kg: float

    @property
    def polar(self) -> tuple[float, float, float]:
        """Coefficients a, b, c of sink = a V^2 + b V + c (m/s, equivalent airspeed)."""
        a = 1 / (2 * self.best_ratio * (self.best_ratio_mps - self.min_sink_speed_mps))
        return a, -2 * a * self.min_sink_speed_mps, a * self.best_ratio_mps**2

    def sink_mps(self, speed_mps: float) -> float:
        """Sink in still air at sea level density, wings level."""
        a, b, c = self.polar
        return (a * speed_mps + b) * speed_mps + c

    @property
    def min_sink_mps(self) -> float:
        """The smallest sink of the polar."""
        return self.sink_mps(self.min_sink_speed_mps)


def density_speed_factor(altitude_m: float) -> float:
    """True over equivalent airspeed in the standard atmosphere: sqrt(1.225 / density)."""
    return (1 - 2.25577e-5 * altitude_m) ** -2.12794


def turn_rate_rad(speed_mps: float, bank_rad: float) -> float:
    """Turn rate of a balanced turn, radians a second."""
    return GRAVITY_MPS2 * math.tan(bank_rad) / speed_mps


_RANGES = {
    # class: ratio, best-ratio speed, min-sink share of it, trim share, top share, lift-off share of trim
    "paraglider": ((8.0, 10.5), (9.8, 10.9), (0.80, 0.87), (0.95, 1.0), (1.30, 1.45), (0.76, 0.88)),
    "hang_glider": ((11.0, 15.0), (11.8, 13.2), (0.74, 0.82), (0.93, 0.98), (1.5, 1.75), (0.76, 0.86)),
    "rigid_wing": ((16.0, 19.0), (13.2, 14.4), (0.72, 0.80), (0.92, 0.97), (1.5, 1.7), (0.74, 0.84)),
}
_HANDLING = {
    # speed lag, roll lag, roll rate limit (degrees a second), empty, pilot and rest
    "paraglider": (1.6, 0.6, 28.0, (5.0, 7.0), (75.0, 110.0)),
    "hang_glider": (2.2, 0.9, 22.0, (26.0, 36.0), (75.0, 105.0)),
    "rigid_wing": (2.5, 1.0, 18.0, (36.0, 46.0), (75.0, 105.0)),
}


def draw_wing(wing_class: str, rng: random.Random) -> Wing:
    """A wing of this class, its figures drawn from the usual range of the class."""
    ratio, best, sink_share, trim_share, top_share, lift_share = (rng.uniform(*r) for r in _RANGES[wing_class])
    lag, roll_lag, roll, empty, rest = _HANDLING[wing_class]
    empty_kg = rng.uniform(*empty)
    return Wing(
        name=f"Invented {wing_class.replace('_', ' ')} {rng.randint(10, 99)}",
        wing_class=wing_class,
        best_ratio=ratio,
        best_ratio_mps=best,
        min_sink_speed_mps=best * sink_share,
        trim_mps=best * trim_share,
        top_mps=best * top_share,
        lift_off_mps=best * trim_share * lift_share,
        speed_lag_s=lag,
        roll_lag_s=roll_lag,
        roll_rate_rad=math.radians(roll),
        empty_kg=empty_kg,
        all_up_kg=empty_kg + rng.uniform(*rest),
    )
