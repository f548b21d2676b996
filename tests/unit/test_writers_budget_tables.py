"""The time budget as a table and as a bar."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace

import pytest

from flightlog.writers.budget_tables import budget_chart, budget_table
from flightlog.writers.chart_slices import levels_apart
from flightlog.writers.display import Display
from flightlog.writers.page import page_of
from flightlog.writers.svg_charts import chart_svg
from tests.unit.made_debrief import made_debrief, made_flight

SHOW = Display()


def rows():
    return {row[0]: row[1:] for row in budget_table(made_flight().time_budget, SHOW).rows}


def test_a_row_tells_time_share_heights_and_mean_speed():
    assert rows()["climb, circling"] == ("1", "4:40\u00a0min", "30", "240", "0", "0.86 (0.85 to 0.87)")
    assert rows()["glide"][3:] == ("0", "402", "−1.30 (−1.31 to −1.29)")


def test_units_are_the_readers():
    table = budget_table(made_flight().time_budget, Display("aviation"))
    assert [column.unit for column in table.columns][4:] == ["ft", "ft", "ft/min"]
    assert table.rows[2][5] == "1319"  # 402 m at 0.3048 m to the foot


def test_it_stands_in_the_page_with_its_note_and_is_left_out_without_phases():
    section = page_of(made_debrief()).flights[0]
    assert section.tables[0].title == "Time budget"
    assert section.tables[0].remarks[0].replace("\u00a0", " ") == (
        "All together 15:21 min, from the first step of the launch to the first touch; 30 s of it, 3 %, are"
        " missing in the recording"
    )
    assert section.charts[-1].title == "Time budget"
    made = made_debrief()
    bare = replace(made, flights=(replace(made.flights[0], time_budget=None),))
    without = page_of(bare).flights[0]
    assert "Time budget" not in [part.title for part in (*without.tables, *without.charts)]


def test_the_bar_is_as_long_as_the_flight_and_names_every_part():
    chart = budget_chart(1, made_flight().time_budget, SHOW)
    slices = chart.panels[0].slices
    assert math.fsum(one.share for one in slices) == pytest.approx(1.0)
    assert [one.label.replace("\u00a0", " ") for one in slices] == [
        "launch run, 2.2 s",  # too short for a per cent
        "climb, circling 30 %, 4:40 min",
        "glide 34 %, 5:10 min",
        "search 28 %, 4:20 min",
        "approach 7 %, 1:09 min",
    ]
    drawn = chart_svg(chart)
    assert all(one.label in drawn for one in slices)
    heights = [float(height) for height in re.findall(r'<text x="[0-9.]+" y="([0-9.]+)"', drawn)]
    assert len(heights) == 5
    assert min(b - a for a, b in itertools.pairwise(heights)) > 12.0  # no label on another, pixels


@pytest.mark.parametrize("middles", [[0.0] * 7, [1.0] * 7, [0.1, 0.5, 0.5, 0.5, 0.9], [0.3]])
def test_labels_keep_apart_and_inside(middles):
    levels = levels_apart(middles, 0.1)
    assert all(b - a >= 0.1 - 1e-9 for a, b in itertools.pairwise(levels))
    assert levels[0] >= 0.05 - 1e-9
    assert levels[-1] <= 0.95 + 1e-9
