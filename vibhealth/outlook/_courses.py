"""One possible course of a history: fitted robustly, its criterion, and draws around it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Course", "floor_course", "level_criterion", "straight_courses"]

Array = NDArray[np.float64]

# Degrees of freedom of the robust weights: at 4 an outlier of five spreads weighs about a sixth
# (Lange, Little, Taylor, J. Am. Stat. Assoc. 84, 1989, 881-896, from memory).
ROBUST_DOF = 4.0
ROBUST_STEPS = 8
# Readings of one machine repeat no better than this (common practice, no source).
LEAST_SCATTER = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A fitted course: coefficients with the root of their covariance.

    Straight (``rate`` None): logarithm = level + jump + slope (t - onset) after the onset, with
    coefficients (level, slope[, jump]). Over a floor: value = floor + damage exp(rate (t - last)),
    with coefficients (floor, damage).
    """

    onset: float
    has_jump: bool
    rate: float | None
    coefficients: Array
    root: Array
    dof: float
    criterion: float

    def draw(self, n: int, rng: np.random.Generator) -> Array:
        """Possible courses from a multivariate t around the fit, rows as in ``Growth.draws``."""
        normal = rng.standard_normal((n, len(self.coefficients))) @ self.root.T
        scale = np.sqrt(self.dof / rng.chisquare(self.dof, n))
        drawn = self.coefficients + normal * scale[:, None]
        start = np.full(n, self.onset)
        if self.rate is None:
            base = drawn[:, 0] + (drawn[:, 2] if self.has_jump else 0.0)
            return np.column_stack([np.zeros(n), base, np.zeros(n), start, drawn[:, 1]])
        rate = np.where((drawn <= 0).any(axis=1), np.nan, self.rate)
        return np.column_stack([np.ones(n), drawn[:, 0], drawn[:, 1], start, rate])

    def line(self, t: Array) -> tuple[tuple[float, float], ...]:
        """Corners (day, logarithm) of the course between the first and the last day."""
        first, last = float(t[0]), float(t[-1])
        if self.rate is not None:
            days = np.linspace(first, last, 30)
            floor, damage = self.coefficients
            values = np.log(floor + damage * np.exp(self.rate * (days - self.onset)))
            return tuple(zip(days.tolist(), values.tolist(), strict=True))
        level, slope = (float(value) for value in self.coefficients[:2])
        jumped = level + (float(self.coefficients[2]) if self.has_jump else 0.0)
        end = (last, jumped + slope * (last - self.onset))
        if self.onset <= first:
            return ((first, level), end)
        return ((first, level), (self.onset, level), (self.onset, jumped), end)


def straight_courses(
    t: Array, y: Array, onsets: Sequence[float], *, has_jump: bool
) -> list[Course | None]:
    """Level, then a straight line of the logarithm from each onset; None where it cannot be told.

    All are fitted at once: there are hundreds, each of two or three coefficients.
    """
    if not onsets:
        return []
    start = np.asarray(onsets, dtype=np.float64)[:, None]
    columns = [np.ones((len(onsets), len(t))), np.maximum(t - start, 0.0)]
    x = np.stack([*columns, *([(t > start).astype(np.float64)] if has_jump else [])], axis=-1)
    n, k = x.shape[1:]
    is_told = np.linalg.matrix_rank(x) == k if n - k >= 2 else np.zeros(len(onsets), dtype=bool)
    found: list[Course | None] = [None] * len(onsets)
    if not is_told.any():
        return found
    coefficients, scatter = _robust(x[is_told], y)
    for place, own, s in zip(np.flatnonzero(is_told).tolist(), coefficients, scatter, strict=True):
        n_chosen = k + (onsets[place] > t[0])  # an onset is one more thing that was chosen
        found[place] = Course(
            onset=float(onsets[place]),
            has_jump=has_jump,
            rate=None,
            coefficients=own,
            root=_root(x[place], float(s)),
            dof=float(n - k),
            criterion=_fit_term(y - x[place] @ own, float(s)) + n_chosen * float(np.log(n)),
        )
    return found


