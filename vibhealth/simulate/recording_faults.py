"""What goes wrong between the machine and the file, as functions on samples of any unit.

Every function takes ``samples`` of shape (n_points, n_samples), their rate in Hz and a random
number generator, and returns new samples; sizes are shares of what the samples themselves
show, so that recordings of any machine and any unit can be spoilt. What is read as a share
"of the peak" goes by the largest magnitude of each point. Sizes by default are common
practice, no source.
"""

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt, sosfilt_zi, sosfiltfilt

from vibhealth.errors import SettingsError
from vibhealth.simulate._spoiling import answers, hum, once_per_turn
from vibhealth.simulate._warp import warped

__all__ = [
    "RECORDING_FAULTS",
    "alias",
    "clip_at_converter",
    "dead_with_hum",
    "drop_samples",
    "duplicate",
    "load_with_material",
    "loosen_mount",
    "pick_up_mains",
    "saturate_sensor",
    "settle_at_start",
    "shorten",
    "swap_axes",
    "wander_speed",
    "warm_up",
    "whip_cable",
    "wrong_sensitivity",
]

Samples = NDArray[np.float64]
Rng = np.random.Generator

# A knee at which a saturating sensor begins to bend, over its limit.
_KNEE = 0.8
# Contact resonance of a mount that has come loose, and its damping ratio.
_MOUNT_HZ = (700.0, 1800.0)
_MOUNT_DAMPING = 0.08
# Time constant of a spike of a whipping cable.
_SPIKE_S = 0.0002
# Falling material: heavy-tailed sizes, answered by the deck.
_PARETO_EXPONENT = 1.1
_LARGEST_OVER_SMALLEST = 300.0
_DECK_HZ = (900.0, 2200.0)
_DECK_DAMPING = 0.04


def wrong_sensitivity(
    samples: Samples,
    sampling_rate_hz: float,  # noqa: ARG001 (one signature for all)
    rng: Rng,  # noqa: ARG001
    *,
    factor: float = 9.80665,
) -> Samples:
    """All samples times a factor: g for m/s^2, a decimal place, inches for centimetres."""
    return factor * samples


def swap_axes(
    samples: Samples,
    sampling_rate_hz: float,  # noqa: ARG001
    rng: Rng,
    *,
    order: Sequence[int] | None = None,
) -> Samples:
    """Cables swapped: row ``n`` becomes row ``order[n]``; None draws an order that changes.

    Raises
    ------
    SettingsError
        If there is only one point, or ``order`` is no permutation.
    """
    count = samples.shape[0]
    if count < 2:
        msg = f"swap_axes needs samples of at least two points, got {count}"
        raise SettingsError(msg)
    if order is None:
        first, second = rng.choice(count, size=2, replace=False)
        swapped = np.arange(count)
        swapped[[first, second]] = swapped[[second, first]]
        return np.array(samples[swapped])
    if sorted(order) != list(range(count)):
        msg = f"order must hold each of 0 to {count - 1} once, got {list(order)}"
        raise SettingsError(msg)
    return np.array(samples[list(order)])


def clip_at_converter(
    samples: Samples,
    sampling_rate_hz: float,  # noqa: ARG001
    rng: Rng,  # noqa: ARG001
    *,
    share: float = 0.85,
) -> Samples:
    """Flat tops where the converter's range ends, at a share of the peak."""
    limit = share * np.max(np.abs(samples), axis=-1, keepdims=True)
    return _array(np.clip(samples, -limit, limit))


def saturate_sensor(  # noqa: PLR0913 (one signature for all)
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,
    *,
    share: float = 0.85,
    jump_share: float = 0.4,
    recovery_s: float = 0.8,
    jumps: int = 3,
) -> Samples:
    """Sensor driven beyond its range, below the converter's: soft tops, baseline jumps.

    After each of ``jumps`` overloads the baseline has left by ``jump_share`` of the peak and
    comes back with the time constant ``recovery_s``.
    """
    peak = np.max(np.abs(samples), axis=-1, keepdims=True)
    limit = share * peak
    over = np.maximum(np.abs(samples) - _KNEE * limit, 0.0)
    room = (1 - _KNEE) * limit
    bent = np.minimum(np.abs(samples), _KNEE * limit) + room * np.tanh(over / room)
    jumped = np.zeros(samples.shape)
    for row, row_peak in enumerate(peak[:, 0]):
        at = rng.integers(0, samples.shape[1], jumps)
        jumped[row, at] += jump_share * row_peak * rng.choice([-1.0, 1.0], jumps)
    keep = np.exp(-1 / (recovery_s * sampling_rate_hz))
    return _array(np.sign(samples) * bent + lfilter([1.0], [1.0, -keep], jumped, axis=-1))


def settle_at_start(
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,
    *,
    share: float = 1.0,
    time_constant_s: float = 3.0,
) -> Samples:
    """Sensor switched on just before: an exponential from ``share`` of the rms to nothing."""
    time_s = np.arange(samples.shape[1]) / sampling_rate_hz
    sizes = share * np.std(samples, axis=-1, keepdims=True)
    signs = rng.choice([-1.0, 1.0], (samples.shape[0], 1))
    return _array(samples + signs * sizes * np.exp(-time_s / time_constant_s))


