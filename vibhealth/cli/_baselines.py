"""Which baselines a command looks at, and keeping a set as a candidate."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth.errors import InputError

if TYPE_CHECKING:
    from vibhealth.baseline import Baseline, Stored
    from vibhealth.card import MachineCard
    from vibhealth.model import Assessment

__all__ = [
    "DEFAULT_FOLDER",
    "BaselinesOption",
    "baselines_folder",
    "baselines_of",
    "is_baseline_folder",
    "keep_candidates",
    "now",
]

DEFAULT_FOLDER = Path("reference_spectra")

BaselinesOption = Annotated[
    Path | None,
    typer.Option("--baselines", help="Folder of baselines; default: reference_spectra, if there."),
]


def now() -> datetime:
    """Moment of making, to the second, in UTC."""
    return datetime.now(UTC).replace(microsecond=0)


def baselines_folder(given: Path | None, *, beside: Path | None = None) -> Path | None:
    """Folder of baselines: the given one, ./reference_spectra, or the one beside a job.

    Raises
    ------
    InputError
        If the given folder does not exist.
    """
    if given is not None:
        if not given.is_dir():
            msg = f"{given}: no such folder of baselines; make one with: vibhealth baseline make"
            raise InputError(msg)
        return given
    places = [DEFAULT_FOLDER]
    if beside is not None:
        places.append(beside.absolute().parent / DEFAULT_FOLDER)
    return next((place for place in places if place.is_dir()), None)


def is_baseline_folder(path: Path) -> bool:
    """Whether a path is the folder of one baseline, or was meant to be."""
    return (path / "baseline.toml").exists() or (path / "SHA256SUMS").exists()


def baselines_of(folder: Path | None, card: "MachineCard") -> "tuple[Baseline, ...]":
    """Known-good baselines in force of a machine and its sisters.

    Raises
    ------
    BaselineError
        If one of them cannot be relied upon.
    """
    from vibhealth.baseline import in_force

    if folder is None:
        return ()
    return tuple(
        baseline
        for machine in (card.machine.id, *card.machine.sisters)
        for baseline in in_force(folder, machine)
    )


def keep_candidates(
    assessment: "Assessment", card: "MachineCard", folder: Path
) -> "tuple[Baseline, ...]":
    """Keep a set that passed without a known-good reference as candidates, one per such point.

    A set that is kept already is not kept again; recordings that make no baseline are left out.
    """
    from vibhealth.baseline import (
        Status,
        build_baseline,
        list_stored,
        store_baseline,
    )
    from vibhealth.errors import BaselineError
    from vibhealth.model import ReferenceRank, Stage

    kept = []
    for use in assessment.references:
        if use.rank is ReferenceRank.KNOWN_GOOD:
            continue
        left = [
            a
            for a in assessment.recordings
            if a.recording.point == use.point and a.recording.stage is Stage.AS_LEFT
        ]
        try:
            baseline = build_baseline(
                left,
                card=card,
                made_at=now(),
                status=Status.CANDIDATE,
                orbits=[o for o in assessment.orbits if o.stage == Stage.AS_LEFT.value],
            )
        except BaselineError:  # of several checks in several states: the next set will do
            continue
        stored = list_stored(folder, machine_id=card.machine.id, point=use.point)
        digests = {r.sha256 for r in baseline.recordings}
        if not any(digests == _digests(s) for s in stored if s.status is Status.CANDIDATE):
            kept.append(store_baseline(folder, baseline))
    return tuple(kept)


def _digests(stored: "Stored") -> set[str]:
    """Digests of the recordings behind a candidate; none of one that is damaged."""
    from vibhealth.baseline import read_baseline
    from vibhealth.errors import BaselineError

    try:
        return {recording.sha256 for recording in read_baseline(stored.path).recordings}
    except BaselineError:
        return set()
