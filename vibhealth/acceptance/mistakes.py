"""From symptom to the step that may have gone wrong: one table, to be read and argued with.

Every row is one possible mistake of a rebuild. ``always``, ``often`` and ``sometimes`` name the
symptoms it shows (common practice, no source); the symptoms are those of `symptoms.py`. The
order of the rows is the order of likelihood where nothing else tells two mistakes apart.
"""

from dataclasses import dataclass
from typing import Literal

__all__ = ["MISTAKES", "Mistake"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """A mistake, what it shows, and how to see it at the machine, locked out."""

    step: str
    mistake: str
    check: str
    seen: Literal["well", "fairly", "poorly"]
    always: frozenset[str]
    often: frozenset[str] = frozenset()
    sometimes: frozenset[str] = frozenset()


def _row(  # noqa: PLR0913, PLR0917 (the columns of the table)
    step: str,
    mistake: str,
    check: str,
    seen: Literal["well", "fairly", "poorly"],
    always: str,
    often: str = "",
    sometimes: str = "",
) -> Mistake:
    return Mistake(
        step=step,
        mistake=mistake,
        check=check,
        seen=seen,
        always=frozenset(always.split()),
        often=frozenset(often.split()),
        sometimes=frozenset(sometimes.split()),
    )


MISTAKES: tuple[Mistake, ...] = (
    _row(
        "shipping braces",
        "a shipping brace was left in",
        "Count the braces against the list; look for bright rub marks at isolators.",
        "well",
        always="stroke-low base-moves",
        often="harmonics hits-each-turn",
        sometimes="stroke-off orbit-axes orbit-tilt isolator-stiff slow-start one-sided "
        "transient-strikes axial-2x half-orders",
    ),
    _row(
        "locating stop",
        "the locating stop was not released",
        "Measure the gap at the stop; feel whether it is hot or polished.",
        "well",
        always="one-sided",
        often="stroke-low harmonics base-moves hits-each-turn transient-strikes",
        sometimes="stroke-off half-orders orbit-axes orbit-tilt third-orders slow-start "
        "coast-short axial-2x",
    ),
    _row(
        "eccentric",
        "an eccentric weight is wrong, or set wrong",
        "Compare weights, lead and marks with the drawing; stroke gauge.",
        "well",
        always="stroke-off",
        sometimes="stroke-low stroke-high orbit-axes",
    ),
    _row(
        "bolts",
        "bolts of the bearing unit are loose, or one was missed",
        "Look for witness marks at the joint; check the torque of every bolt.",
        "fairly",
        always="harmonics",
        often="half-orders hits-each-turn",
        sometimes="one-sided axial-2x stroke-drifts third-orders random-hits",
    ),
    _row(
        "guard",
        "the guard, its bolts or another loose part rattles",
        "Take hold of guard and covers, tighten their bolts; put the guard back before a start.",
        "well",
        always="hits-each-turn",
        often="hidden",
        sometimes="harmonics transient-strikes random-hits",
    ),
    _row(
        "guard",
        "the guard rubs",
        "Look for fresh paint marks and a hot spot; measure the clearance all the way round.",
        "fairly",
        always="hits-each-turn",
        often="harmonics hidden third-orders half-orders",
        sometimes="one-sided stroke-low stroke-off coast-short rough slow-start",
    ),
    _row(
        "guard",
        "the guard is hit while the machine swings at start or stop",
        "Look for witness marks; measure the clearance against the swing, not the stroke.",
        "well",
        always="transient-strikes",
        sometimes="swing-large",
    ),
    _row(
        "locating stop",
        "a stop or buffer is hit while the machine swings at start or stop",
        "Look at stops and buffers for fresh marks; measure their gap.",
        "well",
        always="transient-strikes",
        sometimes="swing-large isolator-soft",
    ),
    _row(
        "rotation",
        "two phases are swapped: the shaft turns the wrong way",
        "A licensed electrician checks the rotation against the arrow with a short bump.",
        "well",
        always="orbit-reversed",
    ),
    _row(
        "sensor",
        "axes or cables of the sensor are swapped",
        "Trace each cable from sensor to channel; compare with the marked arrows.",
        "well",
        always="axes-swapped",
        often="orbit-reversed",
        sometimes="stroke-low stroke-high orbit-axes orbit-tilt axial-1x axial-2x stroke-off "
        "wrong-scale",
    ),
    _row(
        "sensor",
        "a cable whips, or a connector is loose",
        "Locked out: tie the cable down near the sensor, clean and tighten the connector.",
        "well",
        always="one-channel-hits",
        often="hidden",
    ),
    _row(
        "sensor",
        "sensitivity, range or unit of the recording is wrong",
        "Compare mV/g, range and unit with the sensor's sheet; correct the card or sidecar.",
        "well",
        always="wrong-scale",
        sometimes="stroke-low stroke-high stroke-off",
    ),
    _row(
        "isolators",
        "an isolator is broken, unseated or of another height",
        "Measure all heights (within about 5 mm) and the stroke at four corners.",
        "fairly",
        always="orbit-axes",
        often="orbit-tilt axial-1x isolator-soft wobble",
        sometimes="swing-large stroke-low stroke-high transient-strikes stroke-drifts beats "
        "stroke-off base-moves axial-2x",
    ),
    _row(
        "seats",
        "the unit sits cocked: dirt or a burr under its flange",
        "Feeler gauge under the flange before torque; measure the runout; blueing.",
        "poorly",
        always="axial-1x",
        often="axial-2x orbit-tilt orbit-axes",
        sometimes="outer-ring temperature harmonics rough",
    ),
    _row(
        "drive shaft",
        "coupling or drive shaft is misaligned, stretched or not seated",
        "Measure the gap at top and bottom; look at the coupling element and its screws.",
        "fairly",
        always="axial-2x",
        often="axial-1x harmonics",
        sometimes="hits-each-turn orbit-axes orbit-tilt half-orders random-hits",
    ),
    _row(
        "drive",
        "the drive runs at the wrong frequency or speed",
        "Read the drive's display against the plate; check the sheaves.",
        "well",
        always="speed-off",
        sometimes="fixed-lines stroke-drifts beats",
    ),
    _row(
        "drive",
        "the ramp of soft start or inverter is too slow, or the start is too weak",
        "Read the ramp setting; look at the current while starting.",
        "well",
        always="slow-start",
        often="swing-large",
        sometimes="transient-strikes",
    ),
    _row(
        "first start",
        "there was material on the machine at the start",
        "Empty it, then start and record again.",
        "well",
        always="slow-start",
        sometimes="swing-large random-hits stroke-low stroke-off isolator-soft",
    ),
    _row(
        "oil",
        "too much oil, or a bearing or seal that is too tight, drags",
        "Turn the shaft by hand; check the level at standstill after settling.",
        "poorly",
        always="coast-short",
        often="slow-start temperature",
    ),
    _row(
        "guard",
        "something rubs and brakes",
        "Turn by hand and listen; look for fresh rub marks at guard and seals.",
        "fairly",
        always="coast-short",
        often="hits-each-turn third-orders",
        sometimes="slow-start temperature",
    ),
    _row(
        "oil",
        "there is too little oil, or the wrong grade",
        "Level at standstill after settling; litres filled in; label and batch.",
        "fairly",
        always="rough",
        often="rough-rising temperature",
        sometimes="random-hits hidden",
    ),
    _row(
        "oil",
        "grit or sealant is in the sump",
        "Flush and filter; magnet plug; oil sample at 24 h.",
        "fairly",
        always="random-hits",
        often="rough",
        sometimes="rough-rising hidden",
    ),
    _row(
        "first start",
        "there is material on the machine, or a loose part lies on it",
        "Walk round the locked machine; empty it and look for loose parts.",
        "fairly",
        always="random-hits",
        often="hidden",
    ),
    _row(
        "lowering",
        "the unit was dropped or hammered in: marks at the spacing of the elements",
        "Ask how it went down. Do not load it; the unit has to come out.",
        "well",
        always="ring-ticks",
        often="marks-all-round outer-ring inner-ring",
        sometimes="rough hidden",
    ),
    _row(
        "storage",
        "the unit stood on a shaking floor, or travelled with its shaft unlocked",
        "Look up the storage record: was the shaft turned and locked?",
        "fairly",
        always="ring-ticks",
        often="marks-all-round",
        sometimes="outer-ring inner-ring rough hidden",
    ),
    _row(
        "bearings",
        "a part of the new bearing is damaged",
        "Do not load the machine. Call the engineer; keep the unit for opening.",
        "well",
        always="bearing-ticks",
        often="outer-ring inner-ring rolling-element cage",
        sometimes="rough hidden ring-ticks ticking-grows",
    ),
    _row(
        "eccentric",
        "two eccentrics are out of step",
        "Check the timing marks of both shafts and the belt or gear between them.",
        "fairly",
        always="beats",
        often="orbit-tilt orbit-axes",
        sometimes="stroke-drifts stroke-off stroke-low stroke-high harmonics",
    ),
    _row(
        "motor",
        "the motor shifted, or a neighbour's shaft is heard",
        "Look at feet and alignment of the motor; stop the neighbour and compare.",
        "poorly",
        always="beats",
        sometimes="axial-1x axial-2x",
    ),
)
