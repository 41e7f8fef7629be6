"""The body on its isolators: displacement, velocity and acceleration of the working motion."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

__all__ = ["BodyMotion", "Isolator", "stopped", "swinging_motion", "turning_motion"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolator:
    """Undamped natural frequency and damping ratio of the body on its isolators."""

    frequency_hz: float
    damping_ratio: float

    @property
    def pole(self) -> complex:
        """The pole above the real axis, in 1/s."""
        omega = 2 * np.pi * self.frequency_hz
        return complex(-self.damping_ratio, np.sqrt(1 - self.damping_ratio**2)) * omega


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyMotion:
    """Motion of one direction in m, m/s, m/s^2, each of shape (n_samples,)."""

    displacement: NDArray[np.float64]
    velocity: NDArray[np.float64]
    acceleration: NDArray[np.float64]


def turning_motion(
    turns: NDArray[np.float64], shaft_hz: NDArray[np.float64], amplitude: NDArray[np.float64]
) -> BodyMotion:
    """1x of a steadily turning shaft; ``amplitude`` is that of the acceleration.

    The phase of the acceleration is that of ``turns``.
    """
    omega = 2 * np.pi * shaft_hz
    wave = np.exp(2j * np.pi * turns) * amplitude
    return BodyMotion(
        displacement=-wave.real / omega**2,
        velocity=wave.imag / omega,
        acceleration=np.ascontiguousarray(wave.real),
    )


def swinging_motion(
    turns: NDArray[np.float64],
    shaft_hz: NDArray[np.float64],
    steady: tuple[float, float],
    isolator: Isolator,
    sampling_rate_hz: float,
) -> BodyMotion:
    r"""Body driven by a rotating unbalance through any course of the shaft.

    .. math:: \ddot u + 2 \zeta \omega_0 \dot u + \omega_0^2 u
              = e (\omega^2 \cos \varphi + \dot\omega \sin \varphi),

    solved exactly for a force that is linear between samples: with the pole
    :math:`\lambda`, :math:`u = \Im q / \omega_d`, :math:`\dot q = \lambda q + f`. At the
    recording's rate the straight lines change the force of 1x by
    :math:`(\omega \Delta)^2 / 12`, some 1e-5.

    Parameters
    ----------
    turns : ndarray
        Shaft angle plus the phase of the force.
    shaft_hz : ndarray
        Shaft frequency in Hz, like ``turns`` of shape (n_samples,).
    steady : (float, float)
        Amplitude of the acceleration in m/s^2 at a steady shaft frequency in Hz, which the
        unbalance is scaled to give.
    isolator : Isolator
        Pole of the body on its isolators.
    sampling_rate_hz : float
        Rate of ``turns`` and ``shaft_hz``.

    References
    ----------
    J. P. Den Hartog, Mechanical Vibrations, 4th ed. 1956, ch. 2 (rotating unbalance), from
    memory.
    """
    pole, step_s = isolator.pole, 1.0 / sampling_rate_hz
    amplitude, steady_hz = steady
    omega = 2 * np.pi * shaft_hz
    unbalance = amplitude / _acceleration_per_unbalance(steady_hz, isolator)
    angle = 2 * np.pi * turns
    force = unbalance * (omega**2 * np.cos(angle) + np.gradient(omega, step_s) * np.sin(angle))
    growth = np.expm1(pole * step_s)
    whole = growth / pole
    later = (growth - pole * step_s) / (pole**2 * step_s)
    start = _steady_state(turns, omega, unbalance, pole)
    first = start - later * force[0]  # the filter adds later * force[0] itself
    state, _ = lfilter(
        [later, whole - later], [1.0, -(1.0 + growth)], force + 0j, zi=np.array([first])
    )
    return BodyMotion(
        displacement=state.imag / pole.imag,
        velocity=(pole * state).imag / pole.imag,
        acceleration=(pole**2 * state).imag / pole.imag + force,
    )


def stopped(motion: BodyMotion, gap: float, width: float, softness: float) -> BodyMotion:
    r"""Motion with something in the way on the positive side.

    The displacement becomes :math:`g(u) = u - (1 - s)\,w\,\log(1 + e^{(u - gap) / w})`: beyond
    the gap only the share ``s`` of the way is left, taken up over the width ``w``. The
    acceleration is :math:`g' \ddot u + g'' \dot u^2`, whose second part is the push of the
    contact.
    """
    distance = (motion.displacement - gap) / width
    contact = 1 / (1 + np.exp(-np.clip(distance, -60.0, 60.0)))
    slope = 1 - (1 - softness) * contact
    bend = -(1 - softness) * contact * (1 - contact) / width
    return BodyMotion(
        displacement=motion.displacement - (1 - softness) * width * np.logaddexp(0.0, distance),
        velocity=slope * motion.velocity,
        acceleration=slope * motion.acceleration + bend * motion.velocity**2,
    )


def _acceleration_per_unbalance(shaft_hz: float, isolator: Isolator) -> float:
    """Steady amplitude of acceleration per metre of ``e``."""
    omega, omega_0 = 2 * np.pi * shaft_hz, 2 * np.pi * isolator.frequency_hz
    stiffness = complex(omega_0**2 - omega**2, 2 * isolator.damping_ratio * omega_0 * omega)
    return float(omega**4 / abs(stiffness))


def _steady_state(
    turns: NDArray[np.float64],
    omega: NDArray[np.float64],
    unbalance: float,
    pole: complex,
) -> complex:
    """State at the first sample as if the shaft had always turned at its speed there."""
    if omega[0] == 0:
        return complex(0.0)
    half = 0.5 * unbalance * omega[0] ** 2 * np.exp(2j * np.pi * turns[0])
    forward, backward = 1j * omega[0] - pole, -1j * omega[0] - pole
    return complex(half / forward + np.conj(half) / backward)
