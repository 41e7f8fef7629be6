"""No false alarm on open recordings, and the one that is known to be clipped is seen.

The recordings are those of the bearing data center of Case Western Reserve University, of
the Society for Machinery Failure Prevention Technology and of the University of Electronic
Science and Technology of China; none of them is part of this project.
"""

import csv
import os
from collections.abc import Callable
from pathlib import Path

import pytest
import soundfile

from vibhealth.model import QualityFinding, Recording

FOLDER = os.environ.get("VIBHEALTH_DATA")
Findings = dict[str, QualityFinding]

pytestmark = pytest.mark.skipif(
    FOLDER is None, reason="VIBHEALTH_DATA does not name the folder of open recordings"
)


def rows() -> list[dict[str, str]]:
    if FOLDER is None:
        return []
    with (Path(FOLDER) / "manifest.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def found(
    recording: Callable[..., Recording],
    uncalibrated: Callable[..., Recording],
    findings: Callable[..., Findings],
) -> Callable[[dict[str, str]], Findings]:
    """All findings of one row of the manifest."""

    def check(row: dict[str, str]) -> Findings:
        samples, rate_hz = soundfile.read(Path(FOLDER or "") / row["file"])
        make = recording if row["unit"] == "g" else uncalibrated
        item = make(samples, sampling_rate_hz=float(rate_hz), path=row["file"])
        return findings(item, shaft_frequency_hz=float(row["shaft_speed_rpm"]) / 60)

    return check


@pytest.mark.parametrize("row", rows(), ids=lambda row: str(row["file"]))
def test_no_open_recording_is_held_for_its_samples(
    row: dict[str, str], found: Callable[[dict[str, str]], Findings]
) -> None:
    result = found(row)
    held = {name for name, finding in result.items() if finding.result == "hold"}
    assert held <= {"length"}
    # Smith and Randall (2015), table 3: clipped at +/- 6.65 g; four samples lie exactly there.
    is_known_as_clipped = row["file"] == "cwru/236_de.wav"
    assert result["clipping"].result == ("watch" if is_known_as_clipped else "pass")


@pytest.mark.parametrize(
    "row",
    [row for row in rows() if not row["file"].startswith("uestc")],
    ids=lambda row: str(row["file"]),
)
def test_ordinary_machines_are_too_still_at_1x_to_show_lost_samples(
    row: dict[str, str], found: Callable[[dict[str, str]], Findings]
) -> None:
    assert found(row)["dropped-samples"].result == "not-judged"
