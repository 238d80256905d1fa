"""Banded systems straight from LAPACK, beside scipy's own functions."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from scipy.linalg import cho_solve_banded, cholesky_banded, solveh_banded

from station.motion.banded import factorised, solved, solved_by_factor

BANDS, SIZE = 3, 40


def test_solutions_are_those_of_scipy_to_the_bit() -> None:
    rng = np.random.default_rng(1)
    banded = rng.normal(0, 0.3, (BANDS, SIZE))
    banded[-1] = 2.0
    right = rng.normal(0, 1, (SIZE, 4))
    factor = factorised(banded)
    assert_array_equal(factor, cholesky_banded(banded))
    assert_array_equal(solved_by_factor(factor, right), cho_solve_banded((factor, False), right))
    assert_array_equal(solved_by_factor(factor, right[:, 0]), cho_solve_banded((factor, False), right[:, 0]))
    assert_array_equal(solved(banded, right), solveh_banded(banded, right))


def test_a_matrix_that_is_not_positive_definite_is_refused() -> None:
    with pytest.raises(np.linalg.LinAlgError, match="positive definite"):
        factorised(np.full((BANDS, SIZE), -1.0))
    with pytest.raises(np.linalg.LinAlgError, match="positive definite"):
        solved(np.full((BANDS, SIZE), -1.0), np.ones((SIZE, 1)))
