"""Arrays in, arrays out: spectra, filters, integration, sine fits, angle resampling."""

from vibhealth.signal.band_bank import BAND_DIVISORS, band_bank
from vibhealth.signal.envelope import (
    Detector,
    EnvelopeSpectrum,
    analytic_band,
    band_envelope_spectrum,
    local_floor,
    squared_envelope,
)
from vibhealth.signal.filters import band_pass, high_pass, low_pass
from vibhealth.signal.harmonic_tracking import subtract_tracked_harmonics
from vibhealth.signal.integration import integrate_samples, integrate_spectrum, lower_cut_weights
from vibhealth.signal.line_peak import LinePeak, line_peak
from vibhealth.signal.resampling import AngleRecord, resample_to_angle
from vibhealth.signal.shaft_phase import phase_from_demodulation
from vibhealth.signal.sine_fit import (
    HarmonicFit,
    SineFit,
    fit_harmonics,
    fit_sine,
    harmonic_samples,
    refine_sine,
    subtract_harmonics,
)
from vibhealth.signal.spectrum import (
    Spectrum,
    amplitude_spectrum,
    effective_averages,
    power_spectral_density,
    psd_interval,
    to_orders,
)
from vibhealth.signal.statistics import (
    block_median_rms,
    crest_factor,
    kurtosis,
    peak,
    peak_to_peak,
    rms,
    skewness,
)
from vibhealth.signal.tachometer import tachometer_phase
from vibhealth.signal.whitening import RecordSpectrum, record_spectrum, whiten
from vibhealth.signal.windows import (
    WindowGains,
    overlap_correlation,
    window_gains,
    window_samples,
)

__all__ = [
    "BAND_DIVISORS",
    "AngleRecord",
    "Detector",
    "EnvelopeSpectrum",
    "HarmonicFit",
    "LinePeak",
    "RecordSpectrum",
    "SineFit",
    "Spectrum",
    "WindowGains",
    "amplitude_spectrum",
    "analytic_band",
    "band_bank",
    "band_envelope_spectrum",
    "band_pass",
    "block_median_rms",
    "crest_factor",
    "effective_averages",
    "fit_harmonics",
    "fit_sine",
    "harmonic_samples",
    "high_pass",
    "integrate_samples",
    "integrate_spectrum",
    "kurtosis",
    "line_peak",
    "local_floor",
    "low_pass",
    "lower_cut_weights",
    "overlap_correlation",
    "peak",
    "peak_to_peak",
    "phase_from_demodulation",
    "power_spectral_density",
    "psd_interval",
    "record_spectrum",
    "refine_sine",
    "resample_to_angle",
    "rms",
    "skewness",
    "squared_envelope",
    "subtract_harmonics",
    "subtract_tracked_harmonics",
    "tachometer_phase",
    "to_orders",
    "whiten",
    "window_gains",
    "window_samples",
]
