"""Ready suites of scenarios with fixed seeds; their figures are spread by a seeded generator."""

from __future__ import annotations

import random

from .scenario import Scenario

WING_CLASSES = ("paraglider", "hang_glider", "rigid_wing")
Case = tuple[Scenario, int]


def _air(rng: random.Random, wind_mps: float) -> dict:
    """Wind and liveliness of a day."""
    lively = rng.random()
    return {
        "wind_mps": wind_mps,
        "shear_per_km": rng.uniform(0.0, 0.6),
        "veer_deg_per_km": rng.uniform(-25, 45),
        "wind_wander_share": rng.uniform(0.04, 0.25),
        "wind_wander_deg": rng.uniform(4, 20),
        "wind_off_slope_deg": rng.uniform(-30, 30),
        "gust_mps": 0.2 + 0.8 * lively,
        "gust_length_m": rng.uniform(100, 200),
        "general_air_mps": 0.05 + 0.4 * lively,
        "speed_wander_mps": rng.uniform(0.2, 0.9),
    }


def _recorder(rng: random.Random, interval_s: float) -> dict:
    """A recorder with some of the faults that recorders have."""
    rough = rng.random() < 0.45
    return {
        "interval_s": interval_s,
        "noise": rng.uniform(0.6, 1.3),
        "altitude_datum": "ELL" if rng.random() < 0.2 else "GEO",
        "date_form": rng.choice(("new", "old")),
        "irregular": rng.random() < 0.1,
        "drop_outs": rng.randint(0, 4) if rough else 0,
        "spikes": rng.randint(0, 6) if rough else 0,
        "duplicates": rng.randint(0, 6) if rough else 0,
        "stale_spells": rng.randint(0, 4) if rough else 0,
        "pressure": rng.random() > 0.12,
        "over_midnight": rng.random() < 0.08,
        "drives_home": rng.random() < 0.25,
        "form": "gpx" if rng.random() < 0.12 else "igc",
    }


def wind_and_glide_suite(count: int = 60, seed: int = 20250401) -> list[Case]:
    """Cross-country flights of 30-90 minutes: three wings, 0-10 m/s of wind, 1-5 s, calm to lively air."""
    rng, cases = random.Random(f"wind and glide {seed}"), []
    for k in range(count):
        wind = 10.0 * ((k * 0.618034) % 1.0)
        options = _air(rng, wind) | _recorder(rng, rng.choice((1.0, 1.0, 2.0, 3.0, 4.0, 5.0)))
        options |= {
            "wing_class": WING_CLASSES[k % 3],
            "thermal_mps": rng.uniform(1.8, 4.0),
            "anabatic_mps": max(0.2, 2.0 - 0.3 * wind) * rng.uniform(0.7, 1.2),
            "flight_minutes": rng.uniform(25, 60),
            "lift_lines": rng.choice((0, 0, 8, 15)),
            "centring_error_m": rng.uniform(8, 32),
            "glide_speed_share": (0.95, rng.uniform(1.1, 1.4)),
            "aborted_runs": rng.choice((0, 0, 0, 1)),
            "start_in_air": rng.random() < 0.06,
            "ends_before_landing": rng.random() < 0.06,
        }
        cases.append((Scenario(f"cross-country {k}", kind="cross_country", **options), seed + k))
    return cases


def top_landing_suite(count: int = 100, seed: int = 20250601) -> list[Case]:
    """Days of top landings: 0-6 go-arounds a landing, decoys, 0-9 m/s of wind, 1-5 s, three wings."""
    rng, cases = random.Random(f"top landing {seed}"), []
    for k in range(count):
        wind = 9.0 * ((k * 0.618034) % 1.0)
        options = _air(rng, wind) | _recorder(rng, rng.choice((1.0, 1.0, 2.0, 3.0, 4.0, 5.0)))
        landings = rng.choice((1, 1, 1, 2, 2, 3))
        options |= {
            "wing_class": WING_CLASSES[k % 3],
            "anabatic_mps": max(0.3, 2.6 - 0.3 * wind) * rng.uniform(0.9, 1.2),
            "gust_mps": min(options["gust_mps"], 0.85),
            "thermal_mps": 0.0,
            "flight_minutes": rng.uniform(25, 60),
            "go_arounds": tuple(rng.randint(0, 6 if landings == 1 else 3) for _ in range(landings)),
            "low_passes": rng.choice((0, 0, 1, 2)),
            "edge_beats": rng.choice((0, 0, 1)),
            "aborted_runs": rng.choice((0, 0, 0, 1, 2)),
            "ends_in_valley": rng.random() < 0.7,
            "wait_s": (20.0, rng.choice((120.0, 400.0, 900.0))),
        }
        cases.append((Scenario(f"top landing {k}", kind="top_landing", **options), seed + k))
    return cases


