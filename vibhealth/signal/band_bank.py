"""A bank of demodulation bands in binary and one-third-binary widths.

The widths 1, 1/2, 1/3, 1/4, 1/6, 1/8, 1/12, 1/16 of the usable range follow the
one-third-binary tree of J. Antoni, "Fast computation of the kurtogram for the
detection of transient faults", Mechanical Systems and Signal Processing 21
(2007) 108-124 (from memory). Only the tree is taken: bands are chosen by how
clearly a bearing's comb stands out, never by kurtosis.
"""

from vibhealth._check import check_band, check_positive

__all__ = ["BAND_DIVISORS", "band_bank"]

BAND_DIVISORS = (1, 2, 3, 4, 6, 8, 12, 16)


def band_bank(
    range_hz: tuple[float, float], *, narrowest_hz: float, nyquist_hz: float
) -> tuple[tuple[float, float], ...]:
    """Bands that tile a range, widest first, none narrower than allowed.

    Parameters
    ----------
    range_hz : tuple of float
        ``0 < low < high <= nyquist_hz``.
    narrowest_hz : float
        A band must be wide enough to carry the modulation looked for. The range
        itself is always the first band, however narrow.
    nyquist_hz : float
        Half the sampling rate.

    Returns
    -------
    tuple of (low, high) in Hz

    Raises
    ------
    InputError
        If the range is outside the spectrum or ``narrowest_hz`` not above 0.

    Examples
    --------
    >>> band_bank((1000.0, 5000.0), narrowest_hz=1500.0, nyquist_hz=6000.0)
    ((1000.0, 5000.0), (1000.0, 3000.0), (3000.0, 5000.0))
    """
    low, high = check_band(range_hz, nyquist_hz=nyquist_hz)
    check_positive(narrowest_hz, name="narrowest_hz")
    bands = [(low, high)]
    for divisor in BAND_DIVISORS[1:]:
        width = (high - low) / divisor
        if width < narrowest_hz:
            break
        bands += [(low + i * width, low + (i + 1) * width) for i in range(divisor)]
    return tuple(bands)
