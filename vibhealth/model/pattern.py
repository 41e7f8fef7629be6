"""What a recording of a point looks like on a grid that all recordings of it share: in orders."""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

__all__ = ["PATTERN_KINDS", "PatternKind", "PatternSpectrum", "PointPattern"]

PatternKind = Literal["order-spectrum", "envelope-spectrum", "whitened-envelope-spectrum"]
PATTERN_KINDS: tuple[PatternKind, ...] = get_args(PatternKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternSpectrum:
    """One spectrum on the common grid of orders, with its local floor.

    Attributes
    ----------
    kind : str
        ``"order-spectrum"`` of the acceleration, ``"envelope-spectrum"`` of the squared
        envelope as recorded, ``"whitened-envelope-spectrum"`` of the whitened record.
    unit : str
        Of ``amplitude``: that of the samples, ``"1"`` for a modulation depth.
    order : ndarray, shape (n_lines,)
        Middle of each line, in multiples of the shaft speed.
    amplitude : ndarray, shape (n_lines,)
        Zero-to-peak amplitude, or modulation depth, of what the line holds.
    floor : ndarray, shape (n_lines,)
        What noise alone would give there.
    n_averages : float
        Independent values that each line is the mean of.
    band_hz : tuple of float or None
        Demodulation band of an envelope spectrum.
    """

    kind: PatternKind
    unit: str
    order: NDArray[np.float64]
    amplitude: NDArray[np.float64]
    floor: NDArray[np.float64]
    n_averages: float
    band_hz: tuple[float, float] | None = None

    @property
    def above_floor_db(self) -> NDArray[np.float64]:
        """Each line over its floor, in dB."""
        return 20 * np.log10(self.amplitude / self.floor)


@dataclass(frozen=True, slots=True, kw_only=True)
class PointPattern:
    """All that is compared line by line or band by band with other recordings of a point.

    ``harmonics_db``, shape (9,), are 2x to 10x over 1x, not a number where one does not stand
    out; ``bands_db`` the median density of the half octaves about ``bands_centre_hz``.
    """

    spectra: tuple[PatternSpectrum, ...]
    harmonics_db: NDArray[np.float64]
    bands_centre_hz: NDArray[np.float64]
    bands_db: NDArray[np.float64]

    def spectrum(self, kind: PatternKind) -> PatternSpectrum | None:
        """The spectrum of a kind, None where the recording gives none."""
        return next((item for item in self.spectra if item.kind == kind), None)
