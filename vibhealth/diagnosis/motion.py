"""The working motion: 1x by sine fit on the shaft's own angle, harmonics, half orders, orbit."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError, RecordingError
from vibhealth.model import Motion, Orbit, OrderLine, Recording
from vibhealth.signal import (
    AngleRecord,
    HarmonicFit,
    fit_harmonics,
    fit_sine,
    phase_from_demodulation,
    power_spectral_density,
    refine_sine,
    resample_to_angle,
    subtract_harmonics,
)
from vibhealth.units import peak_to_peak_mm_from_peak_m_s2

__all__ = ["first_order_mm", "motion_of", "orbit_of", "shaft_phase_of"]

_HARMONICS = np.arange(1.0, 11.0)
_HALF_ORDERS = np.array([0.5, 1.5, 2.5])
_SAMPLES_PER_TURN = 64  # keeps orders up to 25
_FEWEST_TURNS = 20.0
_HIGHEST_ORDER = 10.5
_USABLE_FRACTION_OF_RATE = 0.4  # resampling is flat up to there
# A 1x that falls below half of its median is not followed: in noise of one fifth of its amplitude
# it would, and then its phase would carry that noise to all harmonics.
_STEADY_AMPLITUDE = 0.5
_REFINE_FRACTION = 0.02  # search range of the frequency where the phase cannot be followed
# Amplitude over floor below which a half order reads 0: Rayleigh, exp(-9) = 1.2e-4 for noise alone.
_FLOOR_FACTOR = 3.0
_FLOOR_ORDERS = (0.05, 0.25)  # distance from the half order where its floor is read
# Narrower ellipses tell no sense of rotation: accelerometers pick up some per cent of the motion
# across their axis (common practice, no source).
_LINE_AXIS_RATIO = 0.05
_CURVE_POINTS = 181


def shaft_phase_of(
    samples: ArrayLike, sampling_rate_hz: float, *, shaft_frequency_hz: float
) -> NDArray[np.float64]:
    """Shaft angle of each sample of a record at working speed.

    From the phase of the 1x motion where it stands out (it follows a wandering
    speed). Where it does not (an ordinary machine, running smoothly) the speed
    counts as constant: the refined frequency of the line within 2 % of the given
    one, or the given one where no line settles.

    Parameters
    ----------
    samples : array_like, shape (n_samples,)
        One channel, at least 20 turns.
    sampling_rate_hz : float
        At least 26.25 times the shaft frequency, so that 10.5x can be read.
    shaft_frequency_hz : float
        Mean shaft frequency, above 0.

    Returns
    -------
    ndarray of float64, shape (n_samples,)
        Angle in turns, strictly rising.

    Raises
    ------
    InputError
        If a value is outside its range or the record is too short.

    Examples
    --------
    >>> t = np.arange(4000) / 1000.0
    >>> turns = shaft_phase_of(np.cos(2 * np.pi * 16.3 * t), 1000.0, shaft_frequency_hz=16.25)
    >>> round(float(turns[-1] - turns[0]), 3)
    65.184
    """
    values = check_samples(samples)
    rate = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    shaft_hz = check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    turns = values.shape[-1] / rate * shaft_hz
    if turns < _FEWEST_TURNS:
        msg = (
            f"the working motion needs {_FEWEST_TURNS:g} turns, a record of "
            f"{values.shape[-1] / rate:.3g} s at {shaft_hz:.4g} Hz holds {turns:.1f}; record longer"
        )
        raise InputError(msg)
    if _HIGHEST_ORDER * shaft_hz > _USABLE_FRACTION_OF_RATE * rate:
        msg = (
            f"a sampling rate of {rate:g} Hz is too low to read {_HIGHEST_ORDER:g} times "
            f"{shaft_hz:.4g} Hz; record at {_HIGHEST_ORDER * shaft_hz / 0.4:.0f} Hz or more"
        )
        raise InputError(msg)
    try:
        return phase_from_demodulation(
            values,
            rate,
            shaft_hz,
            bandwidth_hz=0.5 * shaft_hz,
            minimum_relative_amplitude=_STEADY_AMPLITUDE,
        )
    except RecordingError:
        return np.asarray(np.arange(values.size) * (_constant_hz(values, rate, shaft_hz) / rate))


def motion_of(
    recording: Recording,
    *,
    shaft_frequency_hz: float,
    shaft_phase_turns: ArrayLike | None = None,
) -> Motion:
    """Amplitude, phase and stroke of 1x, harmonics 2 to 10, half orders 0.5, 1.5 and 2.5.

    The record is resampled to equal shaft angles, so a wandering speed costs no
    amplitude; all orders are fitted at once by least squares. The stroke is
    ``2 a / omega^2`` of 1x, peak to peak, at the mean speed. The half orders are
    freed of the floor around them (``a^2`` less the mean square of noise in one
    such fit), and read 0 where they do not reach three times that floor;
    harmonics are given as fitted. ``harmonic_ratio`` is the root of the summed
    squares of 2x to 10x over 1x, ``half_order_ratio`` the largest half order
    over 1x.

    Parameters
    ----------
    recording : Recording
        At least 20 turns at working speed.
    shaft_frequency_hz : float
        Mean shaft frequency, above 0.
    shaft_phase_turns : array_like, shape (n_samples,), optional
        Shaft angle of each sample from a tachometer; without it the angle comes
        from the recording, see `shaft_phase_of`.

    Returns
    -------
    Motion
        ``phase_1x_rad`` belongs to a cosine, at shaft angle 0 of the given phase,
        else at the first sample. ``stroke_mm`` is None without calibration.

    Raises
    ------
    InputError
        If a value is outside its range or the record is too short.
    RecordingError
        If there is no motion at 1x at all.
    """
    values, rate = recording.samples, recording.sampling_rate_hz
    follows_itself = shaft_phase_turns is None
    if shaft_phase_turns is None:
        shaft_phase_turns = shaft_phase_of(values, rate, shaft_frequency_hz=shaft_frequency_hz)
    phase = np.asarray(shaft_phase_turns, dtype=np.float64)
    record = _angle_record(values, rate, phase)
    orders = np.concatenate([_HARMONICS, _HALF_ORDERS])
    fit = fit_harmonics(record.samples, float(_SAMPLES_PER_TURN), 1.0, orders)
    first = float(fit.amplitude[0])
    if not first > 0:
        msg = f"{recording.path} shows no motion at 1x of {shaft_frequency_hz:.4g} Hz; check sensor"
        raise RecordingError(msg)
    half = _above_floor(record, fit, fit.amplitude[_HARMONICS.size :])
    harmonics = fit.amplitude[1 : _HARMONICS.size]
    start = phase[0] if follows_itself else 0.0
    shift_rad = 2.0 * np.pi * (start - record.start_turns)
    return Motion(
        amplitude_1x=first,
        phase_1x_rad=float(np.angle(np.exp(1j * (fit.phase_rad[0] + shift_rad)))),
        unit=recording.unit,
        stroke_mm=(
            peak_to_peak_mm_from_peak_m_s2(first, _mean_hz(phase, rate))
            if recording.is_calibrated
            else None
        ),
        harmonics=_lines(_HARMONICS[1:], harmonics, first),
        half_orders=_lines(_HALF_ORDERS, half, first),
        harmonic_ratio=float(np.sqrt(harmonics @ harmonics)) / first,
        half_order_ratio=float(half.max()) / first,
    )


def first_order_mm(
    channels: Sequence[Recording], shaft_frequency_hz: float
) -> NDArray[np.complex128]:
    """Displacement at 1x of channels recorded together, by the phase of the strongest.

    Parameters
    ----------
    channels : sequence of Recording
        Two or more channels of one file, all in m/s^2.
    shaft_frequency_hz : float
        Mean shaft frequency, above 0.

    Returns
    -------
    ndarray of complex128, shape (n_channels,)
        Amplitude in mm (half of peak to peak) and phase; the displacement of a sine is its
        acceleration over ``-(2 pi f)^2`` (closed form).

    Raises
    ------
    InputError
        If the channels are not of one recording or not calibrated, the frequency is not
        above 0, or the record is too short.
    """
    for channel in channels[1:]:
        _check_pair(channels[0], channel)
    rate = channels[0].sampling_rate_hz
    strongest = _strongest(channels, shaft_frequency_hz)
    phase = shaft_phase_of(strongest, rate, shaft_frequency_hz=shaft_frequency_hz)
    omega = 2.0 * np.pi * _mean_hz(phase, rate)
    first = [_first_order(channel.samples, rate, phase) for channel in channels]
    return np.array(first, dtype=np.complex128) * (-1e3 / omega**2)


def orbit_of(x: Recording, y: Recording, shaft_frequency_hz: float) -> Orbit:
    """Ellipse of the 1x displacement in the plane of two channels recorded together.

    With the complex 1x amplitudes ``c_x`` and ``c_y`` the motion is the sum of a
    forward and a backward turning vector, ``(c_x + i c_y)/2`` and
    ``conj(c_x - i c_y)/2``; the axes are sum and difference of their lengths,
    the tilt is the mean of their angles (rotor dynamics textbooks, from memory).

    Parameters
    ----------
    x, y : Recording
        Two channels of one file along two axes at right angles, both in m/s^2.
    shaft_frequency_hz : float
        Mean shaft frequency, above 0.

    Returns
    -------
    Orbit
        ``major_mm`` and ``minor_mm`` are whole axes, peak to peak; ``tilt_deg`` is
        the major axis from +x towards +y, -90 to 90. Counter-clockwise turns from
        +x to +y; a minor axis below 5 % of the major one is a "line". The curve
        has 181 points, closed, as displacement from the centre.

    Raises
    ------
    InputError
        If the channels are not of one recording or not calibrated, a value is
        outside its range, or the record is too short.
    RecordingError
        If there is no motion at 1x at all.
    """
    moved = first_order_mm((x, y), shaft_frequency_hz)
    x_mm, y_mm = moved[0], moved[1]
    forward, backward = 0.5 * (x_mm + 1j * y_mm), 0.5 * np.conj(x_mm - 1j * y_mm)
    major, minor = abs(forward) + abs(backward), abs(abs(forward) - abs(backward))
    if not major > 0:
        msg = f"{x.path} shows no motion at 1x of {shaft_frequency_hz:.4g} Hz; check the sensors"
        raise RecordingError(msg)
    tilt = 0.5 * float(np.angle(forward * backward, deg=True))
    turn = np.exp(2j * np.pi * np.arange(_CURVE_POINTS) / (_CURVE_POINTS - 1))
    return Orbit(
        stage=str(x.stage),
        points=(_point_name(x), _point_name(y)),
        path=x.path,
        major_mm=2.0 * float(major),
        minor_mm=2.0 * float(minor),
        tilt_deg=tilt,
        direction=_direction(abs(forward), abs(backward)),
        curve_x_mm=np.real(x_mm * turn),
        curve_y_mm=np.real(y_mm * turn),
    )


def _constant_hz(values: NDArray[np.float64], rate: float, shaft_hz: float) -> float:
    half_width = max(_REFINE_FRACTION * shaft_hz, 1.5 * rate / values.size)
    try:
        found = refine_sine(values, rate, near_hz=shaft_hz, half_width_hz=half_width)
    except InputError:
        return shaft_hz
    return found.frequency_hz


def _mean_hz(phase: NDArray[np.float64], rate: float) -> float:
    return float((phase[-1] - phase[0]) * rate / (phase.size - 1))


def _angle_record(
    values: NDArray[np.float64], rate: float, phase: NDArray[np.float64]
) -> AngleRecord:
    return resample_to_angle(
        values, rate, shaft_phase_turns=phase, samples_per_turn=_SAMPLES_PER_TURN
    )


def _above_floor(
    record: AngleRecord, fit: HarmonicFit, half_orders: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Half orders less the floor around them, 0 where they do not stand out of it."""
    per_turn = float(record.samples_per_turn)
    left = subtract_harmonics(record.samples, per_turn, fit)
    psd = power_spectral_density(left, per_turn)  # one segment: exponential about its mean
    turns = left.size / per_turn
    freed = np.zeros(half_orders.size)
    for k, (order, amplitude) in enumerate(zip(_HALF_ORDERS, half_orders, strict=True)):
        distance = np.abs(psd.frequency_hz - order)
        near = (distance >= max(_FLOOR_ORDERS[0], 2.0 / turns)) & (distance <= _FLOOR_ORDERS[1])
        density = float(np.median(psd.values[near])) / np.log(2.0)
        floor_squared = 2.0 * density / turns  # mean squared amplitude of noise in such a fit
        if amplitude**2 > _FLOOR_FACTOR**2 * floor_squared:
            freed[k] = np.sqrt(amplitude**2 - floor_squared)
    return freed


