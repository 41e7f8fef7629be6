"""Envelope spectra of a record in orders, for every band of the bank."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vibhealth.signal.band_bank import band_bank
from vibhealth.signal.envelope import (
    Detector,
    band_envelope_spectrum,
    local_floor,
)
from vibhealth.signal.hit_limiting import limit_hits
from vibhealth.signal.shaft_line_removal import remove_shaft_lines
from vibhealth.signal.whitening import RecordSpectrum, record_spectrum, whiten

__all__ = [
    "EnvelopeOrders",
    "bank_bands",
    "block_spectra",
    "envelope_bank",
    "envelope_orders",
    "split_blocks",
]

# Longest piece that is transformed at once: bounds memory whatever the recording's length.
LONGEST_BLOCK_SAMPLES = 4_194_304

# The floor of an envelope spectrum is taken over this many orders about each line.
FLOOR_WIDTH_ORDERS = 1.0
SMALLEST_FLOOR_LINES = 33

# Bands start above the working motion and its harmonics (common practice, no source).
LOWEST_ORDER = 12.0

# A band must carry the first two lines of the fastest family.
NARROWEST_OVER_STRIKE_RATE = 2.2


@dataclass(frozen=True, slots=True, kw_only=True)
class EnvelopeOrders:
    """One envelope spectrum in orders, with its noise floor.

    Attributes
    ----------
    band_hz, detector, is_whitened
        What was demodulated, and how.
    order_spacing : float
        Distance of two lines in orders.
    depth_power : ndarray, shape (n_lines,)
        Squared modulation depth of each line, averaged over ``n_averages`` blocks.
    floor : ndarray, shape (n_lines,)
        Local floor of ``depth_power``.
    mean_square : float
        Mean squared envelope in squared sample units.
    """

    band_hz: tuple[float, float]
    detector: Detector
    is_whitened: bool
    order_spacing: float
    depth_power: NDArray[np.float64]
    floor: NDArray[np.float64]
    mean_square: float
    n_averages: int

    @property
    def order(self) -> NDArray[np.float64]:
        """Order of each line."""
        return np.arange(self.depth_power.shape[-1], dtype=np.float64) * self.order_spacing

    @property
    def power(self) -> NDArray[np.float64]:
        """Power over the local floor: mean 1 where there is only noise."""
        return self.depth_power / self.floor


def split_blocks(samples: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Equal blocks of at most `LONGEST_BLOCK_SAMPLES`; a few samples may be left over."""
    n_blocks = -(-samples.shape[-1] // LONGEST_BLOCK_SAMPLES)
    length = samples.shape[-1] // n_blocks
    return [samples[i * length : (i + 1) * length] for i in range(n_blocks)]


def bank_bands(
    sampling_rate_hz: float,
    shaft_frequency_hz: float,
    *,
    fastest_strike_order: float,
    usable_hz: tuple[float, float] | None = None,
) -> tuple[tuple[float, float], ...]:
    """Bands that can show a bearing, given the rate, the sensor and the fastest family.

    Parameters
    ----------
    sampling_rate_hz, shaft_frequency_hz : float
        Above 0.
    fastest_strike_order : float
        Largest strike order that is searched.
    usable_hz : tuple of float, optional
        Usable band of the sensor: nothing above it is looked at.

    Returns
    -------
    tuple of (low, high) in Hz
        Empty where the rate leaves no room.
    """
    low = LOWEST_ORDER * shaft_frequency_hz
    high = 0.49 * sampling_rate_hz
    if usable_hz is not None:
        low, high = max(low, usable_hz[0]), min(high, usable_hz[1])
    narrowest = NARROWEST_OVER_STRIKE_RATE * fastest_strike_order * shaft_frequency_hz
    if high - low < narrowest:
        return ()
    return band_bank((low, high), narrowest_hz=narrowest, nyquist_hz=sampling_rate_hz / 2)


def envelope_orders(
    spectra: list[RecordSpectrum],
    band_hz: tuple[float, float],
    *,
    shaft_frequency_hz: float,
    highest_order: float,
    detector: Detector = "squared",
) -> EnvelopeOrders:
    """Envelope spectrum of one band in orders, averaged over equal blocks of a record.

    Parameters
    ----------
    spectra : list of RecordSpectrum
        One per block, all of the same length.
    band_hz : tuple of float
        Low and high edge; see `vibhealth.signal.envelope.analytic_band`.
    shaft_frequency_hz : float
        Mean shaft frequency; of an angle-resampled record, its nominal one.
    highest_order : float
        Last order wanted.
    detector : {"squared", "limited"}
        The squared envelope itself, or cut at three times its median.

    Returns
    -------
    EnvelopeOrders
        Averaged over the blocks, with its local floor.

    Raises
    ------
    InputError
        If the band is outside the spectrum, too narrow for the record, or silent.
    """
    powers, mean_squares = [], []
    for spectrum in spectra:
        envelope = band_envelope_spectrum(
            spectrum,
            band_hz,
            highest_hz=highest_order * shaft_frequency_hz,
            detector=detector,
        )
        powers.append(envelope.depth**2)
        mean_squares.append(envelope.mean_square)
    depth_power = np.mean(powers, axis=0)
    spacing = spectra[0].line_spacing_hz / shaft_frequency_hz
    width = max(SMALLEST_FLOOR_LINES, round(FLOOR_WIDTH_ORDERS / spacing))
    return EnvelopeOrders(
        band_hz=band_hz,
        detector=detector,
        is_whitened=spectra[0].is_whitened,
        order_spacing=spacing,
        depth_power=depth_power,
        floor=local_floor(depth_power, width),
        mean_square=float(np.mean(mean_squares)),
        n_averages=len(spectra),
    )


def block_spectra(
    samples: NDArray[np.float64],
    sampling_rate_hz: float,
    *,
    shaft_frequency_hz: float,
    lowest_hz: float,
) -> tuple[list[RecordSpectrum], list[RecordSpectrum]]:
    """Spectra of the record's blocks: as recorded, and whitened.

    Before it is whitened, a block loses its shaft-locked lines and its hits are limited.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        At constant speed.
    sampling_rate_hz : float
        Above 0.
    shaft_frequency_hz : float
        Mean shaft frequency, above 0.
    lowest_hz : float
        The whitened spectra hold nothing below it.
    """
    recorded = [record_spectrum(block, sampling_rate_hz) for block in split_blocks(samples)]
    whitened = []
    for spectrum in recorded:
        unlocked = remove_shaft_lines(
            spectrum, shaft_frequency_hz=shaft_frequency_hz, lowest_hz=lowest_hz
        )
        whitened.append(whiten(limit_hits(unlocked, lowest_hz=lowest_hz)))
    return recorded, whitened


def envelope_bank(  # noqa: PLR0913 (a bank has as many sides)
    spectra: list[RecordSpectrum],
    bands: tuple[tuple[float, float], ...],
    *,
    shaft_frequency_hz: float,
    highest_order: float,
    detectors: tuple[Detector, ...] = ("squared", "limited"),
    progress: Callable[[], None] | None = None,
) -> Iterator[EnvelopeOrders]:
    """Envelope spectra of every band with every detector, one at a time.

    Parameters
    ----------
    spectra : list of RecordSpectrum
        One per block, all of the same length.
    bands : tuple of (low, high) in Hz
        As from `bank_bands`.
    shaft_frequency_hz : float
        Mean shaft frequency, above 0.
    highest_order : float
        Last order wanted.
    detectors : tuple of {"squared", "limited"}
        Each band is read once with every one of them.
    progress : callable, optional
        Called after each band.

    Yields
    ------
    EnvelopeOrders
        Band by band, in the order of ``detectors``.
    """
    for band in bands:
        for detector in detectors:
            yield envelope_orders(
                spectra,
                band,
                shaft_frequency_hz=shaft_frequency_hz,
                highest_order=highest_order,
                detector=detector,
            )
        if progress is not None:
            progress()
