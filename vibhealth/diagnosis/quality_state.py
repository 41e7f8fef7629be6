"""Is the recording long, fast and unbroken enough: turns, bandwidth, aliasing, mains, lost samples.

Limits whose comment names no source are starting limits of this project, common
practice without a published source.
"""

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from vibhealth.diagnosis.quality_facts import (
    MAX_SPECTRUM_SAMPLES,
    Needs,
    Outcome,
    SampleFacts,
    hold,
    not_judged,
    passed,
    watch,
)
from vibhealth.units import STANDARD_GRAVITY_M_S2

__all__ = ["anti_alias", "band_alive", "bandwidth", "length", "mains"]

USABLE_SHARE_OF_NYQUIST = 0.98
BAND_SHARE_HOLD = 0.5
ANTI_ALIAS_DB = 6.0
# Folded at half the sampling rate, a spectrum has no slope there, and no edge of a filter before.
FOLDED_SLOPE_DB = 1.5
WELCH_SAMPLES = 4096
MAINS_HZ = (50.0, 60.0)
MAINS_HARMONICS = 10
MAINS_SHARE = 0.05
MAINS_MINIMUM_S = 2.0
SHAFT_HARMONICS = 40


# Quietest that a bearing band can be on a running machine: 0.5 mg rms, and per part of the band
# 0.5 ug/sqrt(Hz), below the noise of the best industrial accelerometers (common practice, no
# source). Without calibration: this share of the whole record's rms.
QUIETEST_RMS_M_S2 = 0.005
QUIETEST_DENSITY = (0.5e-6 * STANDARD_GRAVITY_M_S2) ** 2
QUIETEST_SHARE = 1e-6
BAND_PARTS = 16
DEAD_SHARE_HOLD = 0.25


def length(facts: SampleFacts, needs: Needs) -> Outcome:
    """Count the turns."""
    seconds = facts.recording.duration_s
    if needs.shaft_frequency_hz is None:
        return not_judged(
            f"{seconds:.3g} s recorded, but without a shaft speed the turns are not known.",
            "Give the shaft speed, or record longer at a steady speed.",
        )
    turns = seconds * needs.shaft_frequency_hz
    wanted_s = math.ceil(needs.recommended_turns / needs.shaft_frequency_hz)
    found = f"{turns:.0f} turns in {seconds:.3g} s"
    limits = (
        f"(at least {needs.minimum_turns:g}, better {needs.recommended_turns:g}; "
        f"{needs.turns_source})"
    )
    if turns < needs.minimum_turns:
        return hold(f"Only {found} {limits}.", f"Record at least {wanted_s} s.")
    if turns < needs.recommended_turns:
        return watch(f"{found} {limits}.", f"Next time record at least {wanted_s} s.")
    return passed(f"{found} {limits}.")


def bandwidth(facts: SampleFacts, needs: Needs) -> Outcome:
    """Compare what rate and sensor can carry with what is needed."""
    low_hz, high_hz = _usable_band(facts)
    usable = f"usable from {low_hz:g} to {high_hz:g} Hz"
    if facts.recording.sensor_usable_hz is None:
        usable += " by the sampling rate alone (the sensor's band is not stated)"
    advice = (
        "Record at a higher sampling rate (25.6 kHz reaches 10 kHz), with a sensor and a mount "
        "that carry the band."
    )
    if needs.highest_needed_hz is not None and needs.highest_needed_hz > high_hz:
        return hold(f"{needs.highest_needed_hz:g} Hz is needed, {usable}.", advice)
    if needs.bearing_band_hz is None:
        return not_judged(
            f"No bearing band is given; {usable}.", "Write the bearing band on the machine card."
        )
    band_low, band_high = needs.bearing_band_hz
    covered = max(0.0, min(band_high, high_hz) - max(band_low, low_hz)) / (band_high - band_low)
    found = (
        f"{100 * covered:.0f} % of the bearing band of {band_low:g} to {band_high:g} Hz is "
        f"covered (limit 50 %): {usable}."
    )
    if covered < BAND_SHARE_HOLD:
        return hold(found, advice)
    return watch(found, advice) if covered < 1 else passed(found)


