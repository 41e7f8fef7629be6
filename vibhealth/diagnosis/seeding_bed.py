"""The real recording as a bed for seeds: limited as in the search, cut to a resonance.

Limiting hard hits acts on the whole record at every moment. A small seed does not change how
it acts: it passes the smooth curve that evens the record in frequency, and each strike is
scaled down like the samples it falls on. So the limited record is made once, and seeds
are added to a slice of its spectrum about their resonance.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import uniform_filter1d

from vibhealth.diagnosis.seeding import DAMPING_RATIO, RING_REACH, Strikes, ring_lines
from vibhealth.signal import RecordSpectrum
from vibhealth.signal.hit_limiting import SMOOTHED_SHARE, limit_hits

__all__ = ["BedBlock", "LimitedBlock", "SeedBed", "limited_block", "seed_bed", "seed_lines"]

# The gain of a moment is averaged over so long: strikes ring about as long.
GAIN_STEP_S = 1e-3

# Bands in which seeds are read: those that promise most depth, and most evidence.
BANDS_BY_DEPTH = 2
BANDS_BY_EVIDENCE = 1

# Share of the whitened power, in the best band, from which the search of a size starts.
START_SHARE = 0.05
SMOOTHED_LINES = 64

Lines = NDArray[np.complex64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitedBlock:
    """One block of the record after its hits were limited.

    ``curve`` is what evened its lines from number ``first`` on, ``gain`` the mean gain of
    every `GAIN_STEP_S` or so.
    """

    spectrum: RecordSpectrum
    first: int
    curve: NDArray[np.float64]
    gain: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class BedBlock:
    """Lines of one block in the slice, and the answer to a strike of peak 1 there."""

    lines: Lines
    answer: Lines
    gain: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedBed:
    """Slice of the record about a resonance, and the bands of the bank that are read in it.

    ``line_bands`` holds the first and last line of every band, counted from line
    ``first`` of the record, where the slice begins. ``start_power`` is the squared
    amplitude times strikes per block that makes up `START_SHARE` of the best band.
    """

    blocks: tuple[BedBlock, ...]
    bands: tuple[tuple[float, float], ...]
    line_bands: tuple[tuple[int, int], ...]
    first: int
    line_spacing_hz: float
    ring_hz: float
    start_power: float

    @property
    def duration_s(self) -> float:
        """Of one block."""
        return 1.0 / self.line_spacing_hz


def limited_block(recorded: RecordSpectrum, *, lowest_hz: float) -> LimitedBlock:
    """Limit the hits of a block as the search does, and keep what that does to a seed.

    Parameters
    ----------
    recorded : RecordSpectrum
        As recorded.
    lowest_hz : float
        As in the search.

    Returns
    -------
    LimitedBlock
    """
    limited = limit_hits(recorded, lowest_hz=lowest_hz)
    first = max(1, round(lowest_hz / recorded.line_spacing_hz))
    lines = recorded.lines[first:]
    magnitude = np.maximum(np.abs(lines), np.finfo(np.float64).tiny)
    width = max(3, round(SMOOTHED_SHARE * lines.size))
    curve = np.exp(uniform_filter1d(np.log(magnitude), width, mode="nearest"))
    even = np.concatenate((np.zeros(first), lines / curve))
    step = max(1, round(GAIN_STEP_S * recorded.sampling_rate_hz))
    before, after = (
        np.add.reduceat(
            np.abs(fft.irfft(half.astype(np.complex64), recorded.n_samples)),
            np.arange(0, recorded.n_samples, step),
        )
        for half in (even, limited.lines)
    )
    gain = np.minimum(1.0, after / np.maximum(before, np.finfo(np.float32).tiny))
    return LimitedBlock(
        spectrum=limited, first=first, curve=curve, gain=np.asarray(gain, dtype=np.float64)
    )


def seed_bed(
    blocks: Sequence[LimitedBlock], bands: Sequence[tuple[float, float]], *, ring_hz: float
) -> SeedBed | None:
    """Cut the slice about a resonance, with the bands that promise most.

    Parameters
    ----------
    blocks : sequence of LimitedBlock
        All of the same length.
    bands : sequence of (low, high)
        Bank of the search.
    ring_hz : float
        Resonance that seeds ring.

    Returns
    -------
    SeedBed or None
        None where no band shows the resonance, or where the record is silent there.
    """
    if not all(np.any(block.spectrum.lines) for block in blocks):
        return None
    spacing = blocks[0].spectrum.line_spacing_hz
    answers = [_answer(block, ring_hz) for block in blocks]
    noise = np.sum(
        [_smooth(np.abs(block.spectrum.lines[block.first :]) ** 2) for block in blocks], axis=0
    )
    signal = np.sum([_smooth(np.abs(answer) ** 2) for answer in answers], axis=0)
    first = blocks[0].first
    edges = [(round(low / spacing), round(high / spacing)) for low, high in bands]
    cuts = [
        (max(0, low - first) // SMOOTHED_LINES, -(-(high - first) // SMOOTHED_LINES))
        for low, high in edges
    ]
    if not any(signal[low:high].any() and noise[low:high].all() for low, high in cuts):
        return None
    power, shares = _start(signal, noise, cuts)
    widths = np.array([high - low for low, high in edges])
    kept = list(np.argsort(-shares, kind="stable")[:BANDS_BY_DEPTH])
    kept += list(np.argsort(-(shares**2) * widths, kind="stable")[:BANDS_BY_EVIDENCE])
    numbers = sorted({int(number) for number in kept})
    low = min(edges[number][0] for number in numbers)
    high = max(edges[number][1] for number in numbers)
    return SeedBed(
        blocks=tuple(
            BedBlock(
                lines=block.spectrum.lines[low:high].astype(np.complex64),
                answer=answer[low - block.first : high - block.first].astype(np.complex64),
                gain=block.gain,
            )
            for block, answer in zip(blocks, answers, strict=True)
        ),
        bands=tuple(bands[number] for number in numbers),
        line_bands=tuple((edges[n][0] - low, edges[n][1] - low) for n in numbers),
        first=low,
        line_spacing_hz=spacing,
        ring_hz=ring_hz,
        start_power=power,
    )


def _answer(block: LimitedBlock, ring_hz: float) -> NDArray[np.complex128]:
    """Lines, from the block's first on, of one strike of peak 1 at the beginning."""
    spectrum = block.spectrum
    number = np.arange(block.first, block.first + block.curve.size)
    near = np.abs(np.log(number * spectrum.line_spacing_hz / ring_hz)) < math.log(RING_REACH)
    answer = np.zeros(number.size, dtype=np.complex128)
    ring = ring_lines(number[near] * spectrum.line_spacing_hz, ring_hz)
    answer[near] = spectrum.sampling_rate_hz * ring / block.curve[near]
    return answer


