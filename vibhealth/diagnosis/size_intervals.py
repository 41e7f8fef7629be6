"""How well the depth of a found family is known: a 90 % interval.

Two things make a depth uncertain. Noise lies in the windows over which the lines
are summed: the power of ``W`` lines of complex Gaussian noise of mean power ``s``
has the variance ``W s^2``, the noncentral chi-square law without its cross term
(S. M. Kay, Fundamentals of Statistical Signal Processing II, 1998, ch. 2, from
memory). And the strikes' own strength, as the band shows it, scatters from strike
to strike, in all harmonics and in the mean squared envelope together. That scatter
is read as a slow signal ``g(t)``, the linear influence of each moment on the
logarithm of the depth (F. R. Hampel, J. Am. Stat. Assoc. 69 (1974) 383-393, from
memory); the variance of its mean is its spectrum at zero frequency, which is what
a block bootstrap over time would sample (D. N. Politis and J. P. Romano, J. Am.
Stat. Assoc. 89 (1994) 1303-1313, from memory), without the sampling.

The bounds are the true powers of which the reading is just the 5 % and the 95 %
point, in Gaussian approximation (the score interval: E. B. Wilson, J. Am. Stat.
Assoc. 22 (1927) 209-212, from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth.diagnosis.comb import HARMONICS, harmonic_widths
from vibhealth.diagnosis.envelope_bank import (
    FLOOR_WIDTH_ORDERS,
    SMALLEST_FLOOR_LINES,
    EnvelopeOrders,
)
from vibhealth.diagnosis.sizes import line_window
from vibhealth.signal import RecordSpectrum, squared_envelope

__all__ = ["COVERAGE", "SizedDepth", "depth_with_interval", "strike_scatter"]

COVERAGE = 0.90

# Standard normal quantile of 95 %: both tails together leave `COVERAGE`.
QUANTILE = 1.6449

# A line is summed over windows that grow by this factor while power is still found beside it.
WINDOW_GROWTH = 1.5
# What a wider window adds counts as power from this many standard deviations of noise on.
ADDED_POWER = 1.0
# No window reaches this far from its centre line, in orders: side bands and other families begin.
WIDEST_ORDERS = 0.12

# Slow changes of strength are read up to this many orders: below the slowest load swing.
SLOW_ORDERS = 0.3

# What whitening makes of the same strikes differs a little with how the cage happens to wander:
# relative standard deviation of the depth (simulated trains).
WHITENING_SCATTER = 0.014

# Variance of a floor from the median of n exponential lines: s^2 / (n ln(2)^2)
# (closed form: the density of the exponential law at its median is 1 / (2 s)).
MEDIAN_VARIANCE = 1.0 / np.log(2.0) ** 2


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedDepth:
    """Modulation depth of a family with its 90 % interval.

    ``width_lines`` is the window of the first centre line over which it was summed.
    """

    depth: float
    low: float
    high: float
    width_lines: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Power:
    """Power over the floor in the windows, and its variance without any strike."""

    excess: float
    noise: float


def depth_with_interval(
    envelope: EnvelopeOrders,
    spectra: Sequence[RecordSpectrum],
    *,
    order: float,
    width_lines: int,
    shaft_frequency_hz: float,
) -> SizedDepth:
    """Modulation depth over the width that a wandering cage spreads the lines to.

    The windows about the three centre lines start at the width with which the
    family was found, at least three lines, and grow together, the n-th harmonic's n
    times as wide, until a wider one adds no more than noise does. Where they grew,
    what lies outside is as much as lies in the outer half: the tails of a randomly
    wandering line, and of a steady one between two lines, fall with the square of
    the distance.

    Parameters
    ----------
    envelope : EnvelopeOrders
        Spectrum of the squared envelope with its floor.
    spectra : sequence of RecordSpectrum
        The blocks from which ``envelope`` was made.
    order : float
        First centre line, above 0; lines outside the spectrum count nothing.
    width_lines : int
        Odd, at least 1: width of the first line's window in the search.
    shaft_frequency_hz : float
        Above 0.

    Returns
    -------
    SizedDepth
        ``low <= depth <= high``; depth and low 0 where nothing stands above the floor.
    """
    width, power = _settled(envelope, order, max(3, width_lines))
    scatter = strike_scatter(
        spectra,
        envelope.band_hz,
        strike_hz=order * shaft_frequency_hz,
        width_hz=width * envelope.order_spacing * shaft_frequency_hz,
        shaft_frequency_hz=shaft_frequency_hz,
    )
    # Variance of the power: 4 p^2 variance at the power p that was read, in proportion elsewhere.
    variance = scatter**2 + WHITENING_SCATTER**2
    middle = power.excess + 2 * QUANTILE**2 * max(0.0, power.excess) * variance
    half = float(np.sqrt(middle**2 - power.excess**2 + QUANTILE**2 * power.noise))
    low, depth, high = (
        float(np.sqrt(max(0.0, value))) for value in (middle - half, power.excess, middle + half)
    )
    return SizedDepth(depth=depth, low=low, high=high, width_lines=width)


def _settled(envelope: EnvelopeOrders, order: float, width: int) -> tuple[int, _Power]:
    """Width at which the windows hold all that stands out, and the power then."""
    now = then = _power(envelope, order, width)
    start, allowed = width, 0.0
    while True:
        wider = round(width * WINDOW_GROWTH) | 1
        if 0.5 * wider * max(HARMONICS) * envelope.order_spacing > WIDEST_ORDERS:
            break
        then = _power(envelope, order, wider)
        allowed = ADDED_POWER * float(np.sqrt(max(0.0, then.noise - now.noise)))
        if then.excess - now.excess <= allowed:
            break
        width, now = wider, then
    # The first window that added nothing was looked into as well: its noise counts.
    if width == start:
        return width, _Power(excess=now.excess, noise=then.noise)
    core = _power(envelope, order, (width // 2) | 1)
    tails = max(0.0, now.excess - core.excess)
    if then is not now:
        # A third of such tails would lie in the window that added nothing.
        tails = min(tails, 3 * max(0.0, then.excess - now.excess + allowed))
    doubled = now.noise + 3 * max(0.0, now.noise - core.noise)
    return width, _Power(excess=now.excess + tails, noise=max(then.noise, doubled))


def _power(envelope: EnvelopeOrders, order: float, width_lines: int) -> _Power:
    n_floor = max(SMALLEST_FLOOR_LINES, round(FLOOR_WIDTH_ORDERS / envelope.order_spacing))
    excess, noise = 0.0, 0.0
    for harmonic, width in zip(HARMONICS, harmonic_widths(width_lines), strict=True):
        lines = line_window(envelope, harmonic * order, width // 2)
        floor = envelope.floor[lines]
        excess += float(np.sum(envelope.depth_power[lines] - floor))
        noise += float(np.sum(floor**2)) + MEDIAN_VARIANCE * float(np.sum(floor)) ** 2 / n_floor
    return _Power(excess=excess, noise=noise / envelope.n_averages)


def strike_scatter(
    spectra: Sequence[RecordSpectrum],
    band_hz: tuple[float, float],
    *,
    strike_hz: float,
    width_hz: float,
    shaft_frequency_hz: float,
) -> float:
    """Standard error of the logarithm of a family's depth, from the strikes' own scatter.

    Parameters
    ----------
    spectra : sequence of RecordSpectrum
        Blocks of the record.
    band_hz : tuple of float
        Band that is demodulated.
    strike_hz : float
        Found strike rate.
    width_hz : float
        Full width about the first centre line within which its phase is followed.
    shaft_frequency_hz : float
        Above 0.

    Returns
    -------
    float
        0 or more; falls with the root of the record's length.
    """
    variances = [
        _block_variance(spectrum, band_hz, strike_hz, width_hz, shaft_frequency_hz)
        for spectrum in spectra
    ]
    return float(np.sqrt(np.mean(variances) / len(variances)))


def _block_variance(
    spectrum: RecordSpectrum,
    band_hz: tuple[float, float],
    strike_hz: float,
    width_hz: float,
    shaft_frequency_hz: float,
) -> float:
    """Mean power of the lines of the influence ``g(t)`` next to zero frequency."""
    envelope = squared_envelope(spectrum, band_hz)
    lines = fft.rfft(envelope) / envelope.size
    spacing = spectrum.line_spacing_hz
    reach = max(8, round(min(SLOW_ORDERS * shaft_frequency_hz, 0.3 * strike_hz) / spacing))
    in_phase, strengths = [], []
    for harmonic, window in zip(HARMONICS, harmonic_widths(3), strict=True):
        at = round(harmonic * strike_hz / spacing)
        if at + reach >= lines.size:
            continue
        half = max(1, round(0.5 * width_hz * window / 3 / spacing))
        slow = _slow(lines, at, reach, reach)
        steady = _slow(lines, at, min(half, reach), reach)
        strength = float(np.mean(np.abs(steady)))
        phase = steady / np.maximum(np.abs(steady), np.finfo(np.float64).tiny)
        in_phase.append((slow * np.conj(phase)).real / strength)
        strengths.append(strength**2)
    influence = np.average(in_phase, axis=0, weights=strengths)
    level = _slow(np.concatenate((np.conj(lines[reach:0:-1]), lines)), reach, reach, reach).real
    influence -= level / lines[0].real
    slow_lines = fft.fft(influence) / influence.size
    return float(np.mean(np.abs(slow_lines[1 : reach + 1]) ** 2))


def _slow(lines: NDArray[np.complex128], at: int, half: int, reach: int) -> NDArray[np.complex128]:
    """Slow complex amplitude of the lines within ``half`` of a line, at 4 ``reach`` moments."""
    narrow = np.zeros(4 * reach, dtype=np.complex128)
    offsets = np.arange(-half, half + 1)
    narrow[offsets] = lines[at + offsets]
    amplitude: NDArray[np.complex128] = fft.ifft(narrow) * narrow.size
    return amplitude
