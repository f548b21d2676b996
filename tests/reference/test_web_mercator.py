"""The square map against EPSG 3857 in PROJ, and its fit to a local plane."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Transformer

from flightlog.earth.geodesy import LocalPlane
from flightlog.earth.web_mercator import POWERS, TileFit, tile_fit, web_mercator

HALF_WORLD_M = 20037508.342789244  # pi times the radius 6378137 m, EPSG 3857
TO_WEB = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)


def placed(fit: TileFit, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    terms = np.stack([((x - fit.x0) / fit.span) ** i * ((y - fit.y0) / fit.span) ** j for i, j in POWERS], axis=1)
    return terms @ np.array(fit.east_m), terms @ np.array(fit.north_m)


@pytest.mark.parametrize(("lat", "lon"), [(0.0, 0.0), (46.6, 8.1), (-33.9, 151.2), (71.2, -25.8), (80.0, 179.9)])
def test_the_square_map_is_that_of_proj(lat, lon):
    x, y = web_mercator(lat, lon)
    expected = TO_WEB.transform(lon, lat)
    assert (x - 0.5) * 2 * HALF_WORLD_M == pytest.approx(expected[0], abs=0.01)
    assert (0.5 - y) * 2 * HALF_WORLD_M == pytest.approx(expected[1], abs=0.01)


def test_the_middle_of_a_known_tile():
    """Zoom 1 has four tiles; Greenwich and the equator are their common corner."""
    x, y = web_mercator(51.4779, 0.0)
    assert (x * 2, y * 2 < 1) == (1.0, True)


@pytest.mark.parametrize("reach_m", [3e3, 150e3])
@pytest.mark.parametrize(("lat", "lon"), [(46.6, 8.1), (-33.9, 151.2), (60.0, -179.98), (0.2, 36.0)])
def test_places_of_the_square_map_lie_where_the_plane_has_them(lat, lon, reach_m):
    plane = LocalPlane(lat + 0.1, lon - 0.2)
    rng = np.random.default_rng(7)
    middle = [float(one) for one in plane.to_plane(lat, lon)]
    east, north = (middle[k] + rng.uniform(-reach_m, reach_m, 200) for k in (0, 1))
    fit = tile_fit(plane, east, north)
    lat_deg, lon_deg = plane.to_degrees(east, north)
    x, y = web_mercator(lat_deg, lon + (lon_deg - lon + 180.0) % 360.0 - 180.0)
    x -= np.round(x.mean() - fit.x0)
    found_east, found_north = placed(fit, x, y)
    assert np.hypot(found_east - east, found_north - north).max() < 0.5


def test_beyond_the_square_map_there_is_no_fit():
    plane = LocalPlane(86.0, 10.0)
    assert tile_fit(plane, np.array([0.0, 10.0]), np.array([0.0, 10.0])) is None
    assert tile_fit(LocalPlane(46.0, 8.0), np.array([np.nan]), np.array([np.nan])) is None
