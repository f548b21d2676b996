"""Places that many logs used, from where they touched the ground: take-offs and touchdowns near each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.earth.geodesy import distance_m

ROUNDS = 4
"""Centres are moved to the middle of their contacts so often; they come to rest after two or three."""


@dataclass(frozen=True, eq=False)
class Clusters:
    """n contacts in k places: the place of each contact, and the middle of each place."""

    place: Ints  # (n,) 0 to k - 1, in the order in which places were first used
    latitude_deg: Floats  # (k,)
    longitude_deg: Floats
    altitude_m: Floats  # median


def cluster_contacts(
    latitude_deg: Floats, longitude_deg: Floats, altitude_m: Floats, radius_m: float, level_m: float
) -> Clusters:
    """Which contacts with the ground were at one place.

    Parameters
    ----------
    latitude_deg, longitude_deg, altitude_m : (n,) arrays
        In order of time, all finite.
    radius_m, level_m : float
        A contact belongs to the nearest place whose middle is no farther off than this, level and height.

    Returns
    -------
    Clusters
        The first contact that is near no known place makes a new one; then each place moves to the median of its
        contacts, contacts go to the nearest place, and places nearer than the radius become one. Medians: one
        wrong touchdown does not move a place. Across the date line a place is found too.
    """
    if len(latitude_deg) == 0:
        none = np.empty(0)
        return Clusters(np.empty(0, dtype=np.int64), none, none, none)
    label = _leaders(latitude_deg, longitude_deg, altitude_m, radius_m, level_m)
    for _ in range(ROUNDS):
        centres = _centres(label, latitude_deg, longitude_deg, altitude_m)
        merged = _leaders(*centres, radius_m, level_m)
        centres = _centres(merged[label], latitude_deg, longitude_deg, altitude_m)
        fresh = _nearest((latitude_deg, longitude_deg, altitude_m), centres, merged[label], radius_m, level_m)
        if np.array_equal(fresh, label):
            break
        label = fresh
    label = _in_order_of_use(label)
    return Clusters(label, *_centres(label, latitude_deg, longitude_deg, altitude_m))


def _leaders(lat: Floats, lon: Floats, altitude: Floats, radius_m: float, level_m: float) -> Ints:
    """Each point with the first earlier point within reach, or a leader itself; labels from 0."""
    label = np.full(len(lat), -1, dtype=np.int64)
    count = 0
    while (free := np.flatnonzero(label < 0)).size:
        first = free[0]
        near = distance_m(lat[first], lon[first], lat[free], lon[free]) <= radius_m
        near &= np.abs(altitude[free] - altitude[first]) <= level_m
        near[0] = True
        label[free[near]] = count
        count += 1
    return label


def _centres(label: Ints, lat: Floats, lon: Floats, altitude: Floats) -> tuple[Floats, Floats, Floats]:
    """Medians of the points of each label; longitudes are taken from their first point, for the date line."""
    count = int(label.max(initial=-1)) + 1
    middles = np.empty((3, count))
    order = np.argsort(label, kind="stable")
    for number, members in enumerate(np.split(order, np.searchsorted(label[order], np.arange(1, count)))):
        turned = (lon[members] - lon[members[0]] + 180.0) % 360.0 - 180.0
        middles[:, number] = (
            np.median(lat[members]),
            (lon[members[0]] + np.median(turned) + 180.0) % 360.0 - 180.0,
            np.median(altitude[members]),
        )
    return middles[0], middles[1], middles[2]


def _nearest(
    contacts: tuple[Floats, Floats, Floats],
    centres: tuple[Floats, Floats, Floats],
    label: Ints,
    radius_m: float,
    level_m: float,
) -> Ints:
    """The nearest centre within reach of each contact; its own one where none is."""
    lat, lon, altitude = contacts
    best = np.full(len(lat), np.inf)
    fresh = label.copy()
    for number, (centre_lat, centre_lon, level) in enumerate(zip(*centres, strict=True)):
        apart = distance_m(centre_lat, centre_lon, lat, lon)
        nearer = (apart <= radius_m) & (np.abs(altitude - level) <= level_m) & (apart < best)
        best[nearer], fresh[nearer] = apart[nearer], number
    return _without_gaps(fresh)


def _without_gaps(label: Ints) -> Ints:
    """The labels numbered from 0 without a gap, in their order."""
    dense: Ints = np.unique(label, return_inverse=True)[1].reshape(label.shape).astype(np.int64)
    return dense


def _in_order_of_use(label: Ints) -> Ints:
    """The labels numbered by first appearance."""
    _, first, dense = np.unique(label, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first, kind="stable")] = np.arange(len(first))
    ordered: Ints = rank[dense.reshape(label.shape)]
    return ordered
