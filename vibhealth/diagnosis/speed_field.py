"""How far shaft harmonics stand out, segment by segment: what the comb of a speed is read from."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth._check import check_positive
from vibhealth.errors import InputError
from vibhealth.signal.envelope import local_floor, squared_envelope
from vibhealth.signal.whitening import record_spectrum, whiten

__all__ = [
    "LARGEST_LOG_POWER",
    "N_HARMONICS",
    "CombField",
    "SlowSignals",
    "comb_field",
    "slow_signals",
]

N_HARMONICS = 12
# One line counts no more than this, so that a single strong one (twice mains, a gear) cannot
# carry the comb.
LARGEST_LOG_POWER = float(np.log(1e3))
# The floor is a running median over one order, but over no fewer lines than this.
FEWEST_FLOOR_LINES = 33
# A line spreads over so many lines to each side (Hann, and the largest of three), and over this
# share of its frequency where the speed varies within a segment.
LOBE_LINES, LOBE_SHARE = 3.0, 0.004
EDGE_ORDERS = 1.5  # lines kept above the last harmonic, for its floor and its decoys


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowSignals:
    """The record below its 13.5th harmonic, and the whitened band's envelope down there.

    Both at ``rate_hz``, shape (2, n_samples).
    """

    samples: NDArray[np.float64]
    rate_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CombField:
    """Logarithms of line powers over their floor, per segment.

    ``lines`` has shape (2, n_segments, n_lines): ``ln(1 + power / floor)`` of the
    record and of the envelope, each the largest of three neighbours.
    """

    lines: NDArray[np.float64]
    line_spacing_hz: float
    centre_s: NDArray[np.float64]

    def comb(
        self,
        frequency_hz: NDArray[np.float64],
        order_shift: NDArray[np.float64] | None = None,
        *,
        largest: float = LARGEST_LOG_POWER,
    ) -> NDArray[np.float64]:
        """Record plus envelope at each harmonic, shape (n_segments, 12, n_frequencies).

        Harmonic k is read at ``(k + order_shift[k - 1]) * frequency_hz``; no line
        counts more than ``largest``.
        """
        order = np.arange(1.0, N_HARMONICS + 1)
        if order_shift is not None:
            order = order + order_shift
        index = np.rint(order[:, np.newaxis] * frequency_hz / self.line_spacing_hz).astype(np.intp)
        np.clip(index, 1, self.lines.shape[-1] - 1, out=index)
        record, envelope = self.lines
        return np.asarray(
            np.minimum(record[:, index], largest) + np.minimum(envelope[:, index], largest)
        )

    def without(
        self, course_hz: NDArray[np.float64], which: NDArray[np.intp] | None = None
    ) -> "CombField":
        """The same field with the lines of one course of speed overwritten.

        They get what stands half an order above them: what the recording has besides
        them. ``which`` counts the harmonics from 0; None takes all.
        """
        lines = self.lines.copy()
        for segment, shaft_hz in enumerate(course_hz):
            for harmonic in 1 + (np.arange(N_HARMONICS) if which is None else which):
                at = harmonic * shaft_hz / self.line_spacing_hz
                reach = LOBE_LINES + LOBE_SHARE * at
                index = np.arange(max(1, round(at - reach)), round(at + reach) + 1)
                half_way = index + round(0.5 * shaft_hz / self.line_spacing_hz)
                last = lines.shape[-1] - 1
                lines[:, segment, np.minimum(index, last)] = self.lines[
                    :, segment, np.minimum(half_way, last)
                ]
        return CombField(lines=lines, line_spacing_hz=self.line_spacing_hz, centre_s=self.centre_s)


def slow_signals(
    acceleration: NDArray[np.float64], sampling_rate_hz: float, *, highest_shaft_hz: float
) -> SlowSignals | None:
    """Record and envelope of its whitened upper band, both at a low rate.

    Parameters
    ----------
    acceleration : ndarray, shape (n_samples,)
        In any unit, at least 16 samples.
    sampling_rate_hz : float
        Above 0.
    highest_shaft_hz : float
        Fastest shaft frequency looked for, above 0.

    Returns
    -------
    SlowSignals or None
        None where 13.5 times the fastest speed reaches a quarter of the rate:
        then nothing is left for the envelope.

    Raises
    ------
    InputError
        If a value is outside its range.
    """
    check_positive(highest_shaft_hz, name="highest_shaft_hz")
    top_hz = (N_HARMONICS + EDGE_ORDERS) * highest_shaft_hz
    if top_hz >= sampling_rate_hz / 4:
        return None
    spectrum = record_spectrum(acceleration, sampling_rate_hz)
    n_lines = int(top_hz / spectrum.line_spacing_hz)
    if n_lines < 2 * FEWEST_FLOOR_LINES:
        return None
    envelope = squared_envelope(whiten(spectrum), (top_hz, 0.49 * sampling_rate_hz))
    mean = float(envelope.mean())
    if mean <= 0:
        return None
    slow = fft.rfft(envelope / mean)[: n_lines + 1] / envelope.size
    slow[0] = 0.0
    n_values = fft.next_fast_len(2 * (n_lines + 1), real=True)
    both = np.stack([spectrum.lines[: n_lines + 1] / spectrum.n_samples, slow])
    seconds = spectrum.n_samples / sampling_rate_hz
    return SlowSignals(samples=fft.irfft(both, n=n_values) * n_values, rate_hz=n_values / seconds)


def comb_field(slow: SlowSignals, *, nominal_hz: float, segment_turns: float | None) -> CombField:
    """Lines of segments that overlap by half, each over its own floor.

    Parameters
    ----------
    slow : SlowSignals
        From `slow_signals`.
    nominal_hz : float
        Shaft frequency by which turns are counted, above 0.
    segment_turns : float or None
        Turns per segment, at least 16; None for the whole record in one.

    Returns
    -------
    CombField

    Raises
    ------
    InputError
        If the record is shorter than one segment.
    """
    n_samples = slow.samples.shape[-1]
    length = n_samples
    if segment_turns is not None:
        length = round(segment_turns / nominal_hz * slow.rate_hz)
    if length > n_samples or length * nominal_hz / slow.rate_hz < 16:
        msg = f"a segment must hold 16 turns and fit into the record, got {length} of {n_samples}"
        raise InputError(msg)
    starts = np.unique(
        np.linspace(0, n_samples - length, 1 + round(2 * (n_samples - length) / length)).round()
    ).astype(np.intp)
    width = max(FEWEST_FLOOR_LINES, round(length * nominal_hz / slow.rate_hz))
    return CombField(
        lines=np.stack(
            [np.stack(list(_segments(row, starts, length, width))) for row in slow.samples]
        ),
        line_spacing_hz=slow.rate_hz / length,
        centre_s=(starts + 0.5 * length) / slow.rate_hz,
    )


def _segments(
    samples: NDArray[np.float64], starts: NDArray[np.intp], length: int, width: int
) -> Iterator[NDArray[np.float64]]:
    window = np.hanning(length + 1)[:-1]
    for start in starts:
        part = samples[start : start + length]
        power = np.abs(fft.rfft((part - part.mean()) * window)) ** 2
        score = np.log1p(power / local_floor(power, width))
        yield np.maximum(np.maximum(score, np.roll(score, 1)), np.roll(score, -1))
