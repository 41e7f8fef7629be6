"""The shape of the working motion beyond 1x: one-sided, beating, wobbling, third orders."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_positive
from vibhealth.diagnosis.motion import shaft_phase_of
from vibhealth.errors import InputError
from vibhealth.model import MotionShape, Recording
from vibhealth.signal import (
    AngleRecord,
    fit_harmonics,
    power_spectral_density,
    resample_to_angle,
    subtract_harmonics,
)
from vibhealth.signal.shaft_phase import demodulate_orders

__all__ = ["one_sidedness", "shape_of"]

_SAMPLES_PER_TURN = 64
_HARMONICS = np.arange(1.0, 11.0)
_THIRD_ORDERS = np.array([1 / 3, 2 / 3])
_FEWEST_TURNS = 100.0  # thirds need whole windows, a beat needs time
# Amplitude over floor below which a third order reads 0: Rayleigh, exp(-9) = 1.2e-4.
_FLOOR_FACTOR = 3.0
_FLOOR_ORDERS = (0.02, 0.08)  # distance from a third order where its floor is read
_BEAT_WINDOW_TURNS = 8.0
_BEAT_QUANTILES = (0.05, 0.95)  # a single hit moves no more than a twentieth of the windows
_WOBBLE_ORDERS = (0.06, 0.42)  # below the working motion, half and third orders left out
_LOWEST_WOBBLE_HZ = 1.0  # below it sensors show their own drift (common practice, no source)
_CURVE_POINTS = 1440


def shape_of(
    recording: Recording,
    *,
    shaft_frequency_hz: float,
    shaft_phase_turns: ArrayLike | None = None,
) -> MotionShape:
    """One-sidedness, beat, wobble and third orders of the motion of one point.

    Everything is read over shaft angle, so a wandering speed costs nothing, and as
    displacement, in which a sinusoid of the same stroke counts alike at any order.

    Parameters
    ----------
    recording : Recording
        At least 100 turns at working speed.
    shaft_frequency_hz : float
        Mean shaft frequency, above 0.
    shaft_phase_turns : array_like, shape (n_samples,), optional
        Shaft angle of each sample; without it the angle comes from the recording.

    Returns
    -------
    MotionShape

    Raises
    ------
    InputError
        If a value is outside its range or the record is too short.
    """
    shaft_hz = check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    values, rate = recording.samples, recording.sampling_rate_hz
    turns = recording.duration_s * shaft_hz
    if turns < _FEWEST_TURNS:
        msg = (
            f"the shape of the motion needs {_FEWEST_TURNS:g} turns, {recording.path} holds "
            f"{turns:.0f}; record longer"
        )
        raise InputError(msg)
    if shaft_phase_turns is None:
        shaft_phase_turns = shaft_phase_of(values, rate, shaft_frequency_hz=shaft_hz)
    phase = np.asarray(shaft_phase_turns, dtype=np.float64)
    record = resample_to_angle(
        values - values.mean(), rate, shaft_phase_turns=phase, samples_per_turn=_SAMPLES_PER_TURN
    )
    fit = fit_harmonics(
        record.samples, float(_SAMPLES_PER_TURN), 1.0, np.concatenate([_THIRD_ORDERS, _HARMONICS])
    )
    complex_amplitude = fit.amplitude * np.exp(1j * fit.phase_rad)
    thirds, harmonics = fit.amplitude[:2], complex_amplitude[2:]
    first = abs(harmonics[0])
    if not first > 0:
        msg = f"{recording.path} shows no motion at 1x of {shaft_hz:.4g} Hz; check the sensor"
        raise InputError(msg)
    left = subtract_harmonics(record.samples, float(_SAMPLES_PER_TURN), fit)
    return MotionShape(
        one_sidedness=one_sidedness(harmonics),
        beat_percent=_beat_percent(values - values.mean(), phase, rate),
        wobble_ratio=_wobble(left, first, shaft_hz),
        third_order_ratio=float(_above_floor(record, left, thirds) / first),
    )


def one_sidedness(harmonics: ArrayLike) -> float:
    """How far a motion reaches farther to one side than to the other.

    ``(h + l) / (h - l)`` with the highest and lowest displacement about the mean over
    one turn, of harmonics 1 to n of an acceleration: displacement is ``-a / (2 pi k f)^2``,
    so the k-th harmonic counts by ``1 / k^2``. A pure sinusoid, and any motion with odd
    harmonics only, gives 0; one cut off at the top gives a negative number.

    Parameters
    ----------
    harmonics : array_like of complex, shape (n_harmonics,)
        Amplitude times ``exp(i phase)`` of a cosine at 1x, 2x, ... of the acceleration.

    Returns
    -------
    float
        -1 to 1.

    Examples
    --------
    A quarter of second harmonic in displacement, cut off at the top:

    >>> round(one_sidedness([1.0, 4 * 0.25]), 3)
    -0.25
    """
    lines = np.asarray(harmonics, dtype=np.complex128)
    number = np.arange(1, lines.size + 1)
    angle = 2 * np.pi * np.arange(_CURVE_POINTS) / _CURVE_POINTS
    waves = (lines / number**2)[:, None] * np.exp(1j * number[:, None] * angle)
    displacement = -np.sum(waves.real, axis=0)
    high, low = float(displacement.max()), float(displacement.min())
    return (high + low) / (high - low)


def _beat_percent(values: NDArray[np.float64], phase: NDArray[np.float64], rate: float) -> float:
    """Slow change of the stroke over the recording, 5 to 95 % of the windows, in percent."""
    centre, amplitude = demodulate_orders(
        values, phase_turns=phase, orders=[1.0], turns_per_window=_BEAT_WINDOW_TURNS
    )
    stroke = np.abs(amplitude[0])
    time_s = np.interp(centre, phase, np.arange(phase.size) / rate)
    shaft_hz = np.gradient(centre, time_s)
    stroke = stroke / shaft_hz**2
    low, high = np.quantile(stroke, _BEAT_QUANTILES)
    return 100.0 * float((high - low) / np.median(stroke))


def _wobble(left: NDArray[np.float64], first: float, shaft_hz: float) -> float:
    """Amplitude of slow displacement below the working motion over that at 1x."""
    psd = power_spectral_density(left, float(_SAMPLES_PER_TURN), segment_seconds=50.0)
    low = max(_WOBBLE_ORDERS[0], _LOWEST_WOBBLE_HZ / shaft_hz)
    thirds = np.min(np.abs(psd.frequency_hz[:, None] - _THIRD_ORDERS), axis=1)
    inside = (psd.frequency_hz >= low) & (psd.frequency_hz <= _WOBBLE_ORDERS[1]) & (thirds > 0.03)
    power = np.sum(psd.values[inside] / psd.frequency_hz[inside] ** 4) * psd.line_spacing_hz
    return float(np.sqrt(2.0 * power) / first)


def _above_floor(
    record: AngleRecord, left: NDArray[np.float64], thirds: NDArray[np.float64]
) -> float:
    """The larger third order less the floor around it, 0 where neither stands out of it."""
    psd = power_spectral_density(left, float(record.samples_per_turn))
    turns = left.size / record.samples_per_turn
    found = 0.0
    for order, amplitude in zip(_THIRD_ORDERS, thirds, strict=True):
        distance = np.abs(psd.frequency_hz - order)
        near = (distance >= max(_FLOOR_ORDERS[0], 2.0 / turns)) & (distance <= _FLOOR_ORDERS[1])
        floor_squared = 2.0 * float(np.median(psd.values[near])) / np.log(2.0) / turns
        if amplitude**2 > _FLOOR_FACTOR**2 * floor_squared:
            found = max(found, float(np.sqrt(amplitude**2 - floor_squared)))
    return found
