"""The array types that pass between the layers: float64 or int64, one value a fix, read-only."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complex128]
"""Vectors in a plane, east + i north: sums, turns and stretches of both components at once."""
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


def lengths(east: Floats | float, north: Floats | float) -> Floats:
    """Lengths of vectors from their components.

    As `np.hypot` gives them, in a tenth of its time: that one guards against numbers beyond 1e150, which no
    position, speed or noise here reaches.

    >>> lengths(np.array([3.0, 0.0]), np.array([4.0, -2.0]))
    array([5., 2.])
    """
    return np.asarray(np.sqrt(east * east + north * north))


def zero_where_unknown(values: Floats) -> Floats:
    """The values with 0 for NaN, in a quarter of the time of `np.nan_to_num`, which looks for infinities too.

    >>> zero_where_unknown(np.array([1.5, np.nan]))
    array([1.5, 0. ])
    """
    return np.where(np.isnan(values), 0.0, values)


def middle(values: Floats) -> float:
    """Median of some values, none of them NaN, in a fifth of the time of `np.median`, which looks for NaN.

    >>> middle(np.array([3.0, 1.0, 2.0, 9.0]))
    2.5
    """
    half = len(values) // 2
    parted = np.partition(values, half)
    high = parted.item(half)
    return high if len(values) % 2 else 0.5 * (float(parted[:half].max()) + high)


def quantile(values: Floats, share: float) -> float:
    """Value below which this share of some values lies, none of them NaN: as `np.quantile`, in less time.

    >>> quantile(np.array([3.0, 1.0, 2.0, 9.0]), 0.5)
    2.5
    """
    place = share * (len(values) - 1)
    low = int(place)
    parted = np.partition(values, low)
    below = parted.item(low)
    return below if place == low else below + (place - low) * (float(parted[low + 1 :].min()) - below)


def evenly(start: float, stop: float, count: int) -> Floats:
    """So many values at equal steps, both ends included, 2 or more: `np.linspace` in a fifth of its time.

    >>> evenly(1.0, 2.0, 5)
    array([1.  , 1.25, 1.5 , 1.75, 2.  ])
    """
    values: Floats = start + np.arange(count, dtype=np.float64) * ((stop - start) / (count - 1))
    values[-1] = stop
    return values


def frozen_floats(values: npt.ArrayLike) -> Floats:
    """Copy of the values as float64 that nobody can change."""
    array = np.array(values, dtype=np.float64)
    array.flags.writeable = False
    return array


def frozen_ints(values: npt.ArrayLike) -> Ints:
    """Copy of the values as int64 that nobody can change."""
    array = np.array(values, dtype=np.int64)
    array.flags.writeable = False
    return array
