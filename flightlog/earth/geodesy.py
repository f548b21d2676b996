"""Distances, bearings and local planes on the WGS 84 ellipsoid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Complexes, Floats, lengths

WGS84_A_M = 6378137.0
"""Equatorial radius of WGS 84, m (defining)."""
WGS84_F = 1.0 / 298.257223563
"""Flattening of WGS 84 (defining)."""

_E2 = WGS84_F * (2.0 - WGS84_F)
_E = _E2**0.5
_N = WGS84_F / (2.0 - WGS84_F)
_RECTIFYING_RADIUS_M = WGS84_A_M / (1 + _N) * (1 + _N**2 / 4 + _N**4 / 64)
# Krueger's series to the fourth order in n, Karney 2011, equations 35 and 36.
_ALPHA = (
    _N / 2 - 2 * _N**2 / 3 + 5 * _N**3 / 16 + 41 * _N**4 / 180,
    13 * _N**2 / 48 - 3 * _N**3 / 5 + 557 * _N**4 / 1440,
    61 * _N**3 / 240 - 103 * _N**4 / 140,
    49561 * _N**4 / 161280,
)
_BETA = (
    _N / 2 - 2 * _N**2 / 3 + 37 * _N**3 / 96 - _N**4 / 360,
    _N**2 / 48 + _N**3 / 15 - 437 * _N**4 / 1440,
    17 * _N**3 / 480 - 37 * _N**4 / 840,
    4397 * _N**4 / 161280,
)
_LARGEST_ETA = 6.0  # 38 000 km east: keeps every absurd point finite, touches none within 89 degrees of the origin


def wrapped_deg(angle_deg: npt.ArrayLike) -> Floats:
    """The same angle in [-180, 180).

    >>> float(wrapped_deg(190.0))
    -170.0
    """
    shifted = np.asarray(angle_deg, dtype=np.float64) + 180.0
    if not ((shifted >= 0.0) & (shifted < 360.0)).all():  # seldom: the remainder takes ten times as long as this
        shifted = np.mod(shifted, 360.0)
    return np.asarray(shifted - 180.0)


def _east_north_m(
    lat1_deg: npt.ArrayLike, lon1_deg: npt.ArrayLike, lat2_deg: npt.ArrayLike, lon2_deg: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """East and north from the first points to the second, by the radii of curvature half-way."""
    lat1, lat2 = np.asarray(lat1_deg, dtype=np.float64), np.asarray(lat2_deg, dtype=np.float64)
    middle = np.radians(0.5 * (lat1 + lat2))
    w2 = 1.0 - _E2 * np.sin(middle) ** 2
    prime_vertical_m = WGS84_A_M / np.sqrt(w2)
    meridian_m = prime_vertical_m * (1.0 - _E2) / w2
    longitude = np.radians(wrapped_deg(np.subtract(lon2_deg, lon1_deg)))
    return longitude * prime_vertical_m * np.cos(middle), np.radians(lat2 - lat1) * meridian_m


def distance_m(
    lat1_deg: npt.ArrayLike, lon1_deg: npt.ArrayLike, lat2_deg: npt.ArrayLike, lon2_deg: npt.ArrayLike
) -> Floats:
    """How far it is from the first points to the second, for neighbours.

    By the radii of curvature half-way: off by at most 4 mm at 10 km, 0.5 m at 50 km, 30 m at 200 km within 60
    degrees of the equator; use `geodesic_m` beyond 50 km or near a pole. Arrays of any one shape, degrees; NaN
    gives NaN.

    >>> round(float(distance_m(47.0, 11.0, 47.0, 11.01)), 2)
    760.56
    """
    return np.hypot(*_east_north_m(lat1_deg, lon1_deg, lat2_deg, lon2_deg))


def bearing_deg(
    lat1_deg: npt.ArrayLike, lon1_deg: npt.ArrayLike, lat2_deg: npt.ArrayLike, lon2_deg: npt.ArrayLike
) -> Floats:
    """Direction from the first points to the second, true, [0, 360): that of the line half-way, for neighbours.

    The bearing at the start differs by half the convergence of the meridians: 0.05 degrees for 10 km in middle
    latitudes. The bearing between equal points is 0.
    """
    east, north = _east_north_m(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    bearing: Floats = np.mod(np.degrees(np.arctan2(east, north)), 360.0)
    return bearing


def path_length_m(lat_deg: Floats, lon_deg: Floats) -> float:
    """Length of the line through all points, m; points that are NaN are passed over."""
    known = np.isfinite(lat_deg) & np.isfinite(lon_deg)
    lat, lon = np.asarray(lat_deg)[known], np.asarray(lon_deg)[known]
    return float(distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]).sum())


def geodesic_m(lat1_deg: float, lon1_deg: float, lat2_deg: float, lon2_deg: float) -> tuple[float, float]:
    """Length of the shortest line on the ellipsoid, m, and its true bearing at the first point, [0, 360).

    Exact to nanometres at any distance (Karney 2013), 60 microseconds a call: for the few long ones.

    >>> length_m, bearing = geodesic_m(50.0, 10.0, 51.0, 12.0)
    >>> round(length_m), round(bearing, 1)
    (180292, 51.1)
    """
    from geographiclib.geodesic import Geodesic  # 10 ms, and seldom needed

    line = Geodesic.WGS84.Inverse(lat1_deg, lon1_deg, lat2_deg, lon2_deg, Geodesic.DISTANCE | Geodesic.AZIMUTH)
    return float(line["s12"]), float(line["azi1"]) % 360.0


def _conformal_tangent(tangent: Floats) -> Floats:
    """Tangent of the conformal latitude from that of the geographic one (Karney 2011, equations 7 to 9)."""
    secant = np.sqrt(1.0 + tangent * tangent)
    sigma = np.sinh(_E * np.arctanh(_E * tangent / secant))
    return np.asarray(tangent * np.sqrt(1.0 + sigma * sigma) - sigma * secant)


def _geographic_tangent(conformal: Floats) -> Floats:
    """The inverse of `_conformal_tangent`, by Newton's method (Karney 2011, equations 19 to 21)."""
    tangent = conformal / (1.0 - _E2)
    for _ in range(3):
        wrong = _conformal_tangent(tangent)
        step = (conformal - wrong) / np.sqrt((1.0 + wrong * wrong) * (1.0 + tangent * tangent))
        tangent = tangent + step * (1.0 + (1.0 - _E2) * tangent**2) / (1.0 - _E2)
    return np.asarray(tangent)


