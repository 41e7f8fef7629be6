"""The one function that runs the chain: recordings in, PASS or HOLD out.

It knows no files and prints nothing; the command line and a notebook call the same.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import combinations, count

from vibhealth.acceptance._evidence import Evidence, is_on_body
from vibhealth.acceptance.conclude import conclude
from vibhealth.acceptance.reference_masks import judged_against_reference
from vibhealth.acceptance.references import find_references
from vibhealth.acceptance.starts_and_stops import prepare
from vibhealth.baseline import Baseline
from vibhealth.card import MachineCard
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.diagnosis.inspection import inspect_recording
from vibhealth.diagnosis.motion import orbit_of
from vibhealth.diagnosis.quality_cable import CableLook, cable_look
from vibhealth.diagnosis.quality_pair import check_pair
from vibhealth.diagnosis.slowed import slowed
from vibhealth.errors import InputError, VibhealthError
from vibhealth.model import (
    Assessment,
    Orbit,
    Recording,
    RecordingAnalysis,
    Stage,
    TransientAnalysis,
)

__all__ = [
    "WORKERS",
    "Progress",
    "analyze_all",
    "assess",
    "cables_of",
    "judge",
    "orbits_of",
    "split_by_place",
]

Progress = Callable[[str, int, int], None]

# Recordings analysed at the same time: the transforms run outside the interpreter's lock.
WORKERS = 2


def assess(  # noqa: PLR0913 (one call that a notebook makes as the command line does)
    before: Sequence[Recording],
    after: Sequence[Recording],
    *,
    card: MachineCard,
    given_speed_rpm: float | None = None,
    progress: Progress | None = None,
    baselines: Sequence[Baseline] = (),
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
    baselines : sequence of Baseline
        Known-good ones in force of this machine and its sisters, see `vibhealth.baseline.in_force`.

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
    prepared = [
        *(prepare(replace(recording, stage=Stage.AS_FOUND), card) for recording in before),
        *(prepare(replace(recording, stage=Stage.AS_LEFT), card) for recording in after),
    ]
    steady = [part.steady for part in prepared if part.steady is not None]
    if not any(recording.stage is Stage.AS_LEFT for recording in steady):
        msg = (
            f"{after[0].path}: no steady running in any recording made after the rebuild; record "
            "at working speed"
        )
        raise InputError(msg)
    analyses = analyze_all(steady, card=card, given_speed_rpm=given_speed_rpm, progress=progress)
    return judge(
        [a for a in analyses if a.recording.stage is Stage.AS_FOUND],
        [a for a in analyses if a.recording.stage is Stage.AS_LEFT],
        card=card,
        transients=[part.transients for part in prepared if part.transients is not None],
        baselines=baselines,
    )


def analyze_all(
    recordings: Sequence[Recording],
    *,
    card: MachineCard,
    given_speed_rpm: float | None = None,
    progress: Progress | None = None,
    workers: int = WORKERS,
) -> tuple[RecordingAnalysis, ...]:
    """Analyses of several recordings, in their order, several at a time.

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
    workers : int, optional
        Threads, at least 1.

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

        analysis = (
            analyze_recording(recording, card=card, given_speed_rpm=given_speed_rpm, progress=step)
            if is_on_body(card, recording)
            else inspect_recording(recording, card=card, given_speed_rpm=given_speed_rpm)
        )
        n_done = next(done) + 1
        return analysis

    with ThreadPoolExecutor(max_workers=workers) as pool:
        return tuple(pool.map(one, recordings))


