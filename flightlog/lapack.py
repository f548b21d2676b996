"""LAPACK's solvers as scipy wraps them, without the rest of scipy.linalg.

All of `scipy.linalg` takes a third of what the program imports for one log, most of it for what is never called
here. The one extension module that holds the solvers is loaded alone where it is found, else by the public way.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.machinery import PathFinder
from importlib.util import module_from_spec
from typing import Any

import numpy as np
import scipy

from flightlog.arrays import Floats

EXTENSION = "scipy.linalg._flapack"


def _loaded() -> Any:
    """The module that holds them."""
    folders = [f"{place}/linalg" for place in scipy.__path__]
    found = None if "scipy.linalg" in sys.modules else PathFinder.find_spec(EXTENSION, folders)
    if found is None or found.loader is None:
        return import_module("scipy.linalg.lapack")
    module = module_from_spec(found)
    found.loader.exec_module(module)
    return module


lapack = _loaded()
"""LAPACK's routines under their own names, `dpotrf` and the others."""


def cholesky_banded(banded: Floats) -> Floats:
    """Cholesky's factor of a symmetric positive definite matrix, in the same form; the bands may be overwritten.

    Parameters
    ----------
    banded : (u + 1, n) array
        Its diagonal and the u bands below it, one a row, columns those of the matrix.

    Raises
    ------
    LinAlgError
        The matrix is not positive definite.
    """
    factor, failed = lapack.dpbtrf(banded, lower=1, overwrite_ab=1)
    if failed:
        raise np.linalg.LinAlgError(f"row {failed} of a banded matrix makes it not positive definite")
    return np.asarray(factor)


def solve_banded(factor: Floats, right: Floats) -> Floats:
    """Solution for right sides (n, k), which may be overwritten, by the factor from `cholesky_banded`."""
    solution, _ = lapack.dpbtrs(factor, right, lower=1, overwrite_b=1)
    return np.asarray(solution)