def _with_series(xi: Floats, eta: Floats, coefficients: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Both coordinates with the sums of Krueger's series: sin(2 k (xi + i eta)), by Clenshaw's recurrence."""
    sine, cosine, grown = np.sin(2 * xi), np.cos(2 * xi), np.exp(2 * eta)
    shrunk = 1.0 / grown
    cosh, sinh = (grown + shrunk) / 2, (grown - shrunk) / 2
    twice_cosine = 2 * (cosine * cosh - 1j * sine * sinh)
    *others, next_last, last_one = coefficients
    before, last = np.asarray(last_one), twice_cosine * last_one + next_last
    for coefficient in reversed(others):
        before, last = last, twice_cosine * last - before + coefficient
    total = last * (sine * cosh + 1j * cosine * sinh)
    return xi + total.real, eta + total.imag


@dataclass(frozen=True)
class LocalPlane:
    """A flat map around an origin: a conformal (transverse Mercator) plane on WGS 84, scale 1 on its meridian.

    Angles are true everywhere; lengths are too large by (east / earth radius)^2 / 2, 0.05 % at 200 km. Good to
    under a micrometre within 3000 km of the origin's meridian (Krueger 1912; Karney 2011, J. Geodesy 85:475).
    Works across the date line and over the poles; any finite input gives a finite result, though points more
    than some 80 degrees to the side have no accuracy.
    """

    origin_lat_deg: float
    origin_lon_deg: float

    def to_plane(self, lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
        """East and north of the origin, m."""
        xi, eta = _forward(lat_deg, np.subtract(lon_deg, self.origin_lon_deg))
        origin_xi = _origin_xi(self.origin_lat_deg)
        return _RECTIFYING_RADIUS_M * eta, _RECTIFYING_RADIUS_M * (xi - origin_xi)

    def to_degrees(self, east_m: npt.ArrayLike, north_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Latitude and longitude, [-180, 180), of points of the plane, degrees."""
        origin_xi = _origin_xi(self.origin_lat_deg)
        xi = np.asarray(north_m, dtype=np.float64) / _RECTIFYING_RADIUS_M + origin_xi
        eta = np.clip(np.asarray(east_m, dtype=np.float64) / _RECTIFYING_RADIUS_M, -_LARGEST_ETA, _LARGEST_ETA)
        xi, eta = _with_series(xi, eta, tuple(-beta for beta in _BETA))
        across = np.sinh(np.clip(eta, -_LARGEST_ETA, _LARGEST_ETA))
        along = np.cos(xi)
        conformal = np.sin(xi) / np.maximum(lengths(across, along), 1e-15)
        lat = np.degrees(np.arctan(_geographic_tangent(conformal)))
        return lat, wrapped_deg(self.origin_lon_deg + np.degrees(np.arctan2(across, along)))

    def convergence_deg(self, lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike) -> Floats:
        """Angle from true north to the plane's north, clockwise, degrees; right to 0.001 within 300 km."""
        longitude = np.radians(np.subtract(lon_deg, self.origin_lon_deg))
        across: Floats = np.sin(longitude) * np.sin(np.radians(lat_deg))
        return np.asarray(np.degrees(np.arctan2(across, np.cos(longitude))))

    def convergence_at_deg(self, east_m: npt.ArrayLike, north_m: npt.ArrayLike) -> Floats:
        """The same angle at points of the plane; right to 0.01 within 300 km."""
        eta: Floats = np.clip(np.divide(east_m, WGS84_A_M), -_LARGEST_ETA, _LARGEST_ETA)
        along: Floats = np.divide(north_m, _RECTIFYING_RADIUS_M) + np.radians(self.origin_lat_deg)
        return np.asarray(np.degrees(np.arctan2(np.sin(along) * np.sinh(eta), np.cos(along) * np.cosh(eta))))

    def turned_and_stretched(self, east_m: Floats, north_m: Floats) -> Complexes:
        """What vectors at these points, east + i north, are multiplied by to become those of the plane.

        The convergence and the scale of the two methods above and below at once, and in a third of their time.
        """
        eta: Floats = np.minimum(np.maximum(east_m / WGS84_A_M, -_LARGEST_ETA), _LARGEST_ETA)
        along = north_m / _RECTIFYING_RADIUS_M + math.radians(self.origin_lat_deg)
        upward, sideways = np.cos(along), np.sin(along) * np.tanh(eta)
        stretch = np.cosh(eta) / lengths(upward, sideways)
        factor = np.empty(stretch.shape, dtype=np.complex128)
        factor.real, factor.imag = upward * stretch, sideways * stretch
        return factor

    def turned_and_stretched_at(self, east_m: float, north_m: float) -> complex:
        """The same at one point."""
        eta = min(max(east_m / WGS84_A_M, -_LARGEST_ETA), _LARGEST_ETA)
        along = north_m / _RECTIFYING_RADIUS_M + math.radians(self.origin_lat_deg)
        north = complex(math.cos(along), math.sin(along) * math.tanh(eta))
        return north * (math.cosh(eta) / abs(north))

    def scale(self, east_m: npt.ArrayLike) -> Floats:
        """Length on the plane over length on the ground; right to 1e-6 within 300 km."""
        angle: Floats = np.clip(np.divide(east_m, WGS84_A_M), -_LARGEST_ETA, _LARGEST_ETA)
        return np.asarray(np.cosh(angle))


@lru_cache(maxsize=64)
def _origin_xi(origin_lat_deg: float) -> float:
    """Krueger's northward coordinate of a plane's origin, kept for the many points asked for one by one."""
    return float(_forward(origin_lat_deg, 0.0)[0])


def _forward(lat_deg: npt.ArrayLike, from_meridian_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Krueger's coordinates xi (north) and eta (east), in units of the rectifying radius."""
    lat = np.radians(np.clip(np.asarray(lat_deg, dtype=np.float64), -90.0, 90.0))
    longitude = np.radians(wrapped_deg(from_meridian_deg))
    conformal = _conformal_tangent(np.tan(lat))
    along = np.cos(longitude)
    xi = np.arctan2(conformal, along)
    eta = np.arcsinh(np.sin(longitude) / np.maximum(lengths(conformal, along), 1e-150))
    xi, eta = _with_series(xi, np.clip(eta, -_LARGEST_ETA, _LARGEST_ETA), _ALPHA)
    return xi, np.clip(eta, -_LARGEST_ETA, _LARGEST_ETA)
