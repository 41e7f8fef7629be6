"""The stated size is found by the whole search as often as stated, and half of it is not."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft

from vibhealth.diagnosis import sensitivity
from vibhealth.diagnosis.comb import Comb, bearing_combs
from vibhealth.diagnosis.decoys import DecoyLaw
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.diagnosis.seeding import draw_strikes, strike_law
from vibhealth.diagnosis.sensitivity import detectable_families
from vibhealth.errors import InputError
from vibhealth.model import (
    BearingGeometry,
    CriterionResult,
    DefectOrders,
    Element,
    LoadCase,
    RollingBearing,
    SensitivityFinding,
)

Array = NDArray[np.float64]

SHAFT_HZ = 16.0
RATE_HZ = 4096.0
SECONDS = 12
BAND_HZ = (500.0, 1500.0)
SLIP_PERCENT = 1.5
LIMITS = FamilyLimits(
    depth_watch=0.15, depth_present=0.28, depth_hold=0.3, false_alarm_probability=0.001
)
BEARING = RollingBearing(
    name="upper",
    geometry=BearingGeometry(element_count=9, element_diameter_mm=7.94, pitch_diameter_mm=39.04),
    element_count=9,
    load_case=LoadCase.STATIONARY,
)


def noise(seconds: float = SECONDS, seed: int = 8) -> Array:
    return np.random.default_rng(seed).standard_normal(int(seconds * RATE_HZ))


def search(samples: Array, *bearings: RollingBearing) -> FamilyReport:
    return find_families(
        samples,
        RATE_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=bearings or (BEARING,),
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=True,
    )


def detectable(
    report: FamilyReport,
    combs: tuple[Comb, ...],
    *,
    band_hz: tuple[float, float] = BAND_HZ,
    is_calibrated: bool = True,
) -> tuple[SensitivityFinding, ...]:
    return detectable_families(
        report,
        combs,
        bearing_band_hz=band_hz,
        shaft_frequency_hz=SHAFT_HZ,
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=is_calibrated,
    )


COMBS = bearing_combs([BEARING])
OUTER = tuple(comb for comb in COMBS if comb.element is Element.OUTER_RING)


def impact(finding: SensitivityFinding) -> float:
    assert finding.detectable_impact_m_s2 is not None
    return finding.detectable_impact_m_s2


@pytest.fixture(scope="module")
def report() -> FamilyReport:
    return search(noise())


@pytest.fixture(scope="module")
def rows(report: FamilyReport) -> dict[Element, SensitivityFinding]:
    return {finding.element: finding for finding in detectable(report, COMBS)}


def ring_of(finding: SensitivityFinding) -> float:
    match = re.search(r"ringing at (\d+) Hz", finding.method)
    assert match is not None
    return float(match[1])


def train(comb: Comb, order: float, ring_hz: float, seed: int, n_samples: int) -> Array:
    """Strikes that start abruptly, each at its own moment, with a peak of 1; not the package's."""
    strikes = draw_strikes(
        strike_law(comb),
        order,
        shaft_frequency_hz=SHAFT_HZ,
        duration_s=n_samples / RATE_HZ,
        walk_share=float(np.random.default_rng([79, seed]).random()),
        rng=np.random.default_rng([77, seed]),
    )
    fine = 16
    moments = np.zeros(fine * n_samples)
    np.add.at(moments, (strikes.time_s * RATE_HZ * fine).astype(np.int64), strikes.strength)
    time_s = np.arange(int(0.2 * RATE_HZ * fine)) / RATE_HZ / fine
    omega = 2 * np.pi * ring_hz
    ring = np.exp(-0.04 * omega * time_s) * np.sin(omega * time_s)
    n_values = fft.next_fast_len(moments.size + ring.size, real=True)
    whole = fft.irfft(fft.rfft(moments, n_values) * fft.rfft(ring / ring.max(), n_values), n_values)
    return np.asarray(whole[: moments.size : fine])


def found_share(finding: SensitivityFinding, comb: Comb, factor: float, n_trials: int) -> float:
    """Share of fresh trains, in the same noise, that the whole search finds."""
    samples, hits = noise(), 0
    for seed in range(n_trials):
        slip = 0.01 * np.random.default_rng([78, seed]).uniform(-1, 1)
        strikes = train(comb, comb.strike_order * (1 + slip), ring_of(finding), seed, samples.size)
        findings = search(samples + factor * impact(finding) * strikes).findings
        own = next(family for family in findings if family.element is comb.element)
        hits += own.result is not CriterionResult.PASS
    return hits / n_trials


