"""The time budget of simulated days beside what was really flown."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from .cases import analysed
from .flight_scores import seconds
from .phase_truth import true_kinds
from .simulator import simulate
from .simulator.scenarios import top_landing_suite, wind_and_glide_suite

CASES = ((wind_and_glide_suite()[10], 0.05), (wind_and_glide_suite()[50], 0.05), (top_landing_suite()[0], 0.1))
"""Margins as shares of the flight: over ten days shares were off by 0.01 to 0.03 in the mean, by 0.09 in one of
twenty, all of those on days of top landings, where a low pass along the slope is next to soaring it."""


@pytest.mark.parametrize(("case", "margin"), CASES, ids=[case[0].name for case, _ in CASES])
def test_the_time_of_a_flight_goes_where_it_was_really_spent(case, margin):
    log = simulate(*case)
    times, kinds = true_kinds(log)
    debrief = analysed(log)
    assert debrief.flights
    for flight in debrief.flights:
        budget = flight.time_budget
        first, last = np.searchsorted(times, (seconds(flight.phases[0].start), seconds(flight.phases[-1].end)))
        true, found = Counter(kinds[first:last]), Counter()
        for part in budget.parts:
            found[part.kind] += part.share
        assert budget.total_s == pytest.approx(last - first, abs=3.0)
        for kind in ("climb", "glide", "search", "approach"):
            assert found[kind] == pytest.approx(true[kind] / (last - first), abs=margin), kind
