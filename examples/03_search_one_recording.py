"""Search one recording for bearing defects, and say how small a one it could have shown."""

from pathlib import Path

from vibhealth.card import read_card
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.recording import ChannelRequest, read_recording

folder = Path(__file__).parent
card = read_card(folder / "F3.toml")
request = ChannelRequest(channel=1, point="P1X")
(recording,) = read_recording(folder / "as-left-spalled.flac", requests=[request])

analysis = analyze_recording(recording, card=card)
print(f"shaft {60 * (analysis.speed.shaft_frequency_hz or 0):.1f} r/min")
for family in analysis.families:
    found = "FOUND" if family.present else "not found"
    print(f"{family.element.words:16} {found:10} depth {family.depth_whitened:.3f}")
for smallest in analysis.sensitivity:
    print(f"{smallest.element.words:16} would show from depth {smallest.detectable_depth:.3f}")
