"""Lost samples: an unbalanced body cannot jump in phase, so a phase step is a gap."""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from vibhealth.diagnosis.quality_facts import Needs, Outcome, SampleFacts, hold, not_judged, passed

__all__ = ["PhaseSteps", "dropped_samples", "phase_steps"]

BLOCKS_PER_TURN = 8
WINDOW_TURNS = 4  # Hann: zeros at every multiple of f/2, so harmonics and half orders vanish
POINTS_PER_TURN = 4
FIT_TURNS = 8  # on either side of a suspected step
GAP_TURNS = 2.25  # around it, where the window straddles it
FIT_ORDER = 3
# Without a gap the largest of some 4000 values stays below 4.7 (seeded trials with speed that
# wanders by 0.03 to 1 %); 6 leaves a margin.
STEP_TO_SCATTER = 6.0
# Starting limit of this project, no published source: a recording that could not show
# a step of this size has not been tested for lost samples.
VISIBLE_STEP_DEG = 20.0
SPEED_CHANGE = 0.2
FADED = 0.25  # of the median amplitude: the shaft line has vanished
FADED_TURNS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSteps:
    """Phase steps of 1x along a recording.

    ``step_deg`` and ``time_s`` belong together, four values per turn;
    ``strength`` is the step over its scatter, lowered where the fit is poor;
    ``visible_deg`` is the smallest step that would be found.
    """

    time_s: NDArray[np.float64]
    step_deg: NDArray[np.float64]
    strength: NDArray[np.float64]
    visible_deg: float
    speed_change: float
    faded_turns: float


def phase_steps(
    acceleration: NDArray[np.float64], sampling_rate_hz: float, *, shaft_frequency_hz: float
) -> PhaseSteps:
    """Fit a step in the phase of 1x at every quarter turn.

    The recording is demodulated at the shaft frequency (block sums of an eighth
    of a turn, then a Hann window of four turns, which has zeros at all multiples
    of half the shaft frequency). Around each point a cubic in time plus a step is
    fitted to the unwrapped phase of eight turns on either side, without the turns
    in which the window straddles the point: wandering speed is smooth and goes
    into the cubic, lost samples go into the step. The step is divided by its own
    robust scatter over the recording, and by the local misfit where that is
    larger than usual, so that a burst of disturbance is not taken for a gap.

    A gap of ``m`` samples is a step of ``360 f m / sampling_rate`` degrees; a gap
    of whole turns leaves no step and cannot be found.

    Parameters
    ----------
    acceleration : ndarray, shape (n_samples,)
        Any unit, at least 24 turns long.
    sampling_rate_hz : float
        At least 16 times the shaft frequency.
    shaft_frequency_hz : float
        Within a few per cent of the true one.

    Returns
    -------
    PhaseSteps

    Notes
    -----
    The method is the project's own; complex demodulation is textbook matter
    (C. Bingham, M. D. Godfrey, J. W. Tukey, "Modern techniques of power spectrum
    estimation", IEEE Trans. Audio Electroacoustics 15(2), 1967, 56-66, from memory).
    """
    line = _shaft_line(acceleration, sampling_rate_hz, shaft_frequency_hz)
    phase_deg = np.degrees(np.unwrap(np.angle(line)))
    reach = FIT_TURNS * POINTS_PER_TURN
    turns = np.arange(-reach, reach + 1) / POINTS_PER_TURN
    used = np.abs(turns) >= GAP_TURNS
    powers = [(turns / FIT_TURNS) ** k for k in range(FIT_ORDER + 1)]
    design = np.column_stack([np.sign(turns) / 2, *powers])[used]
    windows = sliding_window_view(phase_deg, turns.size)[:, used]
    windows = windows - windows.mean(axis=1, keepdims=True)
    coefficients = windows @ np.linalg.pinv(design).T
    misfit = np.sqrt(np.mean((windows - coefficients @ design.T) ** 2, axis=1))
    step_deg = coefficients[:, 0]
    tiny = 1e-9  # degrees; keeps an exact sine from dividing by zero
    scatter_deg = max(1.4826 * float(np.median(np.abs(step_deg))), tiny)
    poor = np.maximum(1.0, misfit / max(float(np.median(misfit)), tiny))
    first_s = (WINDOW_TURNS / 2 + FIT_TURNS) / shaft_frequency_hz
    amplitude = np.abs(line)
    slope = np.diff(phase_deg[::POINTS_PER_TURN]) / 360
    return PhaseSteps(
        time_s=first_s + np.arange(step_deg.size) / (POINTS_PER_TURN * shaft_frequency_hz),
        step_deg=step_deg,
        strength=np.abs(step_deg) / (scatter_deg * poor),
        visible_deg=STEP_TO_SCATTER * scatter_deg,
        speed_change=float(np.ptp(np.convolve(slope, np.full(8, 1 / 8), "valid"))),
        faded_turns=float(np.mean(amplitude < FADED * np.median(amplitude)))
        * amplitude.size
        / POINTS_PER_TURN,
    )


