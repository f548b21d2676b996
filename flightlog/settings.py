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

    # --- phases: flights of a log
    shortest_flight_s: float = 12.0  # kiting hops last a few seconds; a training-hill flight 15 s and more (trade)
    least_flight_distance_m: float = 40.0  # a hop while ground handling covers less
    least_flight_height_m: float = 6.0  # kiting lifts 1-3 m; pressure heights wander 1 m within minutes
    gnss_altitude_wander_m: float = 6.0  # height change that GNSS altitude alone feigns (M 1: 5.8 m raw)
    fastest_walk_mps: float = 3.0  # walking 1.4, downhill with a wing on the back up to 2.5
    least_climb_spread_mps: float = 0.35  # air shakes the wing (0.45 m/s), feet do not (0.13 m/s) (M 2)
    longest_silence_in_flight_s: float = 600.0  # longer: the pilot may have landed and started again (IGC: 5 min)
    shortest_airspeed_record_s: float = 60.0  # straight flight needed before the log's own airspeed counts
    usual_airspeed_sd_mps: float = 0.8  # pilots fly between least sink and trim, about 1.5 m/s apart
    longest_run_s: float = 20.0  # a launch run lasts 2-10 s; the chain's start errs by a few seconds
    launch_wind_from_s: float = 60.0  # wind of so long after lift-off (before touchdown) stands for the ground's
    liftoff_speed_share: float = 0.80  # lift-off airspeed over trim airspeed (M 2)
    touchdown_speed_share: float = 0.60  # below it a flared wing has given up: stall is about 0.65-0.7 of trim
    run_speed_mps: float = 1.0  # first step of the run (M 2)

    # --- phases: pieces of ground without a places file
    ground_radius_m: float = 100.0  # a launch meadow is 30-100 m long; GNSS is good to 3 m
    ground_level_m: float = 15.0  # a slope meadow within 100 m; pressure drifts 8 m/h at 1 hPa/h
    top_landing_reach_m: float = 500.0  # a top-landing field lies behind or beside its launch
    top_landing_level_m: float = 40.0  # and at about its height: a landing farther down is a slope or valley one

    # --- phases: labels
    phase_least_s: float = 12.0  # a shorter glide or search is part of what lies beside it (trade: readable)
    thermal_break_s: float = 45.0  # re-centring takes 5-30 s; a search for the next thermal longer
    thermal_break_m: float = 250.0  # through the air: a thermal's core is 40-150 m in radius (M 5)
    thermal_break_loss_m: float = 40.0  # re-centring through sink costs 10-30 m
    circling_trim_s: float = 30.0  # losing circles so long before the bottom or after the top are no climb
    climb_least_gain_m: float = 5.0  # pressure heights are good to 0.5 m, GNSS ones to 3 m
    climb_least_mps: float = 0.1  # a circling run that gains less is search
    climb_least_turns: float = 2.0  # fewer circles are a climb only above `straight_climb_mps` (M 9)
    straight_climb_mps: float = 0.3  # rising straight on (M 3)
    straight_climb_s: float = 15.0  # for so long (M 3)
    thermal_entry_s: float = 30.0  # rising straight flight beside circles, shorter than this, is their way in
    ridge_least_mps: float = -0.3  # mean climb of held height: still air would sink the wing at 0.7-1.2
    ridge_net_share: float = 0.4  # net way over the ground by way flown: a glide into wind has 0.4 and more
    ridge_width_share: float = 0.45  # beats: strip of 50-100 m by 300 m and more; a search is as wide as long
    ridge_patch_m: float = 60.0  # parked into the wind: rms of the patch of ground covered
    ridge_least_s: float = 60.0  # one beat to and one fro
    leg_turn_deg: float = 50.0  # a clear turn; gusts and correcting for drift stay below
    glide_leg_s: float = 45.0  # a straight leg so long goes somewhere
    search_straightness: float = 0.7  # net by flown way, air frame (M 9)
    search_window_s: float = 120.0  # over so long (M 9)
    approach_radius_m: float = 400.0  # circuits and eights stay within 200-300 m of the landing point (trade)
    approach_height_m: float = 150.0  # landing circuits begin at 50-150 m above ground (trade)
    approach_regain_m: float = 6.0  # a rise so high ends one descent and begins another; gusts lift 1-4 m
    approach_longest_s: float = 240.0  # from 150 m at 0.8 m/s of sink it takes 190 s


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
