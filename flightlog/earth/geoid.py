"""Height of mean sea level (the EGM2008 geoid) above the WGS 84 ellipsoid.

The table has a value every half degree, drawn by `flightlog.earth.make_geoid_table` from the EGM2008 model
(Pavlis, Holmes, Kenyon & Factor 2012, J. Geophys. Res. 117, B04406; public domain).
"""

from __future__ import annotations

import lzma
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats

STEP_DEG = 0.5
"""Distance between the values of the table."""
ROWS, COLUMNS = 361, 720
"""Latitudes from -90 to 90, longitudes from -180 to 179.5."""
_CENTIMETRE_M = 0.01
_MARGIN = 2  # cells beside the grid that cubic interpolation reaches


def geoid_height_m(latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> Floats:
    """Geoid above the ellipsoid: altitude above sea level is ellipsoid height less this.

    Parameters
    ----------
    latitude_deg : (n,) array or number
        North positive, -90 to 90.
    longitude_deg : the same
        East positive, any turn.

    Returns
    -------
    Array of that shape, m, by cubic convolution of the table; NaN gives NaN.

    References
    ----------
    Keys 1981, Cubic convolution interpolation for digital image processing, IEEE Trans. ASSP 29:1153.

    Examples
    --------
    >>> float(geoid_height_m(0.0, 0.0).round())
    17.0
    """
    latitude, longitude = np.broadcast_arrays(
        np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64)
    )
    good = np.isfinite(latitude) & np.isfinite(longitude) & (np.abs(latitude) <= 90.0)
    row = (np.where(good, latitude, 0.0) + 90.0) / STEP_DEG
    column = np.mod(np.where(good, longitude, 0.0) + 180.0, 360.0) / STEP_DEG
    first_row = np.minimum(row.astype(np.int64), ROWS - 2)
    first_column = np.minimum(column.astype(np.int64), COLUMNS - 1)
    row_weights = _cubic_weights(row - first_row)
    column_weights = _cubic_weights(column - first_column)
    table = _table()
    height = np.zeros(latitude.shape)
    for i in range(4):
        line = np.zeros(latitude.shape)
        for j in range(4):
            line += column_weights[j] * table[first_row + i - 1 + _MARGIN, first_column + j - 1 + _MARGIN]
        height += row_weights[i] * line
    height[~good] = np.nan
    return height * _CENTIMETRE_M


def _cubic_weights(t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Weights of the four neighbours of a point a share `t` past the second (Keys 1981, a = -1/2)."""
    return (
        ((-0.5 * t + 1.0) * t - 0.5) * t,
        (1.5 * t - 2.5) * t * t + 1.0,
        ((-1.5 * t + 2.0) * t + 0.5) * t,
        (0.5 * t - 0.5) * t * t,
    )


@cache
def _table() -> npt.NDArray[np.int16]:
    """The table, cm, with a margin on every side: across the date line, and beyond the poles."""
    packed = (files("flightlog.earth") / "egm2008_half_degree.xz").read_bytes()
    planes = np.frombuffer(lzma.decompress(packed), dtype=np.uint8).reshape(2, ROWS, COLUMNS).astype(np.uint16)
    steps = (planes[0] << 8 | planes[1]).view(np.int16)  # differences along the rows: they pack better
    table = np.cumsum(steps, axis=1, dtype=np.int16)
    beyond = np.roll(table, COLUMNS // 2, axis=1)  # past a pole the meridian opposite goes on
    south, north = beyond[_MARGIN:0:-1], beyond[-2 : -2 - _MARGIN : -1]
    table = np.concatenate([south, table, north])
    return np.concatenate([table[:, -_MARGIN:], table, table[:, :_MARGIN]], axis=1)
