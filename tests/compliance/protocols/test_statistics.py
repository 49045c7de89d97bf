"""Student's t against printed tables; least squares on orthogonal polynomials, where every sum is known."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.protocols.regression import CannotFit, correlation, fit
from compliance.protocols.student_t import cdf, quantile

# Percentage points of the t distribution as printed in statistics textbooks; from memory.
PRINTED = [
    (0.95, 1, 6.314),
    (0.975, 1, 12.706),
    (0.95, 5, 2.015),
    (0.975, 5, 2.571),
    (0.99, 10, 2.764),
    (0.975, 10, 2.228),
    (0.95, 23, 1.714),
    (0.995, 30, 2.750),
    (0.975, 120, 1.980),
]

# Orthogonal polynomials over five points (linear, quadratic, cubic), as tabulated in textbooks; the cubic stands for
# what a line in the first two cannot explain.
X = [-2.0, -1.0, 0.0, 1.0, 2.0]
Z = [2.0, -1.0, -2.0, -1.0, 2.0]
APART = [-1.0, 2.0, 0.0, -2.0, 1.0]


@pytest.mark.parametrize(("probability", "freedom", "point"), PRINTED)
def test_percentage_points_are_those_of_the_printed_table(probability, freedom, point):
    assert quantile(probability, freedom) == pytest.approx(point, abs=0.0006)


@given(st.floats(0.001, 0.999), st.integers(1, 200))
def test_a_quantile_is_the_inverse_of_the_distribution(probability, freedom):
    assert cdf(quantile(probability, freedom), freedom) == pytest.approx(probability, abs=1e-9)


@given(st.floats(0, 30), st.integers(1, 200))
def test_the_distribution_is_symmetric(t, freedom):
    assert cdf(t, freedom) + cdf(-t, freedom) == pytest.approx(1, abs=1e-12)


def test_with_one_degree_of_freedom_it_is_cauchys_distribution():
    """P(T <= 1) = 3/4."""
    assert cdf(1, 1) == pytest.approx(0.75, abs=1e-12)


def test_a_probability_of_one_has_no_quantile():
    with pytest.raises(ValueError, match="between 0 and 1"):
        quantile(1.0, 5)


def test_an_exact_plane_is_found_without_error():
    line = fit([1 + 2 * x + 3 * z for x, z in zip(X, Z, strict=True)], [X, Z])

    assert line.slopes == pytest.approx((2, 3))
    assert line.errors == pytest.approx((0, 0), abs=1e-9)


def test_standard_errors_follow_from_what_is_left():
    """Orthogonal columns: error² = squares left (10) / freedom (2) / squares of the column (10 and 14)."""
    line = fit([2 * x + each for x, each in zip(X, APART, strict=True)], [X, Z])

    assert line.slopes == pytest.approx((2, 0), abs=1e-12)
    assert line.left == pytest.approx(APART)
    assert line.errors == pytest.approx(((10 / 2 / 10) ** 0.5, (10 / 2 / 14) ** 0.5))


@pytest.mark.parametrize(
    ("columns", "words"),
    [([X, [2 * x for x in X]], "move as one"), ([[1.0] * 5], "never changes"), ([X, Z, APART, X], "too few")],
)
def test_what_cannot_be_told_apart_is_not_fitted(columns, words):
    with pytest.raises(CannotFit, match=words):
        fit(X, columns)


def test_correlation_runs_from_minus_one_to_one():
    assert correlation(X, [-x for x in X]) == pytest.approx(-1)
    assert correlation(X, Z) == pytest.approx(0)
    assert correlation(X, [1.0] * 5) == 0
