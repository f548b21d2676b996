"""The wind field and the chords by their shortcuts, against the plain equations."""

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.air import WindWindows
from flightlog.air.chords import find_chords
from flightlog.air.field import average_wind, evaluate_field, fit_field
from flightlog.air.padded_chords import turns_rad
from flightlog.settings import UNKNOWN_WING
from tests.unit.air_flights import fly, recorded, steady


def windows_with_slanting_errors(count: int, shared_mps: float = 0.0) -> WindWindows:
    """Windows apart from each other whose errors to the east and to the north hang together.

    Part of the error is shared by all: an airspeed taken wrong shifts each by so much, whichever way it flew.
    """
    random = np.random.default_rng(21)
    start = np.arange(count) * 400.0
    root = random.normal(0.0, 0.4, (count, 2, 2))
    columns = random.normal(3.0, 0.4, (2, count))
    together = shared_mps * random.normal(0.5, 0.7, (count, 2))
    alike = together[:, :, None] * together[:, None, :]
    return WindWindows(
        start_s=start,
        end_s=start + 45.0,
        altitude_m=random.uniform(800.0, 2500.0, count),
        east_mps=columns[0],
        north_mps=columns[1],
        covariance_mps2=root @ root.transpose(0, 2, 1) + 0.2 * np.eye(2) + alike,
        airspeed_mps=np.full(count, 10.0),
        turned_deg=np.full(count, 1000.0),
        straight=np.zeros(count, dtype=np.int64),
        together_mps=together,
    )


@pytest.mark.parametrize("shared_mps", [0.0, 0.9])
def test_the_field_is_that_of_the_whole_covariance(shared_mps):
    """Rasmussen & Williams 2006, equations 2.25 and 2.26, with all components of all sites in one matrix."""
    windows, settings = windows_with_slanting_errors(40, shared_mps), UNKNOWN_WING
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
    alike = windows.together_mps.ravel()
    whole += np.outer(alike, alike)
    for site, (noise, own) in enumerate(zip(windows.covariance_mps2, windows.together_mps, strict=True)):
        whole[2 * site : 2 * site + 2, 2 * site : 2 * site + 2] += noise - np.outer(own, own)
    cross = np.kron(kernel(time, altitude), np.eye(2))
    wind = cross @ np.linalg.solve(whole, np.stack([windows.east_mps, windows.north_mps], axis=1).ravel())
    gain = np.einsum("ij,ij->i", cross, np.linalg.solve(whole, cross.T).T).reshape(-1, 2).mean(axis=1)
    variance = settings.wind_prior_sd_mps**2 + field.change.slow_sd_mps**2 + field.change.local_sd_mps**2 - gain
    east, north, sd = evaluate_field(field, time, altitude)
    assert np.stack([east, north], axis=1).ravel() == pytest.approx(wind, abs=1e-9)
    assert sd == pytest.approx(np.sqrt(variance), abs=1e-9)


def test_an_error_that_all_windows_share_does_not_average_out():
    """Ten windows off by one and the same unknown airspeed tell the wind no better than that airspeed is known."""
    count, shared_mps = 10, 0.8
    windows = windows_with_slanting_errors(count)
    alike = np.tile([0.0, shared_mps], (count, 1))
    blocks = np.tile(0.2 * np.eye(2), (count, 1, 1)) + alike[:, :, None] * alike[:, None, :]
    told = replace(windows, covariance_mps2=blocks, together_mps=alike)
    silent = replace(windows, covariance_mps2=blocks, together_mps=np.zeros((count, 2)))
    middle = (windows.start_s + windows.end_s) / 2.0
    means = [
        average_wind(fit_field(one, middle, windows.altitude_m, UNKNOWN_WING), -np.inf, np.inf, None, None)
        for one in (told, silent)
    ]
    one_component_mps = shared_mps / np.sqrt(2.0)  # the other component has no part in it
    assert means[0].se_mps > one_component_mps * 0.95
    assert means[1].se_mps < one_component_mps * 0.75


def test_windows_that_an_airspeed_shifts_apart_tell_it():
    """Beats along two slopes, crabbing into one wind from either side, agree at one airspeed only."""
    count = 12
    alike = np.where(np.arange(count)[:, None] % 2 == 0, [[0.0, 1.0]], [[1.0, 0.0]])
    wind, airspeed_error = np.array([3.0, 2.0]), 1.4
    seen = wind + airspeed_error * alike
    windows = replace(
        windows_with_slanting_errors(count),
        altitude_m=np.full(count, 1200.0),
        east_mps=seen[:, 0],
        north_mps=seen[:, 1],
        covariance_mps2=0.05 * np.eye(2) + alike[:, :, None] * alike[:, None, :],
        together_mps=alike,
    )
    middle = (windows.start_s + windows.end_s) / 2.0
    field = fit_field(windows, middle, windows.altitude_m, UNKNOWN_WING)
    found = average_wind(field, -np.inf, np.inf, None, None)
    miss = np.hypot(found.east_mps - wind[0], found.north_mps - wind[1])
    plain = np.hypot(*(seen.mean(axis=0) - wind))
    assert miss < 0.6 * plain
    assert miss < 2.0 * found.se_mps


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
