"""Where the shaft speed comes from, how exact it is, and what is said where there is none."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.card import MachineCard
from vibhealth.diagnosis.first_look import first_look
from vibhealth.diagnosis.speed import ShaftTrack, find_speed
from vibhealth.model import CriterionResult, Recording

Array = NDArray[np.float64]

RATE_HZ = 2048.0
NOMINAL_HZ = 16.3
SECONDS = 30.0

# 0.02 %: asked of the working motion under noise, harmonics and wander.
SPEED_TOLERANCE = 2e-4


def recording(samples: Array, **changes: Any) -> Recording:
    known: dict[str, Any] = {
        "samples": samples,
        "sampling_rate_hz": RATE_HZ,
        "unit": "m/s2",
        "path": "P1X.wav",
        "sha256": "",
    }
    return Recording(**known | changes)


def turns_of(speed_hz: float, *, wander: float = 0.0, seconds: float = SECONDS) -> Array:
    """Shaft angle of a speed that swings once in 20 s by ``wander`` up and down."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    rate = 2 * np.pi / 20
    return np.asarray(speed_hz * (t + wander / rate * np.sin(rate * t)))


def exciter(turns: Array, *, noise: float = 0.1, seed: int = 0) -> Array:
    """1x of 50 m/s^2, harmonics, and noise of a tenth of it."""
    angle = 2 * np.pi * turns
    motion = np.cos(angle) + 0.04 * np.cos(2 * angle + 1) + 0.02 * np.cos(3 * angle)
    rng = np.random.default_rng(seed)
    return np.asarray(50 * (motion + noise * rng.standard_normal(turns.size)))


def noise(seed: int = 1) -> Array:
    return np.random.default_rng(seed).standard_normal(round(SECONDS * RATE_HZ))


def find(item: Recording, **changes: Any) -> ShaftTrack:
    options: dict[str, Any] = {
        "nominal_hz": NOMINAL_HZ,
        "tolerance_percent": 3.0,
        "is_exciter": True,
    }
    return find_speed(item, **options | changes)


def mean_hz(turns: Array) -> float:
    return float((turns[-1] - turns[0]) * RATE_HZ / (turns.size - 1))


@pytest.mark.parametrize("wander", [0.0, 0.01])
@pytest.mark.parametrize(
    "share", [0.5, 0.8, 0.99, 1.0, 1.02, 1.2, 2.0], ids=lambda share: f"{share:g}-of-nominal"
)
def test_working_motion_gives_the_speed_even_of_the_wrong_machine(
    share: float, wander: float
) -> None:
    """20 % off, half or twice the nominal speed is reported as it is, not bent to the card."""
    turns = turns_of(share * NOMINAL_HZ, wander=wander)
    track = find(recording(exciter(turns)))
    speed = track.speed
    assert speed.source == "recording"
    assert speed.shaft_frequency_hz == pytest.approx(mean_hz(turns), rel=SPEED_TOLERANCE)
    # Peak to peak of the wander, less what windows of 16 turns average away; noise adds a little.
    assert speed.variation_percent == pytest.approx(200 * wander, abs=0.1)
    assert track.phase_turns is not None
    error = track.phase_turns - turns
    # 1x holds the angle to a hundredth of a turn away from the ends of the filter.
    inner = slice(2048, -2048)
    assert np.ptp(error[inner]) < 0.02
    assert speed.detail.startswith("from the working motion (1x), varies by ")


def test_a_slow_sway_on_the_isolators_is_not_the_shaft() -> None:
    """At 4.5 Hz, under 0.3 of the nominal speed, with more velocity than 1x."""
    turns = turns_of(16.3)
    sway = 20 * np.cos(2 * np.pi * 4.5 * np.arange(turns.size) / RATE_HZ)
    speed = find(recording(exciter(turns) + sway)).speed
    assert speed.source == "recording"
    assert speed.shaft_frequency_hz == pytest.approx(16.3, rel=SPEED_TOLERANCE)


def test_a_tachometer_comes_before_everything() -> None:
    turns = turns_of(17.0, wander=0.005)
    pulses = 5.0 * ((turns % 1) < 0.1)
    item = recording(exciter(turns), tachometer=pulses, shaft_speed_rpm=700.0)
    track = find(item, given_hz=11.0)
    assert track.speed.source == "tachometer"
    assert track.speed.shaft_frequency_hz == pytest.approx(mean_hz(turns), rel=SPEED_TOLERANCE)
    assert track.speed.variation_percent == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("factor", [0.5, 2.0, 1.025, 0.95])
def test_a_tachometer_that_the_motion_contradicts_is_in_doubt(factor: float) -> None:
    turns = turns_of(17.0)
    pulses = 5.0 * ((factor * turns % 1) < 0.1)
    track = find(recording(exciter(turns), tachometer=pulses))
    assert track.speed.source == "tachometer"
    assert "the working motion (1x) shows 1020.0 r/min" in track.doubt
    assert track.phase_turns is None
    assert find(recording(exciter(turns), tachometer=5.0 * ((turns % 1) < 0.1))).doubt == ""


