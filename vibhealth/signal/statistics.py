"""Numbers of a waveform: rms, peaks, crest factor, kurtosis, skewness."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError

__all__ = [
    "block_median_rms",
    "crest_factor",
    "kurtosis",
    "peak",
    "peak_to_peak",
    "rms",
    "skewness",
]


def rms(samples: ArrayLike) -> Any:
    """Root of the mean square, the mean included.

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        Finite samples, at least 2.

    Returns
    -------
    float64 or ndarray, shape (...)
        In the unit of the samples.

    Raises
    ------
    InputError
        If samples are not finite or too few.

    Examples
    --------
    >>> float(rms([3.0, -3.0, 3.0, -3.0]))
    3.0
    """
    values = check_samples(samples)
    return np.sqrt(_mean_product(values, values))


def peak(samples: ArrayLike) -> Any:
    """Largest magnitude.

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        Finite samples, at least 2.

    Returns
    -------
    float64 or ndarray, shape (...)
        In the unit of the samples.

    Raises
    ------
    InputError
        If samples are not finite or too few.

    Examples
    --------
    >>> float(peak([1.0, -4.0, 2.0]))
    4.0
    """
    values = check_samples(samples)
    return np.maximum(values.max(axis=-1), -values.min(axis=-1))


def peak_to_peak(samples: ArrayLike) -> Any:
    """Distance from the lowest to the highest sample.

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        Finite samples, at least 2.

    Returns
    -------
    float64 or ndarray, shape (...)
        In the unit of the samples.

    Raises
    ------
    InputError
        If samples are not finite or too few.

    Examples
    --------
    >>> float(peak_to_peak([1.0, -4.0, 2.0]))
    6.0
    """
    values = check_samples(samples)
    return values.max(axis=-1) - values.min(axis=-1)


def crest_factor(samples: ArrayLike) -> Any:
    """Peak over rms, the mean included in both.

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        Finite samples, not all 0.

    Returns
    -------
    float64 or ndarray, shape (...)
        1 or more.

    Raises
    ------
    InputError
        If samples are not finite, too few, or all 0.

    Examples
    --------
    >>> float(crest_factor([1.0, -1.0, 1.0, -1.0]))
    1.0
    """
    effective = rms(samples)
    if not np.all(effective > 0):
        msg = "a crest factor needs samples that are not all 0"
        raise InputError(msg)
    return peak(samples) / effective


def kurtosis(samples: ArrayLike) -> Any:
    """Fourth central moment over the squared variance (Pearson: Gaussian noise reads 3).

    Population moments, no correction for the sample size; some books subtract 3
    ("excess"), this function does not.

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        Finite samples that vary.

    Returns
    -------
    float64 or ndarray, shape (...)
        1 or more.

    Raises
    ------
    InputError
        If samples are not finite, too few, or constant.

    Examples
    --------
    >>> float(kurtosis([1.0, -1.0, 1.0, -1.0]))
    1.0
    """
    squares = _standardized(samples) ** 2
    return _mean_product(squares, squares)


def skewness(samples: ArrayLike) -> Any:
    """Third central moment over the variance to the power 3/2 (population moments).

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        Finite samples that vary.

    Returns
    -------
    float64 or ndarray, shape (...)
        0 for a symmetric distribution.

    Raises
    ------
    InputError
        If samples are not finite, too few, or constant.

    Examples
    --------
    >>> float(skewness([0.0, 0.0, 0.0, 4.0]))
    1.1547
    """
    values = _standardized(samples)
    return _mean_product(values * values, values)


def block_median_rms(
    samples: ArrayLike, sampling_rate_hz: float, block_seconds: float = 0.05
) -> Any:
    """Median of the rms values of short blocks: single strikes do not move it.

    The incomplete block at the end is left out.

    Parameters
    ----------
    samples : array_like, shape (..., n_samples)
        Finite samples, at least one block.
    sampling_rate_hz : float
        Above 0.
    block_seconds : float
        Length of a block, at least two samples.

    Returns
    -------
    float64 or ndarray, shape (...)
        In the unit of the samples.

    Raises
    ------
    InputError
        If samples are not finite, a block holds fewer than two samples, or the
        record is shorter than one block.

    Examples
    --------
    >>> float(block_median_rms([1.0, 1.0, 1.0, 1.0, 9.0, 9.0], 100.0, 0.02))
    1.0
    """
    values = check_samples(samples)
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    length = round(check_positive(block_seconds, name="block_seconds") * rate)
    n_blocks = values.shape[-1] // length if length else 0
    if length < 2 or n_blocks < 1:
        msg = (
            f"a block of {block_seconds:g} s must hold at least 2 samples and fit into the record, "
            f"got {length} of {values.shape[-1]} samples"
        )
        raise InputError(msg)
    blocks = values[..., : n_blocks * length].reshape(*values.shape[:-1], n_blocks, length)
    return np.median(np.sqrt(_mean_product(blocks, blocks)), axis=-1)


def _mean_product(first: NDArray[Any], second: NDArray[Any]) -> Any:
    """Mean of the product over time without a product array."""
    return np.einsum("...i,...i->...", first, second) / first.shape[-1]


def _standardized(samples: ArrayLike) -> NDArray[np.float64]:
    """Samples less their mean, over their standard deviation."""
    values = check_samples(samples)
    centred = values - values.mean(axis=-1, keepdims=True)
    deviation = np.sqrt(_mean_product(centred, centred))
    if not np.all(deviation > 1e-12 * np.abs(values).max(axis=-1)):  # 1e-12: round-off of the mean
        msg = "skewness and kurtosis need samples that vary, got a constant"
        raise InputError(msg)
    return np.asarray(centred / deviation[..., None], dtype=np.float64)