def _usable_band(facts: SampleFacts) -> tuple[float, float]:
    """Band that both the sampling rate and the sensor carry, in Hz."""
    high_hz = USABLE_SHARE_OF_NYQUIST * facts.recording.sampling_rate_hz / 2
    if facts.recording.sensor_usable_hz is None:
        return 0.0, high_hz
    sensor_low, sensor_high = facts.recording.sensor_usable_hz
    return sensor_low, min(high_hz, sensor_high)


def band_alive(facts: SampleFacts, needs: Needs) -> Outcome:
    """Hold a bearing band that is quieter than any sensor on a running machine.

    A loose mount, a filter left in or a broken cable shield leaves the working
    motion and takes the bearing band away: then a bad bearing looks good.
    """
    if needs.bearing_band_hz is None:
        return not_judged("No bearing band is given.", "Write the bearing band on the card.")
    low_hz, high_hz = _usable_band(facts)
    low_hz, high_hz = max(low_hz, needs.bearing_band_hz[0]), min(high_hz, needs.bearing_band_hz[1])
    lines = facts.between(low_hz, high_hz)
    total = float(facts.power.sum())
    if low_hz >= high_hz or lines.size == 0 or total == 0:
        return not_judged("Nothing of the bearing band was recorded.", "Record faster.")
    level = facts.rms * math.sqrt(float(lines.sum()) / total)
    edges = np.linspace(0, lines.size, BAND_PARTS + 1).astype(int)
    parts = [part for first, last in pairwise(edges) if (part := lines[first:last]).size]
    width_hz = (high_hz - low_hz) / len(parts)
    densities = [facts.rms**2 * float(part.sum()) / total / width_hz for part in parts]
    if facts.recording.is_calibrated:
        quietest_level, quietest_density = QUIETEST_RMS_M_S2, QUIETEST_DENSITY
    else:
        quietest_level = QUIETEST_SHARE * facts.rms
        quietest_density = quietest_level**2 / (high_hz - low_hz)
    dead = sum(density < quietest_density for density in densities) / len(densities)
    found = (
        f"The bearing band ({low_hz:.0f} to {high_hz:.0f} Hz) holds {facts.words(level)} rms "
        f"(at least {facts.words(quietest_level)}), {100 * dead:.0f} % of it is silent (at most "
        f"{100 * DEAD_SHARE_HOLD:.0f} %)"
    )
    if level < quietest_level or dead > DEAD_SHARE_HOLD:
        return hold(
            f"{found}: quieter than a sensor on a running machine can be.",
            "Check mount, cable and any low-pass filter of sensor and recorder; record again.",
        )
    return passed(f"{found}.")


def anti_alias(facts: SampleFacts, _needs: Needs) -> Outcome:
    """Watch a spectrum that does not fall towards half the sampling rate."""
    if facts.samples.size < 4 * WELCH_SAMPLES:
        return not_judged(
            f"{facts.samples.size} samples are too few (limit {4 * WELCH_SAMPLES}).",
            "Record longer.",
        )
    share, psd = signal.welch(facts.samples[:MAX_SPECTRUM_SAMPLES], nperseg=WELCH_SAMPLES)
    end, middle = _median(psd, share, 0.45, 0.5), _median(psd, share, 0.2, 0.3)
    if end == 0 or middle == 0:
        return passed("The spectrum is empty towards half the sampling rate.")
    fall_db = round(10 * math.log10(middle / end), 1) + 0.0
    edge_db = _fall_db(psd, share, (0.36, 0.4), (0.46, 0.5))
    slope_db = _fall_db(psd, share, (0.44, 0.46), (0.485, 0.5))
    found = (
        f"Between 0.45 and 0.5 of the sampling rate the level lies {fall_db:.1f} dB below the "
        f"middle of the band (limit {ANTI_ALIAS_DB:g} dB)"
    )
    advice = (
        "Ask whether the recorder has an anti-alias filter; without one, lines and noise may stand "
        "at false frequencies. Flat noise of a quiet sensor looks the same."
    )
    if fall_db < ANTI_ALIAS_DB:
        return watch(f"{found}.", advice)
    if edge_db < ANTI_ALIAS_DB and slope_db < FOLDED_SLOPE_DB:
        return watch(
            f"{found}, but only {edge_db:.1f} dB below that at 0.38 (limit {ANTI_ALIAS_DB:g} dB), "
            f"and is level at the very end ({slope_db:.1f} dB, limit {FOLDED_SLOPE_DB:g} dB), as "
            "where it is folded back.",
            advice,
        )
    return passed(f"{found}.")


