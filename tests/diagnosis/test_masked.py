"""A recording is masked where a disturbance hides what it would show without it, not otherwise."""

from typing import Any

from tests.benchmark.machines import SPEED_RPM, machine_card, recording_from, running
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.model import RecordingAnalysis
from vibhealth.simulate import simulate

# With elements of 3/11 of the pitch circle both rings of 11 elements stand on whole orders:
# 11 (1 - 3/11) / 2 = 4 and 11 (1 + 3/11) / 2 = 7 (kinematics: closed form).
BLIND_RINGS = {
    "element_count": 11,
    "element_diameter_mm": 3.0,
    "pitch_diameter_mm": 11.0,
    "contact_angle_deg": 0.0,
}
LIMIT = 0.30  # detectable_depth_hold
HUM = {"inverter_hz": 2400.0, "inverter_g": 0.05}
HAIL = {"material_strikes_per_second": 20.0}
DOWNPOUR = {"material_strikes_per_second": 100.0}


def analyzed(**disturbance: Any) -> RecordingAnalysis:
    card = machine_card(BLIND_RINGS, "rotating")
    recording = recording_from(simulate(card, settings=running(3, **disturbance)))
    return analyze_recording(recording, card=card, given_speed_rpm=SPEED_RPM)


def test_a_blind_spot_beside_a_harmless_disturbance_is_not_masked() -> None:
    analysis = analyzed(**HUM)
    assert [item.id for item in analysis.disturbances] == ["lines-fixed-in-hz"]
    blind = {f.element for f in analysis.families if f.blind_spot}
    sizes = {row.element: row.detectable_depth for row in analysis.sensitivity}
    assert len(blind) == 2
    assert all(sizes[element] > LIMIT for element in blind)
    assert all(size <= LIMIT for element, size in sizes.items() if element not in blind)
    assert analysis.masked == ""


def test_a_disturbance_that_hides_the_other_elements_masks() -> None:
    analysis = analyzed(**HAIL)
    blind = {f.element for f in analysis.families if f.blind_spot}
    assert any(
        row.detectable_depth > LIMIT for row in analysis.sensitivity if row.element not in blind
    )
    assert analysis.masked.startswith("Masked: falling material")


def test_hits_that_are_the_background_mask_however_well_it_is_seen_against_them() -> None:
    """Depths are small against a background that the hits make; on the machine alone they are not."""
    analysis = analyzed(**DOWNPOUR)
    (hits,) = analysis.disturbances
    blind = {f.element for f in analysis.families if f.blind_spot}
    seen = [r.detectable_depth for r in analysis.sensitivity if r.element not in blind]
    assert max(seen) < LIMIT < hits.background_rise * max(seen)
    assert analysis.masked.startswith("Masked: falling material")