def _smooth(power: NDArray[np.float64]) -> NDArray[np.float64]:
    whole = power.size // SMOOTHED_LINES * SMOOTHED_LINES
    mean: NDArray[np.float64] = power[:whole].reshape(-1, SMOOTHED_LINES).mean(axis=1)
    return mean


def _start(
    signal: NDArray[np.float64], noise: NDArray[np.float64], cuts: list[tuple[int, int]]
) -> tuple[float, NDArray[np.float64]]:
    """Power at which a seed makes up the start's share of the best band, and all bands' shares."""

    def shares(power: float) -> NDArray[np.float64]:
        total = np.maximum(power * signal + noise, np.finfo(np.float64).tiny)
        share = power * signal / total
        return np.array([share[low:high].mean() if high > low else 0.0 for low, high in cuts])

    scale = float(np.sum(noise[signal > 0]) / np.sum(signal))
    low, high = 1e-12 * scale, 1e12 * scale
    for _ in range(40):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if shares(middle).max() < START_SHARE else (low, middle)
    return high, shares(high)


def seed_lines(bed: SeedBed, block: BedBlock, strikes: Strikes) -> Lines:
    """Lines of a train in the slice, for strikes of peak 1 before the hits were limited.

    The strikes are put between the points of a grid twice as fine as the slice is wide, by
    straight lines whose own spectrum, a squared sinc, is divided out again.

    Parameters
    ----------
    bed : SeedBed
        Where the slice lies.
    block : BedBlock
        One of its blocks.
    strikes : Strikes
        Within the block's duration.

    Returns
    -------
    ndarray of complex64, shape of the slice
    """
    n_lines = block.lines.size
    n_grid = fft.next_fast_len(2 * n_lines)
    middle = n_lines // 2
    centre_hz = (bed.first + middle) * bed.line_spacing_hz
    rung_s = 0.5 / (2 * np.pi * DAMPING_RATIO * bed.ring_hz)
    moment = ((strikes.time_s + rung_s) / bed.duration_s * block.gain.size).astype(np.int64)
    weight = strikes.strength * block.gain[np.minimum(moment, block.gain.size - 1)]
    weight = weight * np.exp(-2j * np.pi * ((centre_hz * strikes.time_s) % 1.0))
    place = strikes.time_s / bed.duration_s * n_grid
    left = np.floor(place).astype(np.int64)
    part = place - left
    index = np.concatenate((left % n_grid, (left + 1) % n_grid))
    value = np.concatenate((weight * (1 - part), weight * part))
    grid = np.empty(n_grid, dtype=np.complex64)
    grid.real = np.bincount(index, value.real, n_grid)
    grid.imag = np.bincount(index, value.imag, n_grid)
    lines = fft.fft(grid)
    number = np.arange(n_lines) - middle
    cut = np.concatenate((lines[n_grid - middle :], lines[: n_lines - middle]))
    kernel = np.sinc(number / n_grid).astype(np.float32) ** 2
    seed: Lines = (cut * block.answer / kernel).astype(np.complex64)
    return seed
