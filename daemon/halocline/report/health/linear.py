"""The little linear algebra that the fits need, for matrices of a dozen rows; lists of floats, no library."""

import math
from collections.abc import Sequence
from operator import mul

Vector = list[float]
Matrix = list[list[float]]


def dot(a: Sequence[float], b: Sequence[float]) -> float:
    """Sum of products."""
    return float(sum(map(mul, a, b)))


def cholesky(matrix: Sequence[Sequence[float]]) -> Matrix:
    """Lower triangle L with L Lᵀ = matrix, which has to be positive definite. Raises ValueError."""
    lower: Matrix = []
    for i, row in enumerate(matrix):
        new: Vector = []
        for j in range(i):
            new.append((row[j] - dot(new, lower[j])) / lower[j][j])
        rest = row[i] - dot(new, new)
        if rest <= 0.0:
            raise ValueError("the matrix is not positive definite")
        new.append(math.sqrt(rest))
        lower.append(new)
    return lower


def forward(lower: Matrix, right: Sequence[float]) -> Vector:
    """x with L x = right."""
    found: Vector = []
    for row, value in zip(lower, right, strict=True):
        found.append((value - dot(row, found)) / row[len(found)])
    return found


def backward(lower: Matrix, right: Sequence[float]) -> Vector:
    """x with Lᵀ x = right."""
    n = len(lower)
    found = [0.0] * n
    for i in range(n - 1, -1, -1):
        found[i] = (right[i] - sum(lower[j][i] * found[j] for j in range(i + 1, n))) / lower[i][i]
    return found


def log_determinant(lower: Matrix) -> float:
    """Of the matrix whose Cholesky factor this is."""
    return 2.0 * sum(math.log(row[-1]) for row in lower)
