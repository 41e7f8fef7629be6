"""Take harmonics of a turning shaft out of a record whose speed and amplitudes drift."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_samples
from vibhealth.errors import InputError

__all__ = ["subtract_tracked_harmonics"]


def subtract_tracked_harmonics(
    samples: ArrayLike,
    *,
    shaft_phase_turns: ArrayLike,
    orders: ArrayLike,
    turns_per_block: float = 20.0,
) -> NDArray[np.float64]:
    """What is left of a record after its shaft-locked orders and its mean.

    In blocks of ``turns_per_block`` turns that overlap by half, sinusoids at the
    given multiples of the shaft angle and a constant are fitted by least squares;
    the fits are faded into each other with triangular weights and subtracted.
    So speed may wander (the angle carries it) and amplitudes may drift slowly.
    Apart from the orders each block also takes out their surroundings of about
    one over ``turns_per_block`` orders.

    Parameters
    ----------
    samples : array_like, shape (n_samples,)
        One channel.
    shaft_phase_turns : array_like, shape (n_samples,)
        Shaft angle of each sample in turns, strictly rising.
    orders : array_like, shape (n_orders,)
        Distinct orders above 0, at least ``2 / turns_per_block`` apart from each
        other and from 0; the highest must stay below half of the samples per
        turn at the highest speed.
    turns_per_block : float
        2 or more; the record must hold at least one block.

    Returns
    -------
    ndarray of float64, shape (n_samples,)

    Raises
    ------
    InputError
        If a value is outside its range, or the phase does not rise everywhere.

    Examples
    --------
    >>> turns = 16.0 * np.arange(4000) / 1000.0
    >>> x = 3.0 * np.cos(2 * np.pi * turns) + 0.5 * np.cos(4 * np.pi * turns)
    >>> left = subtract_tracked_harmonics(x, shaft_phase_turns=turns, orders=[1, 2])
    >>> float(np.abs(left).max())
    0.0
    """
    values, phase, order = _check_tracked(samples, shaft_phase_turns, orders, turns_per_block)
    model = np.zeros(values.size)
    total = np.zeros(values.size)
    for block in _blocks(phase, turns_per_block):
        columns = _columns(phase[block], order)
        solution = np.linalg.solve(columns @ columns.T, columns @ values[block])
        centre, reach = 0.5 * (block.start + block.stop - 1), 0.5 * (block.stop - block.start)
        weight = 1.0 - np.abs(np.arange(block.start, block.stop) - centre) / reach
        model[block] += weight * (solution @ columns)
        total[block] += weight
    return values - model / total


def _check_tracked(
    samples: ArrayLike, shaft_phase_turns: ArrayLike, orders: ArrayLike, turns_per_block: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    values = check_samples(samples, minimum=8)
    phase = check_samples(shaft_phase_turns, name="shaft_phase_turns", minimum=8)
    if values.ndim != 1 or values.shape != phase.shape:
        msg = f"samples and phase must be of one length, got {values.shape} and {phase.shape}"
        raise InputError(msg)
    slope = np.diff(phase)
    if not slope.min() > 0:
        msg = (
            "shaft_phase_turns must rise from sample to sample, but does not after sample "
            f"{int(np.argmin(slope))}; cut the record to where the shaft turns"
        )
        raise InputError(msg)
    if not 2.0 <= turns_per_block <= phase[-1] - phase[0]:
        msg = (
            f"turns_per_block must be 2 or more and fit into the record of "
            f"{phase[-1] - phase[0]:.4g} turns, got {turns_per_block:g}"
        )
        raise InputError(msg)
    order = np.sort(np.atleast_1d(np.asarray(orders, dtype=np.float64)))
    gaps = np.diff(order, prepend=0.0)
    if order.size == 0 or gaps.min() < 2.0 / turns_per_block or order[-1] * slope.max() >= 0.5:
        msg = (
            f"orders must stand at least {2.0 / turns_per_block:g} apart, above 0 and below "
            f"{0.5 / slope.max():.4g} (half of the samples per turn), got {order.tolist()}"
        )
        raise InputError(msg)
    return values, phase, order


def _blocks(phase: NDArray[np.float64], turns_per_block: float) -> Iterator[slice]:
    """Slices of at least ``turns_per_block`` turns, each half over the one before."""
    n_halves = 2 * int((phase[-1] - phase[0]) / turns_per_block)
    edges = np.searchsorted(phase, np.linspace(phase[0], phase[-1], n_halves + 1))
    edges[-1] = phase.size
    for first, last in zip(edges[:-2], edges[2:], strict=True):
        yield slice(int(first), int(last))


def _columns(phase: NDArray[np.float64], order: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rows 1, cos and sin of each order: powers of the lowest order where they serve."""
    multiple = np.rint(order / order[0]).astype(int)
    if np.allclose(multiple * order[0], order, rtol=1e-12, atol=0.0):
        wave = np.exp(2j * np.pi * order[0] * (phase - phase[0]))
        powers = np.broadcast_to(wave, (multiple[-1], phase.size)).cumprod(axis=0)[multiple - 1]
    else:
        powers = np.exp(2j * np.pi * order[:, None] * (phase - phase[0]))
    return np.concatenate([np.ones((1, phase.size)), powers.real, powers.imag])
