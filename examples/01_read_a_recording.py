"""Read one measurement point of a recording, calibrated, and say how strong the motion is."""

from pathlib import Path

from vibhealth.recording import ChannelRequest, read_recording
from vibhealth.signal import rms
from vibhealth.units import m_s2_to_g

folder = Path(__file__).parent
request = ChannelRequest(channel=1, point="P1X")
(recording,) = read_recording(folder / "as-left-clean.flac", requests=[request])

print(f"{recording.point}: {recording.duration_s:g} s at {recording.sampling_rate_hz:g} Hz")
print(f"calibration: {recording.calibration.source if recording.calibration else 'none'}")
print(f"rms {m_s2_to_g(float(rms(recording.samples))):.2f} g")
