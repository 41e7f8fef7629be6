"""Faults of the recording itself: found in how many of 100, and what clean ones report.

Every fault is put with a random strength into clean recordings: simulated ones of the deck
feeder of the card template, and healthy or steady open ones. The same checks run as at the
machine. "Found" is a hold or a watch of a check that is meant for the fault; "at hold" the
part of it that says: record again.
"""

import os
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy import signal

from tests.benchmark.counting import share
from tests.benchmark.fault_injections import SINGLE_FAULTS, aliased
from tests.benchmark.faults_in_time import faults_in_time, job_of
from tests.benchmark.open_recordings import card_of, data_set, manifest, recording_of
from tests.benchmark.workers import run_trials
from vibhealth.card import Analysis, MachineCard, card_template
from vibhealth.diagnosis.first_look import checked_recording
from vibhealth.diagnosis.inspection import speed_faults
from vibhealth.diagnosis.quality_axes import check_axes
from vibhealth.diagnosis.quality_cable import check_cable
from vibhealth.diagnosis.quality_fingerprint import check_same_point
from vibhealth.diagnosis.quality_series import check_series
from vibhealth.diagnosis.quality_times import check_times
from vibhealth.model import Calibration, Moment, QualityFinding, Recording
from vibhealth.simulate import Resonance, SimulationSettings, simulate
from vibhealth.simulate.recording_faults import loosen_mount, warm_up, whip_cable

__all__ = ["recording_faults", "simulated_trial"]

Rng = np.random.Generator
Ids = dict[str, str]  # of a check, with its result

