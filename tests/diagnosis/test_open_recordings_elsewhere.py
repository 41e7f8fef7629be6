"""What the chain names on open recordings of seeded faults: the rigs of MFPT and UESTC.

Recordings of the Society for Machinery Failure Prevention Technology (MFPT) and of the
University of Electronic Science and Technology of China (UESTC); none of them is part of this
project.
"""

import pytest

from tests.benchmark import run_benchmark
from tests.benchmark.open_recordings import card_of
from tests.diagnosis.open_results import NEEDS_DATA, Results, healthy_pieces_of, results_of
from vibhealth.diagnosis.analysis import analyze_recording

pytestmark = NEEDS_DATA


@pytest.fixture(scope="module")
def mfpt() -> Results:
    return results_of("mfpt")


@pytest.fixture(scope="module")
def uestc() -> Results:
    return results_of("uestc", ("healthy", "inner", "outer"))


def test_all_mfpt_recordings_are_named_rightly(mfpt: Results) -> None:
    assert len(mfpt) == 6
    assert {result["result"] for result in mfpt} == {"right"}
    assert "healthy" not in {result["label"] for result in mfpt}


def test_no_other_element_is_held_in_an_mfpt_recording(mfpt: Results) -> None:
    assert [result["file"] for result in mfpt if result["held_wrongly"]] == []


def test_both_rings_of_the_uestc_rig_are_named_rightly(uestc: Results) -> None:
    named = {result["file"]: result["result"] for result in uestc}
    assert named["uestc/I_1000.wav"] == named["uestc/O_1000.wav"] == "right"


def test_the_healthy_recording_is_not_held(uestc: Results) -> None:
    (healthy,) = [result for result in uestc if result["label"] == "healthy"]
    assert healthy["held"] == []
    assert healthy["named"] is None
    assert healthy["not_judged"] == ""


def test_no_piece_of_the_healthy_recording_is_held() -> None:
    """Pieces of 400 turns or more."""
    pieces = [
        (row, analyze_recording(piece, card=card_of(row)))
        for row, piece in healthy_pieces_of("uestc")
    ]
    counts = run_benchmark.false_alarms(pieces)
    assert {file: count["pieces"] for file, count in counts.items()} == {"uestc/N_1000.wav": 2}
    for count in counts.values():
        assert count["not_judged"] == 0
        assert count["hold"] == 0
