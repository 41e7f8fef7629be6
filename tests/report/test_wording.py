"""Numbers, units and foreign text as printed."""

import math
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.model import CriterionResult, Element, Group, Hold, SensitivityFinding, Stage
from vibhealth.report._wording import (
    GROUP_TITLES,
    HOLD_WORDS,
    MARKS,
    NOT_MEASURED,
    STAGE_WORDS,
    clean,
    comparison,
    counted,
    number,
    quantity,
    sensitivity_sentence,
    short_source,
)


@given(st.text())
def test_nothing_unprintable_survives_and_printable_text_is_kept(text: str) -> None:
    cleaned = clean(text)
    bad = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert not bad & {unicodedata.category(character) for character in cleaned}
    if not bad & {unicodedata.category(character) for character in text}:
        assert cleaned == text


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.0, "0"),
        (0.061234, "0.0612"),
        (-5.4321, "-5.43"),
        (999.4, "999"),
        (1234.5678, "1235"),
        (25600.0, "25600"),
        (0.000021, "2.10×10⁻⁵"),
        (12345678.0, "1.23×10⁷"),
        (math.nan, NOT_MEASURED),
        (-math.inf, NOT_MEASURED),
    ],
)
def test_numbers_for_reading(value: float, expected: str) -> None:
    assert number(value) == expected


@given(st.floats(1e-4, 1e7, exclude_max=True))
def test_a_printed_number_is_off_by_half_a_unit_of_its_third_digit_at_most(value: float) -> None:
    # Half a unit of the third digit is largest, relatively, for 1.00: 0.5 %.
    assert float(number(value)) == pytest.approx(value, rel=0.005 + 1e-12)


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (None, "mm", "not measured"),
        (math.nan, "mm", "not measured"),
        ("twice a turn", "1", "twice a turn"),
        (0.3, "1", "0.3"),
        (0.3, "m/s2", "0.3 m/s²"),
        (3.0, "percent", "3 %"),
        (1.0, "recordings", "1 recording"),
        (2.0, "recordings", "2 recordings"),
        (1.0, "m/s2", "1 m/s²"),
        (-71.6, "deg", "-71.6°"),
        (3.0, "odd\nunit", "3 odd\\nunit"),
    ],
)
def test_quantities(value: float | str | None, unit: str, expected: str) -> None:
    assert quantity(value, unit) == expected


@pytest.mark.parametrize(
    ("value", "limit", "unit", "expected"),
    [
        (3.0, 2.0, "mm", "1.5 × limit"),
        (2.0, 2.0, "mm", "at the limit"),
        (-1.0, 2.0, "mm", "3 mm below limit"),
        (5.0, 0.0, "mm", "5 mm above limit"),
        (5.0, 3.0, "dB", "2 dB above limit"),
        (5.0, 2.0, "degC", "3 °C above limit"),
        (-1.0, 2.0, "percent", "0.5 × limit"),
        (-3.0, 2.0, "%", "1.5 × limit"),
        (0.0, 2.0, "mm", "< 0.01 × limit"),
        (0.02, 2.0, "mm", "0.01 × limit"),
        (None, 2.0, "mm", ""),
        (3.0, "6 mm ± 10 %", "mm", ""),
        (math.nan, 2.0, "mm", ""),
    ],
)
def test_comparisons(value: float | None, limit: float | str, unit: str, expected: str) -> None:
    assert comparison(value, limit, unit) == expected


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("starting value, common practice, no source", "starting value"),
        ("common practice, no source", "common practice"),
        ("card, exciter.orbit_direction", "card, exciter.orbit_direction"),
        ("site rule 12; agreed in 2031", "site rule 12"),
        ("a very long story about where this number once came from",
         "a very long story about where this…"),
    ],
)  # fmt: skip
def test_sources_in_short(source: str, expected: str) -> None:
    assert short_source(source) == expected


def test_results_are_counted_in_words_worst_first() -> None:
    results = [CriterionResult.PASS, *CriterionResult, CriterionResult.WATCH]
    assert counted(results) == "1 on hold, 1 not judged, 2 to watch, 2 passed"
    assert counted([CriterionResult.PASS]) == "1 passed"


def finding(depth: float, impact: float | None) -> SensitivityFinding:
    return SensitivityFinding(
        bearing="upper",
        element=Element.OUTER_RING,
        detectable_depth=depth,
        detectable_impact_m_s2=impact,
        probability=0.95,
    )


@pytest.mark.parametrize(
    ("depth", "impact", "expected"),
    [
        (
            0.041,
            0.06,
            (
                "Bearing upper: an outer-ring defect striking with 0.06 m/s² or more would have "
                "been found (95 of 100); as modulation depth 0.041 or more."
            ),
        ),
        (
            0.041,
            None,
            (
                "Bearing upper: an outer-ring defect with a modulation depth of 0.041 or more "
                "would have been found (95 of 100)."
            ),
        ),
        (
            math.inf,
            0.06,
            "Bearing upper: an outer-ring defect: no size tried would have been found.",
        ),
        (
            math.nan,
            None,
            "Bearing upper: an outer-ring defect: no size tried would have been found.",
        ),
    ],
)
def test_sensitivity_in_words(depth: float, impact: float | None, expected: str) -> None:
    assert sensitivity_sentence(finding(depth, impact)) == expected


def test_every_member_has_its_words_and_no_two_results_share_word_or_shape() -> None:
    assert set(MARKS) == set(CriterionResult)
    assert set(HOLD_WORDS) == set(Hold)
    assert list(GROUP_TITLES) == list(Group)
    assert set(STAGE_WORDS) == set(Stage)
    assert len({mark.word for mark in MARKS.values()}) == len(MARKS)
    assert len({mark.symbol for mark in MARKS.values()}) == len(MARKS)


@pytest.mark.parametrize("element", list(Element))
def test_every_element_has_a_sensitivity_sentence(element: Element) -> None:
    item = SensitivityFinding(
        bearing="upper",
        element=element,
        detectable_depth=0.1,
        detectable_impact_m_s2=None,
        probability=0.95,
    )
    assert element.words.split()[0] in sensitivity_sentence(item)
