"""The recording plan as facts: closed forms, what the card lacks, what does not fit."""

from collections.abc import Callable
from typing import Any

import pytest

from vibhealth.acceptance.cautions import CAUTIONS
from vibhealth.acceptance.plan import RecordingPlan, recording_plan
from vibhealth.acceptance.plan_settings import expected_g
from vibhealth.bearing import blind_spots
from vibhealth.card import MachineCard
from vibhealth.errors import CardError

SENSOR = {
    "name": "A1",
    "full_scale_g": 50.0,
    "range_g": 50.0,
    "usable_hz": (1.0, 10_000.0),
    "mount": "stud",
}
AXES = ("x", "y", "z")
FULL: dict[str, Any] = {
    "schema_version": 1,
    "machine": {
        "id": "F3",
        "name": "Deck feeder F3",
        "nominal_speed_rpm": 1200.0,
        "temperature_limit_c": 75.0,
    },
    "exciter": {
        "stroke_mm": {"x": 5.0, "y": 5.0, "z": 1.0},
        "orbit_direction": "clockwise",
        "isolator_frequency_hz": 2.0,
        "run_up_s": 4.0,
        "coast_down_s": 12.0,
        "swing_ratio": 4.0,
    },
    "bearing": [
        {
            "name": "DE",
            "element_count": 9,
            "element_diameter_mm": 7.94,
            "pitch_diameter_mm": 39.04,
            "load_case": "rotating",
        }
    ],
    "sensor": [SENSOR],
    "point": [
        *(
            {"name": f"P1{axis.upper()}", "direction": axis, "sensor": "A1", "channel": n}
            for n, axis in enumerate(AXES, start=1)
        ),
        {"name": "B1", "direction": "z", "sensor": "A1", "channel": 4, "mounted_on": "base"},
    ],
    "oil": {"volume_l": 4.5},
    "guard": {"clearance_mm": 25.0},
    "bolt_group": [{"name": "flange", "count": 4, "torque_stages_nm": [400.0]}],
}


def _card(**changes: Any) -> MachineCard:
    """The full card; a dict changes a table, anything else replaces it, None removes it."""
    tables = dict(FULL)
    for name, change in changes.items():
        if change is None:
            del tables[name]
        elif isinstance(change, dict):
            tables[name] = {**tables[name], **change}
        else:
            tables[name] = change
    return MachineCard.model_validate(tables)


def _plan(**changes: Any) -> RecordingPlan:
    return recording_plan(_card(**changes))


def test_a_full_card_lacks_nothing() -> None:
    plan = _plan()
    assert (plan.gaps, plan.warnings) == ((), ())
    assert plan.cautions == CAUTIONS


# Peak g of a stroke in mm peak to peak at r/min, (stroke / 2) (2 pi f)^2 / 9.80665: strokes to a
# tenth of a millimetre, so half of that is the tolerance.
@pytest.mark.parametrize(
    ("rpm", "strokes_mm"),
    [
        (750, (6.4, 9.5, 12.7, 15.9, 19.1, 25.4)),
        (900, (4.4, 6.6, 8.8, 11.0, 13.2, 17.7)),
        (1200, (2.5, 3.7, 5.0, 6.2, 7.5, 9.9)),
        (1500, (1.6, 2.4, 3.2, 4.0, 4.8, 6.4)),
        (1800, (1.1, 1.7, 2.2, 2.8, 3.3, 4.4)),
    ],
)
def test_expected_g_follows_the_stroke(rpm: float, strokes_mm: tuple[float, ...]) -> None:
    for stroke, g in zip(strokes_mm, (2, 3, 4, 5, 6, 8), strict=True):
        card = _card(
            machine={"nominal_speed_rpm": float(rpm)},
            exciter={"stroke_mm": {"x": stroke}, "swing_ratio": 1.0},
        )
        found = expected_g(card, card.point("P1X"))
        assert found == pytest.approx(g, rel=0.051 / stroke)


