"""Clamp force of a bolt from its torque: thread, stress area, proof load.

``T = K D F`` with the nut factor K, the nominal diameter D and the clamp force F. A torque
hits its clamp force to about +/- 25 to 30 % only (from memory); the ratios here tell the
gross errors: oiled threads at a dry torque, a wrong grade, a wrong unit.
"""

import math
import re
from dataclasses import dataclass
from typing import Literal

from vibhealth._check import check_positive
from vibhealth.errors import InputError

__all__ = [
    "NUT_FACTOR",
    "Thread",
    "clamp_force_n",
    "preload_ratio",
    "proof_load_n",
    "proof_stress_mpa",
    "read_thread",
    "tightening_torque_nm",
]

MM_PER_INCH = 25.4
# 1 lbf/in^2 = 0.45359237 * 9.80665 / 0.0254^2 Pa, exact by definition; here MPa per ksi.
MPA_PER_KSI = 0.45359237 * 9.80665 / 0.0254**2 / 1000

# Nut factors of plain steel threads: published torque tables for 3/4-10 bolts agree with 0.20
# dry and 0.15 oiled with machine oil (see tests/published/test_bolt_preload.py).
NUT_FACTOR = {"dry": 0.20, "oiled": 0.15}

# ISO 261, coarse pitch in mm by nominal diameter: from memory.
COARSE_PITCH_MM: dict[float, float] = {
    3: 0.5, 4: 0.7, 5: 0.8, 6: 1.0, 7: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2.0, 16: 2.0,
    18: 2.5, 20: 2.5, 22: 2.5, 24: 3.0, 27: 3.0, 30: 3.5, 33: 3.5, 36: 4.0, 39: 4.0, 42: 4.5,
    45: 4.5, 48: 5.0, 52: 5.0, 56: 5.5, 60: 5.5, 64: 6.0,
}  # fmt: skip

# Proof stress by largest diameter. SAE J429, in inches and ksi: 55, 85 and 120 ksi agree with
# published clamp tables (tests/published/test_bolt_preload.py), the rest is from memory.
SAE_KSI: dict[str, tuple[tuple[float, float], ...]] = {
    "2": ((0.75, 55.0), (1.5, 33.0)),
    "5": ((1.0, 85.0), (1.5, 74.0)),
    "8": ((1.5, 120.0),),
}
# ISO 898-1, coarse thread, in mm and MPa: from memory.
ISO_MPA: dict[str, tuple[tuple[float, float], ...]] = {
    "8.8": ((16.0, 580.0), (39.0, 600.0)),
    "10.9": ((39.0, 830.0),),
    "12.9": ((39.0, 970.0),),
}

# No standard thread is coarser: pitch over diameter is 0.2 for a 1/4-20, 0.17 for an M3.
COARSEST = 0.25

