"""How a point moves: 1x and what is beside it, the shape of the motion, the orbit."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Motion", "MotionShape", "Orbit", "OrderLine"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """Amplitude of the acceleration at one order, and relative to 1x."""

    order: float
    amplitude_m_s2: float
    relative_to_first: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """The working motion of one point: 1x by sine fit, harmonics, half orders.

    Amplitudes are None where the recording has no calibration; ratios to 1x
    stand either way.
    """

    amplitude_1x: float
    phase_1x_rad: float
    unit: str
    stroke_mm: float | None
    harmonics: tuple[OrderLine, ...]
    half_orders: tuple[OrderLine, ...]
    harmonic_ratio: float
    half_order_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionShape:
    """How the motion of one point departs from a steady sinusoid, as displacement.

    ``one_sidedness`` is -1 to 1, 0 for a motion that reaches equally far both ways;
    ``beat_percent`` the slow change of the stroke within the recording; ``wobble_ratio``
    the slow motion below 1x over 1x; ``third_order_ratio`` the larger of 1/3x and 2/3x
    over 1x, as acceleration.
    """

    one_sidedness: float
    beat_percent: float
    wobble_ratio: float
    third_order_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Orbit:
    """Ellipse of the 1x motion in the plane of two radial axes."""

    stage: str
    points: tuple[str, str]
    path: str
    major_mm: float
    minor_mm: float
    tilt_deg: float
    direction: Literal["clockwise", "counter-clockwise", "line"]
    curve_x_mm: NDArray[np.float64]
    curve_y_mm: NDArray[np.float64]
