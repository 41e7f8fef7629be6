"""Combs: which lines belong to a family, and two caps that only ever lower its evidence."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.bearing import SideBand, defect_orders
from vibhealth.diagnosis.comb import (
    HARMONICS,
    SINGLE_LINE_ALLOWANCE,
    SINGLE_LINE_FACTOR,
    WIDTHS,
    CombLines,
    bearing_combs,
    comb_evidence,
    comb_lines,
    evidence_arrays,
    harmonic_widths,
    shaft_lines,
)
from vibhealth.diagnosis.envelope_bank import EnvelopeOrders
from vibhealth.diagnosis.evidence import line_evidence
from vibhealth.model import BearingGeometry, DefectOrders, Element, LoadCase, RollingBearing

# Few operations on values of order one.
ROUND_OFF = 1e-12


def bearing(load_case: LoadCase, name: str = "upper") -> RollingBearing:
    geometry = BearingGeometry(
        element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04, contact_angle_deg=0.0
    )
    return RollingBearing(name=name, geometry=geometry, element_count=9, load_case=load_case)


def side(spacing: float) -> SideBand:
    return SideBand(spacing_order=spacing, strength="strong", origin="load")


def envelope(power: list[float]) -> EnvelopeOrders:
    values = np.array(power)
    return EnvelopeOrders(
        band_hz=(100.0, 200.0),
        detector="squared",
        is_whitened=True,
        order_spacing=0.1,
        depth_power=2.0 * values,
        floor=np.full(values.shape, 2.0),
        mean_square=1.0,
        n_averages=1,
    )


def test_combs_lie_at_the_strike_orders() -> None:
    item = bearing(LoadCase.STATIONARY)
    combs = {comb.element: comb for comb in bearing_combs([item])}
    orders = defect_orders(item)
    assert set(combs) == set(Element)
    for element in (Element.OUTER_RING, Element.INNER_RING, Element.ROLLING_ELEMENT):
        assert combs[element].strike_order == orders.strike_order(element)
        assert combs[element].key == ("upper", element)
    assert [band.spacing_order for band in combs[Element.INNER_RING].spacings] == [1.0]
    assert combs[Element.OUTER_RING].spacings == ()


@pytest.mark.parametrize(
    ("load_case", "turning"), [(LoadCase.STATIONARY, False), (LoadCase.ROTATING, True)]
)
def test_the_cage_comb_lies_where_the_cage_passes_the_load(
    load_case: LoadCase, turning: bool
) -> None:
    item = bearing(load_case)
    ftf = defect_orders(item).cage
    cage = next(comb for comb in bearing_combs([item]) if comb.element is Element.CAGE)
    assert cage.strike_order == pytest.approx(1 - ftf if turning else ftf)
    assert cage.spacings == ()


def test_a_bearing_without_a_spin_order_has_no_rolling_element_comb() -> None:
    item = RollingBearing(
        name="given",
        given_orders=DefectOrders(cage=0.39, outer_ring=3.0, inner_ring=4.92, rolling_element=None),
        element_count=8,
    )
    found = {comb.element for comb in bearing_combs([item, bearing(LoadCase.ROTATING)])}
    assert found == set(Element)
    assert Element.ROLLING_ELEMENT not in {comb.element for comb in bearing_combs([item])}


def test_widths_grow_with_the_harmonic_and_are_odd() -> None:
    assert [harmonic_widths(width) for width in WIDTHS] == [(1, 1, 1), (3, 7, 9), (9, 19, 27)]
    assert all(width % 2 for choice in WIDTHS for width in harmonic_widths(choice))


def test_whole_and_half_orders_are_the_shafts() -> None:
    order = np.array([0.0, 0.1, 0.19, 0.3, 0.5, 1.0, 1.25, 2.497, 3.2, 3.51, 7.0, 7.03])
    found = shaft_lines(order, 0.001)
    # 2.5 lines and 0.03 % of the order: 0.0025 + 0.00075 at 2.497; 0.0036 at 3.51.
    assert found.tolist() == [1, 1, 1, 0, 1, 1, 0, 1, 0, 0, 1, 0]


def test_line_numbers_of_centres_and_side_bands() -> None:
    lines = comb_lines(np.array([2.0, 3.3]), [side(1.0)], order_spacing=0.1, n_lines=80)
    assert [row.tolist() for row in lines.centre] == [[20, 33], [40, 66], [60, 0]]
    assert [(position, row.tolist()) for position, row in lines.sides] == [
        (0, [10, 23]),
        (0, [30, 43]),
        (1, [30, 56]),
        (1, [50, 76]),
        (2, [50, 0]),
        (2, [70, 0]),
    ]


def test_a_side_band_below_zero_is_mirrored() -> None:
    lines = comb_lines(np.array([0.4]), [side(1.0)], order_spacing=0.1, n_lines=50)
    assert lines.sides[0][1].tolist() == [6]


def values(centre: list[float], sides: list[float]) -> float:
    """Evidence of one comb with the given values on its lines."""
    evidence = np.array([0.0, *centre, *sides])
    lines = CombLines(
        orders=np.array([1.0]),
        centre=tuple(np.array([i + 1]) for i in range(3)),
        sides=tuple((0, np.array([i + 4])) for i in range(len(sides))),
    )
    return float(comb_evidence([evidence] * 3, lines)[0])


def test_evidence_is_the_sum_where_no_cap_bites() -> None:
    assert values([10.0, 8.0, 6.0], [3.0, 2.0]) == pytest.approx(29.0, abs=ROUND_OFF)


def test_side_bands_count_as_much_as_the_centre_lines_at_most() -> None:
    assert values([2.0, 1.0, 0.0], [50.0, 50.0]) == pytest.approx(6.0, abs=ROUND_OFF)
    assert values([0.0, 0.0, 0.0], [50.0, 50.0]) == 0.0


def test_a_lone_line_counts_fifteen() -> None:
    assert SINGLE_LINE_ALLOWANCE == 15.0
    assert SINGLE_LINE_FACTOR == 4.0
    assert values([1000.0, 0.0, 0.0], []) == pytest.approx(15.0, abs=ROUND_OFF)
    # Others 3: 15 + 4 * 3 from the strongest, and themselves.
    assert values([0.0, 1000.0, 3.0], []) == pytest.approx(30.0, abs=ROUND_OFF)


@given(
    centre=st.lists(st.floats(0, 1e3), min_size=3, max_size=3),
    sides=st.lists(st.floats(0, 1e3), max_size=4),
    at=st.integers(0, 2),
    more=st.floats(0, 1e3),
)
def test_caps_only_lower_and_more_is_never_less(
    centre: list[float], sides: list[float], at: int, more: float
) -> None:
    found = values(centre, sides)
    total = sum(centre) + sum(sides)
    assert 0 <= found <= total + 1e-9
    louder = [value + more * (i == at) for i, value in enumerate(centre)]
    assert values(louder, sides) >= found - 1e-9


def test_masked_lines_carry_no_evidence_and_lend_none() -> None:
    item = envelope([9.0, 1.0, 1.0, 30.0, 1.0, 1.0, 5.0, 1.0])
    masked = np.zeros(8, dtype=bool)
    masked[3] = True
    first, *_ = evidence_arrays(item, 1, masked)
    plain = line_evidence(item.power, width_lines=1)
    assert first[0] == 0.0  # the mean is no line
    assert first[3] == 0.0
    assert first[6] == plain[6]
    wide = evidence_arrays(item, 3, masked)
    assert len(wide) == len(HARMONICS)
    assert wide[0][4] == 0.0  # its neighbour's power is masked too
    assert wide[0][6] == pytest.approx(3 * (7 / 3 - 1 - np.log(7 / 3)), abs=ROUND_OFF)
