"""The square map of the world that most map tiles are cut from, and where its squares lie on a local plane."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats
from flightlog.earth.geodesy import LocalPlane

HIGHEST_LAT_DEG = math.degrees(math.atan(math.sinh(math.pi)))
"""Where the square map ends, 85.05 degrees."""
DEGREE = 4
"""Of the polynomials: with it the fit is right to half a metre over 300 km."""
POWERS = tuple((i, k - i) for k in range(DEGREE + 1) for i in range(k + 1))
"""Powers of east and of south of each term."""
_GRID = 9


def web_mercator(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Place on the square map of the world: x from west (0) to east (1), y from north (0) to south (1).

    The sphere's Mercator projection, fed with WGS 84 degrees (EPSG 3857, "Web Mercator").

    >>> [float(part) for part in web_mercator(0.0, -90.0)]
    [0.25, 0.5]
    """
    lat = np.radians(np.clip(np.asarray(lat_deg, dtype=np.float64), -HIGHEST_LAT_DEG, HIGHEST_LAT_DEG))
    x = (np.asarray(lon_deg, dtype=np.float64) + 180.0) / 360.0
    return x, 0.5 - np.arcsinh(np.tan(lat)) / (2.0 * math.pi)


@dataclass(frozen=True)
class TileFit:
    """From the square map to a local plane, near one place.

    With u = (x - x0) / span and v = (y - y0) / span, east and north in metres are the sums of
    east_m[k] u^i v^j and north_m[k] u^i v^j over the pairs (i, j) of `POWERS`. (The square map is nearly
    conformal, but not quite: it takes the degrees of an ellipsoid for those of a sphere.)
    """

    x0: float
    y0: float
    span: float
    east_m: tuple[float, ...]
    north_m: tuple[float, ...]


def tile_fit(plane: LocalPlane, east_m: Floats, north_m: Floats) -> TileFit | None:
    """The fit about the places (n,) on the plane; None where the square map does not reach.

    It is right to 0.5 m within a box twice as large as theirs, of up to 300 km.
    """
    known = np.isfinite(east_m) & np.isfinite(north_m)
    if not known.any():
        return None
    east, north = (_widened(values[known]) for values in (east_m, north_m))
    grid_east, grid_north = (part.ravel() for part in np.meshgrid(east, north))
    lat, lon = plane.to_degrees(grid_east, grid_north)
    if np.abs(lat).max() >= HIGHEST_LAT_DEG:
        return None
    middle = float(lon[len(lon) // 2])
    x, y = web_mercator(lat, middle + (lon - middle + 180.0) % 360.0 - 180.0)  # not torn at the date line
    x0, y0 = float(x.mean()), float(y.mean())
    span = max(float(np.ptp(x)), float(np.ptp(y)))
    u, v = (x - x0) / span, (y - y0) / span
    terms = np.stack([u**i * v**j for i, j in POWERS], axis=1)
    east_terms, north_terms = (
        tuple(np.linalg.lstsq(terms, place, rcond=None)[0].tolist()) for place in (grid_east, grid_north)
    )
    return TileFit(x0, y0, span, east_terms, north_terms)


def _widened(values: Floats) -> Floats:
    """Places from well below the least to well above the greatest."""
    low, high = float(values.min()), float(values.max())
    half = max(high - low, 1000.0)
    return np.linspace((low + high) / 2.0 - half, (low + high) / 2.0 + half, _GRID)
