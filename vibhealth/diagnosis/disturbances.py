"""What is not the bearing but strikes or hums, and may hide it.

Three things are looked for in the bearing band: hard hits at random (falling
material), hits at one place of the turn (a loose guard), and lines that keep to their
Hz (an inverter). What a bearing or the shaft does is none of them: strikes at recurring
distances, and lines that follow the speed. Where one is found and the recording could not
have shown a small defect, the bearing is masked: neither good nor bad.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_band, check_positive, check_samples
from vibhealth.diagnosis.disturbance_hits import HardHits, even_band, hard_hits
from vibhealth.diagnosis.disturbance_lines import FixedLines, fixed_lines
from vibhealth.diagnosis.disturbance_timing import (
    LONGEST_S,
    LONGEST_TURNS,
    LockedHits,
    locked_to_shaft,
    random_hits,
)
from vibhealth.diagnosis.envelope_bank import split_blocks
from vibhealth.diagnosis.motion import shaft_phase_of
from vibhealth.errors import InputError, VibhealthError
from vibhealth.model import Disturbance
from vibhealth.signal import record_spectrum

__all__ = ["find_disturbances", "masking_reason"]

# Fewer hits in a recording are knocks, not material. Hits at random next to a rhythm are only told
# where they are at least this share of all (common practice, no source).
FEWEST_HITS = 10
LEAST_RANDOM_SHARE = 1 / 3

# What carries less of the band's energy hides nothing (common practice, no source).
LEAST_ENERGY = 0.01

# Speed is compared over pieces of this length.
SPEED_STEP_S = 0.5

TITLES = {
    "material-strikes": "Hard hits at random",
    "strikes-at-1x": "Hits at the same place of every turn",
    "lines-fixed-in-hz": "Lines that keep to their Hz",
}
ADVICE = {
    "material-strikes": "Stop the feed, let the machine run empty, and record again.",
    "strikes-at-1x": "Lock out, then tighten the guard or give it clearance, guard bolts and "
    "bearing-unit bolts first; put it back before the start: never record with a guard off.",
    "lines-fixed-in-hz": "Look at the inverter: record again at another supply frequency, or fed "
    "direct from the mains; check that the sensor cable is shielded and earthed at one end only.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heard:
    """Hits and lines of a whole recording; ``turns`` is None without a shaft speed."""

    hits: HardHits
    hit_turns: NDArray[np.float64] | None
    n_turns: float
    lines: FixedLines


def find_disturbances(
    samples: ArrayLike,
    sampling_rate_hz: float,
    *,
    shaft_frequency_hz: float | None,
    bearing_band_hz: tuple[float, float],
    shaft_phase_turns: NDArray[np.float64] | None = None,
) -> tuple[Disturbance, ...]:
    """Find what strikes or hums in the bearing band and is not the bearing.

    Parameters
    ----------
    samples : array_like, shape (n_samples,)
        At equal times (never at equal angles: lines fixed in Hz would be smeared), in any
        unit, at least 16.
    sampling_rate_hz : float
        Above 0.
    shaft_frequency_hz : float or None
        Mean over the recording; without it nothing is told about the shaft, and a
        line cannot be told from its own.
    bearing_band_hz : tuple of float
        ``0 < low < high <= nyquist``.
    shaft_phase_turns : ndarray, shape (n_samples,), optional
        Shaft angle of each sample, strictly rising. By default read from the 1x motion;
        where that does not stand out, the speed counts as constant.

    Returns
    -------
    tuple of Disturbance
        At most one of each kind: ``material-strikes`` in hits per second,
        ``strikes-at-1x`` in times the band's noise (envelope of the middle hit over the
        root mean square), ``lines-fixed-in-hz`` in percent of the band's energy.

    Raises
    ------
    InputError
        If a value is outside its range, or the band is silent.
    """
    values = check_samples(samples, minimum=16)
    rate_hz = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    band_hz = check_band(bearing_band_hz, nyquist_hz=rate_hz / 2)
    if values.ndim != 1:
        msg = f"samples must be one channel, got shape {values.shape}"
        raise InputError(msg)
    if shaft_frequency_hz is not None:
        check_positive(shaft_frequency_hz, name="shaft_frequency_hz")
    phase = _phase(values, rate_hz, shaft_frequency_hz, shaft_phase_turns)
    heard = _listen(values, rate_hz, band_hz, phase)
    locked = None if heard.hit_turns is None else locked_to_shaft(heard.hit_turns, heard.n_turns)
    found = (_material(heard, locked), _guard(heard, locked), _hum(heard.lines))
    return tuple(item for item in found if item is not None)


def _phase(
    values: NDArray[np.float64],
    rate_hz: float,
    shaft_hz: float | None,
    given: NDArray[np.float64] | None,
) -> NDArray[np.float64] | None:
    """Shaft angle of each sample; at constant speed where 1x cannot be followed."""
    if given is not None:
        if given.shape != values.shape:
            msg = f"shaft_phase_turns must have shape {values.shape}, got {given.shape}"
            raise InputError(msg)
        return given
    if shaft_hz is None:
        return None
    try:
        return shaft_phase_of(values, rate_hz, shaft_frequency_hz=shaft_hz)
    except VibhealthError:  # too short, or 1x fades: the speed check says so
        return np.arange(values.size, dtype=np.float64) * (shaft_hz / rate_hz)


def _listen(
    values: NDArray[np.float64],
    rate_hz: float,
    band_hz: tuple[float, float],
    phase: NDArray[np.float64] | None,
) -> _Heard:
    """Hits and lines of all blocks, in the time of the recording."""
    blocks = split_blocks(values)
    length = blocks[0].size
    hits, lines, n_turns = [], [], 0.0
    for number, block in enumerate(blocks):
        spectrum = record_spectrum(block, rate_hz)
        start = number * length
        angle = None if phase is None else phase[start : start + spectrum.n_samples]
        found = fixed_lines(
            spectrum,
            band_hz,
            shaft_frequency_hz=None if angle is None else _mean_frequency_hz(angle, rate_hz),
            stray_turns=0.0 if angle is None else _stray_turns(angle),
            speed_spread=0.0 if angle is None else _speed_spread(angle, rate_hz),
        )
        envelope = even_band(spectrum, band_hz)
        at = np.arange(envelope.size) * (spectrum.n_samples / envelope.size)
        own = hard_hits(
            envelope,
            bandwidth_hz=band_hz[1] - band_hz[0],
            duration_s=spectrum.n_samples / rate_hz,
            phase_turns=None if angle is None else np.interp(at, np.arange(angle.size), angle),
        )
        hits.append(replace(own, times_s=own.times_s + start / rate_hz))
        lines.append(found)
        n_turns += 0.0 if angle is None else float(angle[-1] - angle[0])
    joined = _joined(hits)
    return _Heard(
        hits=joined,
        hit_turns=None
        if phase is None
        else np.interp(joined.times_s * rate_hz, np.arange(phase.size), phase),
        n_turns=n_turns,
        lines=max(lines, key=lambda found: float(found.energies.sum())),
    )


def _mean_frequency_hz(angle: NDArray[np.float64], rate_hz: float) -> float:
    return float(angle[-1] - angle[0]) * rate_hz / (angle.size - 1)


def _stray_turns(angle: NDArray[np.float64]) -> float:
    """Peak to peak, about the straight line through both ends."""
    return float(np.ptp(angle - np.linspace(angle[0], angle[-1], angle.size)))


def _speed_spread(angle: NDArray[np.float64], rate_hz: float) -> float:
    """Largest deviation of the speed over half a second from its mean, as a share."""
    step = max(1, round(SPEED_STEP_S * rate_hz))
    turned = np.diff(angle[::step])
    return float(np.max(np.abs(turned / turned.mean() - 1.0))) if turned.size > 1 else 0.0


def _joined(parts: Sequence[HardHits]) -> HardHits:
    """Hits of all blocks; each block's share of energy counts by its length."""
    duration_s = sum(part.duration_s for part in parts)
    return HardHits(
        times_s=np.concatenate([part.times_s for part in parts]),
        heights=np.concatenate([part.heights for part in parts]),
        energies=np.concatenate([part.energies * part.duration_s / duration_s for part in parts]),
        busy_s=sum(part.busy_s for part in parts),
        ring_s=max(part.ring_s for part in parts),
        duration_s=duration_s,
        background_rise=sum(part.background_rise * part.duration_s for part in parts) / duration_s,
    )


