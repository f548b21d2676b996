"""The fixes so many seconds before or after others."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.motion.clock import first_fixes_from

STEPS = {
    "even": np.ones(300),
    "fine": np.full(300, 0.2),
    "odd": np.random.default_rng(1).choice([0.7, 1.0, 3.0, 90.0], 300, p=[0.2, 0.6, 0.15, 0.05]),
}


@pytest.mark.parametrize("steps", STEPS.values(), ids=STEPS)
@pytest.mark.parametrize("shift_s", [-70.0, -2.5, -1.0, 0.0, 0.4, 6.0, 1e4])
def test_they_are_those_that_a_search_finds(steps, shift_s):
    time_s = 1.7e9 + np.cumsum(steps)
    interval_s = float(np.median(steps))
    for beyond, side in ((False, "left"), (True, "right")):
        found = first_fixes_from(time_s, shift_s, interval_s, beyond)
        assert found.tolist() == np.searchsorted(time_s, time_s + shift_s, side=side).tolist()