def test_the_stated_size_is_found_and_half_of_it_is_not(
    rows: dict[Element, SensitivityFinding],
) -> None:
    """Of 10 trains at 95 %, fewer than 8 are found once in 100 (binomial); of half, few are."""
    comb = next(comb for comb in COMBS if comb.element is Element.INNER_RING)
    assert found_share(rows[comb.element], comb, 1.0, 10) >= 8 / 10
    assert found_share(rows[comb.element], comb, 0.5, 8) <= 3 / 8


def test_every_element_has_a_row_that_says_how(rows: dict[Element, SensitivityFinding]) -> None:
    assert list(rows) == [comb.element for comb in COMBS]
    for finding in rows.values():
        assert finding.probability == 0.95
        assert finding.n_trials >= 16
        assert math.isfinite(finding.detectable_depth)
        assert "of 600, 866, 1249 Hz the one at which strikes must be hardest" in finding.method
        assert "whitened depth of at least 0.15" in finding.method


def test_a_found_defect_is_of_watch_size(rows: dict[Element, SensitivityFinding]) -> None:
    """95 of 100 read at least the watch depth, so the middle one reads more."""
    assert all(finding.detectable_depth > 0.15 for finding in rows.values())


def test_the_same_recording_gives_the_same_rows(
    report: FamilyReport, rows: dict[Element, SensitivityFinding]
) -> None:
    assert detectable(report, COMBS) == tuple(rows.values())


def test_without_calibration_there_is_no_amplitude(
    report: FamilyReport, rows: dict[Element, SensitivityFinding]
) -> None:
    finding = detectable(report, OUTER, is_calibrated=False)[0]
    assert finding.detectable_impact_m_s2 is None
    assert math.isfinite(finding.detectable_depth)
    assert rows[Element.OUTER_RING].detectable_impact_m_s2 is not None


@pytest.mark.parametrize("gain", [2.0, 1e-3])
def test_twice_the_noise_hides_twice_the_strike(report: FamilyReport, gain: float) -> None:
    """Single precision in 200 000 values, at a limit that evidence may cross: a thousandth."""
    plain = detectable(report, OUTER)[0]
    louder = detectable(search(gain * noise()), OUTER)[0]
    assert impact(louder) == pytest.approx(gain * impact(plain), rel=1e-3)
    assert louder.detectable_depth == pytest.approx(plain.detectable_depth, rel=1e-3)


def test_a_longer_recording_needs_no_harder_strike() -> None:
    """Four times as long: evidence grows, depth has less noise; 24 trains tell a size to 5 %."""
    short, long = (detectable(search(noise(seconds)), OUTER)[0] for seconds in (10, 40))
    assert impact(long) < 1.1 * impact(short)
    assert long.detectable_depth < 1.1 * short.detectable_depth


def test_several_bearings_each_have_their_rows() -> None:
    lower = replace(
        BEARING,
        name="lower",
        geometry=BearingGeometry(element_count=13, element_diameter_mm=9.0, pitch_diameter_mm=52.0),
        element_count=13,
    )
    combs = bearing_combs([BEARING, lower])
    findings = detectable(search(noise(), BEARING, lower), combs)
    assert [(f.bearing, f.element) for f in findings] == [comb.key for comb in combs]
    assert all(math.isfinite(finding.detectable_depth) for finding in findings)


def test_a_resonance_wider_than_all_bands_is_read_too() -> None:
    """A rate that leaves one band of 800 Hz: the ring at 1 kHz fills it from edge to edge."""
    samples = noise()
    report = find_families(
        samples,
        RATE_HZ,
        shaft_frequency_hz=SHAFT_HZ,
        bearings=[BEARING],
        slip_percent=SLIP_PERCENT,
        limits=LIMITS,
        is_calibrated=True,
        usable_hz=(1000.0, 1250.0),
    )
    assert len({envelope.band_hz for envelope in report.envelopes}) == 1
    finding = detectable(report, OUTER, band_hz=(1000.0, 1250.0))[0]
    assert math.isfinite(finding.detectable_depth)
    assert "read in 1000 to 1250 Hz" in finding.method


@pytest.mark.parametrize("loud_hz", [600, 866, 1249])
def test_the_resonance_that_hides_most_is_stated(
    rows: dict[Element, SensitivityFinding], loud_hz: float
) -> None:
    """Three times the noise within a sixth of an octave of one of the three resonances tried."""
    samples = noise()
    lines = fft.rfft(samples)
    frequency_hz = fft.rfftfreq(samples.size, 1 / RATE_HZ)
    lines[np.abs(np.log2(np.maximum(frequency_hz, 1.0) / loud_hz)) < 1 / 6] *= 3.0
    finding = detectable(search(fft.irfft(lines, samples.size)), OUTER)[0]
    assert ring_of(finding) == pytest.approx(loud_hz, abs=1)
    assert impact(finding) > 1.5 * impact(rows[Element.OUTER_RING])


