"""When a pass is broken off: by the end of the sink, by a turn away, and what can only be given roughly."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.phases.decisions import decision_time_s
from flightlog.phases.padtrack import pad_track
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import Leg, fly, observed
from tests.unit.test_phases_approaches import PAD_M, WIND, descent, pad, whole


def decided(away, to_height_m, *, interval_s=1.0, centre_s=0.0):
    """Error of the decision, s, of a final broken off at the given height; the ground lies `centre_s` beyond."""
    start, legs = descent(to_height_m)
    path = fly([*legs, *away], wind=WIND, altitude_m=start)
    motion, air = observed(path, interval_s=interval_s, wind=WIND)
    decision_s = path.leg_starts_s[4]
    ground = pad(path, int(np.searchsorted(path.time_s, decision_s + centre_s)), level_m=np.array([PAD_M]))
    track = pad_track(motion, air, whole(motion), ground, PARAGLIDER)
    after = track.time_s < decision_s + 40.0
    return decision_time_s(track, int(np.argmin(np.where(after, track.height_m, np.inf))), PARAGLIDER) - decision_s


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
def test_sink_that_ends_at_once_tells_the_decision(interval_s):
    away = [Leg(10, 10.2, 0.3, heading_deg=0.0), Leg(60, 10.2, 1.2)]
    assert decided(away, 5.0, interval_s=interval_s) == pytest.approx(0.0, abs=max(2.0, 0.6 * interval_s))


def test_easing_the_brakes_counts_though_the_lift_comes_ten_seconds_later():
    """Sink halves and airspeed rises at the decision; the low point follows when the lift is reached."""
    away = [Leg(10, 11.5, -0.5, heading_deg=0.0), Leg(60, 10.2, 1.5)]
    assert decided(away, 8.0) == pytest.approx(0.0, abs=4.0)


def test_a_turn_away_counts_before_the_lift():
    """Sink goes on while turning away from the landing ground 30 m ahead; climbing starts 9 s later."""
    away = [Leg(3, 10.2, -1.0, turn_degps=20.0), Leg(6, 10.2, -0.8), Leg(60, 10.2, 1.5)]
    assert decided(away, 14.0, centre_s=6.0) == pytest.approx(1.0, abs=3.0)


def test_the_decision_never_lies_far_after_the_low_point():
    start, legs = descent(6.0)
    path = fly([*legs, Leg(60, 9.5, 1.0, heading_deg=0.0)], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    track = pad_track(motion, air, whole(motion), pad(path), PARAGLIDER)
    lowest = int(np.argmin(track.height_m))
    for step in (0, 1, lowest, len(track.time_s) - 1):  # at the ends of the flight too
        at = decision_time_s(track, step, PARAGLIDER)
        assert track.time_s[step] - 21.0 <= at <= track.time_s[step] + 3.0
