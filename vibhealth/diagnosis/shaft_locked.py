"""A family that sits on a whole shaft order: judged against the other shaft orders.

Where slip brings a strike order onto m times the shaft speed, its lines cannot be
told from shaft harmonics one by one. But a bearing that strikes m times per turn
raises m, 2m and 3m over all other whole orders, which looseness, rub or rattle
do not. The lines at multiples of m are compared with the whole orders between
them; under "just shaft harmonics" all their powers are taken as exponential with
one mean. The mean of the three over the mean of the n between them then follows
the F distribution with 6 and 2 n degrees of freedom, which knows how uncertain
the mean of a few lines is (closed form: a ratio of gamma variables).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from vibhealth.diagnosis.comb import HARMONICS
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.sizes import line_depth, modulation_depth

__all__ = ["ShaftLockedFamily", "shaft_locked_family"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftLockedFamily:
    """Best reading of a family on a whole order.

    ``probability`` is corrected for the bands searched.
    """

    probability: float
    depth: float
    envelope: EnvelopeOrders


def shaft_locked_family(envelopes: Sequence[EnvelopeOrders], whole_order: int) -> ShaftLockedFamily:
    """Compare multiples of a whole order with the whole orders between them.

    Parameters
    ----------
    envelopes : sequence of EnvelopeOrders
        Whitened bank; only squared envelopes are used. Not empty.
    whole_order : int
        At least 2, or every line is a multiple and there is nothing to compare
        with: the probability is then 1.

    Returns
    -------
    ShaftLockedFamily
    """
    squared = [e for e in envelopes if e.detector == "squared"]
    readings = []
    for envelope in squared:
        lines = [line_depth(envelope, whole_order * h, 1) for h in HARMONICS]
        top = min(max(HARMONICS) * whole_order, int(envelope.order[-1]))
        between = [
            line_depth(envelope, float(k), 1) ** 2 + envelope.floor[0]
            for k in range(1, top + 1)
            if whole_order > 1 and k % whole_order
        ]
        if not between:
            readings.append((1.0, 0.0, envelope))
            continue
        ratio = float(np.mean(np.square(lines)) / np.mean(between))
        tail = float(special.fdtrc(2 * len(HARMONICS), 2 * len(between), ratio))
        probability = tail * len(squared)
        readings.append((probability, modulation_depth(envelope, float(whole_order), 1), envelope))
    probability, depth, envelope = min(readings, key=lambda reading: (reading[0], -reading[1]))
    return ShaftLockedFamily(probability=min(1.0, probability), depth=depth, envelope=envelope)
