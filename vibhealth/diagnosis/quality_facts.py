"""What every check of a recording shares: the facts of its samples, computed once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError
from vibhealth.model import CriterionResult, Disturbance, Recording
from vibhealth.units import STANDARD_GRAVITY_M_S2

__all__ = [
    "Needs",
    "Outcome",
    "SampleFacts",
    "hold",
    "not_judged",
    "passed",
    "quantisation_step",
    "sample_facts",
    "watch",
]

# Spectra are read from at most this many samples (164 s at 25.6 kHz): memory stays bounded.
MAX_SPECTRUM_SAMPLES = 2**22
# A Hann window of 1 s (half width 0.5 s) every 0.5 s: its side lobes hold a 1x of 16 Hz
# below 1/1000, which plain means of 0.5 s do not (they would leak up to A / (pi f T)).
BASELINE_WINDOW_S = 1.0
BASELINE_HOP_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one check found: result, the measured value in words, what to do."""

    result: CriterionResult
    detail: str
    advice: str = ""


# More samples than this at the extreme value are clipping (starting value, common practice, no
# source; the card's limit clipped_samples_hold overrides it).
CLIPPED_SAMPLES = 5.0
# Stroke away from the card's, and hard hits per 100 turns of an empty machine; starting values,
# common practice, no source; the card's stroke_hold_percent, random_hits_watch and
# random_hits_hold override them.
STROKE_HOLD_PERCENT = 15.0
RANDOM_HITS_WATCH, RANDOM_HITS_HOLD = 2.0, 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What the recording must be good for; None where it is not known.

    ``stroke_mm`` was read from the recording, ``stated_stroke_mm`` is the card's along its
    direction; ``shaft_phase_turns`` is the shaft angle of each sample; ``is_exciter`` says
    that the machine shakes on purpose and carries material; ``disturbances`` is what strikes
    or hums in its bearing band, None where that was not looked for.
    """

    shaft_frequency_hz: float | None
    bearing_band_hz: tuple[float, float] | None
    highest_needed_hz: float | None
    minimum_turns: float
    recommended_turns: float
    turns_source: str
    clipped_samples: float = CLIPPED_SAMPLES
    stroke_mm: float | None = None
    stated_stroke_mm: float | None = None
    stroke_hold_percent: float = STROKE_HOLD_PERCENT
    random_hits_watch: float = RANDOM_HITS_WATCH
    random_hits_hold: float = RANDOM_HITS_HOLD
    shaft_phase_turns: NDArray[np.float64] | None = None
    is_exciter: bool = False
    disturbances: tuple[Disturbance, ...] | None = None

    def __post_init__(self) -> None:
        for name in ("shaft_frequency_hz", "highest_needed_hz", "stated_stroke_mm"):
            if getattr(self, name) is not None:
                check_positive(getattr(self, name), name=name)
        if self.bearing_band_hz is not None:
            low, high = self.bearing_band_hz
            if not 0 < low < high < float("inf"):
                msg = f"bearing_band_hz must satisfy 0 < low < high, got {self.bearing_band_hz}"
                raise InputError(msg)
        for name in ("clipped_samples", "stroke_hold_percent", "random_hits_hold"):
            check_positive(getattr(self, name), name=name)
        if not 0 < self.minimum_turns <= self.recommended_turns < float("inf"):
            msg = (
                "turns must satisfy 0 < minimum_turns <= recommended_turns, got "
                f"{self.minimum_turns} and {self.recommended_turns}"
            )
            raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleFacts:
    """A recording and the numbers that several checks read.

    ``rms`` is without the mean. ``step`` is the quantisation step in the unit of
    the samples, 0 where the values lie on no grid. ``power`` is the squared
    magnitude of the Hann-windowed spectrum of the samples without their mean.
    ``baseline`` holds Hann-weighted means of 1 s every 0.5 s.
    """

    recording: Recording
    samples: NDArray[np.float64]
    ordered: NDArray[np.float64]
    n_values: int
    mean: float
    rms: float
    step: float
    frequency_hz: NDArray[np.float64]
    power: NDArray[np.float64]
    baseline: NDArray[np.float64]

    @property
    def is_constant(self) -> bool:
        """Whether all samples are equal."""
        return self.n_values == 1

    @property
    def peak(self) -> float:
        """Largest magnitude."""
        return float(max(abs(self.ordered[0]), abs(self.ordered[-1])))

    @property
    def line_spacing_hz(self) -> float:
        """Reciprocal of the time the spectrum covers."""
        return self.recording.sampling_rate_hz / min(self.samples.size, MAX_SPECTRUM_SAMPLES)

    def words(self, value: float) -> str:
        """A sample value in words: in g where calibrated, else in file units."""
        if self.recording.is_calibrated:
            return f"{value / STANDARD_GRAVITY_M_S2:.3g} g"
        return f"{value:.3g} file units"

    def line_power(self, frequency_hz: float) -> float:
        """Power of a line above its local floor, 0 where none stands out by 10 dB.

        The line is the sum within two spectral lines and 0.1 Hz, the floor the
        median within 5 Hz (an exponential's mean is its median over ln 2).
        """
        half_width_hz = 2 * self.line_spacing_hz + 0.1
        inner = self.between(frequency_hz - half_width_hz, frequency_hz + half_width_hz)
        around = self.between(frequency_hz - 5.0, frequency_hz + 5.0)
        if inner.size == 0 or around.size <= 2 * inner.size:
            return 0.0
        floor = float(np.median(around)) / np.log(2)
        if inner.max() <= 10 * floor:
            return 0.0
        return float(inner.sum() - inner.size * floor)

    def between(self, low_hz: float, high_hz: float) -> NDArray[np.float64]:
        """Power of the spectral lines of a band."""
        first, last = np.searchsorted(self.frequency_hz, [max(low_hz, 0.0), high_hz])
        return self.power[first:last]


def passed(detail: str) -> Outcome:
    """Build the outcome of a check that found nothing."""
    return Outcome(result=CriterionResult.PASS, detail=detail)


def watch(detail: str, advice: str) -> Outcome:
    """Build the outcome of a check that found something to keep in mind."""
    return Outcome(result=CriterionResult.WATCH, detail=detail, advice=advice)


def hold(detail: str, advice: str) -> Outcome:
    """Build the outcome of a check that found the recording unusable."""
    return Outcome(result=CriterionResult.HOLD, detail=detail, advice=advice)


def not_judged(detail: str, advice: str) -> Outcome:
    """Build the outcome of a check that could not be made, with its reason."""
    return Outcome(result=CriterionResult.NOT_JUDGED, detail=detail, advice=advice)


def quantisation_step(values: NDArray[np.float64]) -> float:
    """Step of the grid on which distinct ascending values lie, 0 for no grid.

    A grid is accepted when 99 % of the values lie within a tenth of a step of it
    and it has at most 2**24 steps (24-bit converters).

    Parameters
    ----------
    values : ndarray of float64, shape (n_values,)
        Distinct and ascending, any unit.

    Returns
    -------
    float
        Step in the unit of the values.

    Examples
    --------
    >>> quantisation_step(np.array([-0.5, 0.0, 0.25, 1.0]))
    0.25
    >>> quantisation_step(np.array([0.0, 1.0, np.pi, 10.0]))
    0.0
    """
    if values.size < 3:
        return 0.0
    offset = values - values[0]
    gaps = np.diff(values)
    step = float(np.median(gaps[gaps < 1.5 * gaps.min()]))
    if offset[-1] > 2**24 * step:
        return 0.0
    for share in (0.01, 0.1, 1.0):  # refine the step from the near values to the far ones
        near = offset[offset <= max(share * offset[-1], 20 * step)]
        counts = np.round(near / step)
        if counts[-1] > 0:
            step = float(near @ counts / (counts @ counts))
    counts = offset / step
    on_grid = np.abs(counts - np.round(counts)) < 0.1
    return step if np.mean(on_grid) >= 0.99 else 0.0


def sample_facts(recording: Recording) -> SampleFacts:
    """Compute what the checks share.

    Parameters
    ----------
    recording : Recording
        At least 16 finite samples.

    Returns
    -------
    SampleFacts

    Raises
    ------
    InputError
        If the samples are too few or not finite, or the sampling rate is not
        above 0.
    """
    sampling_rate_hz = check_positive(recording.sampling_rate_hz, name="sampling_rate_hz")
    samples = check_samples(recording.samples, name=f"samples of {recording.path}", minimum=16)
    if samples.ndim != 1:
        msg = f"samples of {recording.path} must be one channel, got shape {samples.shape}"
        raise InputError(msg)
    ordered = np.sort(samples)
    values = ordered[np.concatenate(([True], np.diff(ordered) > 0))]
    mean = float(samples.mean())
    frequency_hz, power = _power(samples - mean, sampling_rate_hz)
    return SampleFacts(
        recording=recording,
        samples=samples,
        ordered=ordered,
        n_values=values.size,
        mean=mean,
        rms=float(samples.std()),
        step=quantisation_step(values),
        frequency_hz=frequency_hz,
        power=power,
        baseline=_baseline(samples, sampling_rate_hz),
    )


def _power(
    samples: NDArray[np.float64], sampling_rate_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Squared magnitude of the Hann-windowed spectrum, padded to a fast length."""
    piece = samples[:MAX_SPECTRUM_SAMPLES]
    length = fft.next_fast_len(piece.size, real=True)
    spectrum = fft.rfft(piece * np.hanning(piece.size), length)
    return fft.rfftfreq(length, 1 / sampling_rate_hz), spectrum.real**2 + spectrum.imag**2


def _baseline(samples: NDArray[np.float64], sampling_rate_hz: float) -> NDArray[np.float64]:
    """Hann-weighted means of 1 s every 0.5 s; empty when shorter than 1 s."""
    length = round(BASELINE_WINDOW_S * sampling_rate_hz)
    hop = max(1, round(BASELINE_HOP_S * sampling_rate_hz))
    if length < 8 or samples.size < length:
        return np.empty(0)
    weight = np.hanning(length + 1)[:-1]
    weight /= weight.sum()
    starts = range(0, samples.size - length + 1, hop)
    return np.array([samples[start : start + length] @ weight for start in starts])