def _median(psd: NDArray[np.float64], share: NDArray[np.float64], low: float, high: float) -> float:
    return float(np.median(psd[(share >= low) & (share < high)]))


def _fall_db(
    psd: NDArray[np.float64],
    share: NDArray[np.float64],
    first: tuple[float, float],
    second: tuple[float, float],
) -> float:
    """How far the second band lies below the first; the second not empty."""
    tiny = float(np.finfo(np.float64).tiny)
    low, high = max(_median(psd, share, *second), tiny), max(_median(psd, share, *first), tiny)
    return 10 * math.log10(high / low)


def mains(facts: SampleFacts, needs: Needs) -> Outcome:
    """Watch lines at 50 or 60 Hz and their harmonics, which follow no speed."""
    if facts.recording.duration_s < MAINS_MINIMUM_S:
        return not_judged(
            f"{facts.recording.duration_s:.3g} s are too short to tell mains lines from shaft "
            f"orders (limit {MAINS_MINIMUM_S:g} s).",
            "Record longer.",
        )
    total = _power_beside_shaft(facts, needs.shaft_frequency_hz)
    share, line_hz = max((_mains_power(facts, needs, hz) / total, hz) for hz in MAINS_HZ)
    found = (
        f"Lines at multiples of {line_hz:g} Hz hold {100 * share:.2g} % of the power beside the "
        f"shaft orders (limit {100 * MAINS_SHARE:.0f} %)"
    )
    if share > MAINS_SHARE:
        return watch(
            f"{found}.",
            "Keep the sensor cable away from motor cables and check its screen; lines at twice "
            "the mains frequency can also be real motor vibration.",
        )
    for mains_hz in MAINS_HZ:
        order = _shaft_order_at(facts, needs, mains_hz)
        if order is not None and facts.line_power(mains_hz) > MAINS_SHARE * total:
            return watch(
                f"{found}, but {mains_hz:g} Hz falls on shaft order {order}: pick-up there cannot "
                "be told from the shaft's own line.",
                "Where the mains has this frequency, check the sensor cable's screen.",
            )
    return passed(f"{found}.")


def _mains_power(facts: SampleFacts, needs: Needs, mains_hz: float) -> float:
    """Power of the mains lines that do not fall on a shaft order."""
    lines_hz = [mains_hz * k for k in range(1, MAINS_HARMONICS + 1)]
    return sum(
        facts.line_power(line_hz)
        for line_hz in lines_hz
        if _shaft_order_at(facts, needs, line_hz) is None
    )


def _power_beside_shaft(facts: SampleFacts, shaft_frequency_hz: float | None) -> float:
    """Power outside the shaft orders, each taken out with 0.3 Hz and 0.2 %."""
    total = float(facts.power.sum())
    if shaft_frequency_hz is None:
        return total
    for order in range(1, SHAFT_HARMONICS + 1):
        centre = order * shaft_frequency_hz
        half_width = 0.3 + 2 * facts.line_spacing_hz + 0.002 * centre
        total -= float(facts.between(centre - half_width, centre + half_width).sum())
    return total


def _shaft_order_at(facts: SampleFacts, needs: Needs, line_hz: float) -> int | None:
    """Shaft order that cannot be told from a line, if any."""
    if needs.shaft_frequency_hz is None:
        return None
    order = max(1, round(line_hz / needs.shaft_frequency_hz))
    distance = abs(order * needs.shaft_frequency_hz - line_hz)
    return order if distance < 0.15 + 2 * facts.line_spacing_hz else None
