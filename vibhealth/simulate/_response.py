"""Decaying sines: what a structure answers to a strike, placed between the samples."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from vibhealth.simulate._strikes import StrikeTrain
from vibhealth.simulate.settings import Resonance

__all__ = ["add_strikes", "lower_resonances", "response_peak"]


def lower_resonances(resonances: Sequence[Resonance], factor: float) -> tuple[Resonance, ...]:
    """Return the same structure struck elsewhere: every resonance lower by a factor."""
    return tuple(replace(item, frequency_hz=factor * item.frequency_hz) for item in resonances)


def add_strikes(
    samples: NDArray[np.float64],
    sampling_rate_hz: float,
    train: StrikeTrain,
    resonances: Sequence[Resonance],
    impact_m_s2: float,
) -> None:
    r"""Add the responses to a strike train to ``samples``, in place.

    Each strike at :math:`t_k` of strength :math:`s_k` adds

    .. math:: s_k\,a\,\sum_r g_r e^{-\zeta_r \omega_r (t - t_k)} \sin \omega_{d,r} (t - t_k),

    with ``a`` such that a lone strike of strength 1 peaks at ``impact_m_s2``. A
    strike excites a complex pole with the value the response has at the first
    sample after it; the recursion then continues the analytic response, so
    that strikes are not rounded to samples and no tail is cut.
    """
    n_samples = samples.shape[-1]
    exact = train.times_s * sampling_rate_hz
    first = np.ceil(exact).astype(np.int64)
    is_inside = (first >= 0) & (first < n_samples)
    first = first[is_inside]
    delay_s = (first - exact[is_inside]) / sampling_rate_hz
    scale = impact_m_s2 / response_peak(resonances)
    for resonance in resonances:
        pole = _pole(resonance)
        start = resonance.gain * scale * np.exp(pole * delay_s)
        recursion = np.array([1.0, -np.exp(pole / sampling_rate_hz)])
        for index, strengths in enumerate(train.strengths[:, is_inside]):
            weights = strengths * start
            pulses = np.bincount(first, weights.real, n_samples) + 1j * np.bincount(
                first, weights.imag, n_samples
            )
            samples[index] += lfilter([1.0], recursion, pulses).imag


def response_peak(resonances: Sequence[Resonance]) -> float:
    """Largest magnitude of the summed decaying sines of gain ``g_r`` (a dense scan)."""
    poles = [_pole(item) for item in resonances]
    lowest_hz = min(item.frequency_hz for item in resonances)
    highest_hz = max(item.frequency_hz for item in resonances)
    # The peak lies within the first two periods of the slowest sine; 200 points
    # per period of the fastest locate it to 1 - cos(pi / 200) = 0.012 %.
    n_points = int(np.ceil(400 * highest_hz / lowest_hz)) + 1
    time_s = np.linspace(0.0, 2.0 / lowest_hz, n_points)
    response = sum(
        item.gain * np.exp(pole * time_s).imag for item, pole in zip(resonances, poles, strict=True)
    )
    return float(np.max(np.abs(response)))


def _pole(resonance: Resonance) -> complex:
    omega = 2 * np.pi * resonance.frequency_hz
    damping = resonance.damping_ratio
    return complex(-damping * omega, omega * np.sqrt(1 - damping**2))
