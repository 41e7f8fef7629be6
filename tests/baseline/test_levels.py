"""Limits of levels: stated factors for few recordings, their own spread for ten and more."""

from collections.abc import Callable

import numpy as np
import pytest

from vibhealth.baseline import (
    FEWEST_FOR_SPREAD,
    REMOUNT_RATIO,
    LevelLimits,
    Scalar,
    level_limits,
    one_sided_factor,
    spread_limit_db,
)

MakeScalar = Callable[..., Scalar]
RTOL = 1e-12  # round-off of a few logarithms


def limits_of(scalar: Scalar, **changes: float) -> LevelLimits:
    found = level_limits(scalar, watch_ratio=1.6, hold_ratio=2.5, **changes)  # type: ignore[arg-type]
    assert found is not None
    return found


@pytest.mark.parametrize(("n", "words"), [(1, "1 recording"), (9, "9 recordings")])
def test_few_recordings_have_the_stated_factors(
    make_scalar: MakeScalar, n: int, words: str
) -> None:
    found = limits_of(make_scalar(*[2.0, 8.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0][-n:]))
    assert (found.watch_ratio, found.hold_ratio) == pytest.approx((1.6, 2.5), rel=RTOL)
    assert found.mean == pytest.approx(4.0, rel=RTOL)
    assert found.source == f"stated factors for {words}"


def test_ten_and_more_have_their_tolerance_interval(make_scalar: MakeScalar) -> None:
    """Half of them a dB up, half a dB down: the spread is root (n / (n - 1)) dB."""
    n = FEWEST_FOR_SPREAD
    values = [3.0 * 10 ** (sign / 20) for sign in (1, -1) for _ in range(n // 2)]
    found = limits_of(make_scalar(*values), is_stud=True, false_alarm_probability=0.01)
    above_db = np.sqrt(n / (n - 1)) * one_sided_factor(n, share=0.99, confidence=0.95)
    assert found.mean == pytest.approx(3.0, rel=RTOL)
    assert found.watch_ratio == pytest.approx(10 ** (above_db / 20), rel=1e-9)
    assert "10 recordings (share 0.99, confidence 0.95; ISO 16269-6" in found.source


def test_hold_lies_as_far_above_watch_as_stated_and_no_higher(make_scalar: MakeScalar) -> None:
    steady = limits_of(make_scalar(*np.linspace(1.0, 1.01, 12)))
    assert steady.hold_ratio == pytest.approx(min(2.5, steady.watch_ratio * 2.5 / 1.6), rel=RTOL)
    scattered = limits_of(make_scalar(*np.linspace(1.0, 1.2, 12)))
    assert scattered.hold_ratio == pytest.approx(max(2.5, scattered.watch_ratio), rel=RTOL)


def test_a_sensor_put_back_needs_room_on_a_magnet_only(make_scalar: MakeScalar) -> None:
    scalar = make_scalar(*np.linspace(1.0, 1.2, 12))
    magnet, stud = limits_of(scalar), limits_of(scalar, is_stud=True)
    assert magnet.watch_ratio / stud.watch_ratio == pytest.approx(REMOUNT_RATIO, rel=RTOL)


@pytest.mark.parametrize("n", [3, 12])
def test_widening_multiplies_both_limits(make_scalar: MakeScalar, n: int) -> None:
    scalar = make_scalar(*np.linspace(1.0, 1.2, n))
    plain, wide = limits_of(scalar), limits_of(scalar, widening=1.25)
    assert wide.watch_ratio / plain.watch_ratio == pytest.approx(1.25, rel=RTOL)
    assert wide.hold_ratio / plain.hold_ratio == pytest.approx(1.25, rel=RTOL)
    assert wide.mean == plain.mean


def test_the_unit_does_not_count(make_scalar: MakeScalar) -> None:
    values = np.linspace(1.0, 1.2, 12)
    one, two = (limits_of(make_scalar(*(gain * values))) for gain in (1.0, 9.80665))
    assert two.watch_ratio == pytest.approx(one.watch_ratio, rel=1e-9)
    assert two.mean / one.mean == pytest.approx(9.80665, rel=RTOL)


def test_only_what_was_measured_counts(make_scalar: MakeScalar) -> None:
    """Twelve recordings, nine with a value above 0: stated factors."""
    found = limits_of(make_scalar(*[1.0] * 9, None, None, 0.0))
    assert found.source == "stated factors for 9 recordings"


@pytest.mark.parametrize("values", [(), (None,), (0.0, None)])
def test_nothing_measured_has_no_limit(
    make_scalar: MakeScalar, values: tuple[float | None, ...]
) -> None:
    assert level_limits(make_scalar(*values), watch_ratio=1.6, hold_ratio=2.5) is None


def test_spread_limit_is_the_factor_times_the_spread() -> None:
    expected = 1.7 * one_sided_factor(15, share=0.999, confidence=0.95)
    assert spread_limit_db(1.7, 15, 0.001) == pytest.approx(expected, rel=RTOL)


def test_mean_and_spread_of_a_level_are_those_of_its_logarithm(make_scalar: MakeScalar) -> None:
    scalar = make_scalar(1.0, None, 100.0, 0.0)
    assert scalar.found == (1.0, 100.0)
    assert scalar.mean == pytest.approx(10.0, rel=RTOL)
    assert scalar.spread_db == pytest.approx(40 / np.sqrt(2), rel=RTOL)
    assert make_scalar(3.0).spread_db is None
    assert make_scalar(None).mean is None
