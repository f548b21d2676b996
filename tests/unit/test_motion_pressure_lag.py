"""Heights of a barometer that comes late, found by holding them against GNSS heights."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from flightlog.motion.altitudes import choose_altitudes
from flightlog.motion.pressure_lag import LAG_PRIOR_SD_S, pressure_lag_s
from flightlog.settings import UNKNOWN_WING

STEP_S = 0.1


def flown(
    lag_s: float, *, interval_s: float = 1.0, minutes: float = 60.0, gnss_late_s: float = 0.0, seed: int = 1
):
    """Times, true, pressure and GNSS heights of climbs at 2 m/s and glides at -1 m/s by turns, with gusts."""
    random = np.random.default_rng(seed)
    time = np.arange(0.0, 60.0 * minutes, STEP_S)
    steady = np.where((time // 120.0) % 2 == 0, 2.0, -1.0)
    gusts = lfilter([0.035], [1.0, -np.exp(-STEP_S / 4.0)], random.normal(size=time.size) * 3.0)
    true = 1000.0 + np.cumsum(steady + gusts) * STEP_S
    share = 1.0 - np.exp(-STEP_S / max(lag_s, 1e-6))
    late = true[0] + lfilter([share], [1.0, share - 1.0], true - true[0])
    every = slice(0, None, round(interval_s / STEP_S))
    pressure = np.round(late[every] + 0.3 * random.normal(size=time[every].size))
    heard = np.interp(time[every] - gnss_late_s, time, true)
    wander = 3.0 * np.cumsum(random.normal(size=heard.size)) * np.sqrt(interval_s / 80.0) / 3.0
    gnss = np.round(heard + wander + 1.0 * random.normal(size=heard.size))
    return time[every], true[every], pressure, gnss


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 4.0])
@pytest.mark.parametrize("lag_s", [0.0, 0.5, 1.0])
def test_the_lag_is_found_within_its_standard_deviation(lag_s: float, interval_s: float) -> None:
    time, _, pressure, gnss = flown(lag_s, interval_s=interval_s)
    found_s, sd_s = pressure_lag_s(time, pressure, gnss)
    assert abs(found_s - lag_s) <= 1.96 * sd_s
    assert abs(found_s - 0.8 * lag_s) < 0.2  # a fifth may be the GNSS's own: priors of 0.6 and 0.3 s
    assert 0.25 < sd_s < 0.4


def test_without_gnss_heights_or_with_late_ones_nothing_is_shifted() -> None:
    time, _, pressure, gnss = flown(0.8)
    assert pressure_lag_s(time, pressure, None) == (0.0, LAG_PRIOR_SD_S)
    assert pressure_lag_s(time[:50], pressure[:50], gnss[:50]) == (0.0, LAG_PRIOR_SD_S)
    time, _, pressure, gnss = flown(0.0, gnss_late_s=3.0)
    assert pressure_lag_s(time, pressure, gnss)[0] == 0.0


def test_missing_heights_and_spikes_do_no_harm() -> None:
    time, _, pressure, gnss = flown(0.8)
    pressure[100:140], gnss[500:520], gnss[900] = np.nan, np.nan, 9000.0
    assert pressure_lag_s(time, pressure, gnss)[0] == pytest.approx(0.64, abs=0.2)


def test_heights_of_a_late_barometer_come_right_where_lift_begins_and_ends() -> None:
    """Out of sink into lift and back: 0.8 s late are 2.4 m from one corner to the next; noise is under 1 m."""
    time, true, pressure, gnss = flown(0.8)
    used = choose_altitudes(time, pressure, gnss, UNKNOWN_WING).measured_m
    corners = np.arange(120, time.size - 120, 120)
    errors = [np.diff(heights[corners + 4] - heights[corners - 4] - true[corners + 4] + true[corners - 4])
              for heights in (pressure, used)]  # fmt: skip
    lags = [np.abs(np.diff(heights[corners]) - np.diff(true[corners])).mean() for heights in (pressure, used)]
    assert lags[1] < 0.7 * lags[0]
    assert np.std(errors[1]) < 1.3 * np.std(errors[0])  # and no rougher for it
