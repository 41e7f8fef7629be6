"""Whole invented rebuilds, with every mistake that vibration can see and without any.

Each is a job of its own: run-up, three steady recordings, coast-down, at three directions of the
bearing housing and one point on the base, beside a record of the work by hand in which every
question is answered yes, because the crew does not know of its mistake. Right is a HOLD of the
kind named here whose first three checks name the step.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from tests.benchmark.counting import share
from tests.benchmark.workers import run_trials
from vibhealth.acceptance import assess_job
from vibhealth.card import MachineCard, card_template, read_card
from vibhealth.diagnosis.transients import analyze_transients
from vibhealth.job import JobRecord, Phase, TemperatureReading, filled_record, read_job
from vibhealth.model import Assessment, Calibration, Hold, Moment, Recording, Stage, Verdict
from vibhealth.simulate import FAULTS, RebuildRecording, rebuild_recordings
from vibhealth.units import g_to_m_s2

__all__ = ["EXPECTED", "Rebuild", "job_card", "rebuild_of", "rebuilds"]

FIX, AGAIN = Hold.FIX, Hold.MEASURE_AGAIN
# Kinds of HOLD that are right, and the steps one of which must be among the first three checks.
# Two cables of radial axes swapped look like a shaft that turns the wrong way: both kinds stand.
EXPECTED: Mapping[str, tuple[frozenset[Hold], frozenset[str]]] = {
    name: (frozenset(kinds), frozenset(steps))
    for name, kinds, steps in (
        ("shipping-brace-left-in", {FIX}, {"shipping braces"}),
        ("locating-stop-not-released", {FIX}, {"locating stop"}),
        ("unit-bolts-loose", {FIX}, {"bolts"}),
        ("guard-rattles", {FIX}, {"guard"}),
        ("guard-rubs", {FIX}, {"guard"}),
        ("guard-strikes-at-start", {FIX}, {"guard"}),
        ("turns-the-wrong-way", {FIX}, {"rotation"}),
        ("eccentric-set-wrong", {FIX}, {"eccentric"}),
        ("oil-starved", {FIX}, {"oil"}),
        ("grit", {FIX}, {"oil"}),
        ("brinelled", {FIX}, {"lowering", "storage"}),
        ("seat-cocked", {FIX}, {"seats"}),
        ("coupling-misfit", {FIX}, {"drive shaft"}),
        ("isolator-broken", {FIX}, {"isolators"}),
        ("drive-at-wrong-frequency", {FIX}, {"drive"}),
        ("sensitivity-wrong", {AGAIN}, {"sensor"}),
        ("axes-swapped", {AGAIN, FIX}, {"sensor"}),
        ("drags", {FIX}, {"oil"}),
        ("shafts-beat", {FIX}, {"eccentric"}),
        ("slow-start", {FIX}, {"drive"}),
    )
}
# 485 turns (425 where the drive is slow) at a low rate, so that one job takes less than half a minute.
RATE_HZ, SECONDS = 8000.0, 30.0
MORE_POINTS = """
[[point]]
name = "P1Z"
direction = "z"
sensor = "A1"
channel = 3

[[point]]
name = "B1X"
direction = "x"
sensor = "A1"
channel = 4
mounted_on = "base"
"""
RANGE_G = 50.0
NOTE_ERROR = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuild:
    """What was said of one rebuild."""

    fault: str
    seed: int
    verdict: str
    hold: str
    steps: tuple[str, ...]
    first: str
    is_right: bool


def job_card(folder: Path, fault: str | None) -> MachineCard:
    """Deck feeder F3 with more points, times noted when it was good, and unequal strokes."""
    text = card_template()
    changes = {
        "stroke_mm = { x = 6.0, y = 6.0 } ": "stroke_mm = { x = 6.0, y = 5.0 } ",
        "bearing_band_hz = [1000.0, 10000.0]": "bearing_band_hz = [1000.0, 3900.0] ",
        "\n[analysis]": f"{MORE_POINTS}\n[analysis]",
    }
    if fault == "drive-at-wrong-frequency":
        changes['drive = "direct"  '] = 'drive = "inverter"  '
    for old, new in changes.items():
        if text.count(old) != 1:
            msg = f"the card template holds {text.count(old)} times {old!r}, expected once"
            raise ValueError(msg)
        text = text.replace(old, new)
    path = folder / "F3.toml"
    path.write_text(text, "utf-8")
    return read_card(path)


def rebuild_of(fault: str | None, seed: int, *, seconds: float = SECONDS) -> Assessment:
    """Make one rebuild and judge it."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        card = job_card(folder, fault)
        everything = rebuild_recordings(
            card, fault=fault, seed=seed, seconds=seconds, sampling_rate_hz=RATE_HZ,
            with_as_found=True,
        )  # fmt: skip
        made = _without_repeats(everything)
        job, card = _job(folder, card, made), _noted(folder, card, seed)
        recordings = [one for item in made for one in _points(card, item)]
        # One thread: several rebuilds are made at a time.
        return assess_job(job, recordings, card=card, workers=1)


