"""Pulse or smooth swing at the cage rate, and one mark or marks all round a ring."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.diagnosis.test_cage_speed import bearing, found
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.pulse_shape import SHARP, is_cage_line, pulse_shape
from vibhealth.diagnosis.ring_pattern import (
    MARKS_BELOW,
    SINGLE_ABOVE,
    ring_pattern,
    side_to_centre,
)
from vibhealth.model import Element, LoadCase

SPACING = 1 / 800
N_LINES = 12_000
FLOOR = 1e-4
CAGE = 0.4137


def load_over_zone(half_width_deg: float) -> NDArray[np.float64]:
    """Squared strikes of a load that falls as the 1.5th power of the approach over a zone.

    T. A. Harris, Rolling Bearing Analysis, 4th ed. 2001, chapter 7 (from memory):
    ``(1 - (1 - cos phi) / (2 e)) ** 1.5`` for point contact.
    """
    phi = np.linspace(-np.pi, np.pi, 8192, endpoint=False)
    edge = np.cos(np.radians(half_width_deg))
    load = np.maximum(0.0, (np.cos(phi) - edge) / (1 - edge)) ** 1.5
    return np.asarray(np.abs(np.fft.rfft(load**2)) ** 2)


def envelope(lines: dict[float, float]) -> EnvelopeOrders:
    """A spectrum with lines of given depth on exponential noise."""
    power = np.random.default_rng(6).exponential(FLOOR, N_LINES)
    for order, depth in lines.items():
        power[round(order / SPACING)] += depth**2
    return EnvelopeOrders(
        band_hz=(1000.0, 2000.0),
        detector="squared",
        is_whitened=True,
        order_spacing=SPACING,
        depth_power=power,
        floor=np.full(N_LINES, FLOOR),
        mean_square=1.0,
        n_averages=1,
    )


@pytest.mark.parametrize("half_width_deg", [60.0, 90.0, 120.0, 180.0])
def test_a_load_zone_has_no_high_harmonics_and_a_short_pulse_has(half_width_deg: float) -> None:
    power = load_over_zone(half_width_deg)
    assert power[5:11].mean() / power[1:4].mean() < 0.01
    short = np.abs(np.fft.rfft(np.eye(1, 8192)[0])) ** 2
    assert short[5:11].mean() / short[1:4].mean() == pytest.approx(1.0)


def test_flat_harmonics_are_pulses_and_dying_ones_are_not() -> None:
    flat = pulse_shape(envelope({n * CAGE: 0.2 for n in range(1, 11)}), CAGE, 1)
    assert flat.is_sharp
    # Low and high harmonics of equal power: 1, within the noise.
    assert flat.sharpness == pytest.approx(1.0, abs=0.2)
    smooth = pulse_shape(envelope({1 * CAGE: 0.3, 2 * CAGE: 0.2, 3 * CAGE: 0.1}), CAGE, 1)
    assert not smooth.is_sharp
    assert not pulse_shape(envelope({}), CAGE, 1).is_sharp


def test_one_strong_line_at_a_high_harmonic_is_no_pulse() -> None:
    lines = {1 * CAGE: 0.3, 2 * CAGE: 0.2, 3 * CAGE: 0.1, 7 * CAGE: 0.9}
    shape = pulse_shape(envelope(lines), CAGE, 1)
    assert shape.sharpness > SHARP
    assert not shape.is_sharp


def test_lines_of_the_cage_and_of_its_mirror() -> None:
    for number in (1, 4, 9):
        for first in (CAGE, 1 - CAGE):
            assert is_cage_line(CAGE, number * first, order_spacing=SPACING, width=1)
    assert not is_cage_line(CAGE, 4 * CAGE + 0.06, order_spacing=SPACING, width=1)
    # However wide the lines, what lies between two multiples of both is none:
    # 2.5 * 0.4137 = 1.764 * 0.5863.
    assert not is_cage_line(CAGE, 2.5 * CAGE, order_spacing=SPACING, width=4000)


def test_weak_high_harmonics_are_no_pulse_though_they_stand_out() -> None:
    """High over low power of 0.09, all ten lines far above the noise."""
    lines = {n * CAGE: 0.4 if n < 4 else 0.12 for n in range(1, 11)}
    shape = pulse_shape(envelope(lines), CAGE, 1)
    assert shape.n_out == shape.n_high == 6
    assert shape.sharpness == pytest.approx(0.09, abs=0.01)
    assert not shape.is_sharp


@pytest.mark.parametrize("half_width_deg", [60.0, 90.0, 120.0])
def test_a_single_mark_through_a_load_zone_has_side_bands(half_width_deg: float) -> None:
    """Power of the first load side band over the centre line, by quadrature."""
    power = load_over_zone(half_width_deg)
    assert power[1] / power[0] > SINGLE_ABOVE


ORDER = 4.62


@pytest.mark.parametrize(
    ("side", "pattern"),
    [(0.9, "single-mark"), (0.2, "marks-at-every-element"), (0.55, "")],
)
def test_side_bands_tell_the_pattern(side: float, pattern: str) -> None:
    """Power ratios of 0.81, 0.04 and 0.30 about limits of 0.4 and 0.2."""
    assert MARKS_BELOW < 0.30 < SINGLE_ABOVE
    family = found(bearing(LoadCase.ROTATING), Element.OUTER_RING, ORDER)
    lines = {n * ORDER: 0.4 for n in (1, 2, 3)}
    lines |= {n * ORDER + sign: 0.4 * side for n in (1, 2, 3) for sign in (-1, 1)}
    shown = envelope(lines)
    assert side_to_centre(family, shown) == pytest.approx(side**2, abs=0.02)
    assert ring_pattern(family, shown, 0.69) == pattern
    assert ring_pattern(family, shown, 0.1) == ""


def test_where_no_side_bands_are_expected_nothing_is_said() -> None:
    shown = envelope({n * ORDER: 0.4 for n in (1, 2, 3)})
    fixed = found(bearing(LoadCase.STATIONARY), Element.OUTER_RING, ORDER)
    assert side_to_centre(fixed, shown) is None
    assert ring_pattern(fixed, shown, 0.69) == ""
    element = found(bearing(), Element.ROLLING_ELEMENT, ORDER)
    assert ring_pattern(element, shown, 0.69) == ""
    silent = replace(fixed, comb=found(bearing(), Element.OUTER_RING, ORDER).comb)
    assert side_to_centre(silent, replace(shown, depth_power=np.zeros(N_LINES))) is None
