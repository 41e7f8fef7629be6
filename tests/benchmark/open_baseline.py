"""One rig against its own baseline: the healthy and the faulty recordings of an open data set.

University of Electronic Science and Technology of China (UESTC), 6 recordings of one rig with
one sensor: N healthy, I inner ring, O outer ring, B ball. Half of the healthy one makes the
baseline, the other half and the faulty ones are compared with it, whole halves and in pieces of
about 10 s; then the other way round. A piece is within the limits if no comparison with the
baseline holds and no family does; how long or calibrated it is does not count here.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.benchmark.counting import share
from tests.benchmark.open_recordings import card_of, manifest, recording_of
from tests.benchmark.workers import run_trials
from vibhealth.acceptance import judge
from vibhealth.baseline import Baseline, Status, gather
from vibhealth.card import MachineCard
from vibhealth.diagnosis import analyze_recording, find_speed
from vibhealth.model import (
    Criterion,
    CriterionResult,
    Group,
    RecordingAnalysis,
    Stage,
)
from vibhealth.units import hz_to_rpm

__all__ = ["Half", "baseline_of", "compared", "half_of", "is_outside", "open_baseline"]

DAY = datetime(2020, 1, 1, tzinfo=UTC)
PIECES = 3  # of each half, 9.8 s
BAD = {CriterionResult.HOLD, CriterionResult.NOT_JUDGED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """A part of a recording: its first letter, which half, which piece of it (0: all of it)."""

    letter: str
    half: int
    piece: int = 0


def _row(folder: Path, letter: str) -> dict[str, str]:
    return next(r for r in manifest(folder) if r["file"].startswith(f"uestc/{letter}_"))


def half_of(folder: Path, part: Half) -> tuple[RecordingAnalysis, MachineCard]:
    """Analysis of a half or a piece, as left, at a point of its own; and the rig's card."""
    row = _row(folder, part.letter)
    recording, card = recording_of(folder, row), card_of(row)
    size = recording.samples.size // 2
    samples = recording.samples[part.half * size : (part.half + 1) * size]
    if part.piece:
        length = samples.size // PIECES
        samples = samples[(part.piece - 1) * length : part.piece * length]
    name = f"{part.letter}{part.half}{part.piece}"
    left = replace(recording, point="P1", path=name, sha256=name, stage=Stage.AS_LEFT)
    speed_rpm = None
    if part.piece:  # 170 turns do not always show their speed: that of the whole recording
        found = find_speed(
            recording,
            nominal_hz=card.nominal_shaft_frequency_hz,
            tolerance_percent=card.machine.speed_tolerance_percent,
            is_exciter=False,
        ).speed.shaft_frequency_hz
        speed_rpm = None if found is None else hz_to_rpm(found)
    return analyze_recording(
        replace(left, samples=samples), card=card, given_speed_rpm=speed_rpm
    ), card


def baseline_of(analyses: Sequence[RecordingAnalysis], card: MachineCard) -> Baseline:
    """Baseline of healthy parts: gathered, since pieces are too short to be accepted as one."""
    gathered = gather(analyses, card=card, point="P1", made_at=DAY)
    return replace(gathered, status=Status.KNOWN_GOOD, accepted_by="A. Example")


def compared(
    analysis: RecordingAnalysis, card: MachineCard, baseline: Baseline
) -> tuple[Criterion, ...]:
    """Criteria of the bearing and of the comparison, of one part against a baseline."""
    criteria = judge([], [analysis], card=card, baselines=[baseline]).criteria
    return tuple(c for c in criteria if c.group is Group.BEARING or c.id.startswith("reference"))


def is_outside(criteria: Sequence[Criterion]) -> bool:
    """Whether any of them does not pass."""
    return any(c.result in BAD for c in criteria)


def _trial(task: tuple[str, Half]) -> RecordingAnalysis:
    folder, part = task
    return half_of(Path(folder), part)[0]


def open_baseline(workers: int = 2) -> dict[str, Any]:
    """Counts of parts within and outside the limits of each half's baseline."""
    folder = Path(os.environ["VIBHEALTH_DATA"])
    parts = [
        Half(letter=letter, half=half, piece=piece)
        for letter in "NIOB"
        for half in (0, 1)
        for piece in range(PIECES + 1)
    ]
    found = dict(
        zip(
            parts,
            run_trials(_trial, [(str(folder), p) for p in parts], workers=workers),
            strict=True,
        )
    )
    card = card_of(_row(folder, "N"))
    rows = []
    for half in (0, 1):
        whole = baseline_of([found[Half(letter="N", half=half)]], card)
        pieces = [found[Half(letter="N", half=half, piece=k)] for k in range(1, PIECES + 1)]
        cut = baseline_of(pieces, card)
        for part in parts:
            if (part.letter, part.half) != ("N", half):
                baseline = cut if part.piece else whole
                criteria = compared(found[part], card, baseline)
                rows.append((part, [c.id for c in criteria if c.result in BAD]))
    return {
        "outside": {
            f"{letter}, {'pieces' if cut else 'halves'}": share(
                sum(bool(bad) for part, bad in rows if _is(part, letter, is_cut=cut)),
                sum(_is(part, letter, is_cut=cut) for part, _ in rows),
            )
            for letter in "NIOB"
            for cut in (False, True)
        },
        "by": {
            f"{part.letter}{part.half}, {'all' if not part.piece else f'piece {part.piece}'}": bad
            for part, bad in rows
        },
    }


def _is(part: Half, letter: str, *, is_cut: bool) -> bool:
    return part.letter == letter and bool(part.piece) is is_cut