def test_sixty_seconds_at_twenty_turns_per_second_are_1200_turns() -> None:
    settings = _plan().settings
    assert (settings.seconds, settings.turns) == (60, 1200.0)
    assert (settings.least_seconds, settings.least_turns) == (20, 400.0)
    assert settings.recordings == 3
    assert settings.rate_hz == 25_600.0
    assert settings.megabytes_per_channel == pytest.approx(60 * 25_600 * 3 / 1e6)


@pytest.mark.parametrize(
    ("rpm", "seconds", "least"),
    [(978.0, 70, 25), (600.0, 100, 40), (60.0, 1000, 400), (3e4, 60, 1)],
)
def test_slow_machines_are_recorded_longer(rpm: float, seconds: int, least: int) -> None:
    settings = _plan(machine={"nominal_speed_rpm": rpm}, exciter={"swing_ratio": 1.0}).settings
    assert (settings.seconds, settings.least_seconds) == (seconds, least)
    assert settings.turns >= 1000
    assert settings.least_seconds * rpm / 60 >= 400


def test_limits_of_the_card_move_the_plan() -> None:
    limits = {"recommended_turns": 2000.0, "minimum_turns": 800.0, "recommended_recordings": 5.0}
    settings = recording_plan(MachineCard.model_validate(FULL | {"limits": limits})).settings
    assert (settings.seconds, settings.least_seconds, settings.recordings) == (100, 40, 5)


@pytest.mark.parametrize(
    ("top_hz", "rate_hz"),
    [(10_000.0, 25_600.0), (5000.0, 12_800.0), (10_001.0, 32_768.0), (100_000.0, 256_000.0)],
)
def test_the_rate_follows_from_the_band(top_hz: float, rate_hz: float) -> None:
    sensor = SENSOR | {"usable_hz": (1.0, 2e5)}
    changes = {"analysis": {"bearing_band_hz": (1000.0, top_hz)}, "sensor": [sensor]}
    settings = recording_plan(MachineCard.model_validate(FULL | changes)).settings
    assert settings.least_rate_hz == pytest.approx(2.56 * top_hz)
    assert settings.rate_hz == rate_hz


def test_the_range_leaves_half_to_strikes() -> None:
    """5 mm at 1200 r/min: 2.5e-3 (40 pi)^2 / 9.80665 = 4.026 g."""
    sensor = _plan().sensors[0]
    assert sensor.expected_g == pytest.approx(4.0257, abs=1e-4)
    assert sensor.needed_g == pytest.approx(2 * 4.0257, abs=2e-4)
    assert sensor.share_of_range == pytest.approx(4.0257 / 50, abs=1e-5)
    assert sensor.step_16_bit_g == pytest.approx(50 / 32_768)
    assert sensor.step_24_bit_g == pytest.approx(50 / 8_388_608)


@pytest.mark.parametrize(("range_g", "warns"), [(8.06, False), (8.04, True)])
def test_a_range_that_is_too_small_is_told(range_g: float, warns: bool) -> None:
    warnings = _plan(sensor=[SENSOR | {"range_g": range_g}]).warnings
    assert any("range too small" in line for line in warnings) is warns


def test_the_smaller_of_sensor_and_recorder_counts() -> None:
    sensor = _plan(sensor=[SENSOR | {"full_scale_g": 6.0}])
    assert sensor.sensors[0].range_g == 6.0
    assert "4.0 g of ±6 g; take ±8 g or more" in sensor.warnings[0]


def test_the_swing_through_the_isolators() -> None:
    """Four times 2.5 mm; in g a tenth of the speed is a hundredth of the acceleration."""
    swing = _plan().swing
    assert swing is not None
    assert (swing.low_mm, swing.high_mm, swing.is_noted) == (10.0, 10.0, True)
    assert swing.acceleration_g == pytest.approx(4 * 4.0257 * 0.01, abs=1e-4)
    model = _plan(exciter={"swing_ratio": None}).swing
    assert model is not None
    assert (model.low_mm, model.high_mm, model.is_noted) == (6.25, 26.25, False)
    unknown = _plan(exciter={"isolator_frequency_hz": None}).swing
    assert unknown is not None
    assert unknown.acceleration_g is None


