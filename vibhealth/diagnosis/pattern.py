"""What is compared with other recordings of a point: spectra in orders, harmonics, half octaves."""

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from vibhealth.diagnosis.quality_facts import sample_facts
from vibhealth.diagnosis.quality_fingerprint import fingerprint
from vibhealth.errors import VibhealthError
from vibhealth.model import PatternKind, PatternSpectrum, PointPattern, Recording
from vibhealth.signal import RecordSpectrum
from vibhealth.signal.envelope import band_envelope_spectrum
from vibhealth.signal.order_lines import HANN_SHARED, gather_orders, hann_power, order_floor

__all__ = ["LOWEST_ORDER", "point_pattern"]

# Below it the window spreads the mean value.
LOWEST_ORDER = 0.1
HIGHEST_ORDER = {"order-spectrum": 40.0, "envelope-spectrum": 30.0}
MOST_HALF_OCTAVES = 64


def point_pattern(  # noqa: PLR0913 (the record in its forms, and where to read)
    recording: Recording,
    *,
    blocks: Iterable[NDArray[np.float64]],
    rate_hz: float,
    shaft_frequency_hz: float,
    recorded: Iterable[RecordSpectrum],
    whitened: Iterable[RecordSpectrum],
    band_hz: tuple[float, float],
) -> PointPattern | None:
    """Read the pattern of a recording of steady running.

    Parameters
    ----------
    recording : Recording
        As it was made: half octaves and harmonics are read from it.
    blocks : iterable of ndarray
        Its samples at constant speed, in equal pieces.
    rate_hz, shaft_frequency_hz : float
        Of the samples at constant speed; above 0.
    recorded, whitened : iterable of RecordSpectrum
        Of the pieces, as recorded and whitened; without any there is no envelope.
    band_hz : tuple of float
        Demodulation band, ``0 < low < high``; it is cut to what was recorded.

    Returns
    -------
    PointPattern or None
        None where the recording holds fewer than 100 turns.
    """
    pieces = [hann_power(block) for block in blocks]
    if not pieces:
        return None
    spacing = rate_hz / (2 * (pieces[0].size - 1)) / shaft_frequency_hz
    high = min(band_hz[1], 0.49 * recording.sampling_rate_hz)
    forms: tuple[tuple[PatternKind, Iterable[RecordSpectrum]], ...] = (
        ("envelope-spectrum", recorded),
        ("whitened-envelope-spectrum", whitened),
    )
    try:
        spectra = [
            _spectrum(
                "order-spectrum", recording.unit, pieces, spacing, shared=HANN_SHARED, scale=2.0
            ),
            *_envelopes(forms, (band_hz[0], high), shaft_frequency_hz),
        ]
    except VibhealthError:
        return None
    marks = fingerprint(sample_facts(recording), shaft_frequency_hz, n_bands=MOST_HALF_OCTAVES)
    return PointPattern(
        spectra=tuple(spectra),
        harmonics_db=marks.harmonics_db,
        bands_centre_hz=marks.centre_hz,
        bands_db=marks.bands_db,
    )


def _spectrum(  # noqa: PLR0913 (one spectrum)
    kind: PatternKind,
    unit: str,
    pieces: list[NDArray[np.float64]],
    spacing: float,
    *,
    shared: float = 1.0,
    scale: float = 1.0,
    band_hz: tuple[float, float] | None = None,
) -> PatternSpectrum:
    """Mean of the pieces on the grid; ``scale`` makes squared amplitudes of their powers."""
    highest = HIGHEST_ORDER["order-spectrum" if band_hz is None else "envelope-spectrum"]
    lines = gather_orders(np.mean(pieces, axis=0), spacing, highest_order=highest)
    keep = lines.order > LOWEST_ORDER - 1e-9
    power = np.maximum(scale * lines.power[keep], np.finfo(np.float64).tiny)
    n_averages = max(1.0, lines.per_line * len(pieces) / shared)
    return PatternSpectrum(
        kind=kind,
        unit=unit,
        order=np.round(lines.order[keep], 2),
        amplitude=np.sqrt(power),
        floor=np.sqrt(order_floor(power, n_averages)),
        n_averages=n_averages,
        band_hz=band_hz,
    )


def _envelopes(
    forms: Iterable[tuple[PatternKind, Iterable[RecordSpectrum]]],
    band_hz: tuple[float, float],
    shaft_frequency_hz: float,
) -> Iterator[PatternSpectrum]:
    highest_hz = (HIGHEST_ORDER["envelope-spectrum"] + 1.0) * shaft_frequency_hz
    for kind, spectra in forms:
        envelopes = [
            band_envelope_spectrum(spectrum, band_hz, highest_hz=highest_hz) for spectrum in spectra
        ]
        if envelopes:
            powers = [envelope.depth**2 for envelope in envelopes]
            spacing = envelopes[0].line_spacing_hz / shaft_frequency_hz
            yield _spectrum(kind, "1", powers, spacing, band_hz=band_hz)
