"""Every threshold of the analysis: named, with unit, value and source.

`M n` stands for section n of the table of methods in DEVELOPERS.md; a threshold marked `truth` is guarded by a
truth test that fails when it is moved.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from flightlog.errors import SettingsError


@dataclass(frozen=True)
class Settings:
    """All thresholds. Change one with `dataclasses.replace`; reports print the ones they used."""

    wing_class: str = "unknown"  # paraglider | hang_glider | rigid_wing | sailplane | unknown

    # --- motion: gaps, spikes, smoothing
    longest_bridge_s: float = 15.0  # a longer silence of the recorder is a gap, never bridged (M 1)

    # --- air: what the class of wing lets us expect before any data
    trim_airspeed_mps: float = 11.0  # equivalent airspeed in straight flight; middle of foot-launched wings
    trim_airspeed_sd_mps: float = 2.0


UNKNOWN_WING = Settings()
"""Any foot-launched wing: wide expectations, used when no wing is named."""
PARAGLIDER = Settings(wing_class="paraglider", trim_airspeed_mps=10.2, trim_airspeed_sd_mps=1.0)
"""A paraglider: trim about 37 km/h (trade knowledge, no source)."""
HANG_GLIDER = Settings(wing_class="hang_glider", trim_airspeed_mps=11.5, trim_airspeed_sd_mps=1.5)
"""A flex-wing hang glider."""
RIGID_WING = Settings(wing_class="rigid_wing", trim_airspeed_mps=12.5, trim_airspeed_sd_mps=1.5)
"""A foot-launched rigid wing."""


def settings_for(wing_class: str) -> Settings:
    """Settings of a class of wing; of any foot-launched wing where the class is `unknown`.

    Raises
    ------
    SettingsError
        A class that is not among `paraglider`, `hang_glider`, `rigid_wing`, `sailplane` and `unknown`.

    >>> settings_for("paraglider").wing_class
    'paraglider'
    """
    for settings in (UNKNOWN_WING, PARAGLIDER, HANG_GLIDER, RIGID_WING):
        if settings.wing_class == wing_class:
            return settings
    if wing_class == "sailplane":
        return replace(RIGID_WING, wing_class="sailplane", trim_airspeed_mps=22.0, trim_airspeed_sd_mps=4.0)
    raise SettingsError(
        f"wing class {wing_class!r} is not known",
        "use paraglider, hang_glider, rigid_wing, sailplane or unknown",
    )
