"""The wing: its class, weights and maker's polar, from the pilot's own TOML file."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Wing:
    """A wing as its maker describes it; `polar` holds (airspeed_mps, sink_mps) at sea level, sink positive."""

    name: str
    wing_class: str
    empty_kg: float
    all_up_kg: float
    wing_area_m2: float | None = None
    span_m: float | None = None
    stall_airspeed_mps: float | None = None
    polar: tuple[tuple[float, float], ...] = ()