def calm_suite(count: int = 12, seed: int = 20250501) -> list[Case]:
    """Clean flights for tight checks: recorder without errors, no gusts, steady hands, light steady wind."""
    rng, cases = random.Random(f"calm {seed}"), []
    for k in range(count):
        wind = rng.uniform(0, 6)
        top = k % 3 == 2
        options = {
            "wind_mps": wind, "shear_per_km": 0.0, "veer_deg_per_km": 0.0,
            "wind_wander_share": 0.0, "wind_wander_deg": 0.0,
            "gust_mps": 0.0, "general_air_mps": 0.0, "speed_wander_mps": 0.0, "noise": 0.0, "interval_s": 1.0,
            "wing_class": WING_CLASSES[k // 3 % 3], "centring_error_m": 8.0, "thermal_mps": 0.0 if top else 3.0,
            "anabatic_mps": max(0.3, 2.6 - 0.3 * wind), "flight_minutes": 40.0,
        }  # fmt: skip
        if top:
            options |= {"kind": "top_landing", "go_arounds": (2,)}
        cases.append((Scenario(f"calm {k}", **options), seed + k))
    return cases


BEYOND_CLASS = {"paraglider": (7.5, 11.1), "hang_glider": (10.2, 15.8), "rigid_wing": (15.2, 19.8)}
"""Best glide ratios a little outside the range of the class, about one and a half of its spread off its middle."""
MORE_WINGS = ((60, True, 4), (30, True, 4), (15, True, 3), (30, False, 3))
"""Minutes of glide, in thermic air?, wings: flown by every class after the first four; the last one is off."""


def polar_suite(seed: int = 20250701, rounds: int = 3) -> list[tuple[list[Case], int]]:
    """For each wing: several flights of one wing, together 15 to 60 minutes of glide, in calm or thermic air.

    Each entry is (cases, wing seed): all flights of one entry are flown with the wing of that seed, and no two
    entries share a wing or a flight. In every round each class flies eighteen wings, of which four are better or
    worse than the class is wide; the rounds are drawn by the seeds that follow one another.
    """
    suite: list[tuple[list[Case], int]] = []
    for turn in range(rounds):
        _polar_round(random.Random(f"polar {seed + turn}"), seed, turn, suite)
    return suite


def _polar_round(rng: random.Random, seed: int, turn: int, suite: list[tuple[list[Case], int]]) -> None:
    """Eighteen wings of every class, put after those that are there."""
    for wing_class in WING_CLASSES:
        for minutes in (30, 60):
            for thermic in (False, True):
                suite.append(_polar_entry(rng, seed, len(suite) + 1, wing_class, minutes, thermic, None))
    for wing_class in WING_CLASSES:
        for minutes, thermic, wings in MORE_WINGS:
            for k in range(wings):
                off = BEYOND_CLASS[wing_class][(len(suite) + turn) % 2] if k == wings - 1 else None
                suite.append(_polar_entry(rng, seed, len(suite) + 1, wing_class, minutes, thermic, off))


def _polar_entry(
    rng: random.Random, seed: int, number: int, wing_class: str, minutes: int, thermic: bool, ratio: float | None
) -> tuple[list[Case], int]:
    """The flights of one wing; `ratio` is its best glide ratio where the class does not say it."""
    cases, flights = [], max(2, minutes // 10)
    for k in range(flights):
        options = {
            "wind_mps": rng.uniform(0, 6), "wind_wander_share": 0.1, "gust_mps": 0.6 if thermic else 0.2,
            "general_air_mps": 0.6 if thermic else 0.15, "speed_wander_mps": 0.4, "thermal_mps": 2.5,
            "anabatic_mps": 2.0, "interval_s": rng.choice((1.0, 2.0, 4.0)), "noise": rng.uniform(0.6, 1.2),
            "wing_class": wing_class, "wing_seed": seed + 1000 + number, "best_ratio": ratio,
        }  # fmt: skip
        name = f"polar {wing_class} {minutes} min {'thermic' if thermic else 'calm'} {k}"
        scenario = Scenario(name, kind="polar", flight_minutes=minutes / flights, glides=2, **options)
        cases.append((scenario, seed + 100 * number + k))
    return cases, seed + 1000 + number
