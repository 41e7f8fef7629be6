"""Spall trains made apart from the package are found, named and sized; nothing else is."""

from collections.abc import Callable
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.bearing import defect_orders
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.model import (
    BearingGeometry,
    CriterionResult,
    DefectOrders,
    Element,
    FamilyFinding,
    LoadCase,
    RollingBearing,
)

Array = NDArray[np.float64]
Train = Callable[..., Array]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
N_TURNS = 300
SLIP_PERCENT = 1.5
TRUE_SLIP = -0.007

LIMITS = FamilyLimits(
    depth_watch=0.15, depth_present=0.28, depth_hold=0.3, false_alarm_probability=0.001
)
GEOMETRY = BearingGeometry(element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04)

# A wandering cage and lines 1/300 order apart.
ORDER_TOLERANCE = 1e-3


def bearing(load_case: LoadCase, name: str = "upper") -> RollingBearing:
    return RollingBearing(name=name, geometry=GEOMETRY, element_count=9, load_case=load_case)


def find(samples: Array, *bearings: RollingBearing, **changes: Any) -> FamilyReport:
    options: dict[str, Any] = {
        "shaft_frequency_hz": SHAFT_HZ,
        "bearings": bearings,
        "slip_percent": SLIP_PERCENT,
        "limits": LIMITS,
        "is_calibrated": True,
    }
    return find_families(samples, RATE_HZ, **options | changes)


def of(report: FamilyReport, element: Element) -> FamilyFinding:
    return next(finding for finding in report.findings if finding.element is element)


def present(report: FamilyReport) -> list[Element]:
    return [finding.element for finding in report.findings if finding.present]


ORDERS = defect_orders(bearing(LoadCase.ROTATING))
FTF = ORDERS.cage * (1 + TRUE_SLIP)
OUTER = ORDERS.outer_ring * (1 + TRUE_SLIP)


@pytest.mark.parametrize(
    ("load_case", "element", "swings"),
    [
        (LoadCase.ROTATING, Element.OUTER_RING, ((1.0, 0.9),)),
        (LoadCase.ROTATING, Element.INNER_RING, ((1.0, 0.3),)),
        (LoadCase.ROTATING, Element.ROLLING_ELEMENT, ((1 - FTF, 0.8),)),
        (LoadCase.STATIONARY, Element.OUTER_RING, ()),
        (LoadCase.STATIONARY, Element.INNER_RING, ((1.0, 0.9),)),
        (LoadCase.STATIONARY, Element.ROLLING_ELEMENT, ((FTF, 0.9),)),
    ],
)
def test_the_right_element_is_named_and_no_other(
    spall_train: Train,
    load_case: LoadCase,
    element: Element,
    swings: tuple[tuple[float, float], ...],
) -> None:
    """Under a working motion 200 times the noise, which shares no band with the strikes."""
    strike = ORDERS.strike_order(element)
    assert strike is not None
    order = strike * (1 + TRUE_SLIP)
    report = find(spall_train(order, swings=swings, motion=200.0), bearing(load_case))
    found = of(report, element)
    assert report.findings[0] is found
    assert present(report) == [element]
    assert found.result is CriterionResult.HOLD
    assert found.order == pytest.approx(order, rel=ORDER_TOLERANCE)
    assert found.slip_percent == pytest.approx(100 * TRUE_SLIP, abs=0.1)
    assert found.frequency_hz == pytest.approx(found.order * SHAFT_HZ)
    assert found.false_alarm_probability < 1e-20
    assert not found.blind_spot
    low, high = found.band_hz
    assert low < 1000.0 + 40  # the resonance with its half width
    assert high > 1000.0 - 40
    assert len(report.findings) == len(Element)


def test_all_families_count_as_trials_and_one_cage_serves_both_rings(
    spall_train: Train,
) -> None:
    """Weak strikes, so that the probability is no round 0; BPFO + BPFI = Z at any cage speed."""
    report = find(spall_train(OUTER, amplitude=1.2), bearing(LoadCase.STATIONARY))
    for finding in report.findings:
        family = next(f for f in report.found if f.comb.element is finding.element)
        corrected = min(1.0, 4 * float(np.exp(family.log_probability)))
        assert finding.false_alarm_probability == pytest.approx(corrected)
    outer = of(report, Element.OUTER_RING)
    assert 0 < outer.false_alarm_probability < LIMITS.false_alarm_probability
    # The other ring is looked for within 0.3 % of where this cage puts it, and a line's width.
    inner = of(report, Element.INNER_RING)
    assert inner.order == pytest.approx(9 - outer.order, rel=0.003 + 1e-3)


