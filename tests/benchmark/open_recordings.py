"""Recordings of open data sets as the chain reads them, by their manifest.

The recordings of the bearing data center of Case Western Reserve University, of the Society
for Machinery Failure Prevention Technology and of the University of Electronic Science and
Technology of China; none of them is part of this project.
"""

import csv
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import soundfile

from vibhealth.card import MachineCard
from vibhealth.model import Calibration, Element, Recording
from vibhealth.units import STANDARD_GRAVITY_M_S2

__all__ = [
    "ELEMENT_OF_LABEL",
    "PIECE_TURNS",
    "Row",
    "card_of",
    "data_set",
    "healthy_pieces",
    "manifest",
    "pieces_of",
    "recording_of",
]

Row = dict[str, str]

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

# The shortest recording that is judged by default.
PIECE_TURNS = 400.0


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


def pieces_of(recording: Recording, shaft_speed_rpm: float) -> list[Recording]:
    """Equal pieces of at least 400 turns; a shorter recording is one piece."""
    turns = recording.duration_s * shaft_speed_rpm / 60
    n_pieces = max(1, int(turns / PIECE_TURNS))
    length = recording.samples.size // n_pieces
    return [
        replace(recording, samples=recording.samples[i * length : (i + 1) * length])
        for i in range(n_pieces)
    ]


def healthy_pieces(folder: Path) -> Iterator[tuple[Row, Recording]]:
    """Every piece of every recording labelled healthy."""
    for row in manifest(folder):
        if ELEMENT_OF_LABEL[row["label"]] is None:
            for piece in pieces_of(recording_of(folder, row), float(row["shaft_speed_rpm"])):
                yield row, piece
