"""Tiny versions of the campaigns: what must hold in a handful of trials."""

import math

import numpy as np
import pytest

from tests.benchmark import disturbances, kinematics, marks, paired_evidence
from tests.benchmark.false_alarms import KINDS, false_alarms, healthy_alarm
from tests.benchmark.machines import LOADS, random_card
from tests.benchmark.seeds import Bed, Train, amplitude_of_depth, squared_depths, strike_train
from vibhealth.bearing import blind_spots
from vibhealth.diagnosis.envelope_bank import bank_bands
from vibhealth.model import Element

RATE_HZ = 4096.0
SHAFT_HZ = 16.0


def test_random_bearings_have_no_blind_spot() -> None:
    for seed, load in enumerate(LOADS):
        card = random_card(np.random.default_rng(seed), load)
        spots = blind_spots(card.rolling_bearings()[0], card.analysis.slip_percent)
        assert {spot.kind for spot in spots} <= {"harmonic"}


def test_forty_healthy_recordings_raise_no_alarm() -> None:
    """At a rate of 0.001, 3 or more of 40 come up in 1 of 100 000 campaigns."""
    figures = false_alarms(trials=40, workers=1, turns=200.0)
    pooled = figures["rates"]["pooled"]
    assert pooled["hold"]["trials"] == 40
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
        result = marks.marked(task)
        assert result.told in {result.wanted, ""}


def test_a_strike_60_db_below_the_working_motion_is_found() -> None:
    assert paired_evidence.motion_pair((3, 400.0)).found == (True, True)


def test_a_wandering_speed_does_not_hide_a_spall() -> None:
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
