"""Windows for spectra: their samples, gains and losses."""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray
from scipy.signal import get_window

from vibhealth.errors import InputError

__all__ = [
    "WindowGains",
    "WindowName",
    "overlap_correlation",
    "window_gains",
    "window_samples",
]

WindowName = Literal["rectangular", "hann", "hamming", "blackman", "blackman-harris", "flat-top"]

_SCIPY_NAMES = {
    "rectangular": "boxcar",
    "hann": "hann",
    "hamming": "hamming",
    "blackman": "blackman",
    "blackman-harris": "blackmanharris",
    "flat-top": "flattop",
}
_MINIMUM_SAMPLES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowGains:
    """Figures of merit of a window (definitions: Harris, Proc. IEEE 66 (1978) 51-83).

    ``coherent_gain`` is the mean of the window, ``noise_bandwidth_lines`` the
    equivalent noise bandwidth in spectral lines, ``scallop_loss_db`` the loss of
    a sinusoid half-way between two lines and ``worst_case_loss_db`` that loss
    plus the loss of signal to noise from the noise bandwidth.
    """

    coherent_gain: float
    noise_bandwidth_lines: float
    scallop_loss_db: float
    worst_case_loss_db: float


def window_samples(name: WindowName, n_samples: int) -> NDArray[np.float64]:
    """Samples of a periodic (DFT-even) window.

    Parameters
    ----------
    name : str
        One of "rectangular", "hann", "hamming", "blackman", "blackman-harris"
        (four terms) and "flat-top" (five terms).
    n_samples : int
        At least 4.

    Returns
    -------
    ndarray of float64, shape (n_samples,)
        Window with its largest value 1.

    Raises
    ------
    InputError
        If the name is not known or the window would be too short.

    Examples
    --------
    >>> [round(float(value), 3) for value in window_samples("hann", 4)]
    [0.0, 0.5, 1.0, 0.5]
    """
    if name not in _SCIPY_NAMES:
        msg = f"window must be one of {', '.join(get_args(WindowName))}, got {name!r}"
        raise InputError(msg)
    if n_samples < _MINIMUM_SAMPLES:
        msg = f"a window needs at least {_MINIMUM_SAMPLES} samples, got {n_samples}"
        raise InputError(msg)
    values: NDArray[np.float64] = get_window(_SCIPY_NAMES[name], n_samples, fftbins=True)
    return values


def window_gains(name: WindowName, n_samples: int) -> WindowGains:
    r"""Coherent gain, noise bandwidth and losses of a window.

    With window samples :math:`w_n`, :math:`n = 0 \dots N - 1`,

    .. math::

        G = \frac{1}{N} \sum w_n, \quad
        B = N \frac{\sum w_n^2}{(\sum w_n)^2}, \quad
        L = -20 \lg \frac{|\sum w_n e^{-i \pi n / N}|}{\sum w_n}

    are the coherent gain, the noise bandwidth in lines and the scallop loss in
    dB; the worst-case loss is :math:`L + 10 \lg B` (Harris, Proc. IEEE 66 (1978)
    51-83, equations from memory).

    Parameters
    ----------
    name : str
        Name of the window, see `window_samples`.
    n_samples : int
        At least 4.

    Returns
    -------
    WindowGains

    Raises
    ------
    InputError
        If the name is not known or the window would be too short.

    Examples
    --------
    >>> gains = window_gains("hann", 4096)
    >>> gains.coherent_gain, gains.noise_bandwidth_lines
    (0.5, 1.5)
    >>> gains.scallop_loss_db
    1.4236
    """
    window = window_samples(name, n_samples)
    total = float(window.sum())
    noise_bandwidth = n_samples * float(window @ window) / total**2
    half_line = np.exp(-1j * np.pi * np.arange(n_samples) / n_samples)
    scallop_db = -20.0 * float(np.log10(abs(half_line @ window) / total))
    return WindowGains(
        coherent_gain=total / n_samples,
        noise_bandwidth_lines=noise_bandwidth,
        scallop_loss_db=scallop_db,
        worst_case_loss_db=scallop_db + 10.0 * float(np.log10(noise_bandwidth)),
    )


def overlap_correlation(window: NDArray[np.float64], shift: int) -> float:
    """Correlation of the spectra of two segments of white noise that overlap.

    ``sum(w[n] w[n + shift]) / sum(w^2)`` (Harris 1978, from memory).

    Parameters
    ----------
    window : ndarray, shape (n_samples,)
        Samples of the window, see `window_samples`.
    shift : int
        Distance of the two segments in samples, 0 or more.

    Returns
    -------
    float
        1 for no shift, 0 from ``n_samples`` on.

    Raises
    ------
    InputError
        If the shift is negative.

    Examples
    --------
    A rectangle that overlaps by a quarter:

    >>> overlap_correlation(window_samples("rectangular", 8), 6)
    0.25
    """
    if shift < 0:
        msg = f"shift must be 0 or more, got {shift}"
        raise InputError(msg)
    if shift >= window.size:
        return 0.0
    return float(window[: window.size - shift] @ window[shift:] / (window @ window))
