"""The side-band table of the trade must follow from the motions; nothing looks it up.

Table: Smith and Randall, MSSP 64-65 (2015), table 1, p. 103, for the stationary load
(second-hand); the other columns by the same reasoning with the load or the outer ring
turning (Su and Lin, J. Sound Vib. 155(1), 1992, from memory).
"""

import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.bearing import SideBand, defect_orders, family_orders, side_bands
from vibhealth.errors import InputError
from vibhealth.model import BearingGeometry, Element, LoadCase, Ring, RollingBearing

Make = Callable[..., RollingBearing]

CAGE = 0.375  # of the quarter-ratio bearing, inner ring turning
ROTATING, STATIONARY = LoadCase.ROTATING, LoadCase.STATIONARY
TWICE, UNKNOWN = LoadCase.TWICE_PER_TURN, LoadCase.UNKNOWN

# (element, load case, turning ring): {spacing: strength}
TABLE = [
    # ordinary machine
    (Element.OUTER_RING, STATIONARY, Ring.INNER, {}),
    (Element.INNER_RING, STATIONARY, Ring.INNER, {1.0: "strong"}),
    (Element.ROLLING_ELEMENT, STATIONARY, Ring.INNER, {CAGE: "strong"}),
    (Element.CAGE, STATIONARY, Ring.INNER, {CAGE: "strong"}),
    # unbalance drive: outer and inner ring change places
    (Element.OUTER_RING, ROTATING, Ring.INNER, {1.0: "strong"}),
    (Element.INNER_RING, ROTATING, Ring.INNER, {1.0: "weak"}),
    (
        Element.ROLLING_ELEMENT,
        ROTATING,
        Ring.INNER,
        {1 - CAGE: "strong", CAGE: "weak", 1.0: "weak"},
    ),
    (Element.CAGE, ROTATING, Ring.INNER, {1 - CAGE: "strong", CAGE: "weak"}),
    # outer ring turns under a stationary load; the cage then turns at 1 - CAGE
    (Element.OUTER_RING, STATIONARY, Ring.OUTER, {1.0: "strong"}),
    (Element.INNER_RING, STATIONARY, Ring.OUTER, {}),
    (Element.ROLLING_ELEMENT, STATIONARY, Ring.OUTER, {1 - CAGE: "strong"}),
    (Element.CAGE, STATIONARY, Ring.OUTER, {1 - CAGE: "strong"}),
    # two counter-turning shafts
    (Element.OUTER_RING, TWICE, Ring.INNER, {2.0: "strong", 1.0: "weak"}),
    (Element.INNER_RING, TWICE, Ring.INNER, {2.0: "strong", 1.0: "weak"}),
    (
        Element.ROLLING_ELEMENT,
        TWICE,
        Ring.INNER,
        {2.0: "strong", CAGE: "weak", 1 - CAGE: "weak"},
    ),
    # not stated: everything is possible, nothing is strong
    (Element.OUTER_RING, UNKNOWN, Ring.INNER, {1.0: "weak", 2.0: "weak"}),
    (Element.INNER_RING, UNKNOWN, Ring.INNER, {1.0: "weak", 2.0: "weak"}),
    (
        Element.ROLLING_ELEMENT,
        UNKNOWN,
        Ring.INNER,
        {CAGE: "weak", 1 - CAGE: "weak", 1.0: "weak", 2.0: "weak"},
    ),
]


@pytest.mark.parametrize(("element", "load_case", "ring", "expected"), TABLE)
def test_the_table_follows_from_the_motions(
    bearing: Make, element: Element, load_case: LoadCase, ring: Ring, expected: dict[float, str]
) -> None:
    bands = side_bands(bearing(load_case=load_case, rotating_ring=ring), element)
    assert {round(band.spacing_order, 12): band.strength for band in bands} == expected


def test_the_origin_of_each_band_is_named(bearing: Make) -> None:
    assert side_bands(bearing(), Element.ROLLING_ELEMENT) == (
        SideBand(spacing_order=0.625, strength="strong", origin="load"),
        SideBand(spacing_order=0.375, strength="weak", origin="path"),
        SideBand(spacing_order=1.0, strength="weak", origin="load and path"),
    )
    ordinary = bearing(load_case=STATIONARY)
    assert [band.origin for band in side_bands(ordinary, Element.INNER_RING)] == ["load and path"]


