"""One FFT of a record, and its whitened twin.

Whitening sets every line of the record's spectrum to unit magnitude and keeps
its phase (cepstrum pre-whitening: P. Borghesani, P. Pennacchi, R. B. Randall,
N. Sawalhi, R. Ricci, "Application of cepstrum pre-whitening for the diagnosis
of bearing faults under variable speed conditions", Mechanical Systems and
Signal Processing 36 (2013) 370-384). Lines locked to the shaft lose their
power, resonances lose their colour, and what repeats with a little randomness,
as strikes in a bearing do, stays.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft
from scipy.signal import windows

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError

__all__ = ["RecordSpectrum", "record_spectrum", "whiten"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSpectrum:
    """One-sided complex spectrum of a whole record (one channel).

    ``lines[k]`` belongs to ``k * line_spacing_hz``; ``n_samples`` is the length
    that was transformed (the record shortened to a length the FFT likes).
    """

    lines: NDArray[np.complex128]
    n_samples: int
    sampling_rate_hz: float
    is_whitened: bool = False

    @property
    def line_spacing_hz(self) -> float:
        """Distance of two lines in Hz."""
        return self.sampling_rate_hz / self.n_samples

    @property
    def nyquist_hz(self) -> float:
        """Half the sampling rate."""
        return self.sampling_rate_hz / 2


def record_spectrum(
    acceleration: ArrayLike, sampling_rate_hz: float, *, taper: float = 0.01
) -> RecordSpectrum:
    """Spectrum of a whole record, ends faded so that big low lines do not leak.

    A working motion of several g leaks into every line of an untapered FFT as
    ``A / (pi * distance)``, enough to hide bearing noise; a cosine fade over the
    fraction ``taper`` of the record (half of it at each end) makes the leak
    fall with the third power of the distance instead (F. J. Harris, Proc. IEEE
    66 (1978) 51-83, Tukey window).

    Parameters
    ----------
    acceleration : array_like, shape (n_samples,)
        Samples in m/s^2 or counts, at least 16. The mean is removed.
    sampling_rate_hz : float
        Above 0.
    taper : float
        Faded fraction of the record, 0 to 1.

    Returns
    -------
    RecordSpectrum
        Up to about 1 % of the record's end may be left out for a fast transform.

    Raises
    ------
    InputError
        If the samples are not finite or too few, or ``taper`` is outside [0, 1].
    """
    samples = check_samples(acceleration, name="acceleration", minimum=16)
    rate_hz = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    if not 0 <= taper <= 1:
        msg = f"taper must lie in [0, 1], got {taper}"
        raise InputError(msg)
    n_samples = fft.prev_fast_len(samples.shape[-1], real=True)
    cut = samples[..., :n_samples]
    faded = (cut - cut.mean()) * windows.tukey(n_samples, taper)
    return RecordSpectrum(lines=fft.rfft(faded), n_samples=n_samples, sampling_rate_hz=rate_hz)


def whiten(spectrum: RecordSpectrum) -> RecordSpectrum:
    """Set every line to unit magnitude and keep its phase.

    Lines that are exactly zero stay zero. Whitening twice changes nothing.

    Parameters
    ----------
    spectrum : RecordSpectrum
        As from `record_spectrum`.

    Returns
    -------
    RecordSpectrum
        With ``is_whitened`` set.
    """
    magnitude = np.abs(spectrum.lines)
    lines = np.divide(
        spectrum.lines, magnitude, out=np.zeros_like(spectrum.lines), where=magnitude > 0
    )
    return RecordSpectrum(
        lines=lines,
        n_samples=spectrum.n_samples,
        sampling_rate_hz=spectrum.sampling_rate_hz,
        is_whitened=True,
    )
