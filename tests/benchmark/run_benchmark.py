"""Run the whole chain over open recordings and print what it named, as JSON.

    python tests/benchmark/run_benchmark.py [FOLDER] > result.json

FOLDER (default: the environment variable VIBHEALTH_DATA) holds ``manifest.csv`` and the
recordings of the bearing data center of Case Western Reserve University, of the Society for
Machinery Failure Prevention Technology and of the University of Electronic Science and
Technology of China; none of them is part of this project. ``published_grade`` is the best
grade of W. A. Smith and R. B. Randall, MSSP 64-65 (2015) 100-131, table B2.
"""

import csv
import json
import os
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import soundfile

from vibhealth.card import MachineCard
from vibhealth.diagnosis.analysis import analyze_recording, largest_present
from vibhealth.model import Calibration, Element, FamilyFinding, Recording, RecordingAnalysis
from vibhealth.units import STANDARD_GRAVITY_M_S2

Row = dict[str, str]
Result = dict[str, Any]

ELEMENT_OF_LABEL = {
    "outer": Element.OUTER_RING,
    "inner": Element.INNER_RING,
    "ball": Element.ROLLING_ELEMENT,
    "healthy": None,
}

# No geometry is published for this rig; its lines lie near these orders, and its speed is
# nominal, up to 8 % off.
UESTC_ORDERS = {"outer_ring": 3.0, "inner_ring": 4.92}
UESTC_TOLERANCE_PERCENT = 10.0
TOLERANCE_PERCENT = 3.0


def manifest(folder: Path) -> list[Row]:
    """All rows of ``manifest.csv``."""
    with (folder / "manifest.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def data_set(row: Row) -> str:
    """First folder of the file's path."""
    return row["file"].split("/", maxsplit=1)[0]


def card_of(row: Row) -> MachineCard:
    """The card that the manifest's row implies: an ordinary machine under stationary load."""
    bearing: dict[str, Any] = {"name": "test bearing", "load_case": "stationary"}
    if row["element_count"]:
        bearing["element_count"] = int(row["element_count"])
        for key in ("element_diameter_mm", "pitch_diameter_mm", "contact_angle_deg"):
            bearing[key] = float(row[key])
    else:
        bearing["orders"] = UESTC_ORDERS
    tolerance = TOLERANCE_PERCENT if row["element_count"] else UESTC_TOLERANCE_PERCENT
    return MachineCard.model_validate(
        {
            "schema_version": 1,
            "machine": {
                "id": "rig",
                "nominal_speed_rpm": float(row["shaft_speed_rpm"]),
                "speed_tolerance_percent": tolerance,
            },
            "bearing": [bearing],
        }
    )


def recording_of(folder: Path, row: Row) -> Recording:
    """The recording, in m/s^2 where its unit is known."""
    samples, rate_hz = soundfile.read(folder / row["file"])
    in_g = row["unit"] == "g"
    return Recording(
        samples=samples * (STANDARD_GRAVITY_M_S2 if in_g else 1.0),
        sampling_rate_hz=float(rate_hz),
        unit="m/s2" if in_g else "counts",
        path=row["file"],
        sha256="",
        calibration=Calibration(scale_m_s2=STANDARD_GRAVITY_M_S2, source="file in g")
        if in_g
        else None,
    )


def judged(row: Row, named: FamilyFinding | None) -> str:
    """``right``, ``wrong`` or ``none``: what the largest present family says of the label."""
    wanted = ELEMENT_OF_LABEL[row["label"]]
    if named is None:
        return "right" if wanted is None else "none"
    return "right" if named.element is wanted else "wrong"


def result_of(row: Row, analysis: RecordingAnalysis, seconds: float) -> Result:
    """One line of the benchmark."""
    named = largest_present(analysis.families)
    shown = named or max(analysis.families, key=lambda f: f.depth_whitened, default=None)
    result: Result = {
        "file": row["file"],
        "label": row["label"],
        "published_grade": row["published_grade"] or None,
        "result": judged(row, named),
        "named": None if named is None else named.element.value,
        "shaft_speed_rpm": None
        if analysis.speed.shaft_frequency_hz is None
        else round(60 * analysis.speed.shaft_frequency_hz, 2),
        "speed_source": analysis.speed.source,
        "not_judged": analysis.families_not_judged,
        "held": sorted(f.element.value for f in analysis.families if f.result == "hold"),
        "seconds": round(seconds, 2),
    }
    if shown is not None:
        result["largest_family"] = {
            "element": shown.element.value,
            "order": round(shown.order, 4),
            "false_alarm_probability": shown.false_alarm_probability,
            "depth_whitened": round(shown.depth_whitened, 4),
            "depth": round(shown.depth, 4),
            "impact_m_s2": None if shown.impact_m_s2 is None else round(shown.impact_m_s2, 3),
        }
    return result


def results(folder: Path, rows: Iterable[Row] | None = None) -> Iterator[Result]:
    """Results of all rows (default: the whole manifest), one at a time."""
    for row in manifest(folder) if rows is None else rows:
        recording = recording_of(folder, row)
        start = time.perf_counter()
        analysis = analyze_recording(recording, card=card_of(row))
        yield result_of(row, analysis, time.perf_counter() - start)


def summary(found: Iterable[Result]) -> dict[str, dict[str, int]]:
    """Counts of right, wrong and none by data set and published grade."""
    counts: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for result in found:
        group = result["published_grade"] or result["label"]
        counts[f"{data_set(result)} {group}"][result["result"]] += 1
    return {group: dict(counter) for group, counter in sorted(counts.items())}


def main(arguments: list[str]) -> int:
    """Print the results; exit code 2 where there is no data."""
    name = arguments[0] if arguments else os.environ.get("VIBHEALTH_DATA")
    if name is None:
        sys.stderr.write("give the folder of open recordings, or set VIBHEALTH_DATA\n")
        return 2
    found = []
    for result in results(Path(name)):
        sys.stderr.write(f"{result['file']}: {result['result']}\n")
        found.append(result)
    json.dump({"summary": summary(found), "recordings": found}, sys.stdout, indent=1)
    sys.stdout.write("\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
