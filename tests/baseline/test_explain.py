"""Which family a line fits: worked out from the geometry by hand."""

from collections.abc import Callable

import pytest

from vibhealth.baseline import explain_order
from vibhealth.card import MachineCard
from vibhealth.model import RollingBearing

# Nine elements of 7.94 mm on 39.04 mm: gamma = 7.94 / 39.04.
GAMMA = 7.94 / 39.04
CAGE = 0.5 * (1 - GAMMA)
OUTER, INNER = 9 * CAGE, 9 * (1 - CAGE)
ELEMENT = (1 - GAMMA**2) / GAMMA


@pytest.fixture(scope="module")
def bearings(make_card: Callable[..., MachineCard]) -> tuple[RollingBearing, ...]:
    return tuple(make_card().rolling_bearings())


@pytest.mark.parametrize(
    ("order", "words"),
    [
        (1.0, "1x the shaft speed"),
        (0.5, "0.5x the shaft speed"),
        (17.46, "17.5x the shaft speed"),
        (OUTER, "the outer ring of bearing upper"),
        (INNER, "the inner ring of bearing upper"),
        (ELEMENT, "the rolling element of bearing upper"),
        (CAGE, "the cage of bearing upper"),
        (2 * OUTER, "2x the outer ring of bearing upper"),
        (3 * INNER, "3x the inner ring of bearing upper"),
        (OUTER - 1, "the outer ring of bearing upper, minus 1.00 orders"),
        (2 * OUTER + 1, "2x the outer ring of bearing upper, plus 1.00 orders"),
    ],
)
def test_lines_of_families(bearings: tuple[RollingBearing, ...], order: float, words: str) -> None:
    assert explain_order(order, bearings, slip_percent=1.5) == words


@pytest.mark.parametrize("order", [0.1, 0.2, 0.25, 39.21])
def test_a_line_of_nothing_known_is_left_open(
    bearings: tuple[RollingBearing, ...], order: float
) -> None:
    assert explain_order(order, bearings, slip_percent=1.5) == ""


@pytest.mark.parametrize(("reach", "is_found"), [(0.98, True), (1.02, False)])
@pytest.mark.parametrize("way", [-1, 1])
def test_a_cage_that_slips_moves_the_line(
    bearings: tuple[RollingBearing, ...], reach: float, way: int, *, is_found: bool
) -> None:
    """Half the window of 1.5 % about 2x the outer ring, on both sides; nothing else is near."""
    order = 2 * OUTER * (1 + 0.015 * reach * way)
    found = explain_order(order, bearings, slip_percent=1.5)
    assert (found == "2x the outer ring of bearing upper") is is_found


def test_without_slip_a_line_has_its_own_width(bearings: tuple[RollingBearing, ...]) -> None:
    assert explain_order(2 * OUTER + 0.039, bearings, slip_percent=0.0)
    assert not explain_order(2 * OUTER + 0.041, bearings, slip_percent=0.0)


def test_without_bearings_only_the_shaft_is_known() -> None:
    assert explain_order(OUTER, (), slip_percent=1.5) == ""
    assert explain_order(3.03, (), slip_percent=1.5) == "3x the shaft speed"
    assert explain_order(3.05, (), slip_percent=1.5) == ""


def test_the_bearing_is_named(make_card: Callable[..., MachineCard]) -> None:
    two = [
        {
            "name": name,
            "element_count": count,
            "element_diameter_mm": 7.94,
            "pitch_diameter_mm": 39.04,
            "load_case": "rotating",
        }
        for name, count in (("upper", 9), ("lower", 11))
    ]
    both = make_card(bearing=two).rolling_bearings()
    assert explain_order(11 * CAGE, both, slip_percent=0.5) == "the outer ring of bearing lower"
    assert explain_order(OUTER, both, slip_percent=0.5) == "the outer ring of bearing upper"