@given(st.from_type(BearingGeometry))
def test_turning_load_and_turning_outer_ring_are_the_same_motion(
    bearing: Make, geometry: BearingGeometry
) -> None:
    """Seen from the load, an unbalance drive is a bearing whose outer ring turns."""
    unbalance = side_bands(bearing(geometry), Element.OUTER_RING)
    outer_turns = side_bands(
        bearing(geometry, load_case=STATIONARY, rotating_ring=Ring.OUTER), Element.OUTER_RING
    )
    assert [band.spacing_order for band in unbalance] == [
        band.spacing_order for band in outer_turns
    ]
    assert unbalance[0].strength == outer_turns[0].strength == "strong"


@given(st.from_type(BearingGeometry), st.sampled_from(LoadCase), st.sampled_from(Ring))
def test_unknown_names_no_ring_and_misses_no_spacing(
    bearing: Make, geometry: BearingGeometry, load_case: LoadCase, ring: Ring
) -> None:
    unknown = bearing(geometry, load_case=UNKNOWN, rotating_ring=ring)
    known = bearing(geometry, load_case=load_case, rotating_ring=ring)
    outer = side_bands(unknown, Element.OUTER_RING)
    inner = side_bands(unknown, Element.INNER_RING)
    assert {(band.spacing_order, band.strength) for band in outer} == {
        (band.spacing_order, band.strength) for band in inner
    }
    for element in Element:
        spacings = [band.spacing_order for band in side_bands(unknown, element)]
        for band in side_bands(known, element):
            assert min(abs(band.spacing_order - other) for other in spacings) < 1e-9


def test_family_under_a_turning_load_by_hand(bearing: Make) -> None:
    lines = family_orders(bearing(), Element.OUTER_RING, harmonics=2)
    assert [(line.order, line.harmonic, line.side_band) for line in lines] == [
        (1.0, 1, -2),
        (2.0, 1, -1),
        (3.0, 1, 0),
        (4.0, 1, 1),
        (4.0, 2, -2),
        (5.0, 1, 2),
        (5.0, 2, -1),
        (6.0, 2, 0),
        (7.0, 2, 1),
        (8.0, 2, 2),
    ]
    inner = family_orders(bearing(), Element.INNER_RING, harmonics=1)
    assert [(line.order, line.strength) for line in inner] == [
        (4.0, "weak"),
        (5.0, "strong"),
        (6.0, "weak"),
    ]


@given(
    st.from_type(BearingGeometry),
    st.sampled_from(LoadCase),
    st.sampled_from(Element),
    st.integers(1, 5),
)
def test_every_line_obeys_its_formula(
    bearing: Make, geometry: BearingGeometry, load_case: LoadCase, element: Element, harmonics: int
) -> None:
    unit = bearing(geometry, load_case=load_case)
    lines = family_orders(unit, element, harmonics=harmonics)
    strike = defect_orders(unit).strike_order(element)
    assert strike is not None
    assert [line.order for line in lines] == sorted(line.order for line in lines)
    assert {line.harmonic for line in lines} == set(range(1, harmonics + 1))
    for line in lines:
        carrier = line.spacing_order if element is Element.CAGE else strike
        expected = line.harmonic * carrier + line.side_band * line.spacing_order
        assert line.order == pytest.approx(expected, rel=1e-12)
        assert line.order > 0


def test_an_element_without_an_order_has_no_family(given_bearing: Make) -> None:
    assert family_orders(given_bearing(3.0, 4.92), Element.ROLLING_ELEMENT) == ()
    assert len(family_orders(given_bearing(3.0, 4.92), Element.OUTER_RING)) == 3 * 5


def test_no_harmonics_are_refused(bearing: Make) -> None:
    with pytest.raises(InputError, match=re.escape("harmonics must be at least 1, got 0")):
        family_orders(bearing(), Element.OUTER_RING, harmonics=0)
