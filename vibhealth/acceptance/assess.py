"""The one function that runs the chain: recordings in, PASS or HOLD out.

It knows no files and prints nothing; the command line and a notebook call the same.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import combinations, count
from typing import Any

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.bearing_criteria import bearing_criteria
from vibhealth.acceptance.cautions import CAUTIONS
from vibhealth.acceptance.decide import decide, headline, hold_kind, next_step, reasons
from vibhealth.acceptance.improvement import improvement_criteria, improvements
from vibhealth.acceptance.motion_criteria import motion_criteria
from vibhealth.acceptance.recording_criteria import recording_criteria, state_criteria
from vibhealth.acceptance.sensitivity_criteria import sensitivity_criteria
from vibhealth.acceptance.stability import stability_criteria
from vibhealth.card import MachineCard
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.diagnosis.motion import orbit_of
from vibhealth.diagnosis.quality_pair import check_pair
from vibhealth.errors import InputError, VibhealthError
from vibhealth.model import Assessment, Orbit, Recording, RecordingAnalysis, Stage

__all__ = ["analyze_all", "assess", "judge"]

SCOPE = (
    "Recordings only: nothing is known here of the work by hand. Bolts, oil, seals, guard and "
    "braces still have to be checked and signed for."
)
INVENTED = "INVENTED recordings of an invented machine: for practice, never evidence."
NO_BASELINE = (
    "There is no known-good recording of this machine to compare with: absolute limits only."
)
AS_FOUND = "The as-found recordings prove an improvement, never a PASS."

Progress = Callable[[str, int, int], None]

# Recordings analysed at the same time: the transforms run outside the interpreter's lock.
WORKERS = 2


def assess(
    before: Sequence[Recording],
    after: Sequence[Recording],
    *,
    card: MachineCard,
    given_speed_rpm: float | None = None,
    progress: Progress | None = None,
) -> Assessment:
    """Judge the recordings of a rebuilt machine.

    Parameters
    ----------
    before : sequence of Recording
        As found; may be empty. They prove an improvement and never a PASS.
    after : sequence of Recording
        As left, after the start-up; at least one. Several points and several
        recordings of a point may be among them.
    card : MachineCard
        The machine, its bearings and the limits in force.
    given_speed_rpm : float, optional
        Shaft speed of all recordings, instead of their own.
    progress : callable, optional
        Called with a text, the number of the step and the number of steps.

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        If there is no as-left recording, or the same file was given as before and
        as after.
    """
    if not after:
        msg = "no as-left recording: give at least one recording made after the rebuild"
        raise InputError(msg)
    _refuse_same_file(before, after)
    analyses = analyze_all(
        [
            *(replace(recording, stage=Stage.AS_FOUND) for recording in before),
            *(replace(recording, stage=Stage.AS_LEFT) for recording in after),
        ],
        card=card,
        given_speed_rpm=given_speed_rpm,
        progress=progress,
    )
    return judge(analyses[: len(before)], analyses[len(before) :], card=card)


def analyze_all(
    recordings: Sequence[Recording],
    *,
    card: MachineCard,
    given_speed_rpm: float | None = None,
    progress: Progress | None = None,
) -> tuple[RecordingAnalysis, ...]:
    """Analyses of several recordings, in their order, two at a time.

    Parameters
    ----------
    recordings : sequence of Recording
        With their stage set.
    card : MachineCard
        The machine.
    given_speed_rpm : float, optional
        Shaft speed of all recordings, instead of their own.
    progress : callable, optional
        Called with a text, the number of recordings done and how many there are;
        from more than one thread.

    Returns
    -------
    tuple of RecordingAnalysis
    """
    done = count()
    n_done = 0

    def one(recording: Recording) -> RecordingAnalysis:
        nonlocal n_done
        where = f"{recording.stage.value}, {recording.point or recording.path}"

        def step(word: str) -> None:
            if progress is not None:
                progress(f"{where}: {word}", n_done, len(recordings))

        analysis = analyze_recording(
            recording, card=card, given_speed_rpm=given_speed_rpm, progress=step
        )
        n_done = next(done) + 1
        return analysis

    with ThreadPoolExecutor(max_workers=WORKERS) as pool:
        return tuple(pool.map(one, recordings))


def judge(
    before: Sequence[RecordingAnalysis], after: Sequence[RecordingAnalysis], *, card: MachineCard
) -> Assessment:
    """Decide on analyses that exist already.

    Parameters
    ----------
    before, after : sequence of RecordingAnalysis
        As found (may be empty) and as left (at least one), with their stage set.
    card : MachineCard
        The machine and the limits in force.

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        If there is no as-left analysis, or the same file is among both.
    """
    if not after:
        msg = "no as-left recording: give at least one recording made after the rebuild"
        raise InputError(msg)
    was, now = [a.recording for a in before], [a.recording for a in after]
    _refuse_same_file(was, now)
    return _assessment(
        Evidence(
            card=card,
            limits=card.limits,
            before=tuple(before),
            after=tuple(after),
            pair=check_pair(was, now),
            orbits=tuple(_orbits([*before, *after])),
        )
    )


def _refuse_same_file(before: Sequence[Recording], after: Sequence[Recording]) -> None:
    for was in before:
        for now in after:
            if (was.sha256, was.channel) == (now.sha256, now.channel):
                msg = (
                    f"{now.path}: the same recording is given as before ({was.path}) and after; "
                    "give the recording made after the rebuild"
                )
                raise InputError(msg)


def _orbits(analyses: Sequence[RecordingAnalysis]) -> Iterator[Orbit]:
    """Orbit of every pair of radial axes recorded together."""
    for first, second in combinations(analyses, 2):
        one, two = first.recording, second.recording
        if (one.sha256, one.stage) != (two.sha256, two.stage):
            continue
        axes = {one.direction: one, two.direction: two}
        hz = first.speed.shaft_frequency_hz
        if set(axes) != {"x", "y"} or hz is None or not (one.is_calibrated and two.is_calibrated):
            continue
        try:
            yield orbit_of(axes["x"], axes["y"], hz)
        except VibhealthError:
            # Too short or too slowly sampled for the motion: the other criteria say so.
            continue


def _assessment(evidence: Evidence) -> Assessment:
    criteria = (
        *recording_criteria(evidence),
        *state_criteria(evidence),
        *motion_criteria(evidence),
        *bearing_criteria(evidence),
        *sensitivity_criteria(evidence),
        *stability_criteria(evidence),
        *improvement_criteria(evidence),
    )
    everything = (*evidence.before, *evidence.after)
    invented = any("INVENTED" in text for a in everything for _, text in a.recording.remarks)
    scope = " ".join(
        [
            *([INVENTED] if invented else []),
            SCOPE,
            NO_BASELINE,
            *([AS_FOUND] if evidence.before else []),
        ]
    )
    return Assessment(
        machine=_machine(evidence.card),
        verdict=decide(criteria),
        hold=hold_kind(criteria),
        headline=headline(criteria, has_baseline=False),
        scope=scope,
        reasons=reasons(criteria),
        next_step=next_step(criteria),
        criteria=criteria,
        recordings=(*evidence.before, *evidence.after),
        improvements=improvements(evidence),
        orbits=evidence.orbits,
        cautions=CAUTIONS,
        settings=_settings(evidence.card),
    )


def _machine(card: MachineCard) -> dict[str, Any]:
    return {
        "id": card.machine.id,
        "name": card.machine.name,
        "nominal_speed_rpm": card.machine.nominal_speed_rpm,
        "card": card.path,
        "card_sha256": card.sha256,
        "bearings": [
            {
                "name": bearing.name,
                "element_count": bearing.element_count,
                "load_case": bearing.load_case.value,
                "rotating_ring": bearing.rotating_ring.value,
            }
            for bearing in card.rolling_bearings()
        ],
    }


def _settings(card: MachineCard) -> dict[str, Any]:
    return {
        limit.id: {
            "value": limit.value,
            "unit": limit.unit,
            "source": limit.source,
            "meaning": limit.meaning,
        }
        for limit in card.limits.rows
    }
