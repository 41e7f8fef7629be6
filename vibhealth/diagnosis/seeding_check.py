"""Whether a seed is significant when chance is measured beside it.

The search measures chance in the recording that it searches. A seed mixes with what the
recording has of its own, and where that is periodic its mixtures stand at many orders and
raise what chance reaches. So seeds of the stated size are searched once over all orders, in the
bands about their resonance, by the search itself.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vibhealth.diagnosis.comb import Comb
from vibhealth.diagnosis.envelope_bank import envelope_bank
from vibhealth.diagnosis.family_search import FoundFamily, search_families
from vibhealth.diagnosis.seeding_bed import SeedBed
from vibhealth.diagnosis.seeding_trials import Seeded, Train
from vibhealth.signal import RecordSpectrum, whiten

__all__ = ["searched_seed"]


def searched_seed(
    bed: SeedBed,
    train: Train,
    amplitude: float,
    seeded: Seeded,
    *,
    others: Sequence[Comb],
    probability: float,
) -> FoundFamily:
    """What the search makes of a seeded family in the bands of a bed.

    Parameters
    ----------
    bed : SeedBed
        The record about a resonance.
    train : Train
        What is seeded.
    amplitude : float
        Of its strongest strikes.
    seeded : Seeded
        The family.
    others : sequence of Comb
        Families that the recording itself shows: they are explained beside it.
    probability : float
        Largest false-alarm probability of one family.

    Returns
    -------
    FoundFamily
    """
    envelopes = envelope_bank(
        [
            _slice(bed, block.lines + np.complex64(amplitude) * seed)
            for block, seed in zip(bed.blocks, train.seeds, strict=True)
        ],
        tuple(
            ((low + 1) * bed.line_spacing_hz, (high + 1) * bed.line_spacing_hz)
            for low, high in bed.line_bands
        ),
        shaft_frequency_hz=seeded.shaft_frequency_hz,
        highest_order=(seeded.highest_line + 0.5) * seeded.order_spacing,
    )
    own = replace(seeded.comb, strike_order=seeded.centre_order)
    found = search_families(
        list(envelopes),
        [own, *others],
        slip=seeded.slip,
        significance=probability * (1 + len(others)),
    )
    return next(family for family in found if family.comb is own)


def _slice(bed: SeedBed, lines: np.ndarray[tuple[int, ...], np.dtype[np.complex64]]) -> RecordSpectrum:
    """The slice alone as a record of its own, moved down to the first line."""
    n_samples = 2 * (lines.size + 2)
    whole = np.zeros(lines.size + 3, dtype=np.complex64)
    whole[1 : lines.size + 1] = lines
    return whiten(
        RecordSpectrum(
            lines=whole, n_samples=n_samples, sampling_rate_hz=n_samples * bed.line_spacing_hz
        )
    )