def test_side_bands_are_told_in_words(spall_train: Train) -> None:
    """Strikes that swing with 1 + 0.9 cos have side bands of 0.45 before squaring, and of
    0.9 / (1 + 0.9^2 / 2) = 0.64 in the squared envelope; limiting the strikes, which flattens
    the strongest of them, and the floor take a little."""
    report = find(spall_train(OUTER, swings=((1.0, 0.9),)), bearing(LoadCase.ROTATING))
    words = of(report, Element.OUTER_RING).sideband_evidence
    start = "side bands relative to the first centre line: ±1.000x at "
    assert words.startswith(start)
    assert 0.45 < float(words.removeprefix(start).split(",")[0]) < 0.64


@pytest.fixture(scope="module")
def by_amplitude(spall_train: Train) -> dict[float, FamilyFinding]:
    """Outer-ring findings under a stationary load, by strike amplitude over the noise."""
    item = bearing(LoadCase.STATIONARY)
    return {
        amplitude: of(find(spall_train(OUTER, amplitude=amplitude), item), Element.OUTER_RING)
        for amplitude in (0.0, 1.0, 2.0, 6.0, 12.0, 24.0)
    }


def test_depth_and_impact_grow_with_the_strikes(by_amplitude: dict[float, FamilyFinding]) -> None:
    rows = list(by_amplitude.values())
    for weak, strong in pairwise(rows):
        assert strong.depth_whitened > weak.depth_whitened
        assert (strong.impact_m_s2 or 0) > (weak.impact_m_s2 or 0) or weak is rows[0]
        # Below 1e-20 both are nothing, and the decoys' tail is no finer than that.
        assert strong.false_alarm_probability <= max(weak.false_alarm_probability, 1e-20)
    assert [row.present for row in rows] == [False, False, True, True, True, True]
    assert rows[0].result is CriterionResult.PASS
    assert rows[0].false_alarm_probability > 0.05


def test_strike_amplitude_is_recovered(by_amplitude: dict[float, FamilyFinding]) -> None:
    for amplitude in (6.0, 12.0, 24.0):
        assert by_amplitude[amplitude].impact_m_s2 == pytest.approx(amplitude, rel=0.25)


def test_gain_scales_the_impact_and_nothing_else(spall_train: Train) -> None:
    samples = spall_train(OUTER)
    plain, louder = (
        of(find(gain * samples, bearing(LoadCase.STATIONARY)), Element.OUTER_RING)
        for gain in (1.0, 37.0)
    )
    # Round-off alone: the whole chain is linear or a ratio.
    close = partial(pytest.approx, rel=1e-6)
    assert louder.depth == close(plain.depth)
    assert louder.depth_whitened == close(plain.depth_whitened)
    assert plain.impact_m_s2 is not None
    assert louder.impact_m_s2 == close(37.0 * plain.impact_m_s2)
    assert louder.order == plain.order


def test_without_calibration_no_impact_is_given(spall_train: Train) -> None:
    report = find(spall_train(OUTER), bearing(LoadCase.STATIONARY), is_calibrated=False)
    assert [finding.impact_m_s2 for finding in report.findings] == [None] * 4
    assert present(report) == [Element.OUTER_RING]


def test_size_decides_between_nothing_watch_and_hold(spall_train: Train) -> None:
    """One significant family under limits on either side of its depth."""
    samples, item = spall_train(OUTER, amplitude=2.0), bearing(LoadCase.STATIONARY)
    depth = of(find(samples, item), Element.OUTER_RING).depth_whitened

    def judged(watch: float, named: float, hold: float, chance: float) -> tuple[str, bool]:
        limits = FamilyLimits(
            depth_watch=watch * depth,
            depth_present=named * depth,
            depth_hold=hold * depth,
            false_alarm_probability=chance,
        )
        found = of(find(samples, item, limits=limits), Element.OUTER_RING)
        return found.result.value, found.present

    assert judged(0.8, 0.9, 0.99, 0.001) == ("hold", True)
    assert judged(0.8, 0.9, 1.01, 0.001) == ("watch", True)
    assert judged(0.8, 1.01, 1.02, 0.001) == ("watch", False)
    assert judged(1.01, 1.02, 1.03, 0.001) == ("pass", False)
    assert judged(0.8, 0.9, 0.99, 1e-300) == ("pass", False)


def test_identical_bearings_are_named_together(spall_train: Train) -> None:
    samples = spall_train(ORDERS.inner_ring * (1 + TRUE_SLIP))
    report = find(samples, bearing(LoadCase.ROTATING), bearing(LoadCase.ROTATING, "lower"))
    assert len(report.findings) == 4
    found = report.findings[0]
    assert found.bearing == "upper"
    assert found.ambiguous_with == ("inner-ring of lower",)
    other = find(samples, bearing(LoadCase.ROTATING), bearing(LoadCase.STATIONARY, "lower"))
    assert {finding.bearing for finding in other.findings} == {"upper", "lower"}


