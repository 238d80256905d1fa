"""Symmetric positive definite banded systems, straight from LAPACK.

A decision solves some ten small ones; scipy's own functions spend longer on looking at their arguments than LAPACK on
the solution. The bits are the same.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg.lapack import dpbsv, dpbtrf, dpbtrs

from drivers.samples import FloatArray


def factorised(banded: FloatArray) -> FloatArray:
    """Cholesky factor of a matrix in upper banded form, shape (bands, n).

    Raises:
        np.linalg.LinAlgError: it is not positive definite.
    """
    factor, info = dpbtrf(banded, lower=0)
    return _sound(factor, info)


def solved_by_factor(factor: FloatArray, right: FloatArray) -> FloatArray:
    """Solution for right sides of shape (n,) or (n, k)."""
    solution, info = dpbtrs(factor, right, lower=0)
    return _sound(solution, info)


def solved(banded: FloatArray, right: FloatArray) -> FloatArray:
    """Both at once; `right` of shape (n, k).

    Raises:
        np.linalg.LinAlgError: the matrix is not positive definite.
    """
    _, solution, info = dpbsv(banded, right, lower=0)
    return _sound(solution, info)


def _sound(result: FloatArray, info: int) -> FloatArray:
    if info != 0:
        raise np.linalg.LinAlgError(f"LAPACK gave up at {info}: the banded matrix is not positive definite")
    return result