def _lines(
    orders: NDArray[np.float64], amplitudes: NDArray[np.float64], first: float
) -> tuple[OrderLine, ...]:
    return tuple(
        OrderLine(
            order=float(order),
            amplitude_m_s2=float(amplitude),
            relative_to_first=float(amplitude) / first,
        )
        for order, amplitude in zip(orders, amplitudes, strict=True)
    )


def _check_pair(x: Recording, y: Recording) -> None:
    if x.path != y.path or x.samples.shape != y.samples.shape:
        msg = (
            f"an orbit needs two channels recorded together, got {x.path} "
            f"({x.samples.size} samples) and {y.path} ({y.samples.size} samples)"
        )
        raise InputError(msg)
    if x.sampling_rate_hz != y.sampling_rate_hz:
        msg = (
            f"the channels of {x.path} differ in sampling rate: {x.sampling_rate_hz:g} and "
            f"{y.sampling_rate_hz:g} Hz"
        )
        raise InputError(msg)
    if not (x.is_calibrated and y.is_calibrated):
        msg = f"an orbit in mm needs calibrated channels, {x.path} is in counts; state sensitivity"
        raise InputError(msg)


def _strongest(channels: Sequence[Recording], shaft_frequency_hz: float) -> NDArray[np.float64]:
    """Samples of the first channel with the most 1x over the first turns."""
    rate = channels[0].sampling_rate_hz
    count = int(
        _FEWEST_TURNS * rate / check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    )
    amplitude = [
        fit_sine(channel.samples[:count], rate, frequency_hz=shaft_frequency_hz).amplitude
        for channel in channels
    ]
    return channels[int(np.argmax(amplitude))].samples


def _first_order(values: NDArray[np.float64], rate: float, phase: NDArray[np.float64]) -> complex:
    record = _angle_record(values, rate, phase)
    fit = fit_harmonics(record.samples, float(_SAMPLES_PER_TURN), 1.0, _HARMONICS)
    return complex(fit.amplitude[0] * np.exp(1j * fit.phase_rad[0]))


def _direction(
    forward: float, backward: float
) -> Literal["clockwise", "counter-clockwise", "line"]:
    if abs(forward - backward) < _LINE_AXIS_RATIO * (forward + backward):
        return "line"
    return "counter-clockwise" if forward > backward else "clockwise"


def _point_name(recording: Recording) -> str:
    return recording.point or f"channel {recording.channel}"
