"""How the shaft speed runs from standstill to standstill."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from vibhealth.errors import SettingsError
from vibhealth.simulate._ranges import check_range

__all__ = ["Course", "speed_share"]

# Viscous over constant friction at full speed while coasting (common practice, no source).
_VISCOUS_OVER_CONSTANT = 1.0
# The corners of a course are rounded over this time, as inertia and play do.
_ROUNDING_S = 0.3
_GRID_S = 0.005
# A soft start that dwells creeps through the isolator frequency from below to above it.
_DWELL_FROM, _DWELL_TO = 0.93, 1.07


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Standstill, run-up, steady running, coast-down, standstill; each in seconds, at least 0.

    Parameters
    ----------
    rest_s : float
        Standstill before the start.
    run_up_s : float
        From the first motion to full speed; 0 for a recording that begins at full speed.
    steady_s : float
    coast_down_s : float
        From power off to standstill; 0 for a recording that ends at full speed.
    rest_after_s : float
        Standstill after the coast-down, in which the body swings out.
    dwell_s : float
        How much longer a soft start takes to creep through the isolator frequency.

    Raises
    ------
    SettingsError
        If a value is negative, or standstill and full speed would meet without a ramp.
    """

    rest_s: float = 2.0
    run_up_s: float = 3.0
    steady_s: float = 20.0
    coast_down_s: float = 0.0
    rest_after_s: float = 0.0
    dwell_s: float = 0.0

    def __post_init__(self) -> None:
        for item in fields(self):
            check_range(item.name, getattr(self, item.name), 0.0, 3600.0)
        for rest, ramp in (("rest_s", "run_up_s"), ("rest_after_s", "coast_down_s")):
            if getattr(self, rest) > 0 and getattr(self, ramp) == 0:
                msg = f"{ramp} must be above 0 beside {rest} = {getattr(self, rest):g}, got 0"
                raise SettingsError(msg)
        if self.duration_s == 0:
            msg = "a course must last longer than 0 s, got 0 for each of its parts"
            raise SettingsError(msg)

    @property
    def duration_s(self) -> float:
        """Length of the whole course."""
        return sum(self.parts_s)

    @property
    def parts_s(self) -> tuple[float, float, float, float, float]:
        """Standstill, run-up with its dwell, steady, coast-down, standstill."""
        run_up_s = self.run_up_s + (self.dwell_s if self.run_up_s > 0 else 0.0)
        return (self.rest_s, run_up_s, self.steady_s, self.coast_down_s, self.rest_after_s)


def speed_share(
    course: Course, isolator_share: float, margin_s: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    r"""Times, and shaft speed over the steady speed, with rounded corners.

    The run-up is the S curve :math:`3\tau^2 - 2\tau^3`, common practice, no source; a dwell
    is put in around ``isolator_share``. Coasting down against constant and viscous friction,

    .. math:: \dot\omega = -(c_0 + c_1 \omega), \quad
              \omega / \omega_s = \bigl((1 + k)^{1 - \tau} - 1\bigr) / k,
              \quad k = c_1 \omega_s / c_0.

    Parameters
    ----------
    course : Course
        What to run.
    isolator_share : float
        Isolator frequency over the steady shaft frequency.
    margin_s : float
        How far the times reach beyond both ends.
    """
    count = int(np.ceil((course.duration_s + 2 * margin_s) / _GRID_S)) + 1
    time_s = np.linspace(-margin_s, course.duration_s + margin_s, count)
    rest_s, run_up_s, steady_s, coast_s, _ = course.parts_s
    share = np.ones_like(time_s)
    if run_up_s > 0:
        into_s = np.clip(time_s - rest_s, 0.0, run_up_s)
        share = _run_up(into_s, course, isolator_share)
    if coast_s > 0:
        tau = np.clip((time_s - rest_s - run_up_s - steady_s) / coast_s, 0.0, 1.0)
        k = _VISCOUS_OVER_CONSTANT
        share = share * ((1 + k) ** (1 - tau) - 1) / k
    return time_s, _rounded(share, time_s[1] - time_s[0])


def _run_up(
    into_s: NDArray[np.float64], course: Course, isolator_share: float
) -> NDArray[np.float64]:
    """S curve, drawn out while it creeps through the isolator frequency."""
    tau = np.linspace(0.0, 1.0, 2001)
    curve = tau**2 * (3 - 2 * tau)
    seconds = tau * course.run_up_s
    is_dwelling = (curve > _DWELL_FROM * isolator_share) & (curve < _DWELL_TO * isolator_share)
    if course.dwell_s > 0 and np.any(is_dwelling):
        seconds = seconds + course.dwell_s * np.cumsum(is_dwelling) / np.sum(is_dwelling)
    return np.interp(into_s, seconds, curve)


def _rounded(share: NDArray[np.float64], step_s: float) -> NDArray[np.float64]:
    half = max(1, round(_ROUNDING_S / 2 / step_s))
    window = np.hanning(2 * half + 1)
    padded = np.pad(share, half, mode="edge")
    return np.convolve(padded, window / np.sum(window), mode="valid")
