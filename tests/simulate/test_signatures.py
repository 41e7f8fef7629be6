"""Which line stands where: the signature of each defect in each load case."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.model import DefectOrders, Element
from vibhealth.simulate import Defect, SimulationSettings, simulate

DURATION_S = 10.0
STRONG, ABSENT = 0.5, 0.1
# Every line lies within one line spacing (0.1 Hz) of its order at the true mean cage
# speed; two lines to either side also catch the share that leaks to the neighbour.
REACH = 2


@dataclass(frozen=True)
class Comb:
    """Depth at an order, and of side bands relative to the centre line."""

    depth: NDArray[np.float64]
    shaft_frequency_hz: float

    def at(self, order: float) -> float:
        line = round(abs(order) * self.shaft_frequency_hz * DURATION_S)
        return float(np.max(self.depth[line - REACH : line + REACH + 1]))

    def side_band(self, centre: float, spacing: float) -> float:
        return (self.at(centre - spacing) + self.at(centre + spacing)) / 2 / self.at(centre)


@pytest.fixture
def comb(
    make_card: Callable[..., MachineCard],
    quiet: dict[str, Any],
    envelope_depth: Callable[..., NDArray[np.float64]],
) -> Callable[..., tuple[Comb, DefectOrders]]:
    def make(
        load_case: str,
        element: Element,
        *,
        rotating_ring: str = "inner",
        marks_at_every_element: bool = False,
        **changes: Any,
    ) -> tuple[Comb, DefectOrders]:
        defect = Defect(element=element, marks_at_every_element=marks_at_every_element)
        settings = SimulationSettings(duration_s=DURATION_S, **{**quiet, **changes})
        simulated = simulate(
            make_card(load_case, rotating_ring), defects=[defect], settings=settings
        )
        depth = envelope_depth(simulated.samples[0], simulated.sampling_rate_hz)
        truth = simulated.truth
        return Comb(depth, truth.mean_shaft_frequency_hz), truth.bearings[0].orders

    return make


# Rows: turning ring, load case, element, 1x side bands strong or absent. The rule follows
# from the speeds of place and load (McFadden and Smith, Journal of Sound and Vibration
# 96(1), 1984, 69-82, for a stationary load; the other columns by the same argument).
@pytest.mark.parametrize(
    ("rotating_ring", "load_case", "element", "is_strong"),
    [
        ("inner", "rotating", Element.OUTER_RING, True),
        ("inner", "rotating", Element.INNER_RING, False),
        ("inner", "stationary", Element.OUTER_RING, False),
        ("inner", "stationary", Element.INNER_RING, True),
        ("outer", "stationary", Element.OUTER_RING, True),
        ("outer", "stationary", Element.INNER_RING, False),
        ("inner", "twice-per-turn", Element.OUTER_RING, True),
    ],
)
def test_the_load_modulates_a_ring_that_moves_against_it(
    comb: Callable[..., tuple[Comb, DefectOrders]],
    rotating_ring: str,
    load_case: str,
    element: Element,
    is_strong: bool,
) -> None:
    spectrum, orders = comb(load_case, element, rotating_ring=rotating_ring, path_modulation=0.0)
    centre = orders.strike_order(element)
    assert centre is not None
    assert spectrum.at(centre) > 1.0
    side_band = spectrum.side_band(centre, 1.0)
    assert side_band > STRONG if is_strong else side_band < ABSENT


def test_the_path_alone_gives_weaker_side_bands_to_an_inner_ring_under_a_turning_load(
    comb: Callable[..., tuple[Comb, DefectOrders]],
) -> None:
    """(1 - d/2 + d/2 cos)^2: side band over centre is (1 - d/2)(d/2) / ((1 - d/2)^2 + d^2/8)."""
    spectrum, orders = comb("rotating", Element.INNER_RING, path_modulation=0.5)
    expected = 0.75 * 0.25 / (0.75**2 + 0.5**2 / 8)
    # Later strikes ring on top of earlier ones: a few per mille of the squared envelope.
    assert spectrum.side_band(orders.inner_ring, 1.0) == pytest.approx(expected, rel=0.02)


def test_a_narrow_load_zone_makes_the_comb_wider(
    comb: Callable[..., tuple[Comb, DefectOrders]],
) -> None:
    narrow, orders = comb("rotating", Element.OUTER_RING, load_factor=0.15)
    wide, _ = comb("rotating", Element.OUTER_RING, load_factor=0.8)
    assert narrow.side_band(orders.outer_ring, 2.0) > 0.8
    assert wide.side_band(orders.outer_ring, 2.0) < 0.4


@pytest.mark.parametrize("load_case", ["rotating", "stationary"])
def test_an_element_is_modulated_at_the_speed_of_the_cage_against_the_load(
    comb: Callable[..., tuple[Comb, DefectOrders]], load_case: str
) -> None:
    spectrum, orders = comb(load_case, Element.ROLLING_ELEMENT)
    centre = orders.strike_order(Element.ROLLING_ELEMENT)
    assert centre is not None
    against_load = spectrum.side_band(centre, 1 - orders.cage)
    with_cage = spectrum.side_band(centre, orders.cage)
    strong, weak = (
        (against_load, with_cage) if load_case == "rotating" else (with_cage, against_load)
    )
    assert strong > STRONG
    assert weak < 0.5 * strong
    # The two raceways answer differently: the spin order itself shows too.
    assert orders.rolling_element is not None
    assert spectrum.at(orders.rolling_element) > 0.1


def test_a_bad_pocket_shows_against_the_load_and_against_the_frame(
    comb: Callable[..., tuple[Comb, DefectOrders]],
) -> None:
    turning, orders = comb("rotating", Element.CAGE)
    assert turning.at(1 - orders.cage) > STRONG
    assert turning.at(orders.cage) > 0.2
    standing, orders = comb("stationary", Element.CAGE)
    assert standing.at(orders.cage) > STRONG
    assert standing.at(2 * orders.cage) > STRONG
    assert standing.at(1 - orders.cage) < ABSENT


@pytest.mark.parametrize("element", [Element.OUTER_RING, Element.INNER_RING])
def test_marks_at_every_element_lose_the_load_side_bands(
    comb: Callable[..., tuple[Comb, DefectOrders]], element: Element
) -> None:
    spectrum, orders = comb("rotating", element, marks_at_every_element=True, path_modulation=0.0)
    centre = orders.strike_order(element)
    assert centre is not None
    assert spectrum.at(centre) > 1.0
    assert spectrum.side_band(centre, 1.0) < 0.02


def test_twin_shafts_load_both_rings_twice_per_turn(
    comb: Callable[..., tuple[Comb, DefectOrders]],
) -> None:
    for element in (Element.OUTER_RING, Element.INNER_RING):
        spectrum, orders = comb("twice-per-turn", element, path_modulation=0.0)
        centre = orders.strike_order(element)
        assert centre is not None
        assert spectrum.side_band(centre, 2.0) > 0.25


def test_a_healthy_bearing_shows_the_inner_order_around_1x_under_a_turning_load(
    make_card: Callable[..., MachineCard], quiet: dict[str, Any]
) -> None:
    """Elements pass below a turning load at Z - BPFO, seen turning: BPFI plus and minus 1x."""
    settings = SimulationSettings(duration_s=DURATION_S, **{**quiet, "passage_m_s2": 0.05})
    for load_case, offsets in (("rotating", (-1.0, 1.0)), ("stationary", (0.0,))):
        simulated = simulate(make_card(load_case), settings=settings)
        orders = simulated.truth.bearings[0].orders
        centre = orders.inner_ring if load_case == "rotating" else orders.outer_ring
        lines = np.abs(np.fft.rfft(simulated.samples[0] * np.hanning(settings.n_samples)))
        frequency_hz = np.fft.rfftfreq(settings.n_samples, 1 / settings.sampling_rate_hz)
        order = frequency_hz / simulated.truth.mean_shaft_frequency_hz
        beyond_1x = np.where(order > 2, lines, 0.0)
        tallest = np.sort(order[np.argsort(beyond_1x)[-len(offsets) :]])
        # One line spacing of 0.1 Hz is 0.005 orders.
        np.testing.assert_allclose(tallest, [centre + k for k in offsets], atol=0.0051)
