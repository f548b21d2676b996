"""Our own drawing of charts: places on the scales, thinned lines that lose no extreme, texts escaped."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from flightlog.writers.chart_styles import LINES, MOST_PILOTS
from flightlog.writers.page_parts import Arrow, Band, Bar, Chart, Disc, Mark, Panel, Series, Tag
from flightlog.writers.svg_charts import chart_svg, printed_svg
from flightlog.writers.svg_maps import disc_radius_px
from flightlog.writers.svg_scales import line_path, round_ticks

TIMES = np.arange(18_000.0)
SPIKY = np.where(TIMES == 7777.0, 4000.0, 1000.0 + 500.0 * np.sin(TIMES / 900.0))
BANDS = (Band(0.0, 9000.0, "climb"), Band(9000.0, 17_999.0, "glide"))
CLOCK = ((0.0, "12:00"), (9000.0, "14:30"))
ALTITUDE = Panel("time", "altitude (m)", (Series(tuple(TIMES), tuple(SPIKY), "line"),), bands=BANDS, clock=CLOCK)
TIME_CHART = Chart("flight-1-time", "Height", "altitude over time", "stacked", (ALTITUDE, ALTITUDE), is_wide=True)


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314 (our own drawing)


def numbers(path: str) -> np.ndarray:
    return np.array([float(one) for one in re.findall(r"-?[\d.]+", path)]).reshape(-1, 2)


def lines(svg: str, kind: str) -> list[np.ndarray]:
    found = re.findall(rf'<path d="([^"]+)" fill="none" stroke="var\({LINES[kind].colour}\)', svg)
    return [numbers(one) for one in found]


def test_a_thinned_line_keeps_its_extremes_and_its_ends():
    points = numbers(line_path(TIMES / 25.0, SPIKY))
    assert len(points) < 4 * 18_000 / 25
    assert points[:, 1].max() == 4000.0
    assert points[:, 1].min() == pytest.approx(SPIKY.min(), abs=0.06)
    assert points[0, 0] == 0.0
    assert points[-1, 0] == pytest.approx(17_999 / 25.0, abs=0.05)


def test_a_gap_breaks_the_line():
    broken = SPIKY.copy()
    broken[5000:6000] = np.nan
    path = line_path(TIMES / 25.0, broken)
    assert path.count("M") == 2
    x = numbers(path)[:, 0]
    assert not np.any((x > 200.0) & (x < 240.0))


def test_a_curve_in_the_plane_is_thinned_by_less_than_can_be_seen():
    angle = np.linspace(0.0, 200.0, 18_000)
    x, y = 100.0 + 0.3 * angle + 10.0 * np.cos(angle), 100.0 + 10.0 * np.sin(angle)
    points = numbers(line_path(x, y))
    nearest = [
        np.hypot(points[:, 0] - px, points[:, 1] - py).min() for px, py in zip(x[::50], y[::50], strict=True)
    ]
    assert max(nearest) < 0.3


@pytest.mark.parametrize(
    ("low", "high", "most"), [(-4.0, 104.0, 5), (0.2, 0.9, 4), (990.0, 3051.0, 6), (-3.3, 2.1, 3)]
)
def test_ticks_are_round_and_lie_inside(low, high, most):
    ticks = round_ticks(low, high, most)
    values = [value for value, _ in ticks]
    assert 2 <= len(values) <= most + 1
    assert all(low <= value <= high for value in values)
    assert all(float(words.replace("−", "-")) == pytest.approx(value, abs=1e-9) for value, words in ticks)


def test_panels_one_above_the_other_share_the_place_of_every_moment():
    drawn = lines(chart_svg(TIME_CHART), "line")
    upper, lower = (one for one in drawn if len(one) > 100)
    assert upper[0, 0] == lower[0, 0]
    assert upper[-1, 0] == lower[-1, 0]


def test_the_drawing_is_small_and_well_formed():
    svg = chart_svg(TIME_CHART)
    parsed(svg)
    assert len(svg) < 80_000


def test_an_interval_is_drawn_to_scale_and_one_of_a_direction_through_north_is_not_torn():
    bars = (Bar(350.0, 20.0, 1000.0), Bar(10.0, 20.0, 1200.0))
    svg = chart_svg(Chart("c", "", "", "one", (Panel("from", "m", bars=bars, wraps_at_360=True),)))
    join = next(one for one in lines(svg, "glide") if len(one) == 2)
    whiskers = re.findall(r"M(-?[\d.]+) (-?[\d.]+)h(-?[\d.]+)", svg)
    assert float(whiskers[0][2]) == pytest.approx(2.0 * abs(join[1, 0] - join[0, 0]), abs=0.3)
    assert ">000</text>" in svg


def test_the_area_of_a_disc_grows_with_the_height_gained():
    assert disc_radius_px(500.0, 1000.0) ** 2 * 2.0 == pytest.approx(disc_radius_px(1000.0, 1000.0) ** 2)


def test_scale_wind_and_north_stand_below_all_marks():
    line = Series((0.0, 1.0, 2.0), (0.0, 3.0, -1.0), "glide", "glide")
    spots = (Mark(0.0, 0.0, "takeoff", "take-off"), Mark(2.0, -1.0, "landing", "landing"))
    discs = (Disc(1.0, 3.0, 300.0, "1", "climb 1"),)
    panel = Panel(
        "km", "", (line,), spots, discs=discs, discs_label="climb", has_equal_scales=True, is_map=True,
        wind_to_deg=90.0, wind_label="wind 270°, 10 km/h",
    )  # fmt: skip
    svg = chart_svg(Chart("c", "", "", "one", (panel,)))
    box = re.search(r'<clipPath[^>]*><rect x="[\d.]+" y="([\d.]+)" width="[\d.]+" height="([\d.]+)"', svg)
    bottom = float(box[1]) + float(box[2])
    corners = [
        numbers(one)[:, 1].max() for one in re.findall(r'<polygon points="([^"]+)"', svg.split("<g transform")[0])
    ]
    assert max(corners) <= bottom
    assert float(re.search(r'y="([\d.]+)"[^>]*>1 km<', svg)[1]) > bottom
    assert "rotate(90)" in svg


def test_on_paper_every_colour_is_fixed_and_on_the_page_none():
    assert "var(" not in printed_svg(TIME_CHART)
    assert not re.search(r'"#[0-9a-f]{3}', chart_svg(TIME_CHART))


def test_what_xml_forbids_is_left_out_of_texts():
    chart = replace(TIME_CHART, panels=(replace(ALTITUDE, x_label="a\x00b<c>&"),))
    assert "ab<c>&" in "".join(parsed(chart_svg(chart)).itertext())


@pytest.mark.parametrize("values", [(), (float("nan"),), (5.0,), (0.0, 0.0)])
def test_next_to_nothing_is_drawn_too(values):
    series = Series(values, values, "glide", "a line", "1")
    for panel in (Panel("x", "y", (series,)), Panel("km", "", (series,), has_equal_scales=True, is_map=True)):
        parsed(chart_svg(Chart("c", "", "", "one", (panel,))))


def test_small_plans_have_one_scale_and_say_its_length():
    circle = np.linspace(0.0, 2.0 * np.pi, 90)
    panels = tuple(
        Panel(
            f"climb {number}", "m", (Series(tuple(r * np.cos(circle)), tuple(r * np.sin(circle)), "strong"),),
            window=(-60.0, 60.0, -60.0, 60.0), has_equal_scales=True,
        )
        for number, r in enumerate((20.0, 40.0, 50.0, 10.0, 30.0), 1)
    )  # fmt: skip
    svg = chart_svg(Chart("c", "", "", "grid", panels, is_wide=True))
    drawn = [one for one in lines(svg, "strong") if len(one) > 20]
    widths = [np.ptp(one[:, 0]) for one in drawn]
    assert np.array(widths) / widths[0] == pytest.approx([1.0, 2.0, 2.5, 0.5, 1.5], rel=0.02)
    assert [np.ptp(one[:, 1]) for one in drawn] == pytest.approx(widths, rel=0.02)
    bar = re.search(r"M1 -4v8M1 0h([\d.]+)m0 -4v8", svg)
    length = float(re.search(r">(\d+) m, north up<", svg)[1])
    assert float(bar[1]) / length == pytest.approx(widths[0] / 40.0, rel=0.03)


def test_what_lies_between_two_lines_is_filled():
    series = Series((0.0, 1.0, 2.0), (2.0, 3.0, 4.0), "interval", "95 % interval", base=(0.0, 1.0, 0.5))
    svg = chart_svg(Chart("c", "", "", "one", (Panel("x", "y", (series,)),)))
    area = re.search(r'<path d="(M[^"]*Z)" fill="var', svg)[1]
    assert len(numbers(area)) == 6


def test_pilots_are_told_apart_without_colours():
    looks = {(style.dashes, style.shape) for kind, style in LINES.items() if kind.startswith("pilot_")}
    assert len(looks) == MOST_PILOTS


@pytest.mark.parametrize(
    ("kind", "shape"), [("pilot_1", "circle"), ("pilot_2", "polygon"), ("pilot_4", "polygon")]
)
def test_marks_stand_on_the_line_of_a_pilot_and_in_the_legend(kind, shape):
    x = tuple(float(value) for value in range(100))
    panel = Panel("x", "y", (Series(x, x, kind, "Mira"), Series(x, x[::-1], "line", "shortest")))
    svg = chart_svg(Chart("c", "Race", "A race.", "one", (panel,), is_wide=True))
    drawing, legend = svg.split("</g>", 1)
    assert 4 <= drawing.count(f"<{shape}") <= 14
    assert legend.count(f"<{shape}") == 1


def test_a_line_without_length_or_without_any_known_place_is_drawn():
    for values in ((2.0, 2.0), (math.nan, math.nan), (1.0,)):
        panel = Panel("x", "y", (Series(values, values, "pilot_5", "Mira"),))
        ElementTree.fromstring(chart_svg(Chart("c", "Race", "A race.", "one", (panel,))))  # noqa: S314 (ours)


def tag_boxes(svg: str) -> list[tuple[float, float, float, float]]:
    """Left, right, top and bottom of the words beside points, of letters as wide as the legend takes them."""
    found = re.findall(
        r'<text x="([\d.-]+)" y="([\d.-]+)" text-anchor="middle"[^>]* font-size="11"[^>]*>([^<]*)<', svg
    )
    halves = [0.29 * 11.0 * len(words) for _, _, words in found]
    return [
        (float(x) - half, float(x) + half, float(y) - 8.0, float(y))
        for (x, y, _), half in zip(found, halves, strict=True)
    ]


def test_words_beside_points_cover_no_other():
    tags = tuple(Tag(50.0 + 2.0 * number, 50.0, f"12.{number}") for number in range(4))
    panel = Panel("m", "m", tags=tags, window=(0.0, 100.0, 0.0, 100.0))
    boxes = tag_boxes(chart_svg(Chart("c", "", "", "tall", (panel,))))
    assert len(boxes) == 4
    for number, (left, right, top, bottom) in enumerate(boxes):
        for other in boxes[number + 1 :]:
            assert right <= other[0] or other[1] <= left or bottom <= other[2] or other[3] <= top


def test_a_word_at_the_edge_turns_inward():
    panel = Panel("m", "m", tags=(Tag(100.0, 50.0, "12.3"),), window=(0.0, 100.0, 0.0, 100.0))
    svg = chart_svg(Chart("c", "", "", "tall", (panel,)))
    clip = re.search(r'<clipPath[^>]*><rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', svg)
    assert tag_boxes(svg)[0][1] <= float(clip[1]) + float(clip[2])


def test_an_arrow_is_as_long_as_its_scale_says_and_the_legend_shows_one():
    arrows = (Arrow(0.0, 0.0, 30.0, 0.0), Arrow(0.0, 0.0, 0.0, 40.0))
    panel = Panel(
        "m", "m", arrows=arrows, arrows_label="wind of 10 km/h", arrow_key=5.0, has_equal_scales=True,
        window=(-50.0, 50.0, -50.0, 50.0),
    )  # fmt: skip
    svg = chart_svg(Chart("c", "", "", "tall", (panel,)))
    starts = re.findall(r'<path d="M([\d.-]+) ([\d.-]+) [\d. -]+" stroke="var\(--quiet\)" stroke-width="1.4"', svg)
    tips = re.findall(r'<polygon points="([\d.-]+),([\d.-]+) [^"]*" fill="var\(--quiet\)"', svg)
    start, tip = np.array(starts, dtype=float), np.array(tips, dtype=float)
    across, up, key = tip - start
    assert across[0] / 30.0 == pytest.approx(-up[1] / 40.0, rel=0.02)  # north is up, one scale both ways
    assert (across[1], up[0]) == pytest.approx((0.0, 0.0), abs=0.1)
    assert key[0] / 5.0 == pytest.approx(across[0] / 30.0, rel=0.02)
    assert ">wind of 10 km/h<" in svg


def test_what_lies_beyond_the_window_is_cut_off():
    series = Series((0.0, 500.0), (0.0, 500.0), "line")
    panel = Panel("m", "m", (series,), window=(0.0, 100.0, -5.0, 90.0))
    svg = chart_svg(Chart("c", "", "", "tall", (panel,)))
    clip = re.search(r'<clipPath[^>]*><rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', svg)
    left, top, width, height = map(float, clip.groups())
    (drawn,) = lines(svg, "line")
    assert drawn[0] == pytest.approx((left, top + height * 90.0 / 95.0), abs=0.2)
    assert drawn[1, 0] == pytest.approx(left + 5.0 * width, abs=0.3)


def test_an_open_mark_is_an_outline():
    svg = chart_svg(Chart("c", "", "", "one", (Panel("m", "m", marks=(Mark(1.0, 1.0, "broken_off", "here"),)),)))
    assert svg.count('fill="none" stroke="var(--chart-climb)" stroke-width="1.8"') == 2  # and in the legend