def dead_with_hum(
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,
    *,
    share: float = 0.001,
    mains_hz: float = 50.0,
) -> Samples:
    """Bias fault or open cable: nothing but hum of ``share`` of the rms, and a little noise."""
    sizes = share * np.std(samples, axis=-1, keepdims=True)
    noise = 0.05 * rng.standard_normal(samples.shape)
    return _array(sizes * (noise + hum(samples.shape, sampling_rate_hz, mains_hz, rng)))


def loosen_mount(  # noqa: PLR0913 (one signature for all)
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,
    *,
    corner_hz: float = 1000.0,
    asymmetry: float = 0.1,
    rattle_share: float = 0.15,
) -> Samples:
    """Sensor loose on its mount: little above a corner, the motion bent, and a rattle.

    The motion gets ``asymmetry`` of the peak of its own square; each time it comes close to
    its peak the sensor strikes its mount, with ``rattle_share`` of the peak.
    """
    sos = butter(2, corner_hz, fs=sampling_rate_hz, output="sos")
    at_start = sosfilt_zi(sos)[:, np.newaxis, :] * samples[:, :1]  # it was listening before
    passed = _array(sosfilt(sos, samples, axis=-1, zi=at_start)[0])
    peak = np.maximum(np.max(np.abs(passed), axis=-1, keepdims=True), 1e-30)
    square = passed**2 / peak
    loose = passed + asymmetry * (square - np.mean(square, axis=-1, keepdims=True))
    low = sosfiltfilt(butter(2, 60.0, fs=sampling_rate_hz, output="sos"), samples, axis=-1)
    for row, motion in enumerate(low):
        limit = 0.8 * np.quantile(np.abs(motion), 0.99)
        at = np.flatnonzero((motion[:-1] < limit) & (motion[1:] >= limit))
        sizes = rattle_share * peak[row, 0] * rng.uniform(0.3, 1.0, at.size)
        loose[row] += answers(
            at, sizes, samples.shape[1], sampling_rate_hz, (rng.uniform(*_MOUNT_HZ), _MOUNT_DAMPING)
        )
    return _array(loose)


def drop_samples(
    samples: Samples, sampling_rate_hz: float, rng: Rng, *, gap_s: float = 0.02, gaps: int = 1
) -> Samples:
    """Lost blocks of ``gap_s``: the samples that follow move up, the recording gets shorter."""
    length = max(1, round(gap_s * sampling_rate_hz))
    keep = np.ones(samples.shape[1], dtype=bool)
    for start in rng.integers(0, max(1, samples.shape[1] - length), gaps):
        keep[start : start + length] = False
    return np.array(samples[:, keep])


def alias(
    samples: Samples,
    sampling_rate_hz: float,  # noqa: ARG001
    rng: Rng,
    *,
    keep_every: int = 4,
) -> Samples:
    """Every ``keep_every``-th sample without a filter: the rate becomes ``1 / keep_every``."""
    return np.array(samples[:, int(rng.integers(0, keep_every)) :: keep_every])


def pick_up_mains(
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,
    *,
    share: float = 0.3,
    mains_hz: float = 50.0,
) -> Samples:
    """Hum of the mains and its harmonics, ``share`` of the rms of each point."""
    sizes = share * np.sqrt(2) * np.std(samples, axis=-1, keepdims=True)
    return _array(samples + sizes * hum(samples.shape, sampling_rate_hz, mains_hz, rng))


def wander_speed(
    samples: Samples, sampling_rate_hz: float, rng: Rng, *, percent: float = 8.0
) -> Samples:
    """Speed that wanders by ``percent`` peak to peak; the motion goes with its square.

    The samples are read at times that run fast and slow, so a little of the end is lost.
    """
    seconds = samples.shape[1] / sampling_rate_hz
    knots = np.cumsum(rng.standard_normal(max(6, int(seconds / 2))))
    slow = np.interp(np.linspace(0, knots.size - 1, samples.shape[1]), range(knots.size), knots)
    smooth = max(3, int(sampling_rate_hz))
    slow = np.convolve(np.pad(slow, smooth, mode="edge"), np.hanning(smooth), mode="same")
    slow = slow[smooth : smooth + samples.shape[1]]
    slow = (slow - slow.mean()) / max(float(np.ptp(slow)), 1e-30)
    return warped(samples, 1 + 0.01 * percent * slow)


def shorten(
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,  # noqa: ARG001
    *,
    seconds: float = 5.0,
) -> Samples:
    """Stopped too early: only the first seconds."""
    return np.array(samples[:, : max(2, round(seconds * sampling_rate_hz))])


def duplicate(
    samples: Samples,
    sampling_rate_hz: float,  # noqa: ARG001
    rng: Rng,  # noqa: ARG001
) -> Samples:
    """Handed in once more as another recording: the same samples."""
    return samples.copy()


