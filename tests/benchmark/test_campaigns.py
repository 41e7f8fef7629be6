"""Tiny versions of the campaigns: what must hold in a handful of trials."""

import math
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from tests.benchmark import disturbances, kinematics, marks, paired_evidence, rebuilds
from tests.benchmark.false_alarms import KINDS, false_alarms, healthy_alarm
from tests.benchmark.machines import LOADS, random_card
from tests.benchmark.rebuild_cards import job_card
from tests.benchmark.recording_faults import Trial, summarize
from tests.benchmark.seeds import Bed, Train, amplitude_of_depth, squared_depths, strike_train
from vibhealth.acceptance.mistakes import MISTAKES
from vibhealth.bearing import blind_spots
from vibhealth.card import MachineCard, read_card
from vibhealth.diagnosis import analysis
from vibhealth.diagnosis.envelope_bank import bank_bands
from vibhealth.model import Element, Hold
from vibhealth.simulate import FAULTS

RATE_HZ = 4096.0
SHAFT_HZ = 16.0


@contextmanager
def only_what_is_found() -> Iterator[None]:
    """Without how small a defect would have been found: a third of the work, none of the finding."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(analysis, "detectable_families", lambda *_, **__: ())
        yield


def test_random_bearings_have_no_blind_spot() -> None:
    for seed, load in enumerate(LOADS):
        card = random_card(np.random.default_rng(seed), load)
        spots = blind_spots(card.rolling_bearings()[0], card.analysis.slip_percent)
        assert {spot.kind for spot in spots} <= {"harmonic"}


def test_twenty_healthy_recordings_raise_no_alarm() -> None:
    """At a rate of 0.001, 3 or more of 20 come up in 1 of 900 000 campaigns."""
    with only_what_is_found():
        figures = false_alarms(trials=20, workers=1, turns=200.0)
    pooled = figures["rates"]["pooled"]
    assert pooled["hold"]["trials"] == 20
    assert pooled["hold"]["count"] == 0
    assert pooled["probability_at_most_0.001"]["count"] <= 2
    assert set(figures["rates"]) == {"pooled", *KINDS}


def test_a_seed_makes_the_same_trial() -> None:
    assert healthy_alarm(("modulated", 5, 200.0)) == healthy_alarm(("modulated", 5, 200.0))


def test_outer_ring_under_a_turning_load_is_named_rightly() -> None:
    figures = kinematics.kinematics(
        trials=6,
        workers=1,
        n_machines=1,
        turns=250.0,
        cells=(kinematics.cell_of("rotating:outer-ring"),),
    )
    cell = figures["cells"]["rotating:outer-ring"]
    assert cell["right"]["count"] == 6
    assert cell["another_element_held_too"]["count"] == 0


def test_a_clear_defect_without_disturbance_is_found() -> None:
    task = disturbances.Task(kind="nothing", machine=0, impact_m_s2=4.0, seed=3, turns=250.0)
    assert disturbances.disturbed(task).answer == "found"


def test_marks_never_tell_the_wrong_pattern_of_a_clear_case() -> None:
    for all_round in (False, True):
        task = marks.Task(
            load="rotating",
            ring=Element.OUTER_RING,
            all_round=all_round,
            machine=0,
            impact_m_s2=4.0,
            seed=3,
            turns=400.0,
        )
        with only_what_is_found():
            result = marks.marked(task)
        assert result.told in {result.wanted, ""}


def test_a_strike_60_db_below_the_working_motion_is_found() -> None:
    with only_what_is_found():
        found = paired_evidence.motion_pair((3, 400.0)).found
    assert found == (True, True)


def test_a_wandering_speed_does_not_hide_a_spall() -> None:
    with only_what_is_found():
        result = paired_evidence.speed_pair(("exciter", 3, 250.0))
    assert result.not_judged == ""
    assert result.found == (True, True)


def white_bed() -> Bed:
    noise = np.random.default_rng(5).standard_normal(round(400 * RATE_HZ / SHAFT_HZ))
    return Bed(samples=noise, rate_hz=RATE_HZ, shaft_hz=SHAFT_HZ, ring_hz=1000.0)


def test_strikes_peak_at_one_and_come_at_their_order() -> None:
    """Walk and jitter apart, strikes and turns stand in the ratio of the order."""
    train = strike_train(white_bed(), Train(order=3.6, swing=None), np.random.default_rng(1))
    assert np.max(np.abs(train)) == pytest.approx(
        1.0, abs=0.1
    )  # a ring may meet the last one's end
    power = np.abs(np.fft.rfft(train**2))
    orders = np.fft.rfftfreq(train.size, 1 / RATE_HZ) / SHAFT_HZ
    low = (orders > 1.0) & (orders < 5.0)
    assert orders[low][np.argmax(power[low])] == pytest.approx(3.6, rel=0.005)


def test_a_swinging_train_has_side_bands_at_its_swing() -> None:
    train = strike_train(white_bed(), Train(order=3.6, swing=1.0), np.random.default_rng(1))
    power = np.abs(np.fft.rfft(train**2))
    orders = np.fft.rfftfreq(train.size, 1 / RATE_HZ) / SHAFT_HZ
    for order in (2.6, 4.6):
        near = np.abs(orders - order) < 0.05
        between = np.abs(orders - order - 0.3) < 0.2
        assert power[near].max() > 10 * np.median(power[between])


def test_seeded_amplitude_reads_the_wanted_depth_with_fresh_trains() -> None:
    """Eight fresh trains: their mean squared depth scatters by about a tenth."""
    bed, train = white_bed(), Train(order=3.6, swing=None)
    amplitude = amplitude_of_depth(bed, train, 0.3, np.random.default_rng(1))
    assert amplitude is not None
    rng = np.random.default_rng(2)
    trains = [(3.6, strike_train(bed, train, rng)) for _ in range(8)]
    bands = [
        band
        for band in bank_bands(RATE_HZ, SHAFT_HZ, fastest_strike_order=3.6)
        if band[0] < bed.ring_hz < band[1]
    ]
    read = squared_depths(bed, trains, bands, amplitude) - squared_depths(bed, trains, bands, 0.0)
    assert math.sqrt(read.max()) == pytest.approx(0.3, rel=0.25)


def test_every_mistake_has_its_expectation_and_every_expectation_its_step() -> None:
    assert set(rebuilds.EXPECTED) == set(FAULTS)
    known = {mistake.step for mistake in MISTAKES}
    for fault, (kinds, steps) in rebuilds.EXPECTED.items():
        assert kinds, fault
        assert kinds <= {Hold.FIX, Hold.MEASURE_AGAIN}, fault
        assert steps, fault
        assert steps <= known, fault


def small_card(folder: Path, fault: str | None, turns: int = 100) -> MachineCard:
    """Deck feeder F3 without a bearing, judged by short recordings: a tenth of the work."""
    path = Path(job_card(folder, fault).path)
    text = re.sub(r"\[\[bearing\]\].*?(?=\n\[)", "", path.read_text("utf-8"), flags=re.DOTALL)
    assert text.count("\n[limits]\n") == 1
    limit = f'{{ value = {turns}, source = "short recordings of a test" }}'
    limits = f"\n[limits]\nminimum_turns = {limit}\nrecommended_turns = {limit}\n"
    path.write_text(text.replace("\n[limits]\n", limits), "utf-8")
    return read_card(path)


def test_a_rebuild_that_turns_the_wrong_way_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a bearing to judge all else would be: measure again."""
    monkeypatch.setattr(rebuilds, "job_card", small_card)
    monkeypatch.setattr(rebuilds, "rebuild_of", partial(rebuilds.rebuild_of, turns=103.0))
    kind = "turns-the-wrong-way"
    figures = rebuilds.rebuilds(trials=1, workers=1, kinds=[kind])["kinds"][kind]
    assert figures["right"]["count"] == figures["right"]["trials"] == 1
    assert (figures["holds"], figures["wrong"]) == ({"fix": 1}, [])