def judge(
    before: Sequence[RecordingAnalysis],
    after: Sequence[RecordingAnalysis],
    *,
    card: MachineCard,
    transients: Sequence[TransientAnalysis] = (),
    baselines: Sequence[Baseline] = (),
) -> Assessment:
    """Decide on analyses that exist already.

    Parameters
    ----------
    before, after : sequence of RecordingAnalysis
        As found (may be empty) and as left (at least one), with their stage set.
    card : MachineCard
        The machine and the limits in force.
    transients : sequence of TransientAnalysis
        Starts and stops that were recorded.
    baselines : sequence of Baseline
        As for `assess`.

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        If there is no as-left analysis of a point on the body, or the same file is among both.
    """
    if not after:
        msg = "no as-left recording: give at least one recording made after the rebuild"
        raise InputError(msg)
    was, now = [a.recording for a in before], [a.recording for a in after]
    _refuse_same_file(was, now)
    on_body, elsewhere = split_by_place(after, card)
    if not on_body:
        msg = (
            f"{now[0].path}: no recording of a point on the moving body is among those made after "
            "the rebuild; the bearing can only be judged there"
        )
        raise InputError(msg)
    references = find_references(on_body, card=card, baselines=baselines)
    on_body = judged_against_reference(on_body, references)
    return conclude(
        Evidence(
            card=card,
            limits=card.limits,
            before=split_by_place(before, card)[0],
            after=on_body,
            pair=check_pair(was, now),
            orbits=tuple(orbits_of([*before, *on_body], card)),
            elsewhere=elsewhere,
            transients=tuple(transients),
            cables=tuple(cables_of(on_body, card)),
            references=references,
        )
    )


def split_by_place(
    analyses: Sequence[RecordingAnalysis], card: MachineCard
) -> tuple[tuple[RecordingAnalysis, ...], tuple[RecordingAnalysis, ...]]:
    """Analyses of points on the moving body, and of all other points.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Of any stage.
    card : MachineCard
        Says what each point moves with.

    Returns
    -------
    tuple of two tuples of RecordingAnalysis
    """
    on_body = tuple(a for a in analyses if is_on_body(card, a.recording))
    return on_body, tuple(a for a in analyses if not is_on_body(card, a.recording))


def _refuse_same_file(before: Sequence[Recording], after: Sequence[Recording]) -> None:
    for was in before:
        for now in after:
            if (was.sha256, was.channel) == (now.sha256, now.channel):
                msg = (
                    f"{now.path}: the same recording is given as before ({was.path}) and after; "
                    "give the recording made after the rebuild"
                )
                raise InputError(msg)


def cables_of(
    analyses: Sequence[RecordingAnalysis], card: MachineCard
) -> Iterator[tuple[str, CableLook]]:
    """What hits in one channel of a file alone, for every file in which something may.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        On the moving body.
    card : MachineCard
        Bearing band.

    Yields
    ------
    tuple of str and CableLook
        Path of the file, and what was found.
    """
    for path in dict.fromkeys(analysis.recording.path for analysis in analyses):
        together = [a for a in analyses if a.recording.path == path]
        try:
            found = cable_look(together, card=card)
        except VibhealthError:  # channels of two rates are no one file: the set-up check says so
            continue
        if found is not None:
            yield path, found


def orbits_of(analyses: Sequence[RecordingAnalysis], card: MachineCard) -> Iterator[Orbit]:
    """Orbit of every pair of radial axes on the body that were recorded together.

    Parameters
    ----------
    analyses : sequence of RecordingAnalysis
        Of any stage.
    card : MachineCard
        Says what each point moves with.

    Yields
    ------
    Orbit
    """
    on_body = [a for a in analyses if is_on_body(card, a.recording)]
    for first, second in combinations(on_body, 2):
        one, two = first.recording, second.recording
        if (one.sha256, one.stage) != (two.sha256, two.stage):
            continue
        axes = {one.direction: one, two.direction: two}
        hz = first.speed.shaft_frequency_hz
        if set(axes) != {"x", "y"} or hz is None or not (one.is_calibrated and two.is_calibrated):
            continue
        try:
            x, y = (slowed(axes[axis], shaft_frequency_hz=hz)[0] for axis in ("x", "y"))
            yield orbit_of(x, y, hz)
        except VibhealthError:
            # Too short or too slowly sampled for the motion: the other criteria say so.
            continue