def warm_up(  # noqa: PLR0913 (one signature for all)
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,  # noqa: ARG001
    *,
    number: int = 0,
    count: int = 3,
    fall: float = 0.4,
    corner_hz: float = 1000.0,
) -> Samples:
    """Not warm yet: recording ``number`` of ``count``, whose high frequencies fall by ``fall``.

    The first is as it is, the last has ``1 - fall`` of what it would have above the corner.
    """
    gain = (1 - fall) ** (number / max(count - 1, 1))
    low = sosfiltfilt(butter(4, corner_hz, fs=sampling_rate_hz, output="sos"), samples, axis=-1)
    return np.asarray(low + gain * (samples - low), dtype=np.float64)


def load_with_material(  # noqa: PLR0913 (one signature for all)
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,
    *,
    per_second: float = 20.0,
    share: float = 0.02,
    slower: float = 0.01,
    weaker: float = 0.05,
) -> Samples:
    """Recorded with material on: random heavy-tailed strikes, stroke and speed a little lower.

    The smallest strike has ``share`` of the peak.
    """
    loaded = (1 - weaker) * warped(samples, np.full(samples.shape[1], 1 - slower))
    n_samples = loaded.shape[1]
    count = int(rng.poisson(per_second * n_samples / sampling_rate_hz))
    at = rng.integers(0, n_samples, count)
    sizes = np.minimum(1 + rng.pareto(_PARETO_EXPONENT, count), _LARGEST_OVER_SMALLEST)
    for row, peak in enumerate(np.max(np.abs(samples), axis=-1)):
        strengths = share * peak * sizes * rng.uniform(0.3, 1.0, count)
        deck = (rng.uniform(*_DECK_HZ), _DECK_DAMPING)
        loaded[row] += answers(at, strengths, n_samples, sampling_rate_hz, deck)
    return loaded


def whip_cable(  # noqa: PLR0913 (one signature for all)
    samples: Samples,
    sampling_rate_hz: float,
    rng: Rng,
    *,
    share: float = 0.3,
    turn_share: float = 0.9,
    swing_share: float = 0.1,
    row: int = 0,
) -> Samples:
    """The cable of point ``row`` whips with the motion: spikes at one place of the turn.

    They have about ``share`` of the peak, last a fraction of a millisecond and come in
    ``turn_share`` of all turns of the strongest line; the baseline swings slowly by
    ``swing_share`` of the rms.
    """
    count = samples.shape[1]
    at = once_per_turn(samples[row], sampling_rate_hz, float(rng.uniform(0, 1)))
    at = at[rng.random(at.size) < turn_share]
    turn = sampling_rate_hz if at.size < 2 else float(np.median(np.diff(at)))
    at = np.clip(at + 0.005 * turn * rng.standard_normal(at.size), 0, count - 1).astype(np.int64)
    sizes = np.exp(0.3 * rng.standard_normal(at.size)) * rng.choice([-1.0, 1.0])
    keep = np.exp(-1 / (_SPIKE_S * sampling_rate_hz))
    spikes = lfilter([1.0], [1.0, -keep], np.bincount(at, sizes, count).astype(np.float64))
    time_s = np.arange(count) / sampling_rate_hz
    swing = np.sin(2 * np.pi * (rng.uniform(0.3, 1.0) * time_s + rng.uniform(0, 1)))
    whipped = np.array(samples, dtype=np.float64)
    whipped[row] += share * np.max(np.abs(samples[row])) * spikes
    whipped[row] += swing_share * np.std(samples[row]) * swing
    return whipped


def _array(values: NDArray[np.float64]) -> Samples:
    return np.asarray(values, dtype=np.float64)


RECORDING_FAULTS: Mapping[str, tuple[str, Callable[..., Samples]]] = {
    "sensitivity-wrong": ("All samples are wrong by one factor.", wrong_sensitivity),
    "axes-swapped": ("Two cables are swapped.", swap_axes),
    "clipped": ("The converter's range is too small.", clip_at_converter),
    "sensor-overloaded": ("The sensor's range is too small.", saturate_sensor),
    "still-settling": ("The sensor was switched on just before.", settle_at_start),
    "dead": ("The sensor has no supply, or the cable is open.", dead_with_hum),
    "mount-loose": ("The sensor is loose on its mount.", loosen_mount),
    "samples-dropped": ("The recorder lost a block.", drop_samples),
    "aliased": ("Sampled without a filter, at a fraction of the rate.", alias),
    "mains-picked-up": ("The cable picks up the mains.", pick_up_mains),
    "speed-wanders": ("The speed wanders while it is recorded.", wander_speed),
    "too-short": ("The recording was stopped too early.", shorten),
    "duplicate": ("The same recording under another name.", duplicate),
    "cold": ("The machine is not warm yet.", warm_up),
    "cable-whips": ("A cable whips and makes hits in one channel.", whip_cable),
    "loaded": ("Material is on the machine.", load_with_material),
}
