"""The wind of a flight, from circles whose wind is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from flightlog.air.estimating import estimate_air
from flightlog.measures.winds import measure_wind
from flightlog.motion.motion import Spell
from flightlog.phases.phases import FlightSpan
from flightlog.settings import UNKNOWN_WING
from tests.unit.synthetic_motion import Leg, fly, observed


def test_circles_give_the_wind_its_profile_and_its_estimates() -> None:
    wind = (5.0, -3.0)
    climb = Leg(400, 10.0, 2.0, turn_degps=24.0)
    motion, _ = observed(fly([Leg(60, 10.0, -1.0), climb, Leg(60, 10.0, -1.0)], wind=wind, altitude_m=1000.0))
    first_s, last_s = float(motion.time_s[0]), float(motion.time_s[-1])
    air = estimate_air(motion, (Spell("air", first_s, last_s),), UNKNOWN_WING)
    span = FlightSpan(1, first_s, first_s, last_s, True, True, 0.5, 0.5, 0, motion.time_s.size)
    result = measure_wind(motion, air, span, UNKNOWN_WING)
    assert result.mean is not None
    assert result.mean.east_mps == pytest.approx(5.0, abs=0.3)
    assert result.mean.north_mps == pytest.approx(-3.0, abs=0.3)
    assert result.mean.from_deg == pytest.approx(301.0, abs=4.0)
    bands = [(band.altitude_low_m, band.altitude_high_m) for band in result.profile]
    assert bands == sorted(bands)
    assert bands[0][0] <= 1000.0
    assert bands[-1][1] >= 1700.0
    assert all(high - low == UNKNOWN_WING.wind_band_m for low, high in bands)
    assert all(band.wind.east_mps == pytest.approx(5.0, abs=0.5) for band in result.profile)
    assert result.estimates
    times = [sample.time for sample in result.estimates]
    assert times == sorted(times)
    assert all(0 < sample.wind.se_mps < 2.0 for sample in result.estimates)

    elsewhere = replace(span, liftoff_s=last_s + 10_000.0, touchdown_s=last_s + 10_100.0)
    assert measure_wind(motion, air, elsewhere, UNKNOWN_WING).estimates == ()


def test_one_straight_glide_tells_no_wind() -> None:
    motion, air = observed(fly([Leg(200, 10.0, -1.0)]), wind=None)
    first_s, last_s = float(motion.time_s[0]), float(motion.time_s[-1])
    span = FlightSpan(1, first_s, first_s, last_s, True, True, 0.5, 0.5, 0, motion.time_s.size)
    result = measure_wind(motion, air, span, UNKNOWN_WING)
    assert result.mean is None
    assert result.profile == ()
    assert result.estimates == ()
    assert result.note is not None


def test_a_band_whose_wind_is_unsure_is_left_out() -> None:
    climb = Leg(500, 10.0, 2.0, turn_degps=24.0)
    beats = [Leg(90, 10.0, -1.0, heading_deg=heading) for heading in (0.0, 120.0, 240.0) * 3]
    motion, _ = observed(fly([climb, *beats], wind=(5.0, -3.0), altitude_m=1000.0))
    first_s, last_s = float(motion.time_s[0]), float(motion.time_s[-1])
    air = estimate_air(motion, (Spell("air", first_s, last_s),), UNKNOWN_WING)
    span = FlightSpan(1, first_s, first_s, last_s, True, True, 0.5, 0.5, 0, motion.time_s.size)
    everything = measure_wind(motion, air, span, replace(UNKNOWN_WING, wind_band_sd_limit_mps=9.0))
    ses = sorted(band.wind.se_mps for band in everything.profile)
    assert ses[0] < ses[-1]
    strict = replace(UNKNOWN_WING, wind_band_sd_limit_mps=(ses[0] + ses[-1]) / 2.0)
    kept = measure_wind(motion, air, span, strict)
    assert kept.profile == tuple(b for b in everything.profile if b.wind.se_mps <= strict.wind_band_sd_limit_mps)
    assert 0 < len(kept.profile) < len(everything.profile)
    assert kept.mean == everything.mean
