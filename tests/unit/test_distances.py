"""Best distances: against every choice of fixes on small tracks, under moves that change nothing, in odd cases.

Every choice is tried with geodesics by PROJ (pyproj), which shares no code with flightlog. The definitions are
those of the FAI Sporting Code, Section 7, 1.6.5.8 (free distance, out and return, triangles closed by a start and
a finish of their own); 28 % for the shortest leg of an FAI triangle is from memory of Section 7D.
"""

from __future__ import annotations

from itertools import combinations_with_replacement, pairwise

import numpy as np
import pyproj
import pytest

import flightlog.distances.branching as branching_module
import flightlog.distances.closing as closing_module
from flightlog.distances.best import closing_of, rules_of
from flightlog.distances.closing import closing_from
from flightlog.distances.figures import KINDS, distances_of
from flightlog.distances.free import longest_way
from flightlog.distances.positions import arc_error_share, arc_of_chord_m, positions_of
from flightlog.distances.searching import Deadline
from flightlog.errors import SettingsError

GEOD = pyproj.Geod(ellps="WGS84")
TOLERANCE_M = 0.03
"""The slack of the searches, and a hundredth for rounding."""


def searched(time, lat, lon, closing="5%", limit_s=60.0):
    positions = positions_of(np.asarray(time, float), np.asarray(lat, float), np.asarray(lon, float))
    return distances_of(positions, 1, closing_from(closing), limit_s)


def lengths(result):
    return {name: getattr(result, name) and getattr(result, name).distance_m for name in KINDS}


def wandering(count, seed, step_deg=0.01, lat=46.0, lon=8.0):
    """A random flight of few fixes that comes back now and then."""
    random = np.random.default_rng(seed)
    walk = np.cumsum(random.normal(0.0, step_deg, (count, 2)), axis=0)
    walk -= np.linspace(0.0, random.uniform(0.0, 1.1), count)[:, None] * walk[-1]
    return np.arange(count) * 10.0, lat + walk[:, 0], lon + walk[:, 1]


def geodesics(lat, lon):
    rows, columns = np.meshgrid(np.arange(len(lat)), np.arange(len(lat)), indexing="ij")
    _, _, metres = GEOD.inv(lon[rows], lat[rows], lon[columns], lat[columns])
    return metres


def every_choice(lat, lon, share=None, metres=None):
    """The best of every kind by trying all fixes."""
    count, far = len(lat), geodesics(lat, lon)
    best = dict.fromkeys(KINDS, 0.0)
    best["open_m"] = far.max()
    way = np.zeros(count)
    for _ in range(4):
        way = np.array([(way[: j + 1] + far[: j + 1, j]).max() for j in range(count)])
    best["free_3_turnpoints_m"] = way.max()

    def allowed(length):
        return metres if metres is not None else share * length

    for i, j, k in combinations_with_replacement(range(count), 3):
        length = far[i, j] + far[j, k]
        if length > best["out_and_return_m"] and far[i, k] <= allowed(length):
            best["out_and_return_m"] = length
        length += far[k, i]
        if length <= best["fai_triangle_m"] or far[: i + 1, k:].min() > allowed(length):
            continue
        best["triangle_m"] = max(best["triangle_m"], length)
        if min(far[i, j], far[j, k], far[k, i]) >= 0.28 * length:
            best["fai_triangle_m"] = length
    return {name: value if value >= 1.0 else None for name, value in best.items()}


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(
    ("closing", "share", "metres"), [("5%", 0.05, None), ("30%", 0.3, None), ("900m", None, 900.0)]
)
def test_equal_to_every_choice(seed: int, closing: str, share: float | None, metres: float | None) -> None:
    time, lat, lon = wandering(34, seed)
    found = searched(time, lat, lon, closing)
    for name, expected in every_choice(lat, lon, share, metres).items():
        course = getattr(found, name)
        if expected is None:
            assert course is None, name
        else:
            assert course.distance_m == pytest.approx(expected, abs=TOLERANCE_M), name
            assert course.is_proved
            assert course.distance_m <= expected + 1e-6 <= course.bound_m + 2e-6, name