def _material(heard: _Heard, locked: LockedHits | None) -> Disturbance | None:
    hits = heard.hits
    others, free_share = np.ones(hits.times_s.shape, dtype=np.bool_), 1.0
    if locked is not None:
        others, free_share = ~(locked.is_locked | locked.is_beside), locked.free_share
    n_others = int(np.count_nonzero(others))
    if n_others < FEWEST_HITS:
        return None
    if heard.hit_turns is None:
        positions, length, shortest, longest = hits.times_s, hits.duration_s, hits.ring_s, LONGEST_S
    else:
        positions, length = heard.hit_turns, heard.n_turns
        shortest, longest = hits.ring_s * heard.n_turns / hits.duration_s, LONGEST_TURNS
    n_random = random_hits(positions[others], length, shortest=shortest, longest=longest)
    share = float(hits.energies[others].sum()) / max(free_share, 0.1)
    if n_random < max(FEWEST_HITS, LEAST_RANDOM_SHARE * n_others) or share < LEAST_ENERGY:
        return None
    # While one hit rings, the next is not told apart: counted over the time that was free.
    free_s = max(hits.duration_s - hits.busy_s, 0.1 * hits.duration_s) * max(free_share, 0.1)
    per_second = n_random / free_s
    often = (
        f"{per_second:.2g} hard hits per second"
        if per_second >= 0.95
        else (f"{60 * per_second:.0f} hard hits per minute")
    )
    told = _disturbance(
        "material-strikes",
        per_second,
        "1/s",
        f"{often}, at random: falling material; {100 * share:.0f} % of the band's energy "
        "is theirs.",
    )
    return replace(told, background_rise=hits.background_rise)


