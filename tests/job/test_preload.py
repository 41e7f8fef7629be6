"""Bolts: threads, stress area, proof load, clamp force."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.errors import InputError
from vibhealth.job.preload import (
    NUT_FACTOR,
    clamp_force_n,
    preload_ratio,
    proof_load_n,
    proof_stress_mpa,
    read_thread,
    tightening_torque_nm,
)

POSITIVE = st.floats(min_value=0.1, max_value=1e6)


@pytest.mark.parametrize(
    ("text", "system", "diameter_mm", "pitch_mm"),
    [
        ("M20", "metric", 20.0, 2.5),
        (" m20 ", "metric", 20.0, 2.5),
        ("M20x1.5", "metric", 20.0, 1.5),
        ("M20 × 2", "metric", 20.0, 2.0),
        ("3/4-10", "inch", 19.05, 2.54),
        ("3/4-10 UNC", "inch", 19.05, 2.54),
        ("0.75-10", "inch", 19.05, 2.54),
        ("1-8", "inch", 25.4, 3.175),
        ("1 1/4-7 unc", "inch", 31.75, 25.4 / 7),
        ("1-1/4-7", "inch", 31.75, 25.4 / 7),
    ],
)
def test_threads_are_read(text: str, system: str, diameter_mm: float, pitch_mm: float) -> None:
    thread = read_thread(text)
    assert (thread.text, thread.system) == (text, system)
    assert thread.diameter_mm == pytest.approx(diameter_mm)
    assert thread.pitch_mm == pytest.approx(pitch_mm)


def test_the_stress_area_is_that_of_a_circle_between_core_and_pitch_diameter() -> None:
    assert read_thread("M20").stress_area_mm2 == pytest.approx(
        math.pi / 4 * (20 - 0.9382 * 2.5) ** 2
    )
    inches = 0.7854 * (0.75 - 0.9743 / 10) ** 2
    assert read_thread("3/4-10").stress_area_mm2 / 25.4**2 == pytest.approx(inches, rel=1e-5)


def test_a_finer_pitch_leaves_more_area() -> None:
    areas = [read_thread(f"M20x{pitch}").stress_area_mm2 for pitch in (2.5, 2, 1.5, 1)]
    assert areas == sorted(areas)
    assert areas[-1] < math.pi / 4 * 20**2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("M21", "thread 'M21': the coarse pitch of M21 is not known here; write the pitch"),
        ("twenty", "thread 'twenty' cannot be read: write it like 'M20', 'M20x1.5', '3/4-10'"),
        ("", "thread '' cannot be read"),
        ("3/4", "thread '3/4' cannot be read"),
        ("3/4-0", "thread '3/4-0' cannot be read"),
        ("M20x0", "thread 'M20x0': a pitch of 0 mm does not fit a diameter of 20 mm"),
        ("M20x12", "thread 'M20x12': a pitch of 12 mm does not fit a diameter of 20 mm"),
    ],
)
def test_what_is_no_thread_is_refused(text: str, message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        read_thread(text)


@pytest.mark.parametrize(
    ("grade", "diameter_mm", "ksi", "mpa"),
    [
        ("2", 19.05, 55, None),
        ("2", 22.2, 33, None),
        ("5", 25.4, 85, None),
        ("grade 5", 25.5, 74, None),
        ("SAE J429 grade 8", 38.1, 120, None),
        ("8.8", 16, None, 580),
        ("8.8", 18, None, 600),
        ("10.9", 20, None, 830),
        (" 12.9 ", 39, None, 970),
    ],
)
def test_proof_stress_by_grade_and_diameter(
    grade: str, diameter_mm: float, ksi: float | None, mpa: float | None
) -> None:
    # 1 ksi = 6.894757 MPa.
    expected = mpa if ksi is None else ksi * 6.894757
    assert proof_stress_mpa(grade, diameter_mm) == pytest.approx(expected, rel=1e-6)


def test_unknown_grades_and_diameters_are_refused() -> None:
    with pytest.raises(InputError, match=re.escape("bolt grade '9' is not known here")):
        proof_stress_mpa("9", 20)
    message = "bolt grade '8': its proof stress is known up to a diameter of 38.1 mm, not for 50 mm"
    with pytest.raises(InputError, match=re.escape(message)):
        proof_stress_mpa("8", 50)


@given(force=POSITIVE, diameter=st.floats(min_value=3, max_value=100))
def test_torque_and_clamp_force_undo_each_other(force: float, diameter: float) -> None:
    torque = tightening_torque_nm(force, diameter, 0.2)
    assert clamp_force_n(torque, diameter, 0.2) == pytest.approx(force)


@given(torque=POSITIVE)
def test_oiled_threads_turn_a_dry_torque_into_four_thirds_of_the_preload(torque: float) -> None:
    thread = read_thread("M20")
    dry = preload_ratio(torque, thread, "10.9", "dry")
    assert preload_ratio(torque, thread, "10.9", "oiled") / dry == pytest.approx(4 / 3)
    assert preload_ratio(2 * torque, thread, "10.9", "dry") == pytest.approx(2 * dry)
    assert NUT_FACTOR["dry"] / NUT_FACTOR["oiled"] == pytest.approx(4 / 3)


def test_the_ratio_is_one_at_the_torque_of_the_proof_load() -> None:
    thread = read_thread("M16")
    torque = tightening_torque_nm(proof_load_n(thread, "8.8"), 16.0, NUT_FACTOR["oiled"])
    assert preload_ratio(torque, thread, "8.8", "oiled") == pytest.approx(1.0)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_only_positive_numbers_are_taken(bad: float) -> None:
    for arguments in ((bad, 20.0, 0.2), (400.0, bad, 0.2), (400.0, 20.0, bad)):
        with pytest.raises(InputError, match="must be a finite number above 0"):
            clamp_force_n(*arguments)
        with pytest.raises(InputError, match="must be a finite number above 0"):
            tightening_torque_nm(*arguments)
