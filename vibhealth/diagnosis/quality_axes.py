"""Channels of one file against the card: does every axis hold the motion that belongs to it.

Two cables swapped at the recorder show in two ways: the strokes fit the card better after a
permutation, and the orbit turns the other way. Where the strokes of two axes are alike only
the sense is left, and that turns as well when the shaft turns backwards or when one sensor
sits the other way round.
"""

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np

from vibhealth._check import check_positive
from vibhealth.card import MachineCard
from vibhealth.diagnosis.motion import first_order_mm, orbit_of
from vibhealth.diagnosis.quality_facts import Outcome, hold, not_judged, passed, watch
from vibhealth.diagnosis.slowed import slowed
from vibhealth.errors import InputError, VibhealthError
from vibhealth.model import QualityFinding, Recording

__all__ = ["EITHER", "check_axes"]

EITHER = "it turns the wrong way or axes are swapped, which equal strokes cannot tell apart"
AXES = ("x", "y", "z")
# An axis whose stroke the card leaves out moves less than this part of the smallest stated one
# (starting value, common practice, no source).
UNSTATED_SHARE = 0.5
# A permutation is only told where the strokes as they are miss the card by more than the stroke
# limit, and miss it this many times less in its order (starting value, no source).
BETTER_TIMES = 3.0


def check_axes(
    recordings: Sequence[Recording], *, card: MachineCard, shaft_hz: float
) -> QualityFinding:
    """Check that no two axes of one file are swapped.

    Parameters
    ----------
    recordings : sequence of Recording
        Channels of one file that were recorded together, with their directions.
    card : MachineCard
        Strokes per axis, and the direction of the orbit.
    shaft_hz : float
        Mean shaft frequency, above 0.

    Returns
    -------
    QualityFinding
        ``axes``: hold where a permutation explains the strokes, or where the sense is
        wrong and the strokes could be either; not judged where fewer than two axes are
        known.

    Raises
    ------
    InputError
        If the recordings are not of one length and rate, or the frequency is not above 0.
    """
    check_positive(shaft_hz, name="shaft_hz")
    if len({(r.samples.shape, r.sampling_rate_hz) for r in recordings}) > 1:
        msg = f"{recordings[0].path}: axes must have been recorded together, at one rate and length"
        raise InputError(msg)
    outcome = _outcome(recordings, card, shaft_hz)
    return QualityFinding(
        id="axes",
        title="Axes not swapped",
        result=outcome.result,
        detail=outcome.detail,
        advice=outcome.advice,
    )


def _outcome(recordings: Sequence[Recording], card: MachineCard, shaft_hz: float) -> Outcome:
    on_axis = [
        slowed(recording, shaft_frequency_hz=shaft_hz)[0]
        for recording in recordings
        if recording.direction in AXES and recording.is_calibrated
    ]
    known = {str(recording.direction): recording for recording in on_axis}
    if card.exciter is None or card.exciter.stroke_mm is None or not {"x", "y"} <= known.keys():
        return not_judged(
            "Swapped axes show only where x and y were recorded together, calibrated, and the "
            "card states the strokes.",
            "Record both radial axes into one file; write [exciter] stroke_mm on the card.",
        )
    try:
        orbit = orbit_of(known["x"], known["y"], shaft_hz)
        strokes = _strokes(known, shaft_hz)
    except VibhealthError as error:
        return not_judged(f"The motion of the axes could not be read: {error}.", "Record longer.")
    stated = {axis: card.exciter.stroke_mm.along(axis) for axis in strokes}
    smallest = min(value for value in stated.values() if value is not None)
    wanted = str(card.exciter.orbit_direction) if card.exciter.orbit_direction else ""
    is_reversed = bool(wanted) and orbit.direction not in {"line", wanted}
    tolerance = 1 + card.limits.value("stroke_hold_percent") / 100
    order = _better_order(strokes, stated, smallest, tolerance)
    read = ", ".join(f"{axis} {stroke:.2f} mm" for axis, stroke in strokes.items())
    says = ", ".join(f"{axis} {value:g} mm" for axis, value in stated.items() if value)
    found = f"The axes read {read} (card: {says})"
    turns = f"the orbit turns {orbit.direction}" + (f" (card: {wanted})" if wanted else "")
    if order is not None:
        pairs = ", ".join(f"{a} holds {b}" for a, b in order.items() if a != b)
        return hold(
            f"{found} and fit the card when {pairs}; {turns}: the axes are swapped.",
            "Check which cable goes to which input and how the sensor is turned; record again.",
        )
    if is_reversed and _miss({"x": strokes["y"], "y": strokes["x"]}, stated, smallest) < np.log(
        tolerance
    ):
        return hold(
            f"{found}; {turns}: {EITHER}.",
            "Check cables and how the sensors are turned; if they are right, the shaft turns the "
            "wrong way: lock out, an electrician checks the rotation.",
        )
    if is_reversed:
        return watch(
            f"{found}; {turns}: the strokes say that the axes are not swapped.",
            "Check that no sensor sits the other way round; if none does, the shaft turns the "
            "wrong way: lock out, an electrician checks the rotation.",
        )
    return passed(f"{found}; {turns}.")


def _strokes(known: dict[str, Recording], shaft_hz: float) -> dict[str, float]:
    """Stroke per axis in mm, peak to peak."""
    axes = sorted(known)
    moved = first_order_mm([known[axis] for axis in axes], shaft_hz)
    return dict(zip(axes, (2 * np.abs(moved)).tolist(), strict=True))


def _better_order(
    strokes: dict[str, float], stated: dict[str, float | None], smallest: float, tolerance: float
) -> dict[str, str] | None:
    """Which axis each channel holds, where another order explains the strokes and this not."""
    as_is = _miss(strokes, stated, smallest)
    if as_is <= np.log(tolerance):
        return None
    best = min(
        _orders(tuple(strokes)), key=lambda order: _miss(_moved(strokes, order), stated, smallest)
    )
    miss = _miss(_moved(strokes, best), stated, smallest)
    is_better = miss <= np.log(tolerance) and miss * BETTER_TIMES < as_is
    return best if is_better else None


def _orders(axes: tuple[str, ...]) -> Iterator[dict[str, str]]:
    for order in permutations(axes):
        yield dict(zip(axes, order, strict=True))


def _moved(strokes: dict[str, float], order: dict[str, str]) -> dict[str, float]:
    return {order[axis]: stroke for axis, stroke in strokes.items()}


def _miss(strokes: dict[str, float], stated: dict[str, float | None], smallest: float) -> float:
    """Largest deviation of the strokes from the card, as a logarithm."""
    misses = []
    for axis, stroke in strokes.items():
        wanted = stated[axis]
        away = np.log(stroke / (wanted if wanted is not None else UNSTATED_SHARE * smallest))
        misses.append(abs(away) if wanted is not None else max(0.0, away))
    return float(max(misses))
