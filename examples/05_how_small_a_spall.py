"""Simulate the same feeder with smaller and smaller spalls, and see which are found."""

from pathlib import Path

from vibhealth.card import read_card
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.model import Element, Recording
from vibhealth.simulate import Defect, Resonance, SimulationSettings, simulate

card = read_card(Path(__file__).parent / "F3.toml")
settings = SimulationSettings(
    duration_s=26.0, sampling_rate_hz=8000.0, resonances=(Resonance(frequency_hz=2800.0),)
)
for impact_m_s2 in (2.0, 0.05):
    spall = Defect(element=Element.OUTER_RING, impact_m_s2=impact_m_s2)
    simulated = simulate(card, defects=[spall], settings=settings)
    recording = Recording(
        samples=simulated.samples[0],
        sampling_rate_hz=simulated.sampling_rate_hz,
        unit="m/s2",
        path="simulated",
        sha256="",
        point="P1X",
    )
    families = analyze_recording(recording, card=card).families
    outer = next(item for item in families if item.element is Element.OUTER_RING)
    found = "found" if outer.present else "not found"
    print(f"outer ring, {impact_m_s2:g} m/s2: {found}, depth {outer.depth_whitened:.3f}")
