"""Pulses of a cage or the load zone of a rolling element, and one mark or marks all round a ring."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.diagnosis.test_cage_speed import bearing, found
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.pulse_shape import (
    CLOSE_GROUPS,
    DOUBTFUL,
    GROUP_REACH,
    OVER_GROUP,
    SHARP,
    between_groups,
    pulse_shape,
)
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


def envelope(lines: dict[float, float], seed: int = 6) -> EnvelopeOrders:
    """A spectrum with lines of given depth on exponential noise."""
    power = np.random.default_rng(seed).exponential(FLOOR, N_LINES)
    for order, depth in lines.items():
        if (at := round(order / SPACING)) < N_LINES:
            power[at] += depth**2
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


@pytest.mark.parametrize("half_width_deg", [75.0, 90.0, 120.0, 180.0])
def test_a_load_zone_has_no_high_harmonics_and_a_short_pulse_has(half_width_deg: float) -> None:
    power = load_over_zone(half_width_deg)
    assert power[4:11].mean() / power[1:4].mean() < 0.02
    # Beyond the reach of a group its lines are below a tenth of its middle.
    middle = np.mean([power[1], power[0], power[1]])
    assert power[math.ceil(GROUP_REACH)] / middle < 0.1 < DOUBTFUL[0]
    short = np.abs(np.fft.rfft(np.eye(1, 8192)[0])) ** 2
    assert short[4:11].mean() / short[1:4].mean() == pytest.approx(1.0)


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
    assert shape.n_out == 1
    assert shape.sharpness < SHARP  # the middle one of seven
    assert not shape.is_sharp


def rolling_element(spin: float, half_width_deg: float = 90.0) -> dict[float, float]:
    """Depths of the lines of strikes at twice the spin, swung by a load zone at the cage rate."""
    swing = np.sqrt(load_over_zone(half_width_deg))
    swing = 0.5 * swing / swing[0]
    sides = range(-6, 7)
    lines = {k * CAGE: float(swing[k]) for k in range(1, 7)}
    return lines | {n * spin + k * CAGE: float(swing[abs(k)]) for n in (1, 2, 3) for k in sides}


def window(spin: float) -> tuple[float, float]:
    return 0.985 * spin, 1.015 * spin


def test_harmonics_between_the_groups_by_counting() -> None:
    """Ten cage lines to the group: 4 to 6 are 3.5 lines away, at 12.5 also 7 to 9."""
    assert between_groups(0.4, 4.0, 100.0) == [4, 5, 6, 14]
    assert between_groups(0.4, 5.0, 100.0) == [4, 5, 6, 7, 8, 9]
    # Close groups, 4.9 lines apart: the reach is 0.38 of that, and the next gaps are used too.
    assert between_groups(0.4, 1.96, 100.0) == [3, 7, 12]
    # Nothing beyond the spectrum's end.
    assert between_groups(0.4, 4.0, 2.1) == [4, 5]


@pytest.mark.parametrize("ratio", [9.0, 9.55, 10.0, 10.4, 12.0, 15.0, 17.3])
def test_cage_and_rolling_element_are_told_apart_wherever_they_meet(ratio: float) -> None:
    """Whole ratios put twice the spin on a multiple of the cage's line."""
    spin = ratio * CAGE
    pulses = envelope({n * CAGE: 0.3 for n in range(1, 72)})
    shape = pulse_shape(pulses, CAGE, 3, window(spin))
    assert shape.is_sharp
    assert not shape.is_doubtful
    assert shape.over_group > 0.8  # equal lines: 1, or only noise in the group
    for half_width_deg in (75.0, 90.0, 120.0):
        swung = envelope(rolling_element(spin, half_width_deg))
        shape = pulse_shape(swung, CAGE, 3, window(spin))
        assert not shape.is_sharp
        assert shape.over_group < DOUBTFUL[0] < OVER_GROUP
        assert not shape.is_doubtful


@pytest.mark.parametrize("ratio", [5.3, 6.0, 6.4, 7.0])
def test_close_groups_are_told_apart_where_they_do_not_meet_and_doubted_where_they_do(
    ratio: float,
) -> None:
    spin = ratio * CAGE
    shape = pulse_shape(envelope({n * CAGE: 0.3 for n in range(1, 72)}), CAGE, 1, window(spin))
    assert shape.is_sharp
    assert shape.is_doubtful == ratio.is_integer()
    shape = pulse_shape(envelope(rolling_element(spin, 120.0)), CAGE, 1, window(spin))
    assert not shape.is_sharp
    assert not shape.is_doubtful