def test_a_tachometer_that_cannot_be_followed_is_left_out_and_said() -> None:
    turns = turns_of(17.0)
    pulses = 5.0 * ((turns % 1) < 0.1)
    pulses[np.floor(turns) == 20] = 0.0
    track = find(recording(exciter(turns), tachometer=pulses))
    assert track.speed.source == "recording"
    assert track.speed.shaft_frequency_hz == pytest.approx(17.0, rel=SPEED_TOLERANCE)
    assert "the tachometer was left out: a tachometer pulse is missing near" in track.speed.detail


def test_pulses_per_turn_are_counted() -> None:
    turns = turns_of(17.0)
    pulses = 5.0 * ((4 * turns % 1) < 0.3)
    item = recording(noise(), tachometer=pulses, tachometer_pulses_per_turn=4.0)
    assert find(item).speed.shaft_frequency_hz == pytest.approx(17.0, rel=SPEED_TOLERANCE)


def test_a_given_speed_is_refined_by_the_motion_it_points_at() -> None:
    turns = turns_of(16.3, wander=0.005)
    track = find(recording(exciter(turns)), given_hz=16.25)
    speed = track.speed
    assert speed.source == "given"
    assert track.doubt == ""
    assert speed.shaft_frequency_hz == pytest.approx(mean_hz(turns), rel=SPEED_TOLERANCE)
    assert speed.detail.startswith(
        "given as 975.0 r/min; the recording shows 978.0 r/min, varies by"
    )


def test_a_given_speed_without_motion_stands_as_given() -> None:
    track = find(recording(noise()), given_hz=16.2)
    assert track.speed.source == "given"
    assert track.speed.shaft_frequency_hz == 16.2
    assert track.phase_turns is None
    assert track.speed.variation_percent is None
    assert track.speed.detail.startswith("given as 972.0 r/min")


def test_noise_on_an_exciter_leaves_the_cards_speed_unconfirmed() -> None:
    speed = find(recording(noise())).speed
    assert speed.source == "card"
    assert speed.shaft_frequency_hz == NOMINAL_HZ
    assert speed.uncertainty_percent == 3.0
    assert speed.variation_percent is None
    assert speed.detail.startswith(
        "the card's 978.0 r/min, not confirmed: no comb of shaft harmonics stands out (best "
    )


def test_too_short_a_recording_says_so() -> None:
    speed = find(recording(noise()[: int(1.5 * RATE_HZ)])).speed
    assert speed.source == "card"
    assert speed.detail.startswith(
        "the card's 978.0 r/min, not confirmed: the recording is too short for a comb"
    )


def test_no_speed_at_all_is_none() -> None:
    track = find(recording(noise()), nominal_hz=None)
    assert track.speed.source == "none"
    assert track.speed.shaft_frequency_hz is None
    assert track.phase_turns is None
    assert track.speed.detail == "no tachometer, no nominal speed on the card and none given"


def ordinary(speed_hz: float) -> Array:
    """Ten weak shaft harmonics under noise, and a line at twice mains that is not the shaft's."""
    t = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    lines = sum(0.08 * np.cos(2 * np.pi * k * speed_hz * t + k) for k in range(1, 11))
    return np.asarray(noise() + lines + 3 * np.cos(2 * np.pi * 100 * t))


def test_an_ordinary_machine_shows_its_speed_by_its_comb() -> None:
    speed = find(recording(ordinary(16.13)), is_exciter=False).speed
    assert speed.source == "recording"
    assert speed.shaft_frequency_hz == pytest.approx(16.13, rel=SPEED_TOLERANCE)
    assert speed.detail.startswith("from the comb of shaft harmonics (a false speed with probab")
    assert speed.uncertainty_percent is not None
    assert 0 < speed.uncertainty_percent < 0.2


@pytest.mark.parametrize("off_percent", [-8.0, 5.0])
def test_an_ordinary_machine_off_its_card_is_found_and_said_so(off_percent: float) -> None:
    speed_hz = NOMINAL_HZ * (1 + off_percent / 100)
    speed = find(recording(ordinary(speed_hz)), is_exciter=False).speed
    assert speed.source == "recording"
    assert speed.shaft_frequency_hz == pytest.approx(speed_hz, rel=SPEED_TOLERANCE)
    assert (
        f", {off_percent:+.1f} % off the card's 978.0 r/min and outside its tolerance of 3 %"
        in speed.detail
    )


def test_an_ordinary_machine_beyond_ten_per_cent_is_not_confirmed() -> None:
    speed = find(recording(ordinary(14.0)), is_exciter=False).speed
    assert speed.source == "card"
    assert "not confirmed" in speed.detail


def weak_lines(turns: Array) -> Array:
    """Eight harmonics that stand 20 dB over the noise in windows of eight turns."""
    return np.asarray(noise() + sum(1.5 * np.cos(2 * np.pi * k * turns + k) for k in range(1, 9)))


