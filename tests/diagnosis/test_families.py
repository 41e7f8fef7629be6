"""Spall trains made apart from the package are found, named and sized; nothing else is."""

from collections.abc import Callable
from functools import partial
from itertools import pairwise

import numpy as np
import pytest

from tests.diagnosis.family_cases import (
    FTF,
    LIMITS,
    ORDERS,
    OUTER,
    SHAFT_HZ,
    TRUE_SLIP,
    Array,
    bearing,
    find,
    of,
    present,
)
from vibhealth.diagnosis.families import FamilyLimits
from vibhealth.model import (
    BearingGeometry,
    CriterionResult,
    DefectOrders,
    Element,
    FamilyFinding,
    LoadCase,
    RollingBearing,
)

Train = Callable[..., Array]

N_TURNS = 300

# A wandering cage and lines 1/300 order apart.
ORDER_TOLERANCE = 1e-3


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


def test_lines_of_its_own_beside_a_stronger_shaft_line_keep_their_order(spall_train: Train) -> None:
    shaft = spall_train(5.0, slip_walk=0.0, jitter=0.002, amplitude=24.0)
    samples = spall_train(4.96, seed=3, amplitude=8.0) + shaft
    found = of(find(samples, WHOLE), Element.OUTER_RING)
    assert found.blind_spot
    assert found.result is CriterionResult.HOLD
    assert found.order == pytest.approx(4.96, abs=2e-3)
    assert found.ambiguous_with == ()


def test_knocks_once_per_turn_are_no_bearing_fault(spall_train: Train) -> None:
    report = find(spall_train(1.0, amplitude=20.0, slip_walk=0.0, jitter=0.002), WHOLE)
    assert present(report) == []
    assert of(report, Element.OUTER_RING).blind_spot
    assert of(report, Element.OUTER_RING).ambiguous_with == ()


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
    slow = find(noise, bearing(LoadCase.ROTATING), rate_hz=400.0)
    assert slow.not_judged.startswith("a sampling rate of 400 Hz leaves no band above")
    assert slow.findings == ()
