"""The cleaned track as a table of fixes: CSV (RFC 4180) and Parquet."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from flightlog import __version__
from flightlog.arrays import Floats
from flightlog.errors import ReportError
from flightlog.writers.open_formats.cleaned import KINDS, MODES, CleanTrack, iso_time

NUMBERS = (
    ("latitude_deg", 7),
    ("longitude_deg", 7),
    ("altitude_m", 1),
    ("smooth_altitude_m", 1),
    ("pressure_altitude_m", 1),
    ("gnss_altitude_m", 1),
    ("ground_speed_mps", 2),
    ("climb_mps", 2),
)
"""Columns of numbers and their decimals in CSV."""


def csv_bytes(track: CleanTrack) -> bytes:
    """One row a fix; an empty cell where the log does not tell.

    No text of the log is in it, only times, numbers and the words of flightlog, so that a spreadsheet finds no
    formula to run.
    """
    columns = [[iso_time(time_s) for time_s in track.time_s.tolist()]]
    columns += [_texts(getattr(track, name), decimals) for name, decimals in NUMBERS]
    columns.append([str(number) if number else "" for number in track.flight.tolist()])
    columns.append([KINDS[code] for code in track.kind.tolist()])
    columns.append([MODES[code] for code in track.mode.tolist()])
    file = io.StringIO()
    file.write(",".join(["time", *(name for name, _ in NUMBERS), "flight", "phase", "mode"]) + "\r\n")
    for row in zip(*columns, strict=True):
        file.write(",".join(row) + "\r\n")
    return file.getvalue().encode("ascii")


def _texts(values: Floats, decimals: int) -> list[str]:
    """Numbers as text; a NaN is empty."""
    rounded = np.round(values, decimals) + 0.0  # no negative nought
    return ["" if text == "nan" else text for text in (f"{value:.{decimals}f}" for value in rounded.tolist())]


def parquet_bytes(track: CleanTrack) -> bytes:
    """The same columns in Parquet, times as UTC timestamps, what is not known as null.

    Raises
    ------
    ReportError
        pyarrow is not installed.
    """
    try:
        import pyarrow as pa  # type: ignore[import-untyped]
        import pyarrow.parquet as pq  # type: ignore[import-untyped]
    except ImportError as error:
        advice = "install it by: pip install 'flightlog[parquet]'"
        raise ReportError("Parquet needs the package pyarrow, which is not installed", advice) from error
    times = np.round(track.time_s * 1e6).astype(np.int64)
    columns: dict[str, Any] = {"time": pa.array(times, pa.timestamp("us", tz="UTC"))}
    for name, _ in NUMBERS:
        columns[name] = pa.array(getattr(track, name), pa.float64(), from_pandas=True)  # NaN becomes null
    columns["flight"] = pa.array([number or None for number in track.flight.tolist()], pa.int32())
    columns["phase"] = pa.array([KINDS[code] or None for code in track.kind.tolist()], pa.string())
    columns["mode"] = pa.array([MODES[code] or None for code in track.mode.tolist()], pa.string())
    about = {"generator": f"flightlog {__version__}", "log": track.file}
    about |= {name: text for name, text in (("pilot", track.pilot), ("wing", track.wing)) if text}
    table = pa.table(columns, metadata=about)
    file = io.BytesIO()
    pq.write_table(table, file, compression="zstd")
    return file.getvalue()