@pytest.mark.parametrize(("ratio", "is_pulse"), [(5, True), (6, True), (12, False)])
def test_a_narrow_zone_passes_few_strikes_and_is_a_pulse(ratio: int, is_pulse: bool) -> None:
    """Strikes at whole fractions of the cage's turn under a zone of +-60 degrees, by summing them.

    At five or six to the turn only the one in the middle and its neighbours are left, and the
    gap lines are as strong as the groups': why such a meeting is doubted.
    """
    angle = 2 * np.pi * np.arange(ratio) / ratio
    edge = np.cos(np.radians(60.0))
    strength = np.maximum(0.0, (np.cos(angle) - edge) / (1 - edge)) ** 3
    numbers = between_groups(1.0, float(ratio), 100.0)
    gap, group = (
        np.median([abs(np.sum(strength * np.exp(1j * n * angle))) ** 2 for n in lines])
        for lines in (numbers, (ratio - 1, ratio, ratio + 1))
    )
    assert (gap / group > OVER_GROUP) == is_pulse
    assert (ratio < CLOSE_GROUPS) == is_pulse


def test_without_groups_to_keep_away_from_all_high_harmonics_count() -> None:
    spin = 4.3 * CAGE
    lines = {n * CAGE: 0.3 for n in range(1, 15)}
    assert pulse_shape(envelope(lines), CAGE, 1, window(spin)).n_between == 7
    with_group = lines | {spin + k * CAGE: 0.3 for k in (-1, 0, 1)}
    assert pulse_shape(envelope(with_group), CAGE, 1, window(spin)).n_between < 7


def test_a_half_hearted_pulse_is_doubtful() -> None:
    """Lines between the groups at 0.25 of the power in them, by construction."""
    spin = 10 * CAGE
    between = between_groups(1.0, 10.0, 100.0)
    lines = {n * CAGE: 0.25 if n in between else 0.5 for n in range(1, 30)}
    shape = pulse_shape(envelope(lines), CAGE, 1, window(spin))
    assert shape.over_group == pytest.approx(0.25, abs=0.03)
    assert shape.is_doubtful


@pytest.mark.parametrize("off_lines", [-1.5, -0.5, 0.75, 1.5])
def test_the_cage_order_is_placed_by_its_high_harmonics(off_lines: float) -> None:
    """Off by a line and a half at the first, the twelfth would be missed by 18 lines."""
    spin = 14.5 * CAGE
    lines = {n * CAGE: 0.3 for n in range(1, 30)}
    shape = pulse_shape(envelope(lines), CAGE + off_lines * SPACING, 3, window(spin))
    assert shape.order == pytest.approx(CAGE, abs=0.25 * SPACING)
    assert shape.is_sharp
    assert shape.n_out == shape.n_between


def test_noise_between_the_groups_is_no_pulse() -> None:
    """Low lines so weak that noise alone reaches an eighth of them between the groups."""
    weak = {n * CAGE: 2 * FLOOR**0.5 for n in (1, 2, 3)}
    shapes = [pulse_shape(envelope(weak, seed), CAGE, 1, window(15 * CAGE)) for seed in range(60)]
    assert any(shape.sharpness > SHARP and shape.over_group > OVER_GROUP for shape in shapes)
    assert not any(shape.is_sharp for shape in shapes)


@pytest.mark.parametrize("spin", [15 * CAGE, 2 * N_LINES * SPACING])
def test_nothing_above_the_floor_and_nothing_inside_the_spectrum_is_no_pulse(spin: float) -> None:
    quiet = envelope({})
    quiet = replace(quiet, floor=np.full(N_LINES, quiet.depth_power.max()))
    shape = pulse_shape(quiet, CAGE, 1, window(spin))
    assert shape.n_out == 0
    assert not shape.is_sharp


def test_too_few_lines_to_tell_are_no_pulse() -> None:
    short = replace(
        envelope({n * CAGE: 0.3 for n in range(1, 4)}),
        depth_power=np.full(int(1.3 / SPACING), 1e-4),
    )
    short = replace(short, floor=short.depth_power)
    shape = pulse_shape(short, CAGE, 1, window(2.5 * CAGE))
    assert shape.n_between < 2
    assert not shape.is_sharp
    assert shape.is_doubtful


def test_weak_high_harmonics_are_no_pulse_though_they_stand_out() -> None:
    """High over low power of 0.09, all lines far above the noise."""
    lines = {n * CAGE: 0.4 if n < 4 else 0.12 for n in range(1, 11)}
    shape = pulse_shape(envelope(lines), CAGE, 1)
    assert shape.n_out == shape.n_between == 7
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