@pytest.mark.parametrize("wander", [0.0, 0.01, 0.03])
def test_an_ordinary_machine_whose_speed_varies_is_followed(wander: float) -> None:
    """Up to 6 % peak to peak; the angle is right to a hundredth of a turn."""
    turns = turns_of(1.02 * NOMINAL_HZ, wander=wander)
    track = find(recording(weak_lines(turns)), is_exciter=False)
    assert track.phase_turns is not None
    assert track.phase_turns.shape == turns.shape
    assert np.all(np.diff(track.phase_turns) > 0)
    assert np.std((track.phase_turns - turns)[2048:-2048]) < 0.01
    assert track.speed.variation_percent == pytest.approx(200 * wander, abs=0.15)
    assert track.speed.shaft_frequency_hz == pytest.approx(mean_hz(turns), rel=SPEED_TOLERANCE)


@pytest.mark.parametrize("hunting_s", [2.7, 20.0])
def test_a_hunting_exciter_is_followed_to_a_hundredth_of_a_turn(hunting_s: float) -> None:
    """3 % up and down; order 30, a bearing's third harmonic, then still stands at 0.85 or more.

    cos(2 pi 30 e) averaged over an error of rms 1/300 turn: exp(-(2 pi / 10)^2 / 2) = 0.82.
    """
    t = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    rate = 2 * np.pi / hunting_s
    turns = NOMINAL_HZ * (t + 0.03 / rate * np.sin(rate * t))
    track = find(recording(exciter(turns, noise=0.01)))
    assert track.phase_turns is not None
    assert np.std((track.phase_turns - turns)[2048:-2048]) < 1 / 300


def test_a_given_speed_that_the_motion_contradicts_is_kept_and_said_so() -> None:
    track = find(recording(exciter(turns_of(16.3))), given_hz=16.2)
    assert track.speed.source == "given"
    assert track.speed.shaft_frequency_hz == 16.2
    assert track.phase_turns is None
    assert track.doubt == (
        "the working motion (1x) shows 978.0 r/min (+0.6 % from the speed given, limit 0.5 %)"
    )
    assert track.speed.detail == f"given as 972.0 r/min, but {track.doubt}"


@pytest.mark.parametrize("share", [0.5, 2.0])
def test_half_or_double_the_working_motion_is_contradicted(share: float) -> None:
    track = find(recording(exciter(turns_of(16.3))), given_hz=share * 16.3)
    assert track.speed.shaft_frequency_hz == share * 16.3
    assert track.doubt.startswith("the working motion (1x) shows 978.0 r/min")


def test_a_given_speed_that_the_comb_contradicts_is_kept_and_said_so() -> None:
    track = find(recording(ordinary(16.3)), is_exciter=False, given_hz=15.8)
    assert track.speed.shaft_frequency_hz == 15.8
    assert track.doubt.startswith("the comb of shaft harmonics shows 978.0 r/min (+3.2 % from")


def test_a_given_speed_that_the_comb_confirms_is_not_doubted() -> None:
    track = find(recording(ordinary(16.3)), is_exciter=False, given_hz=16.32)
    assert track.doubt == ""
    assert track.speed.shaft_frequency_hz == 16.32
    assert "the comb of shaft harmonics shows 978.0 r/min" in track.speed.detail


def test_a_big_line_of_an_ordinary_machine_does_not_contradict_a_given_speed() -> None:
    """Only of an exciter is it known that the biggest motion is 1x."""
    t = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    samples = noise() + 50 * np.cos(2 * np.pi * 12.5 * t)
    track = find(recording(samples), is_exciter=False, given_hz=16.3)
    assert track.doubt == ""
    assert track.speed.shaft_frequency_hz == 16.3


def test_a_strong_line_alone_is_no_shaft_of_an_ordinary_machine() -> None:
    """Twice mains lies on the sixth harmonic of a speed within the tolerance."""
    t = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    speed = find(recording(noise() + 50 * np.cos(2 * np.pi * 100 * t)), is_exciter=False).speed
    assert speed.source == "card"


@pytest.mark.parametrize(("given_rpm", "is_doubted"), [(978.5, False), (972.0, True)])
def test_a_contradicted_speed_holds_and_says_what_to_do(given_rpm: float, is_doubted: bool) -> None:
    card = MachineCard.model_validate(
        {
            "schema_version": 1,
            "machine": {"id": "F3", "nominal_speed_rpm": 978.0},
            "exciter": {"stroke_mm": {"x": 6.0}},
            "bearing": [
                {
                    "name": "upper",
                    "element_count": 17,
                    "element_diameter_mm": 26.0,
                    "pitch_diameter_mm": 160.0,
                    "load_case": "rotating",
                }
            ],
        }
    )
    look = first_look(
        recording(exciter(turns_of(16.3))),
        card=card,
        limits=card.limits,
        given_speed_rpm=given_rpm,
        say=lambda _step: None,
    )
    note = look.quality[-1]
    assert note.id == "speed-found"
    if is_doubted:
        assert note.result is CriterionResult.HOLD
        assert note.advice.startswith("Measure the speed again; check tachometer")
        assert "but the working motion (1x) shows 978.0 r/min" in note.detail
    else:
        assert note.result is CriterionResult.PASS
        assert note.advice == ""