def _noted(folder: Path, card: MachineCard, seed: int) -> MachineCard:
    """The card with what was noted of start and stop when this machine was good, within 3 %."""
    made = rebuild_recordings(
        card, fault=None, seed=seed, seconds=1.0, sampling_rate_hz=RATE_HZ, n_recordings=1
    )
    seen = [
        transient
        for item in made
        if item.moment in {Moment.RUN_UP, Moment.COAST_DOWN}
        for transient in analyze_transients(_points(card, item)[0], card=card).transients
    ]
    start, stop = seen
    error = 1 + NOTE_ERROR * np.random.default_rng([seed, 77]).standard_normal(3)
    swing = max(start.swing_ratio or 1.0, stop.swing_ratio or 1.0)
    notes = {
        "run_up_s": (start.duration_s or 3.0) * error[0],
        "coast_down_s": (stop.to_quarter_s or 8.0) * error[1],
        "swing_ratio": max(1.0, swing * error[2]),
    }
    text = Path(card.path).read_text("utf-8")
    lines = "".join(f"{key} = {value:.3g}\n" for key, value in notes.items())
    path = folder / "noted.toml"
    path.write_text(text.replace("\nbody_mass_kg", f"\n{lines}body_mass_kg", 1), "utf-8")
    return read_card(path)


def _without_repeats(made: Sequence[RebuildRecording]) -> list[RebuildRecording]:
    """One recording of the old unit is enough to compare with."""
    before = [item for item in made if item.stage is Stage.AS_FOUND]
    left_out = {item.name for item in before[1:]}
    return [item for item in made if item.name not in left_out]


def _job(folder: Path, card: MachineCard, made: Sequence[RebuildRecording]) -> JobRecord:
    """A record in which everything was done; the temperatures are those of the recordings."""
    started = next(item.start_time for item in made if item.moment is Moment.RUN_UP)
    text = filled_record(card, by="A. Fitter", at=started, until=Phase.HOUR_1)
    (folder / "job.toml").write_text(text, "utf-8")
    job = read_job(folder)
    warm = next(item.temperature_c for item in made if item.moment is Moment.HOUR_1)
    usual = job.temperature[-1].housing_c
    readings = tuple(
        TemperatureReading(
            at=row.at,
            housing_c=round(22.0 + (row.housing_c - 18.0) * (warm - 22.0) / (usual - 18.0), 1),
            ambient_c=22.0,
        )
        for row in job.temperature
    )
    later = [
        TemperatureReading(at=item.start_time, housing_c=item.temperature_c, ambient_c=22.0)
        for item in made
        if item.moment is Moment.HOUR_1 and item.start_time > readings[-1].at
    ]
    return job.model_copy(update={"temperature": (*readings, *later)})


def _points(card: MachineCard, item: RebuildRecording) -> list[Recording]:
    """All points of one recording, as `read_recording` would give them."""
    usable = card.sensors[0].usable_hz
    step = g_to_m_s2(RANGE_G) / 2**23
    return [
        Recording(
            samples=np.round(item.simulated.samples[number] / step) * step,
            sampling_rate_hz=item.simulated.sampling_rate_hz,
            unit="m/s2",
            path=f"{item.stage.value}/{item.moment.value if item.moment else ''}/{item.name}.flac",
            sha256=f"{item.stage.value}-{item.name}",
            channel=number + 1,
            n_channels=len(card.points),
            point=point.name,
            direction=point.direction,
            stage=item.stage,
            moment=item.moment,
            calibration=Calibration(scale_m_s2=1.0, source="invented"),
            sensor_range_m_s2=g_to_m_s2(RANGE_G),
            sensor_usable_hz=usable,
            start_time=item.start_time,
            temperature_c=item.temperature_c,
            remarks=(("load", "empty"), ("remarks", "INVENTED by simulation")),
        )
        for number, point in enumerate(card.points)
    ]


def _trial(task: tuple[str | None, int]) -> Rebuild:
    fault, seed = task
    assessment = rebuild_of(fault, seed)
    steps = tuple(check.step for check in assessment.next_step.checks)
    hold = assessment.hold
    if fault is None:
        is_right = assessment.verdict is Verdict.PASS
    else:
        kinds, named = EXPECTED[fault]
        is_right = hold in kinds and bool(named & set(steps))
    return Rebuild(
        fault=fault or "none",
        seed=seed,
        verdict=assessment.verdict.value,
        hold="" if hold is None else hold.value,
        steps=steps,
        first=assessment.reasons[0] if assessment.reasons else "",
        is_right=is_right,
    )


def rebuilds(
    *,
    trials: int = 20,
    first_seed: int = 1,
    workers: int = 2,
    kinds: Sequence[str] = (),
) -> dict[str, Any]:
    """Rebuilds of every kind (or of those named): how many were judged right.

    ``none`` among the kinds is the clean rebuild, of which five times as many are made.
    """
    wanted = [*kinds] or ["none", *FAULTS]
    tasks = [
        (None if kind == "none" else kind, first_seed + number)
        for kind in wanted
        for number in range(5 * trials if kind == "none" else trials)
    ]
    results = run_trials(_trial, tasks, workers=workers)
    return {"kinds": {kind: _summary([r for r in results if r.fault == kind]) for kind in wanted}}


def _summary(results: Sequence[Rebuild]) -> dict[str, Any]:
    wrong = [result for result in results if not result.is_right]
    return {
        "right": share(len(results) - len(wrong), len(results)),
        "holds": dict(Counter(result.hold or "PASS" for result in results)),
        "wrong": [
            {"seed": r.seed, "hold": r.hold, "steps": list(r.steps), "first": r.first}
            for r in wrong
        ],
    }
