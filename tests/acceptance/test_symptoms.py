"""From symptoms to the steps to look at first."""

import pytest

from vibhealth.acceptance.mistakes import MISTAKES
from vibhealth.acceptance.symptoms import PLAIN, ranked_checks, symptoms_of
from vibhealth.model import Criterion, CriterionResult, Group, Hold

EVERYTHING = frozenset(
    symptom for row in MISTAKES for symptom in (*row.always, *row.often, *row.sometimes)
)
FROM_VALUES = {
    "hits-each-turn", "orbit-reversed",
    "stroke-off", "stroke-low", "stroke-high", "wrong-scale", "isolator-soft", "isolator-stiff",
    "swing-large", "temperature", "fixed-lines", "bearing-ticks", "ring-ticks", "marks-all-round",
    "outer-ring", "inner-ring", "rolling-element", "cage",
}  # fmt: skip


def first_steps(*shown: str, about: str | None = None) -> list[str]:
    checks = ranked_checks([about or shown[0]], dict.fromkeys(shown, 1.0), EVERYTHING)
    return [check.step for check in checks]


def test_every_symptom_of_the_table_can_be_shown_by_a_criterion() -> None:
    known = set(PLAIN.values()) | FROM_VALUES
    assert known >= EVERYTHING


def test_a_row_names_no_symptom_twice() -> None:
    for row in MISTAKES:
        assert not row.always & row.often
        assert not row.always & row.sometimes
        assert not row.often & row.sometimes
        assert row.always


@pytest.mark.parametrize("row", MISTAKES, ids=[f"{row.step}: {row.mistake}" for row in MISTAKES])
def test_a_mistake_that_shows_all_it_always_and_often_does_is_among_the_first(row: object) -> None:
    shown = (*sorted(row.always), *sorted(row.often))  # type: ignore[attr-defined]
    checks = ranked_checks(shown[:1], dict.fromkeys(shown, 1.0), EVERYTHING)
    assert row.mistake in {check.mistake for check in checks}  # type: ignore[attr-defined]
    assert len(checks) <= 3


@pytest.mark.parametrize(
    ("shown", "step"),
    [
        (("stroke-low", "stroke-off", "base-moves", "harmonics"), "shipping braces"),
        (("one-sided", "stroke-low", "stroke-off", "base-moves"), "locating stop"),
        (("stroke-off", "stroke-low"), "eccentric"),
        (("stroke-off", "stroke-high"), "eccentric"),
        (("harmonics", "half-orders"), "bolts"),
        (("hits-each-turn", "hidden"), "guard"),
        (("one-channel-hits", "hidden"), "sensor"),
        (("transient-strikes",), "guard"),
        (("orbit-reversed",), "rotation"),
        (("axes-swapped", "orbit-reversed"), "sensor"),
        (("wrong-scale",), "sensor"),
        (("axial-1x", "axial-2x", "orbit-axes"), "seats"),
        (("axial-2x",), "drive shaft"),
        (("speed-off",), "drive"),
        (("coast-short",), "oil"),
        (("rough-rising", "rough"), "oil"),
        (("random-hits", "rough"), "oil"),
        (("ring-ticks", "bearing-ticks", "outer-ring", "marks-all-round"), "lowering"),
        (("orbit-axes", "isolator-soft", "axial-1x", "wobble"), "isolators"),
        (("beats",), "eccentric"),
    ],
)
def test_the_first_step_named(shown: tuple[str, ...], step: str) -> None:
    assert first_steps(*shown)[0] == step


def test_only_mistakes_that_show_the_criterions_own_symptom_are_named() -> None:
    checks = ranked_checks(["beats"], {"beats": 1.0, "stroke-low": 1.0}, EVERYTHING)
    named = {check.mistake for check in checks}
    assert named
    assert all("beats" in row.always | row.often | row.sometimes
               for row in MISTAKES if row.mistake in named)  # fmt: skip


def test_a_symptom_that_could_not_be_seen_speaks_against_nothing() -> None:
    """A base that stands still speaks against the brace; without a point there nothing does."""
    shown = ["stroke-off", "stroke-low"]
    weights = dict.fromkeys(shown, 1.0)
    blind = [c.step for c in ranked_checks(shown, weights, EVERYTHING - {"base-moves"})]
    seen = [c.step for c in ranked_checks(shown, weights, EVERYTHING)]
    assert blind.index("shipping braces") < seen.index("shipping braces")


def _criterion(id_: str, result: CriterionResult, **changes: object) -> Criterion:
    facts: dict[str, object] = {
        "id": id_, "group": Group.MOTION, "title": "", "result": result, "value": 4.0, "unit": "mm",
        "limit": "6 mm ± 15 %", "limit_source": "", "advice": "",
    }  # fmt: skip
    return Criterion(**facts | changes)  # type: ignore[arg-type]


def test_what_passes_or_was_not_judged_shows_no_symptom() -> None:
    for result in (CriterionResult.PASS, CriterionResult.NOT_JUDGED):
        assert symptoms_of(_criterion("beat", result)) == ()


def test_a_stroke_is_low_high_or_of_another_unit() -> None:
    hold = CriterionResult.HOLD
    assert symptoms_of(_criterion("stroke-P1X", hold)) == ("stroke-off", "stroke-low")
    assert symptoms_of(_criterion("stroke-P1X", hold, value=9.0)) == ("stroke-off", "stroke-high")
    scaled = _criterion("stroke-P1X", hold, value=60.0, hold=Hold.MEASURE_AGAIN)
    assert symptoms_of(scaled) == ("wrong-scale",)


def test_a_point_or_bearing_may_be_called_anything() -> None:
    hold = CriterionResult.HOLD
    assert symptoms_of(_criterion("stroke-repeats", hold)) == ("stroke-drifts",)
    found = symptoms_of(_criterion("family-outer-ring-cage", hold, limit=0.3))
    assert "outer-ring" not in found
    assert "cage" in found