def test_elements_within_slip_of_each_other_are_both_named(spall_train: Train) -> None:
    """Z = 13, Dw / Dpw = 0.18: BPFO 5.33 and 2 BSF 5.376 are 0.9 % apart."""
    item = RollingBearing(
        name="upper",
        geometry=BearingGeometry(element_count=13, element_diameter_mm=18, pitch_diameter_mm=100),
        element_count=13,
        load_case=LoadCase.STATIONARY,
    )
    report = find(spall_train(5.33), item)
    named = [finding for finding in report.findings if finding.present]
    assert len(named) == 1
    both = {named[0].element.value, *named[0].ambiguous_with}
    assert both == {"outer-ring", "rolling-element"}
    assert named[0].order == pytest.approx(5.33, rel=ORDER_TOLERANCE)


WHOLE = RollingBearing(
    name="upper",
    given_orders=DefectOrders(cage=5 / 13, outer_ring=5.02, inner_ring=7.98, rolling_element=None),
    element_count=13,
    load_case=LoadCase.STATIONARY,
)


def test_a_family_on_a_whole_order_is_a_blind_spot_that_is_looked_into(spall_train: Train) -> None:
    found = of(find(spall_train(5.0, slip_walk=0.0, jitter=0.002), WHOLE), Element.OUTER_RING)
    assert found.blind_spot
    assert found.order == 5.0
    assert found.slip_percent == pytest.approx(100 * (5 / 5.02 - 1), abs=0.01)
    assert found.ambiguous_with == ("5x of the shaft",)
    assert found.present
    assert "can hide" in found.detail


def test_knocks_once_per_turn_are_no_bearing_fault(spall_train: Train) -> None:
    report = find(spall_train(1.0, amplitude=20.0, slip_walk=0.0, jitter=0.002), WHOLE)
    assert present(report) == []
    assert of(report, Element.OUTER_RING).blind_spot
    assert of(report, Element.OUTER_RING).ambiguous_with == ()


def cage_noise(*, n_turns: int, per_turn: int = 256, seed: int = 5) -> Array:
    """Noise whose power swings at the cage's rate and its harmonics."""
    turns = np.arange(per_turn * n_turns) / per_turn
    swing = sum(np.cos(2 * np.pi * n * FTF * turns) for n in (1, 2, 3))
    noise = np.random.default_rng(seed).standard_normal(turns.size)
    return np.asarray(noise * np.sqrt(np.maximum(0.0, 1 + 0.6 * swing)))


@pytest.mark.parametrize("n_turns", [1000, 4000])
def test_a_cage_is_named_and_held_and_neither_ring_is(n_turns: int) -> None:
    report = find_families(
        cage_noise(n_turns=n_turns, per_turn=80),
        80 * SHAFT_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=[bearing(LoadCase.STATIONARY)],
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=True,
    )
    named = [finding for finding in report.findings if finding.present]
    assert len(named) == 1
    assert "cage" in {named[0].element.value, *named[0].ambiguous_with}
    assert named[0].result is CriterionResult.HOLD
    cage = of(report, Element.CAGE)
    # Its line is narrow, but the widest neighbourhood that holds it may win: within 9 lines.
    assert cage.order == pytest.approx(FTF, abs=9 / n_turns)
    assert cage.false_alarm_probability < 1e-20
    others = [f for f in report.findings if f.element in {Element.OUTER_RING, Element.INNER_RING}]
    assert all(finding.result is CriterionResult.PASS for finding in others)


def swinging(element_share: float, *, n_turns: int = 2000, per_turn: int = 80) -> Array:
    """Noise whose power swings at the cage's rate, and a little at twice the spin."""
    strike = ORDERS.strike_order(Element.ROLLING_ELEMENT)
    assert strike is not None
    turn = 2 * np.pi * np.arange(per_turn * n_turns) / per_turn
    swing = sum(
        0.6 * np.cos(n * FTF * turn) + element_share * np.cos(n * strike * (1 + TRUE_SLIP) * turn)
        for n in (1, 2, 3)
    )
    noise = np.random.default_rng(5).standard_normal(turn.size)
    return np.asarray(noise * np.sqrt(np.maximum(0.0, 1 + swing)))