@pytest.mark.parametrize(("clearance", "warns"), [(10.1, False), (10.0, True)])
def test_a_guard_within_the_swing_is_told(clearance: float, warns: bool) -> None:
    warnings = _plan(guard={"clearance_mm": clearance}).warnings
    assert any("it would be hit" in line for line in warnings) is warns


@pytest.mark.parametrize(
    ("usable", "words"),
    [
        ((1.0, 10_000.0), ""),
        ((1.1, 10_000.0), "The swing of start and stop (2 to 5 Hz) reads too small"),
        ((21.0, 10_000.0), "above the shaft's 20.0 Hz: the stroke cannot be judged"),
        ((1.0, 9_999.0), "the bearing band reaches 10000 Hz"),
    ],
)
def test_the_usable_band_of_the_sensor(usable: tuple[float, float], words: str) -> None:
    warnings = " ".join(_plan(sensor=[SENSOR | {"usable_hz": usable}]).warnings)
    assert words in warnings
    assert bool(warnings) is bool(words)


@pytest.mark.parametrize(
    ("mount", "words"), [("magnet", "tether a magnet"), ("hand-held", "never hold a sensor")]
)
def test_mounts_that_will_not_do(mount: str, words: str) -> None:
    assert words in _plan(sensor=[SENSOR | {"mount": mount}]).warnings[0]


@pytest.mark.parametrize(
    ("kept", "words"),
    [
        (("P1X", "P1Z", "B1"), "with x, z alone a wrong rotation is not seen"),
        (("P1X", "P1Y", "B1"), "No point along the shaft (z)"),
        (("P1X", "P1Y", "P1Z"), "No point on the base"),
        (("B1",), "No point is on the moving body"),
    ],
)
def test_directions_that_are_missing(kept: tuple[str, ...], words: str) -> None:
    points = [point for point in FULL["point"] if point["name"] in kept]
    (line,) = _plan(point=points).warnings
    assert words in line


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"bearing": None}, "[[bearing]]"),
        ({"bearing": [FULL["bearing"][0] | {"load_case": "unknown"}]}, "load_case of bearing 'DE'"),
        ({"sensor": [SENSOR | {"mount": None}]}, "mount of sensor 'A1'"),
        ({"sensor": [SENSOR | {"usable_hz": None}]}, "usable_hz of sensor 'A1'"),
        ({"sensor": [SENSOR | {"full_scale_g": None}]}, "calibration of sensor 'A1'"),
        (
            {"sensor": [SENSOR | {"range_g": None, "full_scale_g": None, "unit": "g"}]},
            "range_g of sensor 'A1'",
        ),
        ({"exciter": {"stroke_mm": None}}, "exciter.stroke_mm"),
        ({"exciter": {"stroke_mm": {"x": 5.0}}}, "exciter.stroke_mm.y"),
        ({"exciter": {"orbit_direction": None}}, "exciter.orbit_direction"),
        ({"exciter": {"isolator_frequency_hz": None}}, "exciter.isolator_frequency_hz"),
        ({"exciter": {"run_up_s": None}}, "exciter.run_up_s"),
        ({"exciter": {"coast_down_s": None}}, "exciter.coast_down_s"),
        ({"exciter": {"swing_ratio": None}}, "exciter.swing_ratio"),
        ({"guard": None}, "[guard] clearance_mm"),
        ({"oil": None}, "[oil] volume_l"),
        ({"bolt_group": None}, "[[bolt_group]]"),
        ({"machine": {"temperature_limit_c": None}}, "machine.temperature_limit_c"),
    ],
)
def test_every_key_that_is_missing_has_its_cost(changes: dict[str, Any], key: str) -> None:
    (gap,) = _plan(**changes).gaps
    assert gap.key == key
    assert len(gap.cost.split()) > 3


