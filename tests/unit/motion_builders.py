"""Small invented movements with known answers, as tracks: for the tests of the motion layer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import frozen_floats, frozen_ints
from flightlog.earth.geodesy import LocalPlane
from flightlog.tracks.track import Header, Track

STEP_S = 0.1
ORIGIN = LocalPlane(46.2, 7.4)
EPOCH_S = 1_750_000_000.0


@dataclass
class Path:
    """Where somebody went, ten times a second: columns time, east, north, altitude."""

    rows: np.ndarray

    @property
    def time_s(self):
        return self.rows[:, 0]

    def at(self, time_s, column):
        return np.interp(time_s, self.time_s, self.rows[:, column])

    def velocity_at(self, time_s, column):
        rate = np.gradient(self.rows[:, column], self.time_s)
        return np.interp(time_s, self.time_s, rate)


class Mover:
    """Strings together standing, walking, flying and driving; `times` notes when each began."""

    def __init__(self, seed=1, altitude_m=1500.0):
        self.rng = np.random.default_rng(seed)
        self.state = np.array([0.0, 0.0, altitude_m])
        self.heading = 0.0
        self.pieces = []
        self.now = 0.0
        self.times = []

    def move(self, seconds, speed=0.0, climb=0.0, turn_degps=0.0, wind=(0.0, 0.0), gust=0.0, name=""):
        """Go on at this airspeed, climb and turn rate; gusts shake all three, over 5 s."""
        self.times.append((self.now, name))
        count = round(seconds / STEP_S)
        heading = self.heading + np.radians(turn_degps) * STEP_S * np.arange(1, count + 1)
        shake = self._gusts(count, gust)
        speeds = np.broadcast_to(speed, (count,))
        east = speeds * np.sin(heading) + wind[0] + self._gusts(count, gust)
        north = speeds * np.cos(heading) + wind[1] + self._gusts(count, gust)
        places = self.state + np.cumsum(np.stack([east, north, climb + shake], axis=1) * STEP_S, axis=0)
        times = self.now + STEP_S * np.arange(1, count + 1)
        self.pieces.append(np.column_stack([times, places]))
        self.state, self.heading, self.now = places[-1], float(heading[-1]), float(times[-1])
        return self

    def _gusts(self, count, sd):
        values, value = np.zeros(count), 0.0
        for k, push in enumerate(self.rng.normal(size=count)):
            value += -value * STEP_S / 5.0 + sd * (2 * STEP_S / 5.0) ** 0.5 * push
            values[k] = value
        return values

    def path(self):
        return Path(np.concatenate(self.pieces))


def flight(seed=1, wind=(3.0, 0.0), gust=0.5, airspeed=10.0):
    """Stand two minutes, run, fly ten minutes with circles, land, stand; returns path, lift-off and touchdown."""
    mover = Mover(seed)
    mover.heading = np.arctan2(-wind[0], -wind[1]) if any(wind) else 0.0
    head = float(np.hypot(*wind))
    mover.move(120.0)
    mover.move(3.0, speed=np.linspace(0.5, airspeed - head, 30))
    liftoff = mover.now
    mover.move(90.0, airspeed, -0.6, 0.0, wind, gust)
    for _ in range(3):
        mover.move(90.0, airspeed, 1.5, 24.0, wind, gust)
        mover.move(60.0, airspeed, -1.2, 0.0, wind, gust)
    mover.heading = np.arctan2(-wind[0], -wind[1]) if any(wind) else mover.heading
    mover.move(30.0, airspeed, -1.5, 0.0, wind, gust)
    touchdown = mover.now
    mover.move(2.0, speed=np.linspace(2.0, 0.2, 20))
    mover.move(120.0)
    return mover.path(), liftoff, touchdown


def track_of(
    path, interval_s=1.0, noise_m=1.0, seed=3, pressure=True, gnss=True, rounding=True, scale=0.0, offset_m=80.0,
    times=None,
):  # fmt: skip
    """The path as a recorder would write it: slow GNSS errors, short ones, rounding to 1/1000 minute and 1 m."""
    rng = np.random.default_rng(seed)
    t = np.arange(path.time_s[0], path.time_s[-1], interval_s) if times is None else times

    def wander(sd, correlation_s):
        keep = np.exp(-np.diff(t, prepend=t[0] - 1e4) / correlation_s)
        out, value = np.empty(len(t)), 0.0
        for k, push in enumerate(rng.normal(size=len(t))):
            value = keep[k] * value + sd * np.sqrt(1 - keep[k] ** 2) * push
            out[k] = value
        return out

    def errors(slow, short, white):
        return noise_m * (wander(slow, 80.0) + wander(short, 3.0) + rng.normal(0, white, len(t)))

    east, north, up = path.at(t, 1) + errors(2, 0.6, 0.4), path.at(t, 2) + errors(2, 0.6, 0.4), path.at(t, 3)
    lat, lon = ORIGIN.to_degrees(east, north)
    pressure_m = up * (1 + scale) + offset_m + noise_m * rng.normal(0, 0.4, len(t))
    gnss_m = up + errors(4, 0.9, 0.5)
    if rounding:
        lat, lon = np.round(lat * 60000) / 60000, np.round(lon * 60000) / 60000
        pressure_m, gnss_m = np.round(pressure_m), np.round(gnss_m)
    return raw_track(EPOCH_S + t, lat, lon, pressure_m if pressure else None, gnss_m if gnss else None)


def raw_track(time_s, lat, lon, pressure_m=None, gnss_m=None, segment=None):
    """A Track of these columns, fix k on line k + 1."""
    count = len(time_s)
    pressure, gnss = (None if column is None else frozen_floats(column) for column in (pressure_m, gnss_m))
    return Track(
        time_s=frozen_floats(time_s),
        latitude_deg=frozen_floats(lat),
        longitude_deg=frozen_floats(lon),
        pressure_altitude_m=pressure,
        gnss_altitude_m=gnss,
        line=frozen_ints(np.arange(1, count + 1)),
        segment=frozen_ints(np.zeros(count) if segment is None else segment),
        gnss_datum="geoid",
        header=Header(),
        file="invented.igc",
        format="igc",
        sha256="0" * 64,
        records_read=count,
    )


def changed(track, **columns):
    """The track with some columns replaced."""
    values = {
        "time_s": track.time_s, "lat": track.latitude_deg, "lon": track.longitude_deg,
        "pressure_m": track.pressure_altitude_m, "gnss_m": track.gnss_altitude_m, "segment": track.segment,
    }  # fmt: skip
    return raw_track(**{**values, **columns})


def picked(track, index):
    """The track made of these fixes, in this order."""
    return raw_track(
        track.time_s[index], track.latitude_deg[index], track.longitude_deg[index],
        None if track.pressure_altitude_m is None else track.pressure_altitude_m[index],
        None if track.gnss_altitude_m is None else track.gnss_altitude_m[index],
    )  # fmt: skip