def _guard(heard: _Heard, locked: LockedHits | None) -> Disturbance | None:
    if locked is None:
        return None
    height = float(np.median(heard.hits.heights[locked.is_locked]))
    share = float(heard.hits.energies[locked.is_locked].sum())
    return _disturbance(
        "strikes-at-1x",
        height,
        "times the noise",
        f"Something hits at the same place of the turn, in {100 * locked.turn_share:.0f} of 100 "
        f"turns, {height:.0f} times as high as the noise: a loose guard or a loose bolt; "
        f"{100 * share:.0f} % of the band's energy is theirs.",
    )


def _hum(lines: FixedLines) -> Disturbance | None:
    share = float(lines.energies.sum())
    if share < LEAST_ENERGY:
        return None
    strongest_hz = float(lines.frequencies_hz[np.argmax(lines.energies)])
    count = lines.frequencies_hz.size
    what = "One line keeps" if count == 1 else f"{count} lines keep"
    return _disturbance(
        "lines-fixed-in-hz",
        100 * share,
        "%",
        f"{what} to the same Hz whatever the shaft does, the strongest at {strongest_hz:.0f} Hz: "
        f"an inverter or another electrical source; {100 * share:.0f} % of the band's energy.",
    )


def _disturbance(
    kind: Literal["material-strikes", "strikes-at-1x", "lines-fixed-in-hz"],
    value: float,
    unit: str,
    detail: str,
) -> Disturbance:
    return Disturbance(
        id=kind, title=TITLES[kind], value=value, unit=unit, detail=detail, advice=ADVICE[kind]
    )


def masking_reason(
    disturbances: Sequence[Disturbance], detectable: Sequence[float | None], limit: float
) -> str:
    """Say what hides the bearing, or nothing.

    A recording that could have shown a defect of the limit's size in every element is
    not masked, whatever strikes or hums in it. One that could not, for any element or for
    an unknown size, is: what was not found there is not known to be absent.

    Parameters
    ----------
    disturbances : sequence of Disturbance
        Of the recording, as from `find_disturbances`.
    detectable : sequence of float or None
        Smallest depth, or smallest strike amplitude, that each element would have shown;
        infinite where none would, None where not known. An empty sequence: nothing was
        searched, nothing would have been shown.
    limit : float
        Largest of them that is small enough, in the same unit, above 0.

    Returns
    -------
    str
        One sentence; empty without a disturbance, or where all of ``detectable`` are at
        most ``limit``.

    Raises
    ------
    InputError
        If the limit is not above 0, or one of ``detectable`` is negative or no number.

    Examples
    --------
    >>> hits = Disturbance(
    ...     id="material-strikes", title="", value=12.0, unit="1/s", detail=""
    ... )
    >>> masking_reason([hits], [0.1, 0.4], 0.3)
    'Masked: falling material (12 hard hits per second) hides the bearing.'
    >>> masking_reason([hits], [0.1, 0.2], 0.3)
    ''
    """
    check_positive(limit, name="limit")
    for value in detectable:
        if value is not None and not value >= 0:
            msg = f"detectable must hold numbers of at least 0, inf or None, got {value}"
            raise InputError(msg)
    is_seen = bool(detectable) and all(value is not None and value <= limit for value in detectable)
    if is_seen or not disturbances:
        return ""
    causes = [_cause(item) for item in disturbances]
    verb = "hides" if len(causes) == 1 and not causes[0].startswith("lines") else "hide"
    return f"Masked: {' and '.join(causes)} {verb} the bearing."


def _cause(item: Disturbance) -> str:
    if item.id == "material-strikes":
        return f"falling material ({item.value:.2g} hard hits per second)"
    if item.id == "strikes-at-1x":
        return f"a guard or bolt that hits every turn ({item.value:.0f} times the noise)"
    return f"lines fixed in Hz ({item.value:.0f} % of the band's energy)"