@pytest.mark.parametrize("cells", [3, 7, 12])
@pytest.mark.parametrize("seed", range(4))
def test_equal_to_every_choice_with_many_fixes_in_a_cell(cells: int, seed: int, monkeypatch) -> None:
    monkeypatch.setattr(closing_module, "CELLS", cells)
    time, lat, lon = wandering(45, 100 + seed)
    for closing, share, metres in (("4%", 0.04, None), ("600m", None, 600.0)):
        found = lengths(searched(time, lat, lon, closing))
        for name, expected in every_choice(lat, lon, share, metres).items():
            assert found[name] == (expected and pytest.approx(expected, abs=TOLERANCE_M)), name


def test_too_little_memory_leaves_an_honest_gap(monkeypatch) -> None:
    time, lat, lon = wandering(2000, 8, step_deg=0.001)
    whole = searched(time, lat, lon, "3%")
    monkeypatch.setattr(branching_module, "MOST_TRIPLES", 60)
    monkeypatch.setattr(branching_module, "TRIPLES_AT_ONCE", 30)
    left_open = 0
    for name in KINDS:
        true, course = getattr(whole, name), getattr(searched(time, lat, lon, "3%"), name)
        if course is not None:
            assert course.distance_m <= true.distance_m + TOLERANCE_M <= course.bound_m + 2 * TOLERANCE_M
            left_open += not course.is_proved
    assert left_open


@pytest.mark.parametrize("place", [(0.0, 179.95), (-33.0, -179.99), (89.9, 10.0), (-89.99, 120.0), (70.0, 0.0)])
def test_equal_to_every_choice_at_the_date_line_and_the_poles(place: tuple[float, float]) -> None:
    time, lat, lon = wandering(30, 3, lat=0.0, lon=0.0)
    azimuth, reach = np.degrees(np.arctan2(lon, lat)), np.hypot(lat, lon) * 111e3
    lon, lat, _ = GEOD.fwd(np.full(30, place[1]), np.full(30, place[0]), azimuth, reach)
    found = searched(time, lat, lon, "20%")
    for name, expected in every_choice(lat, lon, 0.2).items():
        assert getattr(found, name).distance_m == pytest.approx(expected, abs=TOLERANCE_M), name


def test_what_is_given_keeps_the_rules() -> None:
    """Points are fixes in order of time, their distance is theirs, and the closing is kept, all by PROJ."""
    for seed in range(6):
        time, lat, lon = wandering(400, seed, step_deg=0.004)
        fixes = {(float(a), float(b)) for a, b in zip(lat, lon, strict=True)}
        found = searched(time, lat, lon, "8%")
        for name in KINDS:
            course = getattr(found, name)
            ends = [course.start, course.finish] if course.start else []
            assert {(point.lat_deg, point.lon_deg) for point in [*course.points, *ends]} <= fixes
            moments = [point.time for point in course.points]
            assert moments == sorted(moments)
            around = [*course.points, course.points[0]] if "triangle" in name else list(course.points)
            lons, lats = [point.lon_deg for point in around], [point.lat_deg for point in around]
            legs = GEOD.line_lengths(lons, lats)[: len(around) - 1]
            assert course.distance_m == pytest.approx(sum(legs), abs=1e-4)
            if "fai" in name:
                assert min(legs) >= 0.28 * course.distance_m
            if ends:
                _, _, gap = GEOD.inv(ends[0].lon_deg, ends[0].lat_deg, ends[1].lon_deg, ends[1].lat_deg)
                assert course.closing_m == pytest.approx(gap, abs=1e-4)
                assert gap <= 0.08 * course.distance_m
                assert ends[0].time <= moments[0]
                assert moments[-1] <= ends[1].time


