"""What a recording and a card give, worked out once per process, for tests of what comes after.

An analysis depends on nothing but the recording, the card and the speed given with it; that it
does is held without this memory, by ``test_recordings_are_repeatable`` and
``test_the_same_input_gives_the_same_bytes``. Tests of commands and of whole jobs ask for the
same analysis again and again, and are about what is made of it.
"""

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import fields, replace
from functools import wraps
from importlib import import_module
from typing import Any

import numpy as np
import pytest

from vibhealth.acceptance.starts_and_stops import prepare
from vibhealth.card import Limits, MachineCard
from vibhealth.diagnosis.analysis import analyze_recording
from vibhealth.diagnosis.first_look import first_look
from vibhealth.model import Recording, RecordingAnalysis, Stage

__all__ = ["remembered_analyses"]

Key = tuple[object, ...]

# Facts that an analysis carries along and does not read: a copy of a recording is analysed alike
# (where its calibration names a sidecar or a card, the analysis names that of the first).
CARRIED: dict[str, Any] = {
    "path": "",
    "sha256": "",
    "stage": Stage.UNSTATED,
    "moment": None,
    "start_time": None,
    "temperature_c": None,
    "running_hours_h": None,
    "remarks": (),
}

_MEMORY: dict[Key, Any] = {}


def _of_recording(recording: Recording) -> Key:
    values = (getattr(recording, field.name) for field in fields(recording))
    return tuple(
        hashlib.sha256(value.tobytes()).hexdigest() if isinstance(value, np.ndarray) else value
        for value in values
    )


def _bare(recording: Recording, card: MachineCard | None) -> Recording:
    known = recording.calibration
    for name in (recording.path.rpartition(".")[0], "" if card is None else card.path):
        if known is not None and name:
            known = replace(known, source=known.source.replace(name, ""))
    return replace(recording, calibration=known, **CARRIED)


def _of_card(card: MachineCard | None) -> Key:
    return () if card is None else (card.model_dump_json(), _of_limits(card.limits))


def _of_limits(limits: Limits | None) -> Key:
    """Values, and the one source that a finding names: the others name the card's path."""
    if limits is None:
        return ()
    return (*((row.id, row.value) for row in limits.rows), limits.source("minimum_turns"))


def _once(key: Key, work: Callable[[], Any]) -> Any:
    if key not in _MEMORY:
        _MEMORY[key] = work()
    return _MEMORY[key]


def _remembered(function: Callable[..., Any]) -> Callable[..., Any]:
    """``function`` of a recording, a card and options; steps are told the first time only."""

    @wraps(function)
    def call(recording: Recording, *, card: MachineCard | None = None, **options: Any) -> Any:
        facts = {name: options[name] for name in options.keys() - {"progress", "say", "limits"}}
        key = (
            function.__name__,
            _of_recording(_bare(recording, card)),
            _of_card(card),
            _of_limits(options.get("limits")),
            *sorted(facts.items()),
        )
        found = _once(key, lambda: function(recording, card=card, **options))
        if isinstance(found, RecordingAnalysis):
            return replace(found, recording=recording)
        return found

    return call


def _prepared(recording: Recording, card: MachineCard) -> Any:
    key = ("prepare", _of_recording(recording), _of_card(card))
    return _once(key, lambda: prepare(recording, card))


@contextmanager
def remembered_analyses() -> Iterator[None]:
    """Within it the chain works out no analysis a second time.

    Yields
    ------
    None
    """
    analyze, look = _remembered(analyze_recording), _remembered(first_look)
    with pytest.MonkeyPatch.context() as patch:
        for module, name, instead in (
            ("acceptance.assess", "analyze_recording", analyze),
            ("acceptance.assess", "prepare", _prepared),
            ("acceptance.assess_job", "prepare", _prepared),
            ("diagnosis.analysis", "analyze_recording", analyze),
            ("diagnosis.analysis", "first_look", look),
            ("diagnosis.inspection", "first_look", look),
        ):
            patch.setattr(import_module(f"vibhealth.{module}"), name, instead)
        yield
