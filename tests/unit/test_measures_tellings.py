"""How clear a figure is of what would say nothing."""

from __future__ import annotations

import pytest

from flightlog.estimates import Estimate
from flightlog.measures.tellings import clearness


@pytest.mark.parametrize(
    ("figure", "against", "clear"),
    [
        (Estimate(1.0, -0.1, 2.0), 0.0, 0.0),
        (Estimate(1.0, 0.5, 2.0), 0.0, 1.0),  # twice its half width away, on the side of the value held against
        (Estimate(-1.0, -1.2, -0.4), 0.0, 1.0 / 0.6 / 2.0),
        (Estimate(0.7, 0.5, 0.9), 1.0, 0.3 / 0.2 / 2.0),
        (Estimate(2.0, 2.0, 2.0), 2.0, 0.0),
        (Estimate(2.0, 2.0, 2.0), 1.0, 1.0),
    ],
)
def test_clear_is_how_far_the_interval_lies_off(figure, against, clear):
    assert clearness(figure, against) == pytest.approx(clear)
