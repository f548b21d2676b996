"""What a page says: sentences, tables, units, and what it does when a figure is not known."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from flightlog.air.recorder_check import RecorderCheck
from flightlog.estimates import Estimate, Wind
from flightlog.measures.thermals import ThermalDetail
from flightlog.settings import Settings
from flightlog.wings import Wing
from flightlog.writers.chart_data import clock_ticks, flight_charts
from flightlog.writers.climb_tables import climbs_table
from flightlog.writers.display import Display, display_in
from flightlog.writers.page import page_of, without_blank_columns
from flightlog.writers.page_parts import Column, Table
from flightlog.writers.page_story import story
from tests.unit.made_debrief import START_S, TOP, made_debrief, made_detail, made_flight, moment, without_flights

METRIC, AVIATION = Display(), Display("aviation")


def told(flight, show=METRIC) -> str:
    return " ".join(story(flight, show)).replace("\u00a0", " ")


def table(page, title):
    return next(table for table in page.flights[0].tables if table.title == title)


def test_the_story_goes_from_take_off_to_landing():
    text = told(made_flight())
    assert f"Lift-off at 11:00:10 at {TOP}, 1003 m above the sea, after a run of 2.2 s over 7 m" in text
    assert "with a headwind of 14 (10 to 18) km/h" in text
    assert "Top landing at 11:15:29" in text
    assert text.index("Lift-off") < text.index("Top landing") < text.index("silent for 30 s")


def test_a_possible_pass_is_not_told_as_a_go_around():
    flight = made_flight()
    only_possible = replace(flight, passes=flight.passes[1:2])
    page = page_of(replace(made_debrief(), flights=(only_possible,)))
    assert not any("broken off" in finding.text for finding in page.flights[0].findings)
    assert page_of(replace(made_debrief(), flights=(only_possible,))).overview.rows[0][8] == "0"
    assert page_of(made_debrief()).overview.rows[0][8] == "1"


def test_a_log_that_starts_and_ends_in_the_air_says_so():
    flight = made_flight()
    cut = replace(
        flight,
        takeoff=replace(flight.takeoff, kind="start_of_log"),
        landing=replace(flight.landing, kind="end_of_log"),
        launch=None,
        approach=None,
    )
    assert "The log starts in the air at 11:00:10" in told(cut)
    assert "The log ends in the air at 11:15:29" in told(cut)


def test_without_wind_nothing_is_guessed():
    flight = made_flight()
    calm = replace(flight, wind=replace(flight.wind, mean=None, profile=(), estimates=()))
    page = page_of(replace(made_debrief(), flights=(calm,)))
    assert any("does not tell the wind" in finding.text for finding in page.flights[0].findings)
    assert next(fact for fact in page.flights[0].facts if fact.label == "Wind").value == "not known"
    assert not any(chart.title == "Wind by height" for chart in page.flights[0].charts)


def test_a_wind_that_may_be_none_comes_from_nowhere():
    flight = made_flight()
    faint = Wind(200.0, 0.4, 0.0, 0.0, 0.3, 4.0)  # 0.4 m/s, give or take 0.6
    climbs = tuple(replace(climb, wind=faint) for climb in flight.climbs)
    flight = replace(flight, wind=replace(flight.wind, mean=faint), climbs=climbs)
    section = page_of(replace(made_debrief(), flights=(flight,))).flights[0]
    fact = next(fact for fact in section.facts if fact.label == "Wind")
    assert fact.value.replace("\u00a0", " ") == "1 ± 2.1 km/h"
    assert fact.detail == "mean of the flight, from no sure direction"
    assert not any("200°" in cell for one in section.tables for row in one.rows for cell in row)
    track = next(chart for chart in section.charts if chart.title == "Track").panels[0]
    assert (track.wind_to_deg, track.wind_label) == (None, "")


def test_the_wind_of_a_climb_has_its_interval():
    flight = made_flight()
    sure, faint = Wind(250.0, 5.0, 4.7, 1.7, 0.4, 9.0), Wind(200.0, 0.4, 0.0, 0.0, 0.3, 4.0)
    for wind, told in ((sure, "250° 18 ± 2.8"), (faint, "– 1 ± 2.1"), (None, "–")):  # 1.96 x 0.4 m/s in km/h
        climbs = tuple(replace(climb, wind=wind) for climb in flight.climbs)
        found = climbs_table(climbs, Display(), Settings())
        assert {row[-1].replace("\u00a0", " ") for row in found.rows} == {told}
        assert any("95 % interval" in remark for remark in found.remarks) is (wind is not None)


def test_a_wing_file_of_another_wing_is_told_at_the_wing():
    debrief = made_debrief()
    mine = Wing("Wing of mine", "paraglider", 4.0, 90.0)

    def detail(wing, named):
        page = page_of(replace(debrief, wing=wing, log=replace(debrief.log, wing=named)))
        return next(fact for fact in page.facts if fact.label == "Wing").detail

    assert detail(mine, "Another 23").endswith("; the log names Another 23")
    assert "the log names" not in detail(mine, "WING of  mine") + detail(mine, None) + detail(None, "Another 23")


def test_the_turns_of_a_landing_are_told_with_their_height_and_angle():
    debrief = made_debrief()
    rows = {row[0].replace("\u00a0", " ") for row in table(page_of(debrief), "Approach and touchdown").rows}
    assert "Turns of 45° and more below 15 m" in rows


def test_an_interval_stands_in_brackets():
    climbs = table(page_of(made_debrief()), "Climbs")
    labels = [column.label for column in climbs.columns]
    assert climbs.rows[0][labels.index("Mean climb")] == "1.8 (1.6 to 2.0)"
    assert climbs.rows[0][labels.index("Core radius")] == "62 (32 to 92)"
    assert climbs.rows[1][labels.index("Core radius")] == "–"


def test_a_core_stands_with_the_height_and_the_time_it_was_met_at():
    climbs = table(page_of(made_debrief()), "Climbs")
    labels = [column.label for column in climbs.columns]
    place = labels.index("Core at")
    assert labels[place - 1 : place + 2] == ["Core rises", "Core at", "Core radius"]
    known = made_flight().climbs[0].core
    assert known is not None
    assert [row[place] for row in climbs.rows] == [f"{known.altitude_m:.0f}", "–"]
    remark = next(text for text in climbs.remarks if text.startswith("Core"))
    assert "15 s before the first circle to 90 s after" in remark
    assert "mean of the whole climb" in remark


def test_the_speed_to_fly_tells_what_the_flown_one_cost():
    speeds = table(page_of(made_debrief()), "Speed to fly")
    row = dict(zip((column.label for column in speeds.columns), speeds.rows[0], strict=True))
    assert row["Best is least"] == "time to the top of the next climb"
    assert row["Flown airspeed"] == "36 (34 to 38)"
    assert row["Time lost"] == "21.0 (12.0 to 30.0)"
    assert speeds.remarks[1] == "1: the next climb was as strong as it was"
    total = "Lost where the interval leaves out nought: 21 s (12 s to 30 s) on 1 of 1 held against"
    assert speeds.remarks[0].replace("\u00a0", " ") == f"{total} the next climb"


def with_detail(detail):
    flight = made_flight()
    climbs = (replace(flight.climbs[0], detail=detail), *flight.climbs[1:])
    return page_of(replace(made_debrief(), flights=(replace(flight, climbs=climbs),)))


def test_a_thermal_in_detail_tells_the_ways_in_and_out_the_lean_and_the_source():
    detail = table(page_of(made_debrief()), "Thermals in detail")
    row = dict(zip((column.label for column in detail.columns), detail.rows[0], strict=True))
    assert len(detail.rows) == 1
    assert detail.is_folded
    assert row["Entry took"].replace("\u00a0", " ") == "38 s (36 s to 1:05 min)"
    assert (row["Entry cost"], row["Leaving cost"]) == ("36 (32 to 48)", "8 (5 to 11)")
    assert row["Centred"] == "86 (56 to 116)"
    assert (row["towards"], row["Lean of the circles"]) == ("075°", "66 (65 to 67)")
    assert row["Would leave the ground at"] == "46.005, 8.012"
    assert row["give or take"] == "920"
    assert "1: source traced rising at 1.6 m/s; ground judged by a place known 80 m away" in detail.remarks


def test_circles_and_ways_in_and_out_show_their_intervals_where_there_are_any():
    flight = made_flight()
    climb = replace(
        flight.climbs[0],
        circle_radius_interval_m=Estimate(31.0, 29.4, 32.7),
        bank_interval_deg=Estimate(24.0, 22.8, 25.3),
        detail=replace(made_detail(), entry_interval_s=None, leaving_loss_interval_m=None),
    )
    page = page_of(replace(made_debrief(), flights=(replace(flight, climbs=(climb,)),)))
    climbs, detail = table(page, "Climbs"), table(page, "Thermals in detail")
    row = dict(zip((column.label for column in climbs.columns), climbs.rows[0], strict=True))
    assert (row["Radius"], row["Bank"]) == ("31 (29 to 33)", "24 (23 to 25)")
    row = dict(zip((column.label for column in detail.columns), detail.rows[0], strict=True))
    assert row["Entry took"].replace("\u00a0", " ") == "38 s"
    assert (row["Entry cost"], row["Leaving cost"]) == ("36 (32 to 48)", "8")


def test_the_climb_by_height_goes_upwards():
    bands = table(page_of(made_debrief()), "Climb by height")
    assert bands.is_folded
    assert [(row[1], row[2], row[4]) for row in bands.rows] == [
        ("1003", "1083", "1.31 (1.29 to 1.33)"),
        ("1083", "1163", "2.00 (1.98 to 2.02)"),
    ]


def test_what_a_thermal_does_not_tell_is_left_open():
    bare = ThermalDetail((), None, None, None, None, None, None, None, None, "too few circles")
    page = with_detail(bare)
    detail = table(page, "Thermals in detail")
    assert detail.rows == (("1",),)
    assert "1: too few circles" in detail.remarks
    assert any("does not tell: steady climb, entry took" in remark for remark in detail.remarks)
    assert not any(one.title == "Climb by height" for one in page.flights[0].tables)
    assert not any(one.title == "Thermals in detail" for one in with_detail(None).flights[0].tables)


def test_the_recorders_own_columns_are_held_against_the_figures_in_the_readers_units():
    checked = replace(made_debrief(), recorder_check=(RecorderCheck("wind", 900, 0.4, 1.1, 1.1, None, 1.0),))
    (metric,), (aviation,) = (page_of(checked, show).checks for show in (METRIC, AVIATION))
    assert metric.replace("\u00a0", " ") == (
        "Over 900 fixes the wind found here is 1.4 km/h stronger than the recorder's; the two differ by 4.0 km/h, "
        "direction included."
    )
    assert "0.8 kt stronger" in aviation.replace("\u00a0", " ")
    assert page_of(made_debrief()).checks == ()


def test_the_polar_says_what_it_leans_on_before_its_best_points():
    debrief = made_debrief()
    flight, note = (
        debrief.flights[0],
        "from 5 minutes of glide; outside it leans on what is usual for a paraglider",
    )
    polar = replace(flight.performance.polar, note=note)
    flight = replace(flight, performance=replace(flight.performance, polar=polar))
    alone = table(page_of(replace(debrief, flights=(flight,))), "Sink polar")
    assert not alone.is_folded
    assert alone.remarks[0] == "From 5 minutes of glide; outside it leans on what is usual for a paraglider"
    assert alone.remarks[1].startswith("The values lean on what is usual for such wings")
    wing = Wing("W", "paraglider", 6.0, 100.0, polar=((8.0, 1.1), (10.0, 1.15), (12.0, 1.5)))
    beside = table(page_of(replace(debrief, flights=(flight,), wing=wing)), "Sink polar")
    assert beside.remarks[0].startswith("Beside the maker's polar, leaning on neither maker nor class: ")
    assert "no test of the maker's figures" in beside.remarks[2]
    assert not any("usual for such wings" in remark for remark in beside.remarks)
    without = table(page_of(replace(debrief, flights=(flight,), wing=replace(wing, polar=()))), "Sink polar")
    assert without.remarks == alone.remarks


def test_units_stand_in_the_heads_and_change_with_the_system():
    metric, aviation = (page_of(made_debrief(), show) for show in (METRIC, AVIATION))
    assert Column("Gain", "m") in table(metric, "Climbs").columns
    assert Column("Gain", "ft") in table(aviation, "Climbs").columns
    assert Column("Mean climb", "ft/min") in table(aviation, "Climbs").columns
    # 240 m are 787.4 ft, 1.8 m/s are 354.3 ft/min: 1 ft is 0.3048 m (international yard and pound agreement 1959)
    row = table(aviation, "Climbs").rows[0]
    assert "787" in row
    assert row[7].startswith("354 (")


def test_the_clock_follows_the_time_zone():
    page = page_of(made_debrief(), display_in("metric", "Asia/Kathmandu"))  # UTC+05:45 all year (IANA time zones)
    assert page.flights[0].title == "Flight 1, 16:45:10 to 17:00:29 Asia/Kathmandu"


def test_an_unknown_zone_or_system_of_units_is_refused():
    with pytest.raises(ValueError, match="Mars"):
        display_in("metric", "Mars/Olympus")
    with pytest.raises(ValueError, match=r"\.\./"):
        display_in("metric", "../../etc/passwd")
    with pytest.raises(ValueError, match="cubits"):
        display_in("cubits", "UTC")


def test_columns_in_which_nothing_is_known_are_named_instead():
    bare = Table(
        "T", (Column("No."), Column("Gain", "m"), Column("Core", "m")), (("1", "20", "–"), ("2", "30", "–"))
    )
    assert without_blank_columns(bare).columns == (Column("No."), Column("Gain", "m"))
    assert without_blank_columns(bare).remarks == ("What this log does not tell: core",)


def test_a_north_wind_is_written_with_three_digits():
    flight = made_flight()
    north = Wind(359.8, 3.0, 0.0, -3.0, 0.2, 4.0)
    page = page_of(replace(made_debrief(), flights=(replace(flight, wind=replace(flight.wind, mean=north)),)))
    assert next(fact for fact in page.flights[0].facts if fact.label == "Wind").value.startswith("000° ")


def test_every_setting_is_printed():
    page = page_of(made_debrief())
    assert dict(page.settings.rows)["longest_bridge_s"] == "15.0"


def test_oddities_stand_in_the_order_of_their_lines():
    assert [row[0] for row in page_of(made_debrief()).quality.rows] == ["–", "12", "77"]


def test_a_log_without_flights_has_a_page():
    page = page_of(without_flights())
    assert page.flights == ()
    assert page.overview.rows == ()


class TestCharts:
    def charts(self):
        debrief = made_debrief()
        return {chart.title: chart for chart in flight_charts(debrief, debrief.flights[0], METRIC)}

    def test_each_has_its_own_name_and_a_description(self):
        charts = self.charts()
        assert len({chart.name for chart in charts.values()}) == len(charts) == 6
        assert all(len(chart.description) > 40 for chart in charts.values())

    def test_a_gap_of_the_recording_breaks_the_line(self):
        altitude = self.charts()["Height and vertical speed"].panels[0].series[0]
        assert sum(math.isnan(value) for value in altitude.x) == 1

    def test_bands_lie_where_the_phases_lie(self):
        bands = self.charts()["Height and vertical speed"].panels[0].bands
        assert [(band.kind, round(band.start - START_S), round(band.end - START_S)) for band in bands][1] == (
            "climb",
            10,
            290,
        )

    def test_height_and_distance_of_a_pass_are_those_above_and_from_the_ground(self):
        side = self.charts()[f"Approaches to {TOP}"].panels[0]
        debrief = made_debrief()
        motion, one = debrief.motion, debrief.pass_spans[0][0]
        at = int((motion.time_s < one.start_s).sum())
        assert side.series[0].y[0] == pytest.approx(motion.altitude_m[at] - 1000.0)
        assert side.series[0].x[0] == pytest.approx(
            math.hypot(motion.east_m[at] - 120.0, motion.north_m[at] - 300.0)
        )

    def test_go_arounds_possible_passes_and_landings_are_drawn_apart(self):
        side = self.charts()[f"Approaches to {TOP}"].panels[0]
        assert [series.kind for series in side.series] == ["go_around", "possible", "landed"]

    def test_the_wind_arrow_flies_with_the_wind(self):
        track = self.charts()["Track"].panels[0]
        assert track.wind_to_deg == pytest.approx(math.degrees(math.atan2(5.0, 1.0)))

    def test_the_bars_of_the_wind_are_its_95_percent(self):
        speed, direction = self.charts()["Wind by height"].panels
        assert speed.bars[0].half_width == pytest.approx(1.959964 * 0.4 * 3.6, rel=1e-6)
        assert direction.bars[0].half_width == pytest.approx(
            math.degrees(math.asin(0.784 / math.hypot(5, 1))), abs=0.01
        )


def test_clock_ticks_are_round_times_of_the_readers_clock():
    start = datetime(2026, 6, 14, 11, 2, 3, tzinfo=UTC).timestamp()
    ticks = clock_ticks(start, start + 3000.0, display_in("metric", "Asia/Kathmandu"))
    assert [text for _, text in ticks] == ["16:50", "17:00", "17:10", "17:20", "17:30"]
    assert clock_ticks(start, start + 40.0, METRIC)[0][1] == "11:02:10"


@pytest.mark.parametrize(
    ("estimate", "kind", "text"),
    [
        (Estimate(2.0, 1.0, 3.0), "vertical", "2.0 (1.0 to 3.0)"),
        (Estimate(-1.0, -3.0, 1.0), "speed", "−4 (−11 to 4)"),
        (Estimate(0.001, -0.001, 0.003), "vertical", "0.00 (0.00 to 0.00)"),
        (None, "vertical", "–"),
    ],
)
def test_estimates_as_text(estimate, kind, text):
    assert METRIC.estimate(estimate, kind) == text


def test_spans_of_time():
    assert METRIC.span(moment(0), moment(59.96)).replace("\u00a0", " ") == "1:00 min"
    assert METRIC.span(moment(0), moment(3600)).replace("\u00a0", " ") == "1:00:00 h"


def test_the_page_says_what_to_look_at_in_the_passes():
    section = page_of(made_debrief()).flights[0]
    assert len(section.looks) == 4  # three passes and the landing
    assert section.looks[0].startswith("First pass at Windy Top")
    assert section.looks[-1].startswith("Landed from")
    assert any("no advice" in note for note in section.look_notes)


def test_without_passes_or_landing_there_is_nothing_to_look_at():
    made = made_debrief()
    bare = replace(made, flights=(replace(made.flights[0], passes=(), approach=None),), pass_spans=((),))
    section = page_of(bare).flights[0]
    assert section.looks == section.look_notes == ()