def floor_course(t: Array, y: Array, rate: float) -> Course | None:
    """Exponential of one rate over a floor; None where floor or damage is not above zero."""
    unit, n = float(np.exp(y.min())), len(t)
    x = np.column_stack([np.ones_like(t), np.exp(rate * (t - t[-1]))]) * unit
    value = np.exp(y)
    scatter: Array = np.asarray(LEAST_SCATTER)
    weights: Array = np.ones(n)
    fitted: Array = value
    coefficients: Array = np.zeros(2)
    residual: Array = np.zeros(n)
    for _ in range(ROBUST_STEPS):
        root = np.sqrt(weights) / fitted  # the scatter of a value is relative
        coefficients = _least_squares(x * root[:, None], value * root)
        if (coefficients <= 0).any():
            return None
        fitted = x @ coefficients
        residual = y - np.log(fitted)
        scatter, weights = _spread(residual, weights, n - 2)
    last = float(scatter)
    return Course(
        onset=float(t[-1]),
        has_jump=False,
        rate=float(rate),
        coefficients=coefficients * unit,
        root=_root(x / fitted[:, None], last) * unit,
        dof=float(n - 2),
        criterion=_fit_term(residual, last) + 3 * float(np.log(n)),
    )


def level_criterion(y: Array) -> float:
    """Information criterion of a history that does not change."""
    coefficients, scatter = _robust(np.ones((1, len(y), 1)), y)
    return _fit_term(y - coefficients[0, 0], float(scatter[0])) + float(np.log(len(y)))


def _robust(x: Array, y: Array) -> tuple[Array, Array]:
    """Coefficients and scatter of linear models under a t distribution, of a stack of them.

    ``x`` of shape (n_models, n, k); coefficients (n_models, k), scatter (n_models,).
    """
    m, n, k = x.shape
    scatter: Array = np.full(m, LEAST_SCATTER)
    weights: Array = np.ones((m, n))
    coefficients: Array = np.zeros((m, k))
    size = np.sqrt((x**2).mean(axis=1))  # of each column: equal ones are solved without loss
    scaled = x / size[:, None, :]
    for _ in range(ROBUST_STEPS):
        weighted = np.swapaxes(scaled * weights[:, :, None], 1, 2)
        solved = np.linalg.solve(weighted @ scaled, (weighted @ y)[:, :, None])[:, :, 0]
        coefficients = solved / size
        residual = y - (scaled @ solved[:, :, None])[:, :, 0]
        scatter, weights = _spread(residual, weights, n - k)
    return coefficients, scatter


def _least_squares(x: Array, y: Array) -> Array:
    return np.asarray(np.linalg.lstsq(x, y, rcond=None)[0], dtype=np.float64)


def _spread(residual: Array, weights: Array, dof: int) -> tuple[Array, Array]:
    """Scatter over the last axis, and the weights that follow from it."""
    scatter = np.sqrt((weights * residual**2).sum(axis=-1) / dof)
    scatter = np.asarray(np.maximum(scatter, LEAST_SCATTER))
    return scatter, (ROBUST_DOF + 1) / (ROBUST_DOF + (residual / scatter[..., None]) ** 2)


def _root(x: Array, scatter: float) -> Array:
    """Root of the covariance of coefficients.

    The information of a t distribution of scale s is (dof + 1) / (dof + 3) / s^2 (Lange, Little,
    Taylor, 1989, from memory).
    """
    variance = scatter**2 * (ROBUST_DOF + 3) / (ROBUST_DOF + 1)
    root: Array = np.linalg.cholesky(variance * np.linalg.inv(x.T @ x))
    return root


def _fit_term(residual: Array, scatter: float) -> float:
    """-2 log likelihood of a t distribution, without what is the same for all courses."""
    z = residual / scatter
    return float((2 * np.log(scatter) + (ROBUST_DOF + 1) * np.log1p(z**2 / ROBUST_DOF)).sum())
