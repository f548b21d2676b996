"""What a simulated day is made of: everything that may differ from one to the next, in one frozen object."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Scenario:
    """One simulated log. What is left at None is drawn from the seed."""

    name: str
    kind: str = "cross_country"  # cross_country, top_landing, polar, task
    wing_class: str = "paraglider"  # paraglider, hang_glider, rigid_wing
    wing_seed: int | None = None  # the same for several flights of one wing
    best_ratio: float | None = None  # of the wing; else drawn from the range of its class
    world_seed: int | None = None  # the same for several pilots in one sky
    # the air
    wind_mps: float = 4.0  # at the height of the launch
    wind_from_deg: float | None = None
    shear_per_km: float = 0.25  # share by which the wind grows for each km of height
    veer_deg_per_km: float = 10.0
    wind_wander_share: float = 0.12
    wind_wander_deg: float = 10.0
    wind_off_slope_deg: float = 0.0  # between the wind and straight onto the slope
    gust_mps: float = 0.6
    gust_length_m: float = 150.0
    general_air_mps: float = 0.25
    thermal_mps: float = 2.8
    anabatic_mps: float = 0.5
    lift_lines: int = 0  # straight lines of lift on the way, as under rows of clouds
    # the pilot
    flight_minutes: float = 60.0
    speed_wander_mps: float = 0.5
    centring_error_m: float = 18.0
    aborted_runs: int = 0
    glide_speed_share: tuple[float, float] = (0.95, 1.25)  # of trim, drawn for each glide
    go_arounds: tuple[int, ...] = ()  # top landing: planned go-arounds before each top landing
    break_off_m: tuple[float, float] = (3.0, 25.0)
    patterns: tuple[str, ...] = ("figure_of_eight", "circuit", "straight_in")
    low_passes: int = 0  # decoys: soars past the meadow low, along the edge
    edge_beats: int = 0  # decoys: beats over the meadow along the edge
    ends_in_valley: bool = True
    wait_s: tuple[float, float] = (60.0, 700.0)  # on top between flights
    glides: int = 0  # polar: how many flights
    turnpoints: tuple[tuple[float, float], ...] = ()  # task: metres east and north of the launch
    cylinder_m: float = 400.0
    goal_cylinder_m: float = 400.0
    start_radius_m: float = 1500.0
    start_at_s: float = 0.0
    # the recorder
    interval_s: float = 1.0
    form: str = "igc"  # igc, gpx
    irregular: bool = False
    noise: float = 1.0  # 0: a recorder without errors (rounding stays), 1: the usual
    pressure: bool = True
    altitude_datum: str = "GEO"  # GEO, ELL
    date_form: str = "new"  # new, old
    start_in_air: bool = False
    ends_before_landing: bool = False
    drives_home: bool = False
    drop_outs: int = 0
    spikes: int = 0
    duplicates: int = 0
    stale_spells: int = 0
    over_midnight: bool = False
    pilot_name: str = "Invented Pilot"
    hill_name: str = ""
    site: int | None = None
