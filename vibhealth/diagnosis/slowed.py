"""A recording at a rate that still holds the working motion: a tenth of the samples, or fewer."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from vibhealth._check import check_positive
from vibhealth.model import Recording

__all__ = ["slowed"]

# The low pass is flat to 0.2 of the lower rate (25 times the shaft frequency) and 90 dB down from
# its half (Kaiser window: beta 0.1102 (90 - 8.7), length about (90 - 8) / (2.285 * transition in
# rad); J. F. Kaiser, from memory).
SAMPLES_PER_TURN = 128.0
BETA = 8.96
REACH = 22  # samples of the lower rate on either side
CUT = 0.35  # of the lower rate, middle of the transition


def slowed(
    recording: Recording,
    *,
    shaft_frequency_hz: float,
    shaft_phase_turns: NDArray[np.float64] | None = None,
) -> tuple[Recording, NDArray[np.float64] | None]:
    """Take a recording to at least 128 samples per turn, and its shaft angle with it.

    Parameters
    ----------
    recording : Recording
        One channel.
    shaft_frequency_hz : float
        Above 0.
    shaft_phase_turns : ndarray, shape (n_samples,), optional
        Shaft angle of each sample.

    Returns
    -------
    tuple of Recording and (ndarray or None)
        Without the ends where the filter sees beyond the recording; both as they were
        where the rate is too low or the recording too short to gain anything.

    Raises
    ------
    InputError
        If the frequency is not above 0.
    """
    shaft_hz = check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    rate_hz = recording.sampling_rate_hz
    factor = int(rate_hz / (SAMPLES_PER_TURN * shaft_hz))
    if factor < 2 or recording.samples.size < 8 * REACH * factor:
        return recording, shaft_phase_turns
    taps = signal.firwin(2 * REACH * factor + 1, 2 * CUT / factor, window=("kaiser", BETA))
    inside = slice(REACH, -REACH)
    samples = signal.resample_poly(recording.samples, 1, factor, window=taps)[inside]
    phase = None if shaft_phase_turns is None else shaft_phase_turns[::factor][inside]
    return replace(recording, samples=samples, sampling_rate_hz=rate_hz / factor), phase