@pytest.mark.parametrize(
    ("element_share", "beside"), [(0.0, ("cage",)), (0.16, ())], ids=["silent", "striking"]
)
def test_a_smooth_swing_is_the_element_in_the_load_zone(
    element_share: float, beside: tuple[str, ...]
) -> None:
    """A defect of an element is carried at the cage's rate (W. A. Smith and R. B. Randall, MSSP
    64-65 (2015) 100-131): without lines of its own it may be the cage's too."""
    report = find_families(
        swinging(element_share),
        80 * SHAFT_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=[bearing(LoadCase.STATIONARY)],
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=True,
    )
    element = of(report, Element.ROLLING_ELEMENT)
    assert present(report) == [Element.ROLLING_ELEMENT]
    assert element.ambiguous_with == beside
    assert element.result is CriterionResult.HOLD
    # The finding has the size of the lines that were found, whichever are deeper.
    assert element.depth_whitened >= of(report, Element.CAGE).depth_whitened


@pytest.mark.parametrize("load_case", [LoadCase.STATIONARY, LoadCase.ROTATING])
def test_short_pulses_at_the_cage_rate_are_the_cage_alone(load_case: LoadCase) -> None:
    """A cage that strikes once per turn (against the load: 1 - FTF) makes lines that go on."""
    rate = FTF if load_case is LoadCase.STATIONARY else 1 - FTF
    n_turns, per_turn = 1500, 80
    turn = np.arange(per_turn * n_turns) / per_turn
    rng = np.random.default_rng(8)
    phase = (rate * turn) % 1.0
    gain = np.where(phase < 0.02, 5.0, 1.0)
    report = find_families(
        gain * rng.standard_normal(turn.size),
        per_turn * SHAFT_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=[bearing(load_case)],
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=True,
    )
    assert present(report) == [Element.CAGE]
    assert of(report, Element.CAGE).ambiguous_with == ()
    assert of(report, Element.CAGE).result is CriterionResult.HOLD


def test_without_its_order_the_element_is_named_beside_the_cage() -> None:
    item = RollingBearing(
        name="upper",
        given_orders=DefectOrders(
            cage=ORDERS.cage,
            outer_ring=ORDERS.outer_ring,
            inner_ring=ORDERS.inner_ring,
            rolling_element=None,
        ),
        element_count=9,
        load_case=LoadCase.STATIONARY,
    )
    report = find_families(
        swinging(0.0),
        80 * SHAFT_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=[item],
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=True,
    )
    assert present(report) == [Element.CAGE]
    assert of(report, Element.CAGE).ambiguous_with == ("rolling-element",)
    assert "was not searched" in of(report, Element.CAGE).detail


def test_cage_lines_beside_the_rolling_elements_belong_to_both(spall_train: Train) -> None:
    strike = ORDERS.strike_order(Element.ROLLING_ELEMENT)
    assert strike is not None
    # 300 turns hold too few places beside the cage's comb for a null of its own: four differ.
    trains = [
        spall_train(strike * (1 + TRUE_SLIP), swings=((FTF, 1.0),), amplitude=4.0, seed=seed)
        for seed in range(4)
    ]
    samples = cage_noise(n_turns=1200) + np.concatenate(trains)
    report = find(samples, bearing(LoadCase.STATIONARY))
    assert present(report) == [Element.ROLLING_ELEMENT]
    assert of(report, Element.ROLLING_ELEMENT).ambiguous_with in {("cage",), ()}
    cage = of(report, Element.CAGE)
    assert not cage.present
    assert cage.ambiguous_with == ("rolling-element",)


def test_one_more_harmonic_is_not_another_family(spall_train: Train) -> None:
    """Explained lines are masked: a strong spall leaves nothing significant of watch size."""
    report = find(spall_train(OUTER, amplitude=60.0), bearing(LoadCase.ROTATING))
    others = [f for f in report.findings if f.element is not Element.OUTER_RING]
    assert all(f.result is CriterionResult.PASS for f in others)


def test_a_sensor_that_ends_below_the_resonance_is_not_looked_at_above(
    spall_train: Train,
) -> None:
    report = find(spall_train(OUTER), bearing(LoadCase.STATIONARY), usable_hz=(1.0, 700.0))
    assert all(envelope.band_hz[1] <= 700.0 for envelope in report.envelopes)
    assert not report.not_judged


def test_progress_is_told_once_per_band(spall_train: Train) -> None:
    calls: list[int] = []
    report = find(
        spall_train(OUTER, amplitude=0.0),
        bearing(LoadCase.STATIONARY),
        progress=lambda: calls.append(1),
    )
    assert len(calls) == len({envelope.band_hz for envelope in report.envelopes})


def test_what_cannot_be_judged_says_why() -> None:
    noise = np.random.default_rng(0).standard_normal(8000)
    assert find(noise).not_judged == "no bearing with geometry or orders on the card"
    slow = find_families(
        noise,
        400.0,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=[bearing(LoadCase.ROTATING)],
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=True,
    )
    assert slow.not_judged.startswith("a sampling rate of 400 Hz leaves no band above")
    assert slow.findings == ()