def _shaft_line(
    acceleration: NDArray[np.float64], sampling_rate_hz: float, shaft_frequency_hz: float
) -> NDArray[np.complex128]:
    """Complex amplitude of 1x, four values per turn."""
    per_block = sampling_rate_hz / (shaft_frequency_hz * BLOCKS_PER_TURN)
    n_blocks = int(acceleration.size / per_block)
    edges = np.round(np.arange(n_blocks + 1) * per_block).astype(np.int64)
    edges = np.minimum(edges, acceleration.size)
    turned = (acceleration - acceleration.mean())[: edges[-1]] * np.exp(
        -2j * np.pi * shaft_frequency_hz / sampling_rate_hz * np.arange(edges[-1])
    )
    blocks = np.add.reduceat(turned, edges[:-1]) / per_block
    weight = np.hanning(WINDOW_TURNS * BLOCKS_PER_TURN + 1)[:-1]
    smooth = 2 * np.convolve(blocks, weight / weight.sum(), "valid")
    return np.asarray(smooth[:: BLOCKS_PER_TURN // POINTS_PER_TURN])


def dropped_samples(facts: SampleFacts, needs: Needs) -> Outcome:
    """Hold phase steps of 1x that no inertia allows."""
    shaft_hz = needs.shaft_frequency_hz
    rate = facts.recording.sampling_rate_hz
    why_not = _cannot_start(facts, shaft_hz)
    if why_not or shaft_hz is None:
        return not_judged(why_not, "Lost samples are not excluded; record a steady run.")
    steps = phase_steps(facts.samples, rate, shaft_frequency_hz=shaft_hz)
    deg_per_sample = 360 * shaft_hz / rate
    visible = _visible(steps, deg_per_sample)
    if steps.visible_deg > VISIBLE_STEP_DEG:
        return not_judged(
            f"The shaft line is too weak or too unsteady ({visible}; limit "
            f"{VISIBLE_STEP_DEG:g} degrees).",
            "Lost samples are not excluded; on a machine that hardly shakes at 1x they cannot be.",
        )
    if steps.faded_turns > FADED_TURNS:
        return not_judged(
            f"The shaft line vanishes for {steps.faded_turns:.0f} turns (limit {FADED_TURNS}).",
            "Lost samples are not excluded; record a steady run.",
        )
    if steps.speed_change > SPEED_CHANGE:
        return not_judged(
            f"The speed changes by {100 * steps.speed_change:.0f} % (limit "
            f"{100 * SPEED_CHANGE:.0f} %).",
            "Lost samples are not excluded; record a steady run.",
        )
    worst = int(np.argmax(steps.strength))
    if steps.strength[worst] > STEP_TO_SCATTER:
        step_deg = abs(float(steps.step_deg[worst]))
        return hold(
            f"The phase of 1x jumps by {step_deg:.1f} degrees at {steps.time_s[worst]:.1f} s "
            f"({visible}): about {step_deg / deg_per_sample:.0f} samples, or a multiple of a turn "
            "more, are missing or doubled.",
            "The recorder lost samples, or files were joined. Close other programs, use another "
            "card, record again.",
        )
    return passed(f"No phase step of 1x ({visible}; a gap of whole turns leaves none).")


def _visible(steps: PhaseSteps, deg_per_sample: float) -> str:
    """Words for the smallest step that would be found."""
    if steps.visible_deg > 180:
        return "no step would show"
    samples = max(1, int(np.ceil(steps.visible_deg / deg_per_sample)))
    return f"smallest step that would show: {steps.visible_deg:.1f} degrees, {samples} samples"


def _cannot_start(facts: SampleFacts, shaft_frequency_hz: float | None) -> str:
    """Why the phase cannot be followed at all, empty when it can."""
    if shaft_frequency_hz is None:
        return "No shaft speed was found, so its phase cannot be followed."
    if facts.recording.sampling_rate_hz < 16 * shaft_frequency_hz:
        return "The sampling rate is below 16 samples per turn."
    turns = facts.recording.duration_s * shaft_frequency_hz
    if turns < 4 * FIT_TURNS:
        return f"{turns:.0f} turns are too few to follow the phase (limit {4 * FIT_TURNS})."
    return ""