METRIC = re.compile(
    r"M\s*(?P<d>\d+(?:\.\d+)?)(?:\s*[x×]\s*(?P<pitch>\d+(?:\.\d+)?))?", re.IGNORECASE
)
INCH = re.compile(
    r"(?:(?P<whole>\d+)[\s-])?(?P<top>\d+)/(?P<bottom>[1-9]\d*)\s*-\s*(?P<n>\d+)(?:\s*UN[CFRJ]?)?"
    r"|(?P<decimal>\d+(?:\.\d+)?)\s*-\s*(?P<m>\d+)(?:\s*UN[CFRJ]?)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """A screw thread.

    Attributes
    ----------
    text : str
        As written on the card.
    system : {"metric", "inch"}
    diameter_mm, pitch_mm : float
        Nominal diameter and pitch.
    stress_area_mm2 : float
        Area that carries the load (see `read_thread`).
    """

    text: str
    system: Literal["metric", "inch"]
    diameter_mm: float
    pitch_mm: float
    stress_area_mm2: float


def read_thread(text: str) -> Thread:
    """A thread from its designation.

    The stress area is ``pi/4 (d - 0.9382 P)^2`` for metric threads (ISO 898-1) and
    ``0.7854 (D - 0.9743/n)^2`` in inches for n threads per inch (ASME B1.1, from memory).

    Parameters
    ----------
    text : str
        ``"M20"`` (coarse pitch), ``"M20x1.5"``, ``"3/4-10"``, ``"1 1/4-7 UNC"`` or
        ``"0.75-10"``.

    Returns
    -------
    Thread

    Raises
    ------
    InputError
        If the text names no thread, or a metric one whose coarse pitch is not known.

    Examples
    --------
    >>> read_thread("M20").stress_area_mm2
    244.8
    >>> read_thread("3/4-10").stress_area_mm2 / 25.4**2
    0.3345
    """
    cleaned = text.strip()
    metric, inch = METRIC.fullmatch(cleaned), INCH.fullmatch(cleaned)
    if metric:
        diameter = float(metric["d"])
        given = metric["pitch"]
        pitch = COARSE_PITCH_MM.get(diameter) if given is None else float(given)
        if pitch is None:
            msg = (
                f"thread {text!r}: the coarse pitch of M{diameter:g} is not known here; write the "
                f"pitch, for example 'M{diameter:g}x1.5'"
            )
            raise InputError(msg)
        return _thread(text, "metric", diameter, pitch, 0.9382)
    if inch:
        size = float(inch["whole"] or 0) if inch["top"] else float(inch["decimal"])
        size += float(inch["top"]) / float(inch["bottom"]) if inch["top"] else 0.0
        per_inch = float(inch["n"] or inch["m"])
        if per_inch > 0:
            return _thread(text, "inch", size * MM_PER_INCH, MM_PER_INCH / per_inch, 0.9743)
    msg = (
        f"thread {text!r} cannot be read: write it like 'M20', 'M20x1.5', '3/4-10' or '1 1/4-7 UNC'"
    )
    raise InputError(msg)


def _thread(
    text: str, system: Literal["metric", "inch"], diameter: float, pitch: float, factor: float
) -> Thread:
    core = diameter - factor * pitch
    if not 0 < pitch <= COARSEST * diameter:
        msg = (
            f"thread {text!r}: a pitch of {pitch:g} mm does not fit a diameter of {diameter:g} mm; "
            "check both"
        )
        raise InputError(msg)
    return Thread(
        text=text,
        system=system,
        diameter_mm=diameter,
        pitch_mm=pitch,
        stress_area_mm2=math.pi / 4 * core**2,
    )


def proof_stress_mpa(grade: str, diameter_mm: float) -> float:
    """Stress that a bolt of a grade must bear without lasting stretch.

    Parameters
    ----------
    grade : str
        SAE J429 ``"2"``, ``"5"``, ``"8"`` (also as ``"SAE grade 5"``), or ISO 898-1
        ``"8.8"``, ``"10.9"``, ``"12.9"``.
    diameter_mm : float
        Nominal diameter, above 0; the large ones of a grade bear less.

    Returns
    -------
    float
        MPa.

    Raises
    ------
    InputError
        If the grade is not known, or not made in this diameter.

    Examples
    --------
    >>> proof_stress_mpa("10.9", 20.0)
    830.0
    >>> proof_stress_mpa("grade 5", 19.05)
    586.05
    """
    name = ("", *grade.split())[-1]
    rows = [(MM_PER_INCH * top, MPA_PER_KSI * ksi) for top, ksi in SAE_KSI.get(name, ())]
    rows += list(ISO_MPA.get(name, ()))
    if not rows:
        known = ", ".join([*SAE_KSI, *ISO_MPA])
        msg = f"bolt grade {grade!r} is not known here: the proof stress of {known} is"
        raise InputError(msg)
    for largest, stress in rows:
        if diameter_mm <= largest + 1e-9:
            return stress
    msg = (
        f"bolt grade {grade!r}: its proof stress is known up to a diameter of {rows[-1][0]:g} mm, "
        f"not for {diameter_mm:g} mm"
    )
    raise InputError(msg)


def proof_load_n(thread: Thread, grade: str) -> float:
    """Proof stress times stress area.

    Parameters
    ----------
    thread : Thread
        As read by `read_thread`.
    grade : str
        See `proof_stress_mpa`.

    Returns
    -------
    float
        Newton.

    Raises
    ------
    InputError
        As `proof_stress_mpa`.

    Examples
    --------
    >>> proof_load_n(read_thread("M20"), "10.9") / 1000
    203.2
    """
    return proof_stress_mpa(grade, thread.diameter_mm) * thread.stress_area_mm2


def clamp_force_n(torque_nm: float, diameter_mm: float, nut_factor: float) -> float:
    """Clamp force ``F = T / (K D)``.

    Parameters
    ----------
    torque_nm : float
        Tightening torque in N m, above 0.
    diameter_mm : float
        Nominal diameter in mm, above 0.
    nut_factor : float
        K, above 0 (see `NUT_FACTOR`).

    Returns
    -------
    float
        Newton.

    Raises
    ------
    InputError
        If an argument is not a finite number above 0.

    Examples
    --------
    >>> clamp_force_n(400.0, 20.0, 0.20)
    100000.0
    """
    torque = check_positive(torque_nm, name="torque_nm")
    diameter = check_positive(diameter_mm, name="diameter_mm")
    return torque / (check_positive(nut_factor, name="nut_factor") * diameter / 1000)


def tightening_torque_nm(force_n: float, diameter_mm: float, nut_factor: float) -> float:
    """Torque ``T = K D F`` for a clamp force: the inverse of `clamp_force_n`.

    Parameters
    ----------
    force_n : float
        Clamp force in N, above 0.
    diameter_mm : float
        Nominal diameter in mm, above 0.
    nut_factor : float
        K, above 0 (see `NUT_FACTOR`).

    Returns
    -------
    float
        N m.

    Raises
    ------
    InputError
        If an argument is not a finite number above 0.

    Examples
    --------
    >>> tightening_torque_nm(100e3, 20.0, 0.20)
    400.0
    """
    force = check_positive(force_n, name="force_n")
    diameter = check_positive(diameter_mm, name="diameter_mm")
    return check_positive(nut_factor, name="nut_factor") * diameter / 1000 * force


def preload_ratio(
    torque_nm: float, thread: Thread, grade: str, threads: Literal["dry", "oiled"]
) -> float:
    """Clamp force over proof load; 0.75 is the usual aim, from 1 on a bolt may stretch for good.

    Parameters
    ----------
    torque_nm : float
        Tightening torque in N m, above 0.
    thread : Thread
        As read by `read_thread`.
    grade : str
        See `proof_stress_mpa`.
    threads : {"dry", "oiled"}
        State of the threads when tightened.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If the torque is not above 0, or as `proof_stress_mpa`.

    Examples
    --------
    >>> preload_ratio(510.2, read_thread("3/4-10"), "8", "dry")
    0.75
    """
    force = clamp_force_n(torque_nm, thread.diameter_mm, NUT_FACTOR[threads])
    return force / proof_load_n(thread, grade)
