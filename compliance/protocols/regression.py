"""Ordinary least squares with a constant, for a handful of columns: coefficients, their standard errors, what is left.

Textbook normal equations on centred and scaled columns.
"""

from collections.abc import Sequence
from math import sqrt

import msgspec

COLLINEAR = 1e-9


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """`slopes` and `errors` in the order of the columns; `left` the residuals; `freedom` degrees of freedom."""

    slopes: tuple[float, ...]
    errors: tuple[float, ...]
    left: tuple[float, ...]
    freedom: int


class CannotFit(ValueError):
    """Too few observations, or columns that move as one: no slope can be told."""


def fit(values: Sequence[float], columns: Sequence[Sequence[float]]) -> Line:
    """Fit values on columns of the same length. CannotFit says why there is no answer."""
    freedom = len(values) - len(columns) - 1
    if freedom < 1:
        raise CannotFit(f"{len(values)} observations are too few for {len(columns)} columns")
    centred = [_centred(column) for column in columns]
    scales = [sqrt(sum(each * each for each in column)) for column in centred]
    if not all(scales):
        raise CannotFit("a column never changes")
    scaled = [[each / scale for each in column] for column, scale in zip(centred, scales, strict=True)]
    target = _centred(values)
    products = [[_dot(one, other) for other in scaled] for one in scaled]
    inverse = _inverse(products)
    raw = [
        sum(part * _dot(column, target) for part, column in zip(row, scaled, strict=True)) for row in inverse
    ]
    left = [
        each - sum(slope * column[at] for slope, column in zip(raw, scaled, strict=True))
        for at, each in enumerate(target)
    ]
    variance = _dot(left, left) / freedom
    return Line(
        slopes=tuple(slope / scale for slope, scale in zip(raw, scales, strict=True)),
        errors=tuple(sqrt(variance * inverse[at][at]) / scale for at, scale in enumerate(scales)),
        left=tuple(left),
        freedom=freedom,
    )


def correlation(one: Sequence[float], other: Sequence[float]) -> float:
    """Pearson's correlation, -1 to 1; 0 where either never changes."""
    first, second = _centred(one), _centred(other)
    size = sqrt(_dot(first, first) * _dot(second, second))
    return _dot(first, second) / size if size else 0.0


def _centred(column: Sequence[float]) -> list[float]:
    mean = sum(column) / len(column)
    return [each - mean for each in column]


def _dot(one: Sequence[float], other: Sequence[float]) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


def _inverse(matrix: Sequence[Sequence[float]]) -> list[list[float]]:
    """Gauss-Jordan; the matrix is a correlation matrix, so its pivots are at most one."""
    size = len(matrix)
    rows = [[*row, *(float(at == number) for at in range(size))] for number, row in enumerate(matrix)]
    for pivot in range(size):
        if abs(rows[pivot][pivot]) < COLLINEAR:
            raise CannotFit("two columns move as one")
        rows[pivot] = [each / rows[pivot][pivot] for each in rows[pivot]]
        for number in range(size):
            if number != pivot:
                factor = rows[number][pivot]
                rows[number] = [a - factor * b for a, b in zip(rows[number], rows[pivot], strict=True)]
    return [row[size:] for row in rows]
