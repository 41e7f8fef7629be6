"""Levels of a recording, band by band: printed and compared, each with its band."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_positive, check_samples
from vibhealth.diagnosis.motion import shaft_phase_of
from vibhealth.errors import InputError
from vibhealth.model import Descriptor, Recording
from vibhealth.signal import (
    band_pass,
    block_median_rms,
    crest_factor,
    integrate_spectrum,
    kurtosis,
    peak,
    peak_to_peak,
    power_spectral_density,
    rms,
    subtract_tracked_harmonics,
)

__all__ = ["LevelResult", "level_descriptors"]

WORKING_MOTION_ORDERS = (0.5, 10.5)
REMOVED_ORDERS = np.arange(1, 21) / 2.0
_FEWEST_TURNS = 20.0
_END_PERIODS = 2.0  # of the lower edge of a band: there the filter's ends show
_RESIDUAL_END_TURNS = 10.0  # half a block: there the fit has one block only
_RESIDUAL_FEWEST_TURNS = 40.0
_BLOCK_SECONDS = 0.05
_FEWEST_BLOCKS = 10
_TOP_OF_NYQUIST = 0.98
_LEAST_BAND_LEFT = 0.5
_VELOCITY_BAND_HZ = (10.0, 1000.0)  # ISO 20816-1, from memory
_VELOCITY_SEGMENT_SECONDS = 4.0
_VELOCITY_LEAST_SECONDS = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelResult:
    """Descriptors that could be computed, and what could not: pairs of id and reason."""

    descriptors: tuple[Descriptor, ...] = ()
    not_judged: tuple[tuple[str, str], ...] = ()


def level_descriptors(
    recording: Recording,
    *,
    shaft_frequency_hz: float | None,
    bearing_band_hz: tuple[float, float] | None,
    shaft_phase_turns: ArrayLike | None = None,
) -> LevelResult:
    """rms, peak, peak to peak, crest factor and kurtosis of a recording and its parts.

    ``whole-*``: all of the recording less its mean. ``working-motion-*``: 0.5 to
    10.5 times the shaft frequency (-6 dB at both edges, four turns cut off at each
    end). ``residual-*``: the recording without the orders 0.5 to 10 in steps of
    0.5, fitted along the shaft angle in blocks of 20 turns, ten turns cut off at
    each end. ``bearing-band-*``:
    the bearing band (-6 dB at both edges, 50 ms or two periods of the lower edge
    cut off at each end), and
    ``bearing-band-block-median``, the median of the rms of 50 ms blocks, which
    single strikes do not move. ``velocity-rms``: 10 to 1000 Hz, to be printed;
    severity zones for ordinary machines do not hold for a body that shakes on
    purpose. Kurtosis is Pearson's (Gaussian noise reads 3); kurtosis and crest
    factor are printed and decide nothing.

    A bearing band that reaches beyond 0.98 of the Nyquist frequency or beyond
    the sensor's usable range is cut to what is there, and the descriptors state
    the cut band; with less than half of it left it is not judged.

    Parameters
    ----------
    recording : Recording
        In m/s^2, or in counts (then the units say so and velocity is left out).
    shaft_frequency_hz : float or None
        Mean shaft frequency above 0; None leaves out what needs it.
    bearing_band_hz : tuple of float or None
        Edges with ``0 < low < high``; None leaves the band out.
    shaft_phase_turns : array_like, shape (n_samples,), optional
        Shaft angle of each sample where it is known already.

    Returns
    -------
    LevelResult

    Raises
    ------
    InputError
        If the samples are not finite, or a frequency or the band is outside its
        range.
    """
    values = check_samples(recording.samples, name=f"samples of {recording.path}")
    if shaft_frequency_hz is not None:
        check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    if bearing_band_hz is not None and not 0 < bearing_band_hz[0] < bearing_band_hz[1] < np.inf:
        msg = f"bearing_band_hz must satisfy 0 < low < high, got {bearing_band_hz}"
        raise InputError(msg)
    centred = replace(recording, samples=values - values.mean())
    parts = (
        _five("whole", "whole recording", centred.samples, recording.unit, None),
        _working_motion(centred, shaft_frequency_hz),
        _residual(centred, shaft_frequency_hz, shaft_phase_turns),
        _bearing_band(centred, bearing_band_hz),
        _velocity(centred),
    )
    return LevelResult(
        descriptors=tuple(found for part in parts for found in part.descriptors),
        not_judged=tuple(reason for part in parts for reason in part.not_judged),
    )


def _not_judged(name: str, reason: str) -> LevelResult:
    return LevelResult(not_judged=((name, reason),))


def _five(
    prefix: str,
    words: str,
    samples: NDArray[np.float64],
    unit: str,
    band_hz: tuple[float, float] | None,
) -> LevelResult:
    """The five numbers of one waveform."""
    if not np.ptp(samples) > 0:
        return _not_judged(prefix, "all samples are equal; check sensor, cable and channel")
    numbers = (
        ("rms", "rms", rms, unit),
        ("peak", "peak", peak, unit),
        ("peak-to-peak", "peak to peak", peak_to_peak, unit),
        ("crest-factor", "crest factor", crest_factor, "1"),
        ("kurtosis", "kurtosis", kurtosis, "1"),
    )
    return LevelResult(
        descriptors=tuple(
            Descriptor(
                id=f"{prefix}-{name}",
                title=f"{title}, {words}",
                value=float(function(samples)),
                unit=of_unit,
                band_hz=band_hz,
            )
            for name, title, function, of_unit in numbers
        )
    )


def _working_motion(recording: Recording, shaft_hz: float | None) -> LevelResult:
    name, rate = "working-motion", recording.sampling_rate_hz
    if shaft_hz is None:
        return _not_judged(name, "the shaft frequency is not known")
    low, high = (order * shaft_hz for order in WORKING_MOTION_ORDERS)
    if high > rate / 2:
        return _not_judged(
            name,
            f"10.5 times {shaft_hz:.4g} Hz lies above the Nyquist frequency of {rate / 2:g} Hz",
        )
    if recording.duration_s * shaft_hz < _FEWEST_TURNS:
        return _not_judged(name, f"the recording holds fewer than {_FEWEST_TURNS:g} turns")
    cut = int(np.ceil(_END_PERIODS * rate / low))
    passed = band_pass(recording.samples, rate, band_hz=(low, high))[cut:-cut]
    return _five(name, "working motion (0.5x to 10.5x)", passed, recording.unit, (low, high))


def _residual(
    recording: Recording, shaft_hz: float | None, phase_turns: ArrayLike | None
) -> LevelResult:
    name = "residual"
    if shaft_hz is None:
        return _not_judged(name, "the shaft frequency is not known")
    if recording.duration_s * shaft_hz < _RESIDUAL_FEWEST_TURNS:
        return _not_judged(name, f"the recording holds fewer than {_RESIDUAL_FEWEST_TURNS:g} turns")
    try:
        if phase_turns is None:
            phase_turns = shaft_phase_of(
                recording.samples, recording.sampling_rate_hz, shaft_frequency_hz=shaft_hz
            )
        left = subtract_tracked_harmonics(
            recording.samples, shaft_phase_turns=phase_turns, orders=REMOVED_ORDERS
        )
    except InputError as error:
        return _not_judged(name, str(error))
    cut = int(np.ceil(_RESIDUAL_END_TURNS * recording.sampling_rate_hz / shaft_hz))
    left = left[cut:-cut]
    return _five(name, "without orders 0.5 to 10 in steps of 0.5", left, recording.unit, None)


def _bearing_band(recording: Recording, band_hz: tuple[float, float] | None) -> LevelResult:
    name, rate = "bearing-band", recording.sampling_rate_hz
    if band_hz is None:
        return _not_judged(name, "no bearing band is stated")
    low, high = _available(recording, band_hz)
    if high - low < _LEAST_BAND_LEFT * (band_hz[1] - band_hz[0]):
        return _not_judged(
            name,
            f"less than half of {band_hz[0]:g} to {band_hz[1]:g} Hz can be read at a sampling rate "
            f"of {rate:g} Hz with this sensor; record faster or state another band",
        )
    end_seconds = max(_BLOCK_SECONDS, _END_PERIODS / low)
    if recording.duration_s < _FEWEST_BLOCKS * end_seconds:
        return _not_judged(
            name, f"the recording is shorter than {_FEWEST_BLOCKS * end_seconds:g} s"
        )
    cut = int(np.ceil(end_seconds * rate))
    passed = band_pass(recording.samples, rate, band_hz=(low, high))[cut:-cut]
    words = "bearing band" if (low, high) == band_hz else "bearing band, cut to what can be read"
    result = _five(name, words, passed, recording.unit, (low, high))
    if result.not_judged:
        return result
    median = Descriptor(
        id="bearing-band-block-median",
        title=f"median rms of 50 ms blocks, {words}",
        value=float(block_median_rms(passed, rate, _BLOCK_SECONDS)),
        unit=recording.unit,
        band_hz=(low, high),
    )
    return LevelResult(descriptors=(*result.descriptors, median))


def _available(recording: Recording, band_hz: tuple[float, float]) -> tuple[float, float]:
    """The part of a band that rate and sensor can show."""
    usable = recording.sensor_usable_hz or (0.0, np.inf)
    top = min(_TOP_OF_NYQUIST * recording.sampling_rate_hz / 2, usable[1])
    return max(band_hz[0], usable[0]), min(band_hz[1], top)


def _velocity(recording: Recording) -> LevelResult:
    name, rate = "velocity-rms", recording.sampling_rate_hz
    low, high = _VELOCITY_BAND_HZ
    if not recording.is_calibrated:
        return _not_judged(name, "the recording has no calibration")
    if high > _TOP_OF_NYQUIST * rate / 2:
        return _not_judged(name, f"a sampling rate of {rate:g} Hz does not reach {high:g} Hz")
    if recording.duration_s < _VELOCITY_LEAST_SECONDS:
        return _not_judged(name, "the recording is shorter than 1 s")
    seconds = min(_VELOCITY_SEGMENT_SECONDS, recording.duration_s)
    psd = power_spectral_density(recording.samples, rate, segment_seconds=seconds)
    lines = integrate_spectrum(np.sqrt(psd.values), psd.frequency_hz, 1, low)
    inside = (psd.frequency_hz >= low) & (psd.frequency_hz <= high)
    velocity_mm_s = 1e3 * float(np.sqrt(np.sum(lines[inside] ** 2) * psd.line_spacing_hz))
    found = Descriptor(
        id=name,
        title="rms velocity, 10 to 1000 Hz",
        value=velocity_mm_s,
        unit="mm/s",
        band_hz=_VELOCITY_BAND_HZ,
    )
    return LevelResult(descriptors=(found,))
