"""Contacts with the ground gathered into places."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flightlog.measures.used_places import cluster_contacts

METRE_DEG = math.degrees(1.0 / 6371000.0)


def gathered(points, radius_m=100.0, level_m=40.0, lat=0.0, lon=10.0):
    """Clusters of points given as metres east, metres north and altitude, near the equator."""
    east, north, altitude = np.array(points, dtype=float).T
    return cluster_contacts(
        lat + north * METRE_DEG, (lon + east * METRE_DEG + 180.0) % 360.0 - 180.0, altitude, radius_m, level_m
    )


def test_two_fields_are_told_apart_and_numbered_by_first_use():
    found = gathered([(0, 0, 500), (2000, 0, 300), (20, 10, 504), (1990, 30, 296)])
    assert found.place.tolist() == [0, 1, 0, 1]
    assert found.altitude_m.tolist() == [502.0, 298.0]


def test_height_tells_places_apart():
    assert gathered([(0, 0, 900), (30, 0, 700)]).place.tolist() == [0, 1]


def test_a_long_field_that_was_first_used_at_its_end_is_one_place():
    """The first touchdown lies 130 m from some of the others, all within 100 m of the middle."""
    spots = [(0, 0, 500), (130, 0, 500), (60, 0, 500), (70, 5, 500), (125, 0, 501), (65, -5, 500)]
    assert set(gathered(spots).place.tolist()) == {0}


def test_one_wrong_touchdown_does_not_move_the_place():
    spots = [(0, 0, 500), (90, 0, 520), *[(k, 0, 500) for k in range(5)]]
    found = gathered(spots)
    assert abs((found.longitude_deg[0] - 10.0) / METRE_DEG) < 5.0
    assert found.altitude_m[0] == 500.0


def test_places_do_not_depend_on_where_the_date_line_lies():
    spots = [(-30, 0, 10), (30, 0, 12), (0, 20, 11), (3000, 0, 10)]
    here, there = gathered(spots), gathered(spots, lon=180.0)
    assert there.place.tolist() == here.place.tolist() == [0, 0, 0, 1]
    assert abs(abs(there.longitude_deg[0]) - 180.0) < 1e-3


def test_nothing_makes_no_place():
    none = np.empty(0)
    assert cluster_contacts(none, none, none, 100.0, 40.0).place.size == 0


@pytest.mark.parametrize("seed", range(3))
def test_every_contact_lies_near_its_place(seed):
    rng = np.random.default_rng(seed)
    spots = np.column_stack([rng.uniform(0, 2000, (300, 2)), rng.uniform(400, 420, 300)])
    found = gathered(spots)
    east = (found.longitude_deg[found.place] - 10.0) / METRE_DEG
    north = found.latitude_deg[found.place] / METRE_DEG
    assert np.hypot(spots[:, 0] - east, spots[:, 1] - north).max() < 200.0
    assert found.place[0] == 0
    first = [int(np.argmax(found.place == k)) for k in range(int(found.place.max()) + 1)]
    assert first == sorted(first)


def test_a_thousand_single_fields_are_gathered_in_time():
    spots = [(300.0 * (k % 60), 300.0 * (k // 60), 500.0) for k in range(1000)]
    assert gathered(spots).place.tolist() == list(range(1000))
