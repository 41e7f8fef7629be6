"""What the search would read of a seeded family: evidence and whitened depth.

The path is the search's own (whitening, bands, both detectors, all widths, comb evidence,
deepest reading), but only in the bands about the seed's resonance and only at the lines of
combs next to the seed's order.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth.diagnosis.comb import (
    Comb,
    CombLines,
    comb_evidence,
    comb_lines,
    evidence_arrays,
    harmonic_widths,
)
from vibhealth.diagnosis.envelope_bank import (
    FLOOR_WIDTH_ORDERS,
    SMALLEST_FLOOR_LINES,
    EnvelopeOrders,
)
from vibhealth.diagnosis.family_bank import STEPS_PER_LINE
from vibhealth.diagnosis.family_sizing import EVIDENCE_SHARE
from vibhealth.diagnosis.seeding_bed import Lines, SeedBed
from vibhealth.diagnosis.sizes import modulation_depth
from vibhealth.signal import Detector
from vibhealth.signal.envelope import LIMIT_OVER_MEDIAN, MEDIAN_OVER_MEAN

__all__ = ["DETECTORS", "Place", "Reading", "place_of", "read_family"]

DETECTORS: tuple[Detector, ...] = ("squared", "limited")

# The best evidence is sought within this many lines of the seed's first centre line.
NEAR_LINES = 6

# The median of the squared envelope is taken of every so many-th value: neighbours are alike.
MEDIAN_STRIDE = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Largest evidence near the seed's order, and the depth that is read there."""

    evidence: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Combs next to an order, and their lines packed closely, for several spectra at once.

    ``picked`` are the numbers of the lines that are looked at, in ``runs`` from a first line to
    below a last one, in whose middle a run's floor is taken. ``packed`` are the combs' lines
    counted among them, one row per spectrum.
    """

    orders: NDArray[np.float64]
    picked: NDArray[np.int64]
    packed: CombLines
    runs: tuple[tuple[int, int], ...]
    masked: NDArray[np.bool_]
    hidden: NDArray[np.bool_]
    widths: tuple[int, ...]
    order_spacing: float


def place_of(  # noqa: PLR0913 (a comb, and the spectra it is read in)
    comb: Comb,
    order: float,
    *,
    order_spacing: float,
    masked: NDArray[np.bool_],
    widths: Sequence[int],
    n_spectra: int,
) -> Place:
    """Combs within `NEAR_LINES` of an order.

    Parameters
    ----------
    comb : Comb
        Whose side bands count.
    order : float
        First centre line, above 0.
    order_spacing : float
        Of the envelope spectra.
    masked : ndarray of bool, shape (n_lines,)
        Lines that are no evidence; its length is that of the longest spectrum.
    widths : sequence of int
        Widths that the search tries.
    n_spectra : int
        Bands times detectors.

    Returns
    -------
    Place
    """
    step = order_spacing / STEPS_PER_LINE
    reach = NEAR_LINES * STEPS_PER_LINE
    orders = order + step * np.arange(-reach, reach + 1, dtype=np.float64)
    lines = comb_lines(orders, comb.spacings, order_spacing=order_spacing, n_lines=masked.size)
    margin = max(harmonic_widths(max(widths))) // 2 + 1
    runs = [
        (max(1, int(row[row > 0].min()) - margin), min(masked.size, int(row.max()) + margin + 1))
        if row.any()
        else (0, 0)
        for row in (*lines.centre, *(row for _, row in lines.sides))
    ]
    starts = 1 + np.concatenate(([0], np.cumsum([high - low for low, high in runs])))
    picked = np.concatenate([np.zeros(1, dtype=np.int64), *(np.arange(*run) for run in runs)])
    packed = [
        _stacked(np.where(row > 0, row - run[0] + start, 0), n_spectra, picked.size)
        for row, run, start in zip(
            (*lines.centre, *(row for _, row in lines.sides)), runs, starts[:-1], strict=True
        )
    ]
    n_centre = len(lines.centre)
    return Place(
        orders=orders,
        picked=picked,
        packed=CombLines(
            orders=orders,
            centre=tuple(packed[:n_centre]),
            sides=tuple(
                (position, row)
                for (position, _), row in zip(lines.sides, packed[n_centre:], strict=True)
            ),
        ),
        runs=tuple(runs),
        masked=np.tile(masked[picked], n_spectra),
        hidden=masked[lines.centre[0]],
        widths=tuple(widths),
        order_spacing=order_spacing,
    )


def _stacked(index: NDArray[np.int64], n_spectra: int, size: int) -> NDArray[np.int64]:
    """Numbers of the same lines in spectra that follow one another; 0 stays 0."""
    offsets = size * np.arange(n_spectra, dtype=np.int64)[:, np.newaxis]
    return np.where(index > 0, index + offsets, 0)


def read_family(
    bed: SeedBed, seeds: Sequence[Lines], amplitude: float, place: Place, *, highest_line: int
) -> Reading:
    """Read a family in the bed with seeds of an amplitude.

    Parameters
    ----------
    bed : SeedBed
        The record about a resonance.
    seeds : sequence of ndarray of complex64
        Seeded lines of every block, as from `seed_lines`.
    amplitude : float
        Of the strongest strikes; 0 reads the record as it is.
    place : Place
        Combs next to the seeds' order, for as many spectra as the bed has bands and detectors.
    highest_line : int
        Last line of the search's envelope spectra.

    Returns
    -------
    Reading
    """
    whitened = [
        _white(block.lines + np.float32(amplitude) * seed)
        for block, seed in zip(bed.blocks, seeds, strict=True)
    ]
    envelopes: list[EnvelopeOrders] = []
    for band_hz, (low, high) in zip(bed.bands, bed.line_bands, strict=True):
        n_lines = min(highest_line, high - low)
        powers = [_powers(lines[low:high], n_lines) for lines in whitened]
        for number, detector in enumerate(DETECTORS):
            power = powers[0][number]
            if len(powers) > 1:
                power = np.mean([power[number] for power in powers], axis=0)
            envelopes.append(_envelope(power, place, band_hz, detector, len(powers)))
    packed = _packed(envelopes, place)
    best, shown, at, width = -1.0, np.empty(0), 0, 1
    for tried in place.widths:
        evidence = comb_evidence(evidence_arrays(packed, tried, place.masked), place.packed)
        evidence[:, place.hidden] = 0.0
        if evidence.max() > best:
            best, width = float(evidence.max()), tried
            at = int(np.argmax(evidence.max(axis=0)))
            shown = evidence[:: len(DETECTORS), at]
    depths = [
        modulation_depth(envelope, float(place.orders[at]), width)
        for envelope, evidence in zip(envelopes[:: len(DETECTORS)], shown, strict=True)
        if evidence >= EVIDENCE_SHARE * shown.max()
    ]
    return Reading(evidence=best, depth=max(depths))


def _white(lines: Lines) -> Lines:
    magnitude = np.abs(lines)
    white: Lines = np.divide(lines, magnitude, out=np.zeros_like(lines), where=magnitude > 0)
    return white


def _powers(lines: Lines, n_lines: int) -> list[NDArray[np.float64]]:
    """Squared depths of both detectors up to line ``n_lines``; what folds lies above it."""
    n_values = fft.next_fast_len(lines.size + n_lines + 1, real=True)
    signal = fft.ifft(lines, n=n_values)
    envelope = signal.real**2 + signal.imag**2
    cut = np.float32(LIMIT_OVER_MEDIAN) * np.median(envelope[::MEDIAN_STRIDE])
    powers = []
    for values in (envelope, np.minimum(envelope, cut)):
        spectrum = fft.rfft(values)
        depth = np.abs(spectrum[: n_lines + 1]) * (2.0 / max(float(spectrum[0].real), 1e-30))
        depth[0] = 0.0
        powers.append(np.asarray(depth, dtype=np.float64) ** 2)
    return powers


def _envelope(
    power: NDArray[np.float64],
    place: Place,
    band_hz: tuple[float, float],
    detector: Detector,
    n_averages: int,
) -> EnvelopeOrders:
    """Spectrum of one band; its floor is known at the picked lines only."""
    width = max(SMALLEST_FLOOR_LINES, round(FLOOR_WIDTH_ORDERS / place.order_spacing))
    width = min(width, power.size - 1)
    middles = np.array([(low + high) // 2 for low, high in place.runs])
    starts = np.clip(middles - width // 2, 1, power.size - width)
    near = np.lib.stride_tricks.sliding_window_view(power, width)[starts]
    medians = np.partition(near, width // 2, axis=1)[:, width // 2] / MEDIAN_OVER_MEAN
    floor = np.full(power.size, np.inf)
    for (low, high), median in zip(place.runs, medians, strict=True):
        floor[low:high] = max(float(median), np.finfo(np.float64).tiny)
    return EnvelopeOrders(
        band_hz=band_hz,
        detector=detector,
        is_whitened=True,
        order_spacing=place.order_spacing,
        depth_power=power,
        floor=floor,
        mean_square=1.0,
        n_averages=n_averages,
    )


def _packed(envelopes: Sequence[EnvelopeOrders], place: Place) -> EnvelopeOrders:
    """The picked lines of all spectra, one behind the other; what a narrow band lacks is 0."""
    powers, floors = [], []
    for envelope in envelopes:
        inside = place.picked < envelope.depth_power.size
        index = np.where(inside, place.picked, 0)
        powers.append(np.where(inside, envelope.depth_power[index], 0.0))
        floors.append(np.where(inside, envelope.floor[index], 1.0))
    return replace(envelopes[0], depth_power=np.concatenate(powers), floor=np.concatenate(floors))
