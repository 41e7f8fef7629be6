"""Whole invented rebuilds, with every mistake that vibration can see and without any.

Each is a job of its own: run-up, three steady recordings, coast-down, at three directions of the
bearing housing and one point on the base, beside a record of the work by hand in which every
question is answered yes, because the crew does not know of its mistake. Right is a HOLD of the
kind named here whose first three checks name the step.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from tests.benchmark.counting import share
from tests.benchmark.rebuild_cards import drawn_card, job_card
from tests.benchmark.workers import run_trials
from vibhealth.acceptance import analyze_all, assess_job, orbits_of
from vibhealth.baseline import Baseline, build_baseline
from vibhealth.card import MachineCard, read_card
from vibhealth.diagnosis.transients import analyze_transients
from vibhealth.job import JobRecord, Phase, TemperatureReading, filled_record, read_job
from vibhealth.model import Assessment, Calibration, Hold, Moment, Recording, Stage, Verdict
from vibhealth.simulate import FAULTS, RebuildRecording, rebuild_recordings
from vibhealth.units import g_to_m_s2

__all__ = ["EXPECTED", "Rebuild", "rebuild_of", "rebuilds"]

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
# Turns of each recording (425 where the drive is slow) at a low rate: one job takes 40 s of a core.
RATE_HZ, TURNS = 8000.0, 489.0
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


def rebuild_of(
    fault: str | None,
    seed: int,
    *,
    turns: float = TURNS,
    is_drawn: bool = False,
    is_compared: bool = False,
) -> Assessment:
    """Make one rebuild, of deck feeder F3 or of a machine drawn by the seed, and judge it.

    ``is_compared`` says that there is a known-good baseline, of the same machine without fault.
    """
    with TemporaryDirectory() as name:
        folder = Path(name)
        card = drawn_card(folder, fault, seed) if is_drawn else job_card(folder, fault)
        seconds = turns * 60 / card.machine.nominal_speed_rpm
        everything = rebuild_recordings(
            card, fault=fault, seed=seed, seconds=seconds, sampling_rate_hz=RATE_HZ,
            with_as_found=True,
        )  # fmt: skip
        made = _without_repeats(everything)
        job, card = _job(folder, card, made), _noted(folder, card, seed)
        recordings = [one for item in made for one in _points(card, item)]
        # One thread: several rebuilds are made at a time.
        known = _baselines(card, seed, seconds) if is_compared else ()
        return assess_job(job, recordings, card=card, workers=1, baselines=known)


def _baselines(card: MachineCard, seed: int, seconds: float) -> list[Baseline]:
    """Baselines of all points on the body, from three recordings of the machine when it was good."""
    made = rebuild_recordings(
        card, fault=None, seed=seed, seconds=seconds, sampling_rate_hz=RATE_HZ, checks=("24h",),
        with_start_and_stop=False,
    )  # fmt: skip
    good = [
        replace(one, stage=Stage.UNSTATED, moment=None, sha256=f"good-{one.sha256}")
        for item in made
        for one in _points(card, item)
        if card.is_on_body(one.point)
    ]
    analyses = analyze_all(good, card=card, workers=1)
    return [
        build_baseline(
            [a for a in analyses if a.recording.point == point],
            card=card,
            made_at=made[-1].start_time,
            accepted_by="E. Engineer",
            note="invented",
            orbits=tuple(orbits_of(analyses, card)),
        )
        for point in dict.fromkeys(a.recording.point for a in analyses)
    ]


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


def _trial(task: tuple[str | None, int, bool, bool]) -> Rebuild:
    fault, seed, is_drawn, is_compared = task
    assessment = rebuild_of(fault, seed, is_drawn=is_drawn, is_compared=is_compared)
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
    drawn: bool = False,
    compared: bool = False,
) -> dict[str, Any]:
    """Rebuilds of every kind (or of those named): how many were judged right.

    ``none`` among the kinds is the clean rebuild, of which five times as many are made.
    ``drawn`` takes another machine for every seed instead of deck feeder F3, ``compared`` gives
    each a known-good baseline of its own.
    """
    wanted = [*kinds] or ["none", *FAULTS]
    tasks = [
        (None if kind == "none" else kind, first_seed + number, drawn, compared)
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