# Short recordings at a low rate, so that a trial of all faults takes a few seconds.
RATE_HZ, SECONDS, MINIMUM_TURNS = 8192.0, 10.5, 165.0
BAND_HZ = (1000.0, 3200.0)
RESONANCES = (
    Resonance(frequency_hz=2800.0, damping_ratio=0.04, gain=1.0),
    Resonance(frequency_hz=5200.0, damping_ratio=0.03, gain=0.6),
    Resonance(frequency_hz=7400.0, damping_ratio=0.025, gain=0.35),
)
# Of a recorder whose rate is 2.56 times its band.
FILTER = signal.firwin(129, 0.43, window=("kaiser", 8.0))
REAL_SECONDS = 4.5
REAL = ("cwru/97_de", "uestc/N_1000", "mfpt/OuterRaceFault_vload")
# What the rest of a trial needs besides one recording.
PAIR_FAULTS = {
    "axes swapped, strokes alike": ("x and y of 6 mm", {"axes"}),
    "axes swapped, strokes differ": ("x of 7 to 9 mm, y of 4 to 6 mm", {"axes"}),
    "another machine or point": (
        "resonances at random from 1.2 to 6 kHz, harmonics at random from 0.2 to 5 times",
        {"fingerprint"},
    ),
    "cable whips": (
        "spikes of 0.1 to 1 of the peak in 60 to 100 % of the turns of one channel",
        {"cable"},
    ),
    "another speed": ("4 to 9 % off the card, either way", {"speed"}),
    "mount loose, against another": ("as alone", {"fingerprint", "mount-level", "mount"}),
    "not warm": ("three recordings, fall of 25 to 60 % above 1 kHz", {"level-course"}),
    "temperature climbs": ("1.5 to 6 degC in 10 minutes", {"temperature-course"}),
    "same recording in two checks": ("exact copy", {"recorded-once"}),
    "before and after swapped": ("all times", {"stage-order"}),
    "two checks swapped": ("1h and 8h", {"moment-order"}),
    "recorded before the work was done": ("1 to 20 h", {"after-the-work"}),
    "aliased": ("every 2nd to 4th sample without a filter", {"anti-alias"}),
}
PAIR_ON_REAL = (
    "mount loose, against another",
    "not warm",
    "same recording in two checks",
    "aliased",
)
# Of the length nothing else follows, and the speed of these rigs is only nominal.
NO_FAULT = frozenset({"length", "speed-found"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What was reported: per fault the result of its checks, and ids reported on clean ones."""

    data: str
    seen: dict[str, str]
    clean: tuple[str, ...]
    seed: int


def _card(stroke_x_mm: float = 6.0, stroke_y_mm: float = 6.0) -> MachineCard:
    table = tomllib.loads(card_template())
    table["exciter"]["stroke_mm"] = {"x": stroke_x_mm, "y": stroke_y_mm}
    table["analysis"]["bearing_band_hz"] = list(BAND_HZ)
    turns = {"value": MINIMUM_TURNS, "source": "short recordings of this campaign"}
    table["limits"] = {"minimum_turns": turns, "recommended_turns": turns}
    return MachineCard.model_validate(table)


def _settings(seed: int, rng: Rng, **changes: Any) -> SimulationSettings:
    """A healthy run: speed, harmonics, noise and resonances differ a little each time."""
    ratios = np.array(SimulationSettings().harmonic_ratios) * rng.uniform(0.9, 1.1, 9)
    drawn: dict[str, Any] = {
        "duration_s": SECONDS,
        "sampling_rate_hz": 2 * RATE_HZ,
        "seed": seed,
        "speed_rpm": 978.0 * rng.uniform(0.99, 1.01),
        "speed_wander_percent": float(rng.uniform(0.05, 0.4)),
        "oil_noise_g_rms": float(rng.uniform(0.015, 0.03)),
        "harmonic_ratios": tuple(float(ratio) for ratio in ratios),
        "resonances": RESONANCES,
    }
    return SimulationSettings(**(drawn | changes))


def _simulated(card: MachineCard, settings: SimulationSettings) -> tuple[Recording, ...]:
    """Both points before the recorder's filter, at twice its rate."""
    made = simulate(card, settings=settings)
    return tuple(
        Recording(
            samples=samples,
            sampling_rate_hz=made.sampling_rate_hz,
            unit="m/s2",
            path="simulated",
            sha256="",
            channel=number,
            n_channels=len(made.points),
            point=point,
            direction=direction,
            calibration=Calibration(scale_m_s2=1.0, source="simulated in m/s2"),
            sensor_range_m_s2=490.0,
            sensor_usable_hz=(1.0, 10_000.0),
        )
        for number, (samples, point, direction) in enumerate(
            zip(made.samples, made.points, made.directions, strict=True), start=1
        )
    )


def _recorded(raw: Recording) -> Recording:
    """As a recorder with an anti-alias filter keeps it, at half the rate."""
    return replace(
        raw,
        samples=signal.resample_poly(raw.samples, 1, 2, window=FILTER),
        sampling_rate_hz=raw.sampling_rate_hz / 2,
    )


def _checked(recording: Recording, card: MachineCard) -> Ids:
    """Results of all checks of one recording that are a hold or a watch."""
    checked = checked_recording(recording, card=card)
    found = _reported(checked.quality)
    if speed_faults(checked.track.speed, card=card):
        found["speed"] = "hold"
    return found


def _reported(findings: tuple[QualityFinding, ...]) -> Ids:
    return {f.id: str(f.result) for f in findings if f.result in {"hold", "watch"}}


def _seen(found: Ids, checks: frozenset[str] | set[str]) -> str:
    """The worst result of the checks that are meant for a fault."""
    results = {found[name] for name in checks if name in found}
    return "hold" if "hold" in results else "watch" if "watch" in results else "missed"


def simulated_trial(seed: int) -> Trial:
    """All faults once, in a new healthy run of the deck feeder."""
    rng = np.random.default_rng([seed, 41])
    card = _card()
    first_run = _settings(seed, rng)
    raw = _simulated(card, first_run)
    clean = tuple(_recorded(channel) for channel in raw)
    recording = clean[0]
    base = _checked(recording, card)
    seen = {
        name: _seen(_checked(fault.inject(recording, rng), card), fault.seen_by)
        for name, fault in SINGLE_FAULTS.items()
    }
    later = replace(
        first_run,
        seed=seed + 10_000,
        oil_noise_g_rms=first_run.oil_noise_g_rms * float(rng.uniform(0.95, 1.05)),
    )
    again = tuple(_recorded(channel) for channel in _simulated(card, later))
    hz = 978.0 / 60
    pairs = _paired(recording, again[0], (hz, hz), BAND_HZ, rng)
    pairs["aliased"] = _checked(aliased(raw[0], int(rng.integers(2, 5)), rng), card)
    pairs["axes swapped, strokes alike"] = _axes(_swapped(clean), card, hz)
    pairs |= _other_machines(clean, card, seed, rng)
    pairs["cable whips"] = _cable(clean, _whipped(recording, rng), hz)
    in_time = faults_in_time(recording, again[0], rng)
    pairs |= {name: _reported(findings) for name, findings in in_time.items()}
    seen |= {name: _seen(pairs[name], PAIR_FAULTS[name][1]) for name in PAIR_FAULTS}
    base |= _reported(
        check_same_point(
            recording, again[0], shaft_frequencies_hz=(hz, hz), bearing_band_hz=BAND_HZ
        )
    )
    base |= _reported(check_series([recording, again[0]], bearing_band_hz=BAND_HZ))
    base |= _axes(clean, card, hz)
    base |= _cable(clean, recording, hz)
    base |= _reported(check_times(job_of(recording, again[0])))
    return Trial(data="simulated", seen=seen, clean=tuple(sorted(set(base) - NO_FAULT)), seed=seed)


def _paired(
    one: Recording,
    two: Recording,
    shaft_hz: tuple[float, float],
    band_hz: tuple[float, float],
    rng: Rng,
) -> dict[str, Ids]:
    """Faults that show only beside another recording of the point."""
    loose = loosen_mount(
        two.samples[None],
        two.sampling_rate_hz,
        rng,
        corner_hz=float(rng.uniform(600.0, 1500.0)),
        asymmetry=float(rng.uniform(0.03, 0.2)),
        rattle_share=float(rng.uniform(0.05, 0.3)),
    )[0]
    compared = check_same_point(
        one,
        replace(two, samples=loose),
        shaft_frequencies_hz=shaft_hz,
        bearing_band_hz=band_hz,
    )
    fall = float(rng.uniform(0.25, 0.6))
    cold = [
        replace(
            item,
            samples=warm_up(item.samples[None], item.sampling_rate_hz, rng, number=n, fall=fall)[0],
        )
        for n, item in enumerate((one, two, one))
    ]
    return {
        "mount loose, against another": _reported(compared),
        "not warm": _reported(check_series(cold, bearing_band_hz=band_hz)),
        "same recording in two checks": _reported(
            check_times([replace(one, moment=Moment.HOUR_1), replace(one, moment=Moment.HOUR_8)])
        ),
    }


def _swapped(channels: tuple[Recording, ...]) -> tuple[Recording, ...]:
    x, y = channels
    return replace(x, samples=y.samples), replace(y, samples=x.samples)


def _axes(channels: tuple[Recording, ...], card: MachineCard, hz: float) -> Ids:
    return _reported((check_axes(channels, card=card, shaft_hz=hz),))


def _cable(channels: tuple[Recording, ...], spoilt: Recording, hz: float) -> Ids:
    """What is said of a file of which one channel is under suspicion."""
    beside = [spoilt, *(c for c in channels if c.channel != spoilt.channel)]
    return _reported((check_cable(beside, [spoilt], shaft_hz=hz, bearing_band_hz=BAND_HZ).finding,))


def _whipped(recording: Recording, rng: Rng) -> Recording:
    samples = whip_cable(
        recording.samples[None],
        recording.sampling_rate_hz,
        rng,
        share=float(np.exp(rng.uniform(np.log(0.1), 0.0))),
        turn_share=float(rng.uniform(0.6, 1.0)),
        swing_share=float(rng.uniform(0.0, 0.2)),
    )
    return replace(recording, samples=samples[0])


def _other_machines(
    clean: tuple[Recording, ...], card: MachineCard, seed: int, rng: Rng
) -> dict[str, Ids]:
    hz = 978.0 / 60
    resonances = tuple(
        Resonance(
            frequency_hz=float(f), damping_ratio=float(rng.uniform(0.02, 0.06)), gain=float(g)
        )
        for f, g in zip(
            np.exp(rng.uniform(np.log(1200), np.log(6000), 3)), (1.0, 0.7, 0.5), strict=True
        )
    )
    ratios = np.array(SimulationSettings().harmonic_ratios)
    ratios = np.minimum(ratios * np.exp(rng.uniform(np.log(0.2), np.log(5.0), 9)), 0.3)
    other = _settings(
        seed + 20_000, rng, resonances=resonances, harmonic_ratios=tuple(map(float, ratios))
    )
    sizes = (float(rng.uniform(7.0, 9.0)), float(rng.uniform(4.0, 6.0)))
    oval = tuple(
        replace(channel, samples=channel.samples * size / 6.0)
        for channel, size in zip(clean, sizes, strict=True)
    )
    off = 1 + float(rng.choice([-1, 1]) * rng.uniform(0.04, 0.09))
    faster = card.model_copy(
        update={"machine": card.machine.model_copy(update={"nominal_speed_rpm": 978.0 / off})}
    )
    return {
        "another machine or point": _reported(
            check_same_point(
                clean[0],
                _recorded(_simulated(card, other)[0]),
                shaft_frequencies_hz=(hz, hz),
                bearing_band_hz=BAND_HZ,
            )
        ),
        "another speed": _checked(clean[0], faster),
        "axes swapped, strokes differ": _axes(_swapped(oval), _card(*sizes), hz),
    }


def real_trial(task: tuple[str, str, int]) -> Trial:
    """All faults that apply once, in a random piece of one open recording."""
    folder, kind, seed = task
    rng = np.random.default_rng([seed, 43])
    rows = [row for row in manifest(Path(folder)) if row["file"].startswith(kind)]
    row = rows[seed % len(rows)]
    whole = recording_of(Path(folder), row)
    hz = float(row["shaft_speed_rpm"]) / 60
    length = min(round(REAL_SECONDS * whole.sampling_rate_hz), whole.samples.size)
    first = int(rng.integers(0, whole.samples.size - length + 1))
    piece = replace(whole, samples=whole.samples[first : first + length])
    one, two = (replace(piece, samples=half) for half in np.array_split(piece.samples, 2))
    band_hz = (1000.0, min(10_000.0, 0.45 * whole.sampling_rate_hz))
    card = card_of(row).model_copy(update={"analysis": Analysis(bearing_band_hz=band_hz)})
    base = _checked(piece, card)
    seen = {
        name: _seen(_checked(fault.inject(piece, rng), card), fault.seen_by)
        for name, fault in SINGLE_FAULTS.items()
    }
    pairs = _paired(one, two, (hz, hz), band_hz, rng)
    pairs["aliased"] = _checked(aliased(piece, int(rng.integers(2, 5)), rng), card)
    seen |= {name: _seen(pairs[name], PAIR_FAULTS[name][1]) for name in PAIR_ON_REAL}
    base |= _reported(
        check_same_point(one, two, shaft_frequencies_hz=(hz, hz), bearing_band_hz=band_hz)
    )
    base |= _reported(check_series([one, two], bearing_band_hz=band_hz))
    return Trial(
        data=data_set(row), seen=seen, clean=tuple(sorted(set(base) - NO_FAULT)), seed=seed
    )


def summarize(trials: list[Trial]) -> dict[str, Any]:
    """Per data set: found and held per fault, and what clean recordings report."""
    cells: dict[str, Any] = {}
    for data in dict.fromkeys(trial.data for trial in trials):
        group = [trial for trial in trials if trial.data == data]
        faults = {}
        for name in group[0].seen:
            results = [trial.seen[name] for trial in group]
            n_found = sum(result != "missed" for result in results)
            faults[name] = {
                "found": share(n_found, len(group)),
                "at_hold": sum(result == "hold" for result in results),
                "missed_seeds": [t.seed for t in group if t.seen[name] == "missed"][:8],
            }
        cells[data] = {
            "clean_without_report": share(sum(not t.clean for t in group), len(group)),
            "reported_on_clean": {
                check: sum(check in t.clean for t in group)
                for check in sorted({check for t in group for check in t.clean})
            },
            "faults": faults,
        }
    return cells


def recording_faults(*, trials: int = 100, first_seed: int = 1, workers: int = 2) -> dict[str, Any]:
    """The campaign: every fault ``trials`` times simulated and ``trials`` times in open data."""
    seeds = range(first_seed, first_seed + trials)
    results = run_trials(simulated_trial, seeds, workers=workers)
    folder = os.environ.get("VIBHEALTH_DATA")
    if folder:
        tasks = [
            (folder, kind, seed)
            for kind in REAL
            for seed in seeds
            if seed % len(REAL) == REAL.index(kind)
        ]
        results += run_trials(real_trial, tasks, workers=workers)
    return {
        "strengths": {name: fault.strength for name, fault in SINGLE_FAULTS.items()}
        | {name: strength for name, (strength, _) in PAIR_FAULTS.items()},
        "cannot_be_told_on_open_recordings": {
            name: fault.on_real for name, fault in SINGLE_FAULTS.items() if fault.on_real
        },
        "cells": summarize(results),
    }
