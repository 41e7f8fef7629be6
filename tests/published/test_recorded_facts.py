"""What is published about the open recordings, against what is read and computed from them.

W. A. Smith and R. B. Randall, "Rolling element bearing diagnostics using the Case Western
Reserve University data: a benchmark study", Mechanical Systems and Signal Processing 64-65
(2015) 100-131: tables A1, B1, B2 and 3, all second-hand: the paper itself was not read.
Recordings of the bearing data center of Case Western Reserve University and of the Society for Machinery Failure Prevention Technology
(MFPT); none of them is part of this project.
"""

import os
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.benchmark.open_recordings import Row, data_set, manifest, recording_of
from vibhealth.signal import kurtosis
from vibhealth.units import STANDARD_GRAVITY_M_S2

FOLDER = os.environ.get("VIBHEALTH_DATA")
needs_recordings = pytest.mark.skipif(
    FOLDER is None, reason="VIBHEALTH_DATA does not name the folder of open recordings"
)

# Recomputed kurtosis of 56 records differs from the tables by at most 0.28 % (second-hand too).
RECOMPUTED = 0.0028


@dataclass(frozen=True)
class Published:
    """Four records at 0, 1, 2 and 3 hp: grades, and the range of their kurtosis as printed."""

    label: str
    numbers: tuple[int, ...]
    grades: tuple[str, ...]
    kurtosis: tuple[float, float] | None = None
    printed: float = 0.1  # unit of the last digit of that range


TABLE_B2 = [
    Published("inner", (105, 106, 107, 108), ("Y2",) * 4, (5.3, 5.6)),
    Published("inner", (169, 170, 171, 172), ("Y2",) * 4, (18, 22), 1),
    Published("inner", (209, 210, 211, 212), ("Y1",) * 4, (7.5, 8.4)),
    Published("inner", (3001, 3002, 3003, 3004), ("N1",) * 4),
    Published("ball", (118, 119, 120, 121), ("N1", "N1", "N1", "Y2"), (2.8, 3.0)),
    Published("ball", (185, 186, 187, 188), ("P2",) * 4, (8.8, 17.8)),
    Published("ball", (222, 223, 224, 225), ("Y2", "Y2", "N1", "N1"), (3.1, 9.4)),
    Published("ball", (3005, 3006, 3007, 3008), ("Y2",) * 4),
    Published("outer", (130, 131, 132, 133), ("Y1",) * 4, (7.6, 8.0)),
    Published("outer", (197, 198, 199, 200), ("Y2", "P2", "P1", "N1"), (2.9, 3.8)),
    Published("outer", (234, 235, 236, 237), ("Y2",) * 4, (21, 23.5), 0.5),
    Published("outer", (144, 145, 146, 147), ("Y2",) * 4, (3.9, 4.2)),
    Published("outer", (246, 247, 248, 249), ("Y2",) * 4, (6.4, 7.1)),
    Published("outer", (156, 158, 159, 160), ("Y1", "Y2", "Y2", "Y2"), (8.0, 8.7)),
    Published("outer", (258, 259, 260, 261), ("Y2",) * 4, (33, 35), 1),
    # Table B1.
    Published("healthy", (97, 98, 99, 100), ("",) * 4, (2.76, 2.96), 0.01),
]
OF_NUMBER = {number: item for item in TABLE_B2 for number in item.numbers}


def rows(wanted: str) -> list[Row]:
    """Rows of one data set; none where there are no recordings."""
    if FOLDER is None:
        return []
    return [row for row in manifest(Path(FOLDER)) if data_set(row) == wanted]


def number_of(row: Row) -> int:
    return int(row["original"].removesuffix(".mat"))


def test_the_table_adds_up() -> None:
    """44 diagnosable, 6 partly, 10 not of 60: counted independently, second-hand."""
    grades = [grade[:1] for item in TABLE_B2 for grade in item.grades]
    assert Counter(grades) == {"Y": 44, "P": 6, "N": 10, "": 4}


@needs_recordings
def test_the_benchmark_judges_by_the_published_grades() -> None:
    found = rows("cwru")
    assert len(found) == 31
    for row in found:
        number = number_of(row)
        published = OF_NUMBER[number]
        assert row["label"] == published.label, number
        grade = published.grades[published.numbers.index(number)]
        assert row["published_grade"] == grade, number


@needs_recordings
@pytest.mark.parametrize(
    "row",
    [row for row in rows("cwru") if OF_NUMBER[number_of(row)].kurtosis],
    ids=lambda row: str(row["file"]),
)
def test_kurtosis_lies_in_the_published_range(row: Row) -> None:
    """Pearson's, Gaussian noise reads 3; half a digit and the recomputed deviation are allowed."""
    published = OF_NUMBER[number_of(row)]
    assert published.kurtosis is not None
    low, high = published.kurtosis
    half = published.printed / 2
    found = kurtosis(recording_of(Path(FOLDER or ""), row).samples)
    assert (low - half) * (1 - RECOMPUTED) <= found <= (high + half) * (1 + RECOMPUTED)


@needs_recordings
def test_the_clipped_recording_ends_at_the_published_level() -> None:
    """Table 3: 236 is clipped, at +/- 6.65 g as found in the file, second-hand; two decimals."""
    (row,) = (row for row in rows("cwru") if number_of(row) == 236)
    samples_g = recording_of(Path(FOLDER or ""), row).samples / STANDARD_GRAVITY_M_S2
    assert samples_g.max() == pytest.approx(6.65, abs=0.005)
    assert samples_g.min() == pytest.approx(-6.65, abs=0.005)


@needs_recordings
def test_sampling_rates_and_lengths() -> None:
    """CWRU, table A1: the healthy ones at 48 kHz; faults of table B2 at 12 kHz. MFPT, the set's
    own text, second-hand: faults under several loads at 48 828 samples a second for 3 s."""
    folder = Path(FOLDER or "")
    for row in rows("cwru"):
        rate_hz = 48_000.0 if row["label"] == "healthy" else 12_000.0
        assert recording_of(folder, row).sampling_rate_hz == rate_hz, row["file"]
    found = rows("mfpt")
    assert len(found) == 6
    for row in found:
        recording = recording_of(folder, row)
        assert recording.sampling_rate_hz == 48_828.0
        assert recording.duration_s == pytest.approx(3.0, abs=0.005)
        # 25 Hz is stated for the set's rig.
        assert float(row["shaft_speed_rpm"]) == 1500.0
        assert np.isfinite(recording.samples).all()