def blind(order: float) -> RollingBearing:
    return RollingBearing(
        name="upper",
        element_count=9,
        given_orders=DefectOrders(
            cage=0.4, outer_ring=order, inner_ring=5.41, rolling_element=None
        ),
        load_case=LoadCase.STATIONARY,
    )


def test_where_the_shaft_hides_slips_strikes_must_be_harder_or_none_is_found() -> None:
    """Of the slips about order 3, 20 s hide 2.5 lines on each side: 5 of 19 lines."""
    sizes = []
    for order in (3.2, 3.0):
        bearing = blind(order)
        comb = next(c for c in bearing_combs([bearing]) if c.element is Element.OUTER_RING)
        finding = detectable(search(noise(), bearing), (comb,))[0]
        sizes.append(impact(finding))
        assert ("lie on masked lines" in finding.method) == (order == 3.0)
    assert sizes[1] > 1.3 * sizes[0]


def test_a_chance_that_was_not_measured_leaves_no_size(report: FamilyReport) -> None:
    nothing = DecoyLaw(peaks=np.empty(0), threshold=math.inf, n_decoys=10)
    unknown = replace(report, found=tuple(replace(f, null=nothing) for f in report.found))
    finding = detectable(unknown, OUTER)[0]
    assert finding.detectable_depth == math.inf
    assert finding.detectable_impact_m_s2 == math.inf
    assert finding.n_trials == 0
    assert finding.method == (
        "no size was tried: chance could not be measured: too few orders without a bearing or "
        "shaft line"
    )


@pytest.mark.parametrize(
    ("reach", "n_lines", "is_stated"), [(60, 4, False), (60, 20, True), (5, 4, True)]
)
def test_a_few_strong_lines_that_nothing_explains_leave_no_size(
    report: FamilyReport, reach: float, n_lines: int, is_stated: bool
) -> None:
    """Noise alone reaches 1.4 beyond the threshold on average."""
    own = next(f for f in report.found if f.comb.element is Element.OUTER_RING)
    peaks = own.null.threshold + np.full(n_lines, float(reach))
    strange = replace(own, null=replace(own.null, peaks=peaks))
    finding = detectable(replace(report, found=(strange,)), OUTER)[0]
    assert math.isfinite(finding.detectable_depth) == is_stated
    assert ("no element on the card explains" in finding.method) != is_stated


def test_an_element_that_was_not_searched_has_no_size(report: FamilyReport) -> None:
    found = tuple(f for f in report.found if f.comb.element is not Element.OUTER_RING)
    finding = detectable(replace(report, found=found), OUTER)[0]
    assert finding.detectable_depth == math.inf
    assert finding.method == "no size was tried: this element was not searched"


def test_a_record_that_ticks_there_by_itself_is_seeded_beside_it(
    rows: dict[Element, SensitivityFinding],
) -> None:
    """The family's own lines must not stand for the seed: then no strike at all would do."""
    order = OUTER[0].strike_order
    ticking = noise() + 3.0 * train(OUTER[0], order, 866.0, 1, noise().size)
    finding = detectable(search(ticking), OUTER)[0]
    assert re.search(r"seeded [+-][36] % beside the order", finding.method)
    quiet = impact(rows[Element.OUTER_RING])
    assert 0.8 * quiet < impact(finding) < 4 * quiet


def test_a_record_that_ticks_at_all_places_shows_no_smallest_strike(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The only place allowed is the order itself, and there it ticks."""
    monkeypatch.setattr(sensitivity, "PLACES", (0.0,))
    ticking = noise() + 3.0 * train(OUTER[0], OUTER[0].strike_order, 866.0, 1, noise().size)
    finding = detectable(search(ticking), OUTER)[0]
    assert finding.detectable_depth == math.inf
    assert "the recording itself ticks at this element's order" in finding.method


def test_a_band_beside_the_bank_is_refused(report: FamilyReport) -> None:
    message = "bearing_band_hz must overlap the searched 192 to 2007 Hz, got 2100 to 3000"
    with pytest.raises(InputError, match=re.escape(message)):
        detectable(report, OUTER, band_hz=(2100.0, 3000.0))


def test_what_was_not_searched_at_all_has_no_rows() -> None:
    assert detectable(FamilyReport.without("no speed"), OUTER) == ()
