"""What the chain names on open recordings of seeded faults.

Recordings of the bearing data center of Case Western Reserve University (CWRU), of the
Society for Machinery Failure Prevention Technology (MFPT) and of the University of Electronic
Science and Technology of China (UESTC); none of them is part of this project. Grades: the best
of three methods in W. A. Smith and R. B. Randall, "Rolling element bearing diagnostics using
the Case Western Reserve University data: a benchmark study", Mechanical Systems and Signal
Processing 64-65 (2015) 100-131, table B2; Y is diagnosable, P partly, N not.
"""

import os
from pathlib import Path
from typing import Any

import pytest

from tests.benchmark import run_benchmark
from tests.benchmark.open_recordings import card_of, healthy_pieces, manifest
from tests.benchmark.workers import run_trials
from vibhealth.diagnosis.analysis import analyze_recording

FOLDER = os.environ.get("VIBHEALTH_DATA")

pytestmark = pytest.mark.skipif(
    FOLDER is None, reason="VIBHEALTH_DATA does not name the folder of open recordings"
)

Results = dict[str, dict[str, Any]]


@pytest.fixture(scope="module")
def results() -> Results:
    """One result per recording, by file: whole recordings, a few seconds each, two at a time."""
    folder = Path(FOLDER or "")
    tasks = [(folder, row) for row in manifest(folder)]
    found = run_trials(run_benchmark.result_in, tasks, workers=2)
    return {result["file"]: result for result in found}


def seeded(results: Results, folder: str, grade: str = "") -> list[dict[str, Any]]:
    return [
        result
        for file, result in results.items()
        if file.startswith(f"{folder}/")
        and result["label"] != "healthy"
        and (result["published_grade"] or "").startswith(grade)
    ]


def test_diagnosable_cwru_recordings_are_named_rightly(results: Results) -> None:
    found = seeded(results, "cwru", "Y")
    assert len(found) == 22
    assert sum(result["result"] == "right" for result in found) >= 20


def test_no_cwru_recording_is_named_wrongly(results: Results) -> None:
    found = seeded(results, "cwru")
    assert len(found) == 30
    assert [result["file"] for result in found if result["result"] == "wrong"] == []


def test_other_elements_are_hardly_ever_held_in_a_cwru_or_mfpt_recording(results: Results) -> None:
    """A strong family must not put the other elements at hold as well.

    One of the recordings of a ball defect holds lines of the inner ring of that size beside it.
    """
    found = [*seeded(results, "cwru"), *seeded(results, "mfpt")]
    held = [result for result in found if result["held_wrongly"]]
    assert len(held) <= 1
    assert all(result["result"] == "right" for result in held)


def test_all_mfpt_recordings_are_named_rightly(results: Results) -> None:
    found = seeded(results, "mfpt")
    assert len(found) == 6
    assert {result["result"] for result in found} == {"right"}


def test_both_rings_of_the_uestc_rig_are_named_rightly(results: Results) -> None:
    for file in ("uestc/I_1000.wav", "uestc/O_1000.wav"):
        assert results[file]["result"] == "right"


def test_no_healthy_recording_is_held(results: Results) -> None:
    healthy = [result for result in results.values() if result["label"] == "healthy"]
    assert len(healthy) == 2
    for result in healthy:
        assert result["held"] == []
        assert result["named"] is None
        assert result["not_judged"] == ""


def test_no_piece_of_a_healthy_recording_is_held() -> None:
    """Pieces of 400 turns or more; a shorter recording is one piece."""
    pieces = [
        (row, analyze_recording(piece, card=card_of(row)))
        for row, piece in healthy_pieces(Path(FOLDER or ""))
    ]
    counts = run_benchmark.false_alarms(pieces)
    assert {file: count["pieces"] for file, count in counts.items()} == {
        "cwru/97_de.wav": 1,
        "uestc/N_1000.wav": 2,
    }
    for count in counts.values():
        assert count["not_judged"] == 0
        assert count["hold"] == 0


def test_speeds_agree_with_the_stated_ones(results: Results) -> None:
    """CWRU: hand-recorded at the run; the recording itself agrees within half a per cent."""
    stated = {"97": 1796.0, "105": 1797.0, "130": 1796.0, "211": 1752.0, "234": 1796.0}
    for number, rpm in stated.items():
        result = results[f"cwru/{number}_de.wav"]
        assert result["speed_source"] == "recording"
        assert result["shaft_speed_rpm"] == pytest.approx(rpm, rel=0.005)