def test_orders_without_a_rolling_element() -> None:
    bearing = {"name": "DE", "element_count": 9, "orders": {"outer_ring": 3.6, "inner_ring": 5.4}}
    plan = _plan(bearing=[bearing | {"load_case": "rotating"}])
    assert [gap.key for gap in plan.gaps] == ["orders.rolling_element of bearing 'DE'"]


def test_order_of_events() -> None:
    plan = _plan()
    folders = [(step.folder, step.recordings, step.seconds) for step in plan.steps]
    assert folders == [
        ("as-found", 3, 60),
        ("as-found", 1, 60),
        ("as-found/coast-down", 1, 10 + 12 + 20),
        ("as-left/run-up", 1, 10 + 4 + 60),
        ("", 0, None),
        ("as-left/1h", 3, 60),
        ("as-left/coast-down", 1, 10 + 12 + 20),
        ("as-left/8h", 3, 60),
        ("as-left/24h", 3, 60),
        ("as-left/7d", 3, 60),
    ]
    open_ended = _plan(exciter={"run_up_s": None, "coast_down_s": None}).steps
    assert [step.seconds for step in open_ended if "-up" in step.folder] == [None]
    assert all(step.to_do for step in plan.steps)


def test_an_ordinary_machine_has_no_starts_and_no_stroke() -> None:
    plan = _plan(exciter=None)
    assert [step.folder for step in plan.steps] == [
        "as-found",
        "as-found",
        "",
        "as-left/1h",
        "as-left/8h",
        "as-left/24h",
        "as-left/7d",
    ]
    assert plan.swing is None
    assert all(point.expected_g is None for point in plan.points)
    assert plan.sensors[0].needed_g is None
    assert [gap.key for gap in plan.gaps] == ["[exciter]"]
    assert plan.warnings == ()


def test_points_that_share_a_channel_are_recorded_in_turn() -> None:
    points = [
        {"name": name, "direction": "x", "sensor": "A1", "channel": channel}
        for name, channel in (("P1", 1), ("P2", 2), ("P3", 1), ("P4", 1), ("P5", 2))
    ]
    assert [point.sitting for point in _plan(point=points).points] == [1, 1, 2, 3, 2]


def test_a_point_in_words_gets_the_largest_axis_and_one_off_the_body_none() -> None:
    points = [
        {"name": "P1", "direction": "radial", "sensor": "A1"},
        {"name": "M1", "direction": "x", "sensor": "A1", "mounted_on": "motor"},
    ]
    radial, motor = _plan(point=points).points
    assert radial.expected_g == pytest.approx(4.0257, abs=1e-4)
    assert motor.expected_g is None


def test_blind_spots_are_those_of_the_bearing() -> None:
    bearing = FULL["bearing"][0] | {
        "element_count": 8,
        "element_diameter_mm": 10.0,
        "pitch_diameter_mm": 40.0,
    }
    card = _card(bearing=[bearing])
    (found,) = recording_plan(card).bearings
    spots = blind_spots(card.rolling_bearings()[0], card.analysis.slip_percent)
    assert found.blind_spots == tuple(spot.sentence for spot in spots)
    assert any("shaft's 3x" in sentence for sentence in found.blind_spots)
    outer = next(row for row in found.rows if row.label == "BPFO")
    assert outer.frequency_hz == pytest.approx(20.0 * outer.order)


def test_stop_signs_carry_the_limits_of_the_card() -> None:
    signs = " / ".join(_plan().stop_signs)
    assert "housing above 75 °C" in signs
    assert "faster than 2 °C per minute" in signs
    assert "above 82 °C" in " / ".join(_plan(machine={"temperature_limit_c": None}).stop_signs)


def test_a_card_without_points_is_refused_kindly() -> None:
    refused: Callable[..., RecordingPlan] = recording_plan
    with pytest.raises(CardError, match=r"a plan needs at least one \[\[point\]\], found none"):
        refused(_card(point=[], sensor=[]))
