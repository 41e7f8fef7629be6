"""What the chain names on open recordings of seeded faults: the CWRU rig.

Recordings of the bearing data center of Case Western Reserve University (CWRU); none of them
is part of this project. Grades: the best of three methods in W. A. Smith and R. B. Randall,
"Rolling element bearing diagnostics using the Case Western Reserve University data: a
benchmark study", Mechanical Systems and Signal Processing 64-65 (2015) 100-131, table B2; Y is
diagnosable, P partly, N not.
"""

import pytest

from tests.diagnosis.open_results import NEEDS_DATA, Results, healthy_pieces_of, results_of

pytestmark = NEEDS_DATA


@pytest.fixture(scope="module")
def results() -> Results:
    return results_of("cwru")


def seeded(results: Results, grade: str = "") -> Results:
    return [
        result
        for result in results
        if result["label"] != "healthy" and (result["published_grade"] or "").startswith(grade)
    ]


def test_diagnosable_recordings_are_named_rightly(results: Results) -> None:
    found = seeded(results, "Y")
    assert len(found) == 22
    assert sum(result["result"] == "right" for result in found) >= 20


def test_no_recording_is_named_wrongly(results: Results) -> None:
    found = seeded(results)
    assert len(found) == 30
    assert [result["file"] for result in found if result["result"] == "wrong"] == []


def test_other_elements_are_hardly_ever_held(results: Results) -> None:
    """A strong family must not put the other elements at hold as well.

    One of the recordings of a ball defect holds lines of the inner ring of that size beside it.
    """
    held = [result for result in seeded(results) if result["held_wrongly"]]
    assert len(held) <= 1
    assert all(result["result"] == "right" for result in held)


def test_the_healthy_recording_is_not_held(results: Results) -> None:
    (healthy,) = [result for result in results if result["label"] == "healthy"]
    assert healthy["held"] == []
    assert healthy["named"] is None
    assert healthy["not_judged"] == ""


def test_the_healthy_recording_is_one_piece(results: Results) -> None:
    """Shorter than twice 400 turns: what holds for the whole holds for its pieces."""
    ((row, piece),) = healthy_pieces_of("cwru")
    (whole,) = [result for result in results if result["file"] == row["file"]]
    assert piece.duration_s == pytest.approx(whole["recorded_s"], abs=1e-3)


def test_speeds_agree_with_the_stated_ones(results: Results) -> None:
    """Hand-recorded at the run; the recording itself agrees within half a per cent."""
    stated = {"97": 1796.0, "105": 1797.0, "130": 1796.0, "211": 1752.0, "234": 1796.0}
    by_file = {result["file"]: result for result in results}
    for number, rpm in stated.items():
        result = by_file[f"cwru/{number}_de.wav"]
        assert result["speed_source"] == "recording"
        assert result["shaft_speed_rpm"] == pytest.approx(rpm, rel=0.005)