def test_a_known_triangle_and_its_figures() -> None:
    """An equilateral triangle of 20 km legs flown from the middle of one leg, back to 300 m short of its start."""
    corners = [(0.0, -10e3), (0.0, 10e3), (20e3 * np.sqrt(0.75), 0.0)]
    way = [(0.0, 0.0), corners[1], corners[2], corners[0], (0.0, -300.0)]
    north, east = [], []
    for one, other in pairwise(way):
        north += list(np.linspace(one[0], other[0], 60))
        east += list(np.linspace(one[1], other[1], 60))
    lon, lat, _ = GEOD.fwd(
        np.full(len(east), 8.0),
        np.full(len(east), 46.0),
        np.degrees(np.arctan2(east, north)),
        np.hypot(east, north),
    )
    found = searched(np.arange(len(lat)) * 30.0, lat, lon, "1%")
    assert found.fai_triangle_m.distance_m == pytest.approx(60e3, rel=1e-5)
    assert found.fai_triangle_m.closing_m == pytest.approx(300.0, rel=1e-3)
    assert found.triangle_m.distance_m == pytest.approx(60e3, rel=1e-5)
    assert found.open_m.distance_m == pytest.approx(20e3, rel=1e-4)
    assert found.free_3_turnpoints_m.distance_m == pytest.approx(10e3 + 20e3 + 20e3 + 9.7e3, rel=1e-4)
    tighter = searched(np.arange(len(lat)) * 30.0, lat, lon, "250m")
    assert tighter.fai_triangle_m is None or tighter.fai_triangle_m.distance_m < 59.5e3


@pytest.mark.parametrize(
    "move",
    [
        lambda time, lat, lon: (time + 1e6, lat, lon),
        lambda time, lat, lon: (time, lat, lon + 163.7),
        lambda time, lat, lon: (time, -lat, lon),
        lambda time, lat, lon: (time, lat, -lon),
        lambda time, lat, lon: (time, lat[::-1], lon[::-1]),
    ],
    ids=["later", "elsewhere in longitude", "south", "mirrored", "backwards"],
)
def test_moves_that_change_no_distance(move) -> None:
    for seed in range(3):
        time, lat, lon = wandering(250, seed, step_deg=0.004)
        still, moved = lengths(searched(time, lat, lon)), lengths(searched(*move(time, lat, lon)))
        for name in KINDS:
            assert moved[name] == pytest.approx(still[name], abs=TOLERANCE_M), name


def test_fewer_fixes_are_never_longer_and_wider_closing_never_shorter() -> None:
    for seed in range(4):
        time, lat, lon = wandering(300, seed, step_deg=0.004)
        whole = lengths(searched(time, lat, lon))
        for step in (2, 3, 7):
            for name, thinned in lengths(searched(time[::step], lat[::step], lon[::step])).items():
                assert (thinned or 0.0) <= (whole[name] or 0.0) + TOLERANCE_M, name
        before = dict.fromkeys(KINDS, 0.0)
        for closing in ("0%", "0.5%", "3%", "10%", "40%", "100%"):
            now = {name: value or 0.0 for name, value in lengths(searched(time, lat, lon, closing)).items()}
            assert all(now[name] >= before[name] - TOLERANCE_M for name in KINDS), closing
            before = now


class Steps:
    """A clock that stands still, then jumps past every deadline after so many looks."""

    def __init__(self, looks: int) -> None:
        self.left = looks

    def __call__(self) -> float:
        self.left -= 1
        return 0.0 if self.left >= 0 else 1e9


@pytest.mark.parametrize("looks", [1, 2, 4, 8, 16, 32, 64])
def test_a_search_that_was_stopped_gives_a_true_bound(looks: int) -> None:
    time, lat, lon = wandering(3000, 5, step_deg=0.001)
    positions = positions_of(time, lat, lon)
    whole = longest_way(positions, 4, 0.02, Deadline.after(60.0))
    stopped = longest_way(positions, 4, 0.02, Deadline(1.0, Steps(looks)))
    assert whole.bound_m - whole.length_m < 0.03
    assert stopped.length_m <= whole.length_m + 0.02 <= stopped.bound_m + 0.02


