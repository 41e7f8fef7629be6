"""A guard that hits in every turn, on a machine whose families lie beside whole orders."""

import pytest

from tests.diagnosis.test_disturbances import card
from vibhealth.diagnosis import analysis as chain
from vibhealth.diagnosis.analysis import analyze_recording, largest_present
from vibhealth.model import Calibration, CriterionResult, Element, Recording, RecordingAnalysis
from vibhealth.simulate import Defect, SimulationSettings, simulate


@pytest.fixture(autouse=True)
def _found_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """What would have been found is a third of the work and no part of what is found."""
    monkeypatch.setattr(chain, "detectable_families", lambda *_, **__: ())


def analyzed(
    *defects: Defect, seed: int, rattle_m_s2: float, duration_s: float
) -> RecordingAnalysis:
    settings = SimulationSettings(seed=seed, rattle_m_s2=rattle_m_s2, duration_s=duration_s)
    simulated = simulate(card(), defects=defects, settings=settings)
    recording = Recording(
        samples=simulated.samples[0],
        sampling_rate_hz=simulated.sampling_rate_hz,
        unit="m/s2",
        path="as-left/P1X.wav",
        sha256="",
        calibration=Calibration(scale_m_s2=1.0, source="file in m/s2"),
        point="P1X",
    )
    return analyze_recording(recording, card=card())


def test_the_guards_lines_are_no_bearing_fault() -> None:
    """17 elements of 26 mm on 160 mm: two strikes per spin at 5.991x, beside the guard's 6x.

    Lines beside 6x rise with it, and the size must not count 6x itself (1.34 where it does).
    """
    analysis = analyzed(seed=4, rattle_m_s2=5.0, duration_s=60.0)
    assert [item.id for item in analysis.disturbances] == ["strikes-at-1x"]
    assert all(family.result is not CriterionResult.HOLD for family in analysis.families)
    assert not any(family.present for family in analysis.families)


@pytest.mark.parametrize("element", [Element.OUTER_RING, Element.INNER_RING])
def test_a_defect_beside_the_guard_is_named(element: Element) -> None:
    defect = Defect(element=element, impact_m_s2=3.0)
    analysis = analyzed(defect, seed=5, rattle_m_s2=20.0, duration_s=25.0)
    found = largest_present(analysis.families)
    assert found is not None
    assert found.element is element
    assert found.result is CriterionResult.HOLD
