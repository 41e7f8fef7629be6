"""The orbit against the ellipse that the card's strokes describe."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.orbit_criteria import expected_ellipse, orbit_criteria
from vibhealth.acceptance.symptoms import symptoms_of
from vibhealth.card import MachineCard, Stroke
from vibhealth.model import Hold, Orbit

Cards = Callable[..., MachineCard]


@pytest.mark.parametrize("tilt", [-80.0, -50.0, -20.0, 0.0, 13.0, 30.0, 60.0, 89.0])
@pytest.mark.parametrize("ratio", [0.1, 0.5, 0.9])
def test_strokes_of_a_drawn_ellipse_give_it_back(tilt: float, ratio: float) -> None:
    turn = np.linspace(0, 2 * np.pi, 20001)
    angle = math.radians(tilt)
    x = np.cos(turn) * math.cos(angle) - ratio * np.sin(turn) * math.sin(angle)
    y = np.cos(turn) * math.sin(angle) + ratio * np.sin(turn) * math.cos(angle)
    found = expected_ellipse(Stroke(x=float(np.ptp(x)), y=float(np.ptp(y))), tilt)
    assert found is not None
    assert found == pytest.approx((ratio, tilt), rel=1e-5)


@pytest.mark.parametrize(
    ("stroke", "tilt"),
    [(Stroke(x=6.0), None), (Stroke(x=6.0, y=3.0), 80.0), (Stroke(x=5, y=5), 45.0)],
)
def test_what_no_ellipse_fits_is_not_judged(stroke: Stroke, tilt: float | None) -> None:
    assert expected_ellipse(stroke, tilt) is None


def _evidence(card: MachineCard, major: float, minor: float, tilt: float) -> Evidence:
    orbit = Orbit(
        stage="as-left", points=("P1X", "P1Y"), path="1.wav", major_mm=major, minor_mm=minor,
        tilt_deg=tilt, direction="counter-clockwise", curve_x_mm=np.zeros(2), curve_y_mm=np.zeros(2),
    )  # fmt: skip
    return Evidence(card=card, limits=card.limits, before=(), after=(), pair=(), orbits=(orbit,))


@pytest.mark.parametrize(("minor", "result"), [(5.5, "pass"), (5.3, "watch"), (5.0, "hold")])
def test_a_round_orbit_must_stay_round(make_card: Cards, minor: float, result: str) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0, "y": 6.0}})
    (axes,) = orbit_criteria(_evidence(card, 6.0, minor, 37.0))
    assert (axes.id, axes.result.value) == ("orbit-axes", result)
    assert axes.value == pytest.approx(100 * (1 - minor / 6.0))


@pytest.mark.parametrize(
    ("tilt", "result"),
    [(4.0, "pass"), (-4.9, "pass"), (6.0, "watch"), (11.0, "hold"), (-85.0, "hold")],
)
def test_a_long_orbit_must_not_lean(make_card: Cards, tilt: float, result: str) -> None:
    card = make_card(exciter={"stroke_mm": {"x": 6.0, "y": 3.0}})
    axes, lean = orbit_criteria(_evidence(card, 6.0, 3.0, tilt))
    assert axes.result.value == "pass"
    assert (lean.id, lean.result.value) == ("orbit-tilt", result)


def test_a_stated_tilt_is_the_one_to_keep(make_card: Cards) -> None:
    exciter = {"stroke_mm": {"x": 6.0, "y": 3.0}, "orbit_tilt_deg": 20.0}
    lean = orbit_criteria(_evidence(make_card(exciter=exciter), 6.0, 2.0, 21.0))[-1]
    assert (lean.id, lean.result.value) == ("orbit-tilt", "pass")


def test_one_recording_that_turns_the_other_way_has_its_cables_swapped(make_card: Cards) -> None:
    exciter = {"stroke_mm": {"x": 6.0, "y": 6.0}, "orbit_direction": "counter-clockwise"}
    evidence = _evidence(make_card(exciter=exciter), 6.0, 5.9, 0.0)
    good = evidence.orbits[0]
    odd = replace(good, path="as-left/1h/2.wav", direction="clockwise")
    for orbits, hold, symptom in (
        ((good, odd, good), Hold.MEASURE_AGAIN, "axes-swapped"),
        ((odd, odd), Hold.FIX, "orbit-reversed"),
    ):
        found = orbit_criteria(replace(evidence, orbits=orbits))[0]
        assert found.id == "orbit-direction"
        assert found.hold is hold
        assert symptoms_of(found) == (symptom,)
        assert ("In 2.wav the body turns clockwise" in found.reason) == (symptom == "axes-swapped")
