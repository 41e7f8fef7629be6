"""Curves for figures and tables: spectra, envelope spectra, a stretch of waveform."""

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.envelope_bank import EnvelopeOrders, envelope_orders
from vibhealth.diagnosis.families import FamilyReport
from vibhealth.model import BandChoice, EnvelopeCurve, Recording, SpectrumCurve
from vibhealth.signal import (
    Spectrum,
    amplitude_spectrum,
    integrate_spectrum,
    power_spectral_density,
    to_orders,
)

__all__ = ["envelope_curves", "spectrum_curves", "waveform_excerpt"]

# Spectra are averaged over segments of this many turns (line spacing 1/64 order), or of this
# many seconds where no speed is known.
SEGMENT_TURNS = 64
SEGMENT_SECONDS = 4.0

# Velocity and displacement are integrated above this order, or this frequency without a speed.
LOWER_CUT_ORDER = 0.4
LOWER_CUT_HZ = 2.0

EXCERPT_TURNS = 10
EXCERPT_SECONDS = 0.5
LARGEST_EXCERPT = 8192


def waveform_excerpt(
    recording: Recording, shaft_frequency_hz: float | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Ten turns (or half a second) from the middle of the recording, as recorded.

    At most 8192 samples, so that a picture stays a picture of single samples.
    """
    seconds = EXCERPT_SECONDS if shaft_frequency_hz is None else EXCERPT_TURNS / shaft_frequency_hz
    wanted = int(seconds * recording.sampling_rate_hz)
    length = max(2, min(recording.samples.size, LARGEST_EXCERPT, wanted))
    start = (recording.samples.size - length) // 2
    time_s = np.arange(start, start + length) / recording.sampling_rate_hz
    return time_s, recording.samples[start : start + length]


def spectrum_curves(
    recording: Recording, shaft_frequency_hz: float | None
) -> tuple[SpectrumCurve, ...]:
    """Averaged spectra of acceleration, velocity, displacement, and the PSD.

    Velocity and displacement only where the recording is in m/s^2.
    """
    seconds = SEGMENT_SECONDS if shaft_frequency_hz is None else SEGMENT_TURNS / shaft_frequency_hz
    seconds = min(seconds, recording.duration_s)
    samples = recording.samples - recording.samples.mean()
    spectrum = amplitude_spectrum(samples, recording.sampling_rate_hz, segment_seconds=seconds)
    density = power_spectral_density(samples, recording.sampling_rate_hz, segment_seconds=seconds)
    unit = recording.unit
    curves = [
        _curve(spectrum, "acceleration", unit, shaft_frequency_hz),
        _curve(density, "psd", f"({unit})^2/Hz", shaft_frequency_hz),
    ]
    if recording.is_calibrated:
        cut_hz = (
            LOWER_CUT_HZ if shaft_frequency_hz is None else LOWER_CUT_ORDER * shaft_frequency_hz
        )
        for times, kind, name in ((1, "velocity", "m/s"), (2, "displacement", "m")):
            values = np.abs(
                integrate_spectrum(
                    spectrum.values, spectrum.frequency_hz, times=times, lower_cut_hz=cut_hz
                )
            )
            curves.append(_curve(spectrum, kind, name, shaft_frequency_hz, values))
    return tuple(curves)


def _curve(
    spectrum: Spectrum,
    kind: str,
    unit: str,
    shaft_frequency_hz: float | None,
    values: NDArray[np.float64] | None = None,
) -> SpectrumCurve:
    order = (
        None if shaft_frequency_hz is None else to_orders(spectrum.frequency_hz, shaft_frequency_hz)
    )
    return SpectrumCurve(
        kind=kind,  # type: ignore[arg-type]
        unit=unit,
        frequency_hz=spectrum.frequency_hz,
        order=order,
        values=spectrum.values if values is None else values,
        line_spacing_hz=spectrum.line_spacing_hz,
        n_averages=spectrum.n_averages,
        window=spectrum.window,
    )


def envelope_curves(
    report: FamilyReport,
    card_band_hz: tuple[float, float],
    rate_hz: float,
    shaft_frequency_hz: float,
) -> tuple[EnvelopeCurve, ...]:
    """Envelope spectra: whitened in the strongest family's band, recorded in the card's band."""
    if not report.envelopes or not report.found:
        return ()
    strongest = max(report.found, key=lambda family: family.evidence)
    curves = [
        _envelope_curve(
            "whitened, band in which a family stands out most", strongest.envelope, "found"
        )
    ]
    low, high = card_band_hz
    high = min(high, 0.49 * rate_hz)
    if low < high:
        fixed = envelope_orders(
            list(report.recorded),
            (low, high),
            shaft_frequency_hz=shaft_frequency_hz,
            highest_order=report.highest_order,
        )
        curves.append(_envelope_curve("as recorded, the card's band", fixed, "card"))
    return tuple(curves)


def _envelope_curve(label: str, envelope: EnvelopeOrders, role: str) -> EnvelopeCurve:
    return EnvelopeCurve(
        label=label,
        band=BandChoice(
            low_hz=envelope.band_hz[0],
            high_hz=envelope.band_hz[1],
            whitened=envelope.is_whitened,
            detector=envelope.detector,
            role=role,  # type: ignore[arg-type]
        ),
        order=envelope.order,
        depth=np.sqrt(envelope.depth_power),
        floor=np.sqrt(envelope.floor),
    )