def judged(task: tuple[str | None, int, bool, bool]) -> rebuilds.Rebuild:
    """Made by hand: every even seed is judged wrongly."""
    fault, seed, *_ = task
    is_right = seed % 2 == 1
    hold = "fix" if is_right is (fault is not None) else ""
    return rebuilds.Rebuild(
        fault=fault or "none",
        seed=seed,
        verdict="HOLD" if hold else "PASS",
        hold=hold,
        steps=("guard",) if hold else (),
        first="It hits." if hold else "",
        is_right=is_right,
    )


def test_rebuilds_are_counted_by_kind_five_times_as_many_clean_ones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def run_here(
        trial: Callable[..., object],
        tasks: Iterable[tuple[str | None, int, bool, bool]],
        *,
        workers: int,
    ) -> list[rebuilds.Rebuild]:
        assert (trial.__name__, workers) == ("_trial", 3)
        return [judged(task) for task in tasks]

    monkeypatch.setattr(rebuilds, "run_trials", run_here)
    kinds = rebuilds.rebuilds(trials=2, first_seed=5, workers=3)["kinds"]
    assert list(kinds) == ["none", *FAULTS]
    none, rubs = kinds["none"], kinds["guard-rubs"]
    assert (none["right"]["count"], none["right"]["trials"]) == (5, 10)
    assert none["holds"] == {"PASS": 5, "fix": 5}
    assert [wrong["seed"] for wrong in none["wrong"]] == [6, 8, 10, 12, 14]
    assert none["wrong"][0] == {"seed": 6, "hold": "fix", "steps": ["guard"], "first": "It hits."}
    assert (rubs["right"]["count"], rubs["right"]["trials"]) == (1, 2)
    assert rubs["holds"] == {"fix": 1, "PASS": 1}
    assert [wrong["seed"] for wrong in rubs["wrong"]] == [6]


def test_faults_of_recordings_are_counted_by_data_set() -> None:
    trials = [
        Trial(data="simulated", seed=1, seen={"hum": "hold", "clip": "watch"}, clean=()),
        Trial(data="simulated", seed=2, seen={"hum": "missed", "clip": "hold"}, clean=("hum",)),
        Trial(data="simulated", seed=3, seen={"hum": "watch", "clip": "hold"}, clean=("hum", "axes")),
        Trial(data="open", seed=1, seen={"hum": "missed"}, clean=()),
    ]  # fmt: skip
    cells = summarize(trials)
    assert list(cells) == ["simulated", "open"]
    made, real = cells["simulated"], cells["open"]
    assert (made["clean_without_report"]["count"], made["clean_without_report"]["trials"]) == (1, 3)
    assert made["reported_on_clean"] == {"axes": 1, "hum": 2}
    hum, clip = made["faults"]["hum"], made["faults"]["clip"]
    assert (hum["found"]["count"], hum["at_hold"], hum["missed_seeds"]) == (2, 1, [2])
    assert (clip["found"]["count"], clip["at_hold"], clip["missed_seeds"]) == (3, 2, [])
    assert list(real["faults"]) == ["hum"]
    assert (real["faults"]["hum"]["found"]["count"], real["reported_on_clean"]) == (0, {})
