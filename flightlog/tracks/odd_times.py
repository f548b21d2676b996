"""Times that stand still or go back: kept as they are, and said."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.tracks.notebook import Notebook


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
