"""The wind field and the chords by their shortcuts, against the plain equations."""

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.air import WindWindows
from flightlog.air.chords import find_chords
from flightlog.air.field import evaluate_field, fit_field
from flightlog.air.padded_chords import turns_rad
from flightlog.settings import UNKNOWN_WING
from tests.unit.air_flights import fly, recorded, steady


def windows_with_slanting_errors(count: int) -> WindWindows:
    """Windows apart from each other whose errors to the east and to the north hang together."""
    random = np.random.default_rng(21)
    start = np.arange(count) * 400.0
    root = random.normal(0.0, 0.4, (count, 2, 2))
    columns = random.normal(3.0, 0.4, (2, count))
    return WindWindows(
        start_s=start,
        end_s=start + 45.0,
        altitude_m=random.uniform(800.0, 2500.0, count),
        east_mps=columns[0],
        north_mps=columns[1],
        covariance_mps2=root @ root.transpose(0, 2, 1) + 0.2 * np.eye(2),
        airspeed_mps=np.full(count, 10.0),
        turned_deg=np.full(count, 1000.0),
        straight=np.zeros(count, dtype=np.int64),
    )


def test_the_field_is_that_of_the_whole_covariance():
    """Rasmussen & Williams 2006, equations 2.25 and 2.26, with all components of all sites in one matrix."""
    windows, settings = windows_with_slanting_errors(40), UNKNOWN_WING
    middle = (windows.start_s + windows.end_s) / 2.0
    field = fit_field(windows, middle, windows.altitude_m, settings)

    def kernel(time, altitude):
        later = np.abs(time[:, None] - middle)
        higher = np.abs(altitude[:, None] - windows.altitude_m) / settings.wind_change_height_m
        slow = field.change.slow_sd_mps**2 * np.exp(-later / settings.wind_change_time_s - higher)
        local = field.change.local_sd_mps**2 * np.exp(-later / settings.wind_local_time_s - higher)
        return settings.wind_prior_sd_mps**2 + slow + local

    time, altitude = np.linspace(-500.0, middle[-1] + 500.0, 30), np.linspace(700.0, 2600.0, 30)
    whole = np.kron(kernel(middle, windows.altitude_m), np.eye(2))
    for site, noise in enumerate(windows.covariance_mps2):
        whole[2 * site : 2 * site + 2, 2 * site : 2 * site + 2] += noise
    cross = np.kron(kernel(time, altitude), np.eye(2))
    wind = cross @ np.linalg.solve(whole, np.stack([windows.east_mps, windows.north_mps], axis=1).ravel())
    gain = np.einsum("ij,ij->i", cross, np.linalg.solve(whole, cross.T).T).reshape(-1, 2).mean(axis=1)
    variance = settings.wind_prior_sd_mps**2 + field.change.slow_sd_mps**2 + field.change.local_sd_mps**2 - gain
    east, north, sd = evaluate_field(field, time, altitude)
    assert np.stack([east, north], axis=1).ravel() == pytest.approx(wind, abs=1e-9)
    assert sd == pytest.approx(np.sqrt(variance), abs=1e-9)


@pytest.mark.parametrize("lost", [[], [40, 41, 42], [3, 4, 50, 90, 91]])
def test_a_chord_ends_at_the_first_fix_late_enough_beside_missing_ones_too(lost):
    flown = fly(steady(20.0, 120.0), wind=(3.0, 0.0))
    motion = recorded(flown, 1.0)
    kept = np.setdiff1d(np.arange(motion.time_s.size), lost)
    columns = {
        name: getattr(motion, name)[kept]
        for name in ("time_s", "piece", "measured_east_m", "measured_north_m", "east_m", "north_m")
    }
    thin = replace(motion, **columns)
    chords = find_chords(thin, UNKNOWN_WING)
    steps = round(UNKNOWN_WING.chord_baseline_s / motion.interval_s + 1e-9)
    expected = np.searchsorted(thin.time_s, thin.time_s[chords.start] + (steps - 0.25) * motion.interval_s)
    assert chords.start.size > 100
    assert chords.stop.tolist() == expected.tolist()


def test_turns_are_the_differences_of_headings():
    heading = np.radians([[350.0, 20.0, 190.0], [90.0, 60.0, 60.0]])
    turn = np.degrees(turns_rad(7.0 * np.sin(heading), 7.0 * np.cos(heading)))
    assert turn == pytest.approx(np.array([[30.0, 170.0, 0.0], [-30.0, 0.0, 0.0]]))
