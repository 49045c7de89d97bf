"""Student's t, least squares and correlation against SciPy and NumPy, which share no line with ours."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from compliance.protocols.regression import correlation, fit
from compliance.protocols.student_t import cdf, power, quantile

FREEDOM = st.integers(1, 2000)
VALUE = st.floats(-100, 100).map(lambda each: round(each, 6))


def columns(count: int):
    """So many columns of one length, 6 to 60 rows."""
    return st.integers(6, 60).flatmap(
        lambda rows: st.lists(st.lists(VALUE, min_size=rows, max_size=rows), min_size=count, max_size=count)
    )


@given(st.floats(-60, 60), FREEDOM)
def test_the_distribution_is_scipys(t, freedom):
    assert cdf(t, freedom) == pytest.approx(stats.t.cdf(t, freedom), rel=1e-8, abs=1e-13)


@given(st.floats(1e-6, 1 - 1e-6), FREEDOM)
def test_the_percentage_point_is_scipys(probability, freedom):
    """Out to one in a million, where a year of daily looks is decided."""
    assert quantile(probability, freedom) == pytest.approx(
        stats.t.ppf(probability, freedom), rel=1e-6, abs=1e-8
    )


@given(st.integers(2, 200), st.floats(0.01, 0.2))
def test_what_a_methods_scatter_makes_of_it_is_scipys(tests, scatter):
    found = power(tests, 0.1, 0.2, scatter)

    assert found.false_alarm == pytest.approx(stats.t.sf(0.1 / scatter, tests - 1), abs=1e-10)
    assert found.detection == pytest.approx(stats.t.cdf(0.1 / scatter, tests - 1), abs=1e-10)


@given(columns(2))
def test_a_line_through_one_column_is_scipys(given_columns):
    x, y = given_columns
    assume(np.ptp(x) > 1e-3 and np.ptp(y) > 1e-3)

    ours, theirs = fit(y, [x]), stats.linregress(x, y)

    size = 1 + max(map(abs, y)) / np.ptp(x)
    assert ours.slopes[0] == pytest.approx(theirs.slope, rel=1e-7, abs=1e-9 * size)
    assert ours.errors[0] == pytest.approx(theirs.stderr, rel=1e-5, abs=1e-7 * size)


@given(columns(3))
def test_a_plane_through_two_columns_is_numpys_least_squares(given_columns):
    """Standard errors by the textbook covariance s²(X'X)⁻¹, worked out with NumPy's pseudo-inverse."""
    x, z, y = map(np.array, given_columns)
    design = np.column_stack([np.ones_like(x), x, z])
    assume(np.linalg.cond(design) < 1e5)

    ours = fit(list(y), [list(x), list(z)])

    slopes, *_ = np.linalg.lstsq(design, y, rcond=None)
    left = y - design @ slopes
    spread = left @ left / (len(y) - 3)
    errors = np.sqrt(np.diag(np.linalg.pinv(design.T @ design)) * spread)
    assert ours.slopes == pytest.approx(tuple(slopes[1:]), rel=1e-6, abs=1e-6)
    assert ours.errors == pytest.approx(tuple(errors[1:]), rel=1e-5, abs=1e-6)
    assert ours.left == pytest.approx(tuple(left), rel=1e-6, abs=1e-6)


@given(columns(2))
def test_a_correlation_is_scipys(given_columns):
    x, y = given_columns
    assume(np.ptp(x) > 1e-3 and np.ptp(y) > 1e-3)

    assert correlation(x, y) == pytest.approx(stats.pearsonr(x, y).statistic, abs=1e-9)
