"""Times that stand still, go back or lie in the night: kept as they are, and said."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.earth.sun import sun_elevation_deg
from flightlog.tracks.notebook import Notebook

_CIVIL_TWILIGHT_DEG = -6.0  # darker than this nobody soars
_SAMPLES = 50


def note_odd_times(time_s: Floats, line: Ints, notebook: Notebook) -> None:
    """Write down where the time goes back or stands still from one fix to the next."""
    steps = np.diff(time_s)
    back = np.flatnonzero(steps < 0)
    if back.size:
        message = f"the time goes back, by {-steps[back].min():.0f} s at most"
        notebook.add("time_backward", message, int(line[back[0] + 1]), int(back.size))
    same = np.flatnonzero(steps == 0)
    if same.size:
        notebook.add("duplicate_time", "several fixes have the same time", int(line[same[0] + 1]), int(same.size))


def note_darkness(time_s: Floats, latitude_deg: Floats, longitude_deg: Floats, notebook: Notebook) -> None:
    """Say where most of a log lies in the night: its times are probably local times, or its date is wrong."""
    known = np.flatnonzero(~np.isnan(latitude_deg))
    if known.size == 0:
        return
    some = known[:: max(1, known.size // _SAMPLES)]
    elevation = sun_elevation_deg(time_s[some], latitude_deg[some], longitude_deg[some])
    if np.mean(elevation < _CIVIL_TWILIGHT_DEG) > 0.5:
        message = "by its times most of this log was flown at night; are they local times instead of UTC?"
        notebook.add("flown_in_the_dark", message)