def test_no_time_at_all_leaves_an_honest_gap() -> None:
    time, lat, lon = wandering(3000, 6, step_deg=0.001)
    whole, hurried = searched(time, lat, lon), searched(time, lat, lon, limit_s=0.0)
    left_open = 0
    for name in KINDS:
        true, course = getattr(whole, name), getattr(hurried, name)
        assert true.is_proved
        if course is None:
            assert any(KINDS[name] in note for note in hurried.notes)
            continue
        assert course.distance_m <= true.distance_m + TOLERANCE_M
        assert course.bound_m >= true.distance_m
        assert course.gap_m == pytest.approx(course.bound_m - course.distance_m)
        left_open += not course.is_proved
    assert left_open + len(hurried.notes) >= 3


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_very_few_fixes(count: int) -> None:
    found = lengths(searched(np.arange(count), np.linspace(46.0, 46.1, count), np.full(count, 8.0)))
    assert (found["open_m"] is None) == (count < 2)
    assert found["fai_triangle_m"] is None


def test_fixes_all_in_one_place_are_no_course() -> None:
    assert set(lengths(searched(np.arange(500), np.full(500, 46.0), np.full(500, 8.0))).values()) == {None}


def test_fixes_without_a_position_are_left_out() -> None:
    time, lat, lon = wandering(60, 1)
    holes_lat, holes_lon = np.insert(lat, [5, 20], np.nan), np.insert(lon, [5, 20], 8.0)
    holes_time = np.insert(time, [5, 20], [45.0, 195.0])
    assert lengths(searched(holes_time, holes_lat, holes_lon)) == lengths(searched(time, lat, lon))


def test_fixes_all_over_the_earth_end_in_time_with_a_true_bound() -> None:
    random = np.random.default_rng(2)
    lat, lon = np.degrees(np.arcsin(random.uniform(-1.0, 1.0, 60))), random.uniform(-180.0, 180.0, 60)
    found = searched(np.arange(60), lat, lon, "10%", limit_s=5.0)
    best = every_choice(lat, lon, 0.1)
    for name in ("open_m", "free_3_turnpoints_m"):
        course = getattr(found, name)
        assert course.distance_m <= best[name] + 1e-3 <= course.bound_m + 1e-2, name
        assert course.distance_m >= 0.99 * best[name]


def test_arcs_are_geodesics_within_their_error() -> None:
    random = np.random.default_rng(4)
    for reach_m in (1e3, 1e4, 1e5, 5e5, 3e6):
        lat, lon = random.uniform(-89.0, 89.0, 200), random.uniform(-180.0, 180.0, 200)
        lon_2, lat_2, _ = GEOD.fwd(lon, lat, random.uniform(0.0, 360.0, 200), np.full(200, reach_m))
        for i in range(200):
            positions = positions_of(np.zeros(2), np.array([lat[i], lat_2[i]]), np.array([lon[i], lon_2[i]]))
            arc, chord = float(positions.arc_m(0, 1)), float(positions.chord_m(0, 1))
            assert abs(arc - reach_m) <= reach_m * arc_error_share(chord) + 1e-6


def test_the_series_of_the_arc_meets_the_arcsine() -> None:
    radius = 6.3675e6
    chord = np.array([1.0, 1e4, 1e5, 3e5, 6e5])
    exact = 2.0 * radius * np.arcsin(chord / (2.0 * radius))
    assert arc_of_chord_m(chord, radius) == pytest.approx(exact, abs=1e-3)


@pytest.mark.parametrize("text", ["", "5", "five%", "-1%", "101%", "nan%", "inf km", "2000km", "%", "-5m", "1e9m"])
def test_closing_rules_that_are_none(text: str) -> None:
    with pytest.raises(SettingsError, match="write it as"):
        closing_from(text)


def test_the_rules_say_what_counts() -> None:
    rules = rules_of(closing_of("800m"))
    assert rules.closing == "800 m"
    assert rules.closing_limit_m == 800.0
    assert any("within 800 m" in text for text in rules.definitions)
    assert closing_of(None).share == 0.05
