"""Several recordings of one point: settled, the same place, axes, and in time."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from vibhealth.card import MachineCard
from vibhealth.diagnosis.quality_axes import check_axes
from vibhealth.diagnosis.quality_fingerprint import check_same_point
from vibhealth.diagnosis.quality_series import band_level, check_series
from vibhealth.diagnosis.quality_times import check_times
from vibhealth.errors import InputError
from vibhealth.model import Moment, QualityFinding, Recording, Stage
from vibhealth.units import STANDARD_GRAVITY_M_S2

Array = NDArray[np.float64]
RATE_HZ, SHAFT_HZ = 6400.0, 16.3
BAND_HZ = (1000.0, 3000.0)
NOON = datetime(2031, 3, 5, 12, 0, tzinfo=UTC)


def by_id(found: tuple[QualityFinding, ...]) -> dict[str, QualityFinding]:
    return {finding.id: finding for finding in found}


def test_band_level_of_white_noise(recording: Callable[..., Recording]) -> None:
    x = np.random.default_rng(0).standard_normal(640_000)
    # 2000 of 3200 Hz: the root of 0.625; 102 exponential lines: median below mean by 0.3 %.
    level = band_level(recording(x, samples=x), BAND_HZ)
    assert level == pytest.approx(0.625**0.5, rel=0.02)
    assert band_level(recording(x), (3000.0, 9000.0)) is None
    with pytest.raises(InputError, match="low < high"):
        band_level(recording(x), (2000.0, 1000.0))


@pytest.mark.parametrize(
    ("noises", "expected"),
    [
        ((0.1, 0.1, 0.1), "pass"),
        ((0.1, 0.11, 0.12), "pass"),
        ((0.1, 0.115, 0.13), "hold"),
        ((0.13, 0.115, 0.1), "hold"),
        ((0.1, 0.2, 0.13), "pass"),  # not step by step the same way: the spread, not warmth
        ((0.1, 0.13), "watch"),
    ],
)
def test_a_level_that_drifts_steadily_was_not_settled(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    noises: tuple[float, ...],
    expected: str,
) -> None:
    items = [recording(feeder(noise_g=g, seconds=10, seed=k)) for k, g in enumerate(noises)]
    found = by_id(check_series(items, bearing_band_hz=BAND_HZ))
    assert found["level-course"].result == expected
    assert found["temperature-course"].result == "not-judged"


@pytest.mark.parametrize(
    ("degrees", "expected"),
    [((40, 40.9, 41.8), "pass"), ((40, 41.1, 42.2), "hold"), ((40, 38, 36), "hold")],
)
def test_a_temperature_that_climbs_was_not_warm(
    feeder: Callable[..., Array],
    recording: Callable[..., Recording],
    degrees: tuple[float, ...],
    expected: str,
) -> None:
    items = [
        recording(
            feeder(seconds=2), temperature_c=c, start_time=NOON + timedelta(minutes=10 * number)
        )
        for number, c in enumerate(degrees)
    ]
    found = by_id(check_series(items, bearing_band_hz=None))
    assert found["temperature-course"].result == expected


def test_a_series_is_of_one_point(
    feeder: Callable[..., Array], recording: Callable[..., Recording]
) -> None:
    item = recording(feeder(seconds=2), point="P1X")
    with pytest.raises(InputError, match="at least two"):
        check_series([item], bearing_band_hz=BAND_HZ)
    with pytest.raises(InputError, match="one point at a time"):
        check_series([item, replace(item, point="P1Y")], bearing_band_hz=BAND_HZ)


def test_the_same_point_is_known_again_and_another_is_not(
    feeder: Callable[..., Array], recording: Callable[..., Recording]
) -> None:
    def shaped(seed: int, peak_hz: float) -> Recording:
        x = feeder(seconds=20, seed=seed)
        noise = np.random.default_rng(seed + 50).standard_normal(x.size)
        ring = signal.lfilter(*signal.iirpeak(peak_hz, 5.0, fs=RATE_HZ), noise)
        return recording(x + ring)

    def compared(one: Recording, two: Recording) -> dict[str, Any]:
        return by_id(
            check_same_point(
                one, two, shaft_frequencies_hz=(SHAFT_HZ, SHAFT_HZ), bearing_band_hz=BAND_HZ
            )
        )

    first = shaped(1, 1800.0)
    again = compared(first, shaped(2, 1800.0))
    assert {finding.result.value for finding in again.values()} == {"pass"}
    other = compared(first, shaped(3, 420.0))
    assert other["fingerprint"].result == "hold"
    louder = compared(first, replace(first, samples=3.0 * first.samples))
    assert louder["fingerprint"].result == "pass"  # sensitivity is no matter of the pattern
    low = signal.sosfiltfilt(signal.butter(2, 900, fs=RATE_HZ, output="sos"), first.samples)
    assert compared(first, replace(first, samples=low))["mount-level"].result == "hold"


def card(x_mm: float, y_mm: float) -> MachineCard:
    return MachineCard.model_validate(
        {
            "schema_version": 1,
            "machine": {"id": "F3", "nominal_speed_rpm": 978.0},
            "exciter": {
                "stroke_mm": {"x": x_mm, "y": y_mm},
                "orbit_direction": "counter-clockwise",
            },
        }
    )


def axes(
    recording: Callable[..., Recording], x_mm: float, y_mm: float, sense: float
) -> list[Recording]:
    """Both channels of an ellipse that turns from +x to +y for a sense of 1."""
    turn = 2 * np.pi * SHAFT_HZ * np.arange(round(10 * RATE_HZ)) / RATE_HZ
    omega2 = (2 * np.pi * SHAFT_HZ) ** 2 / STANDARD_GRAVITY_M_S2
    noise = np.random.default_rng(0).standard_normal((2, turn.size))
    waves = (x_mm * np.cos(turn), y_mm * sense * np.sin(turn))
    return [
        recording(-0.5e-3 * omega2 * wave + 0.05 * part, direction=axis)
        for wave, part, axis in zip(waves, noise, "xy", strict=True)
    ]


@pytest.mark.parametrize(
    ("strokes", "stated", "sense", "expected", "words"),
    [
        ((6, 6), (6, 6), 1, "pass", "turns counter-clockwise"),
        ((6, 6), (6, 6), -1, "hold", "wrong way or axes are swapped"),
        ((8, 5), (8, 5), 1, "pass", ""),
        ((5, 8), (8, 5), -1, "hold", "fit the card when x holds y, y holds x"),
        ((8, 5), (8, 5), -1, "watch", "the strokes say that the axes are not swapped"),
        ((2, 2), (6, 6), 1, "pass", ""),  # a small stroke is no matter of axes
    ],
)
def test_axes_against_the_card(
    recording: Callable[..., Recording],
    strokes: tuple[float, float],
    stated: tuple[float, float],
    sense: float,
    expected: str,
    words: str,
) -> None:
    found = check_axes(axes(recording, *strokes, sense), card=card(*stated), shaft_hz=SHAFT_HZ)
    assert found.result == expected
    assert words in found.detail


def test_axes_need_both_radial_ones_together(recording: Callable[..., Recording]) -> None:
    x, y = axes(recording, 6, 6, 1)
    assert check_axes([x], card=card(6, 6), shaft_hz=SHAFT_HZ).result == "not-judged"
    shorter = replace(y, samples=y.samples[:-1])
    with pytest.raises(InputError, match="recorded together"):
        check_axes([x, shorter], card=card(6, 6), shaft_hz=SHAFT_HZ)


@pytest.fixture
def job(
    feeder: Callable[..., Array], recording: Callable[..., Recording]
) -> tuple[Recording, Recording, Recording]:
    def made(seed: int, hours: float, **changes: Any) -> Recording:
        when = NOON + timedelta(hours=hours)
        return recording(feeder(seconds=1, seed=seed), start_time=when, **changes)

    return (
        made(1, 0, stage=Stage.AS_FOUND),
        made(2, 30, stage=Stage.AS_LEFT, moment=Moment.HOUR_1),
        made(3, 37, stage=Stage.AS_LEFT, moment=Moment.HOUR_8),
    )


def test_a_job_in_its_order_passes(job: tuple[Recording, ...]) -> None:
    done = NOON + timedelta(hours=29)
    found = by_id(check_times(job, rebuilt_at=done))
    assert set(found) == {"recorded-once", "stage-order", "moment-order", "after-the-work"}
    assert {finding.result.value for finding in found.values()} == {"pass"}


def test_times_out_of_turn_are_held_one_by_one(job: tuple[Recording, ...]) -> None:
    found, first, second = job

    def held(*recordings: Recording, **options: Any) -> set[str]:
        return {f.id for f in check_times(recordings, **options) if f.result == "hold"}

    late = NOON + timedelta(hours=31)
    assert held(found, first, second, rebuilt_at=late) == {"after-the-work"}
    assert held(found, first, replace(second, samples=first.samples)) == {"recorded-once"}
    assert held(replace(found, start_time=late), first, second) == {"stage-order"}
    swapped = (replace(first, moment=Moment.HOUR_8), replace(second, moment=Moment.HOUR_1))
    assert held(found, *swapped) == {"moment-order"}


def test_unknown_times_are_not_judged(job: tuple[Recording, ...]) -> None:
    found, first, second = job
    results = by_id(check_times((found, replace(first, start_time=None), second)))
    assert results["stage-order"].result == results["moment-order"].result == "not-judged"
    naive = replace(second, start_time=datetime(2031, 3, 7, 1, 0))  # noqa: DTZ001 (the case)
    assert by_id(check_times((found, first, naive)))["moment-order"].result == "not-judged"
