"""The fixes packed into a page: unpacked as the script of the page does it, they are the figures again."""

from __future__ import annotations

import base64
from dataclasses import replace

import numpy as np
import pytest

from flightlog.writers.display import Display
from flightlog.writers.live_data import packed
from flightlog.writers.live_scripts import live_scripts, script_sources
from flightlog.writers.page import page_of
from flightlog.writers.page_parts import Packed
from tests.unit.made_debrief import made_debrief


def unpacked(one: Packed) -> np.ndarray:
    """As `unpack` in live_fixes.js."""
    steps = np.frombuffer(base64.b64decode(one.data), dtype=f"<i{one.bits // 8}").astype(np.int64)
    values = (one.first + np.cumsum(steps)) * one.step
    for first, stop in zip(one.holes[::2], one.holes[1::2], strict=True):
        values[first:stop] = np.nan
    return values


@pytest.mark.parametrize("reach", [1.0, 1e4])
def test_figures_come_back_to_half_a_step(reach):
    values = np.cumsum(np.random.default_rng(4).normal(0.0, reach, 5000))
    one = packed(values, 0.1)
    assert one.bits == (16 if reach == 1.0 else 32)
    assert np.abs(unpacked(one) - values).max() <= 0.05 + 1e-6


def test_what_is_not_known_stays_so():
    values = np.array([np.nan, np.nan, 5.0, 6.0, np.nan, 7.0, np.nan])
    one = packed(values, 0.5)
    assert one.holes == (0, 2, 4, 5, 6, 7)
    assert unpacked(one) == pytest.approx(values, nan_ok=True)
    assert np.all(np.isnan(unpacked(packed(np.full(4, np.nan), 1.0))))


def test_a_flight_is_told_in_the_readers_units():
    made = made_debrief()
    motion, span = made.motion, made.spans[0]
    metric, aviation = (page_of(made, Display(units)).flights[0].live for units in ("metric", "aviation"))
    altitude = motion.altitude_m[span.first : span.stop]
    assert unpacked(metric.altitude) == pytest.approx(altitude, abs=0.06)
    assert unpacked(aviation.altitude) == pytest.approx(altitude / 0.3048, abs=0.06)
    assert unpacked(metric.time)[-1] == pytest.approx(motion.time_s[span.stop - 1] - metric.start_s, abs=0.06)
    assert unpacked(metric.east) == pytest.approx(motion.east_m[span.first : span.stop] / 1000.0, abs=1.1e-4)
    assert (metric.height_unit, aviation.height_unit) == ("m", "ft")
    assert [band.kind for band in metric.phases] == ["launch_run", "climb", "glide", "search", "approach"]
    assert metric.phases[1].end == pytest.approx(span.phases[1].end_s - metric.start_s)


def test_a_silence_of_the_recorder_is_told():
    made = made_debrief()
    span = made.spans[0]
    piece = np.where(np.arange(len(made.motion.piece)) < span.first + 300, 0, 1)
    live = page_of(replace(made, motion=replace(made.motion, piece=piece))).flights[0].live
    assert live.gaps == (299,)


def test_a_flight_of_two_fixes_is_not_live():
    made = made_debrief()
    short = replace(made.spans[0], stop=made.spans[0].first + 2)
    assert page_of(replace(made, spans=(short,))).flights[0].live is None


def test_the_scripts_are_small_enough_and_run_no_texts():
    library, plotting, own = live_scripts()
    assert len(library) + len(plotting) < 1_600_000
    assert len(own) < 40_000
    assert "eval(" not in own
    assert "innerHTML" not in own
    assert script_sources().count("'sha256-") == 3


def test_five_hours_of_fixes_leave_a_page_well_below_three_megabytes():
    rng = np.random.default_rng(8)
    columns = [packed(np.cumsum(rng.normal(0.0, 1.0, 18_000)), 0.1) for _ in range(6)]
    assert sum(len(one.data) for one in columns) < 300_000  # beside 1.4 million of scripts, and the drawings
