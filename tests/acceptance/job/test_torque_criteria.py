"""Torque of every bolt at every stage, threads, preload: both sides of every limit."""

from typing import Any

import pytest

from vibhealth.model import CriterionResult

TORQUE, BOLTS, PRELOAD = "torque-exciter-flange", "bolts-exciter-flange", "preload-exciter-flange"
FIX, NOT_JUDGED = ("hold", "fix"), ("not-judged", "measure-again")
FT_LB = 1.3558179
FIRST, SECOND = [120.0] * 4, [280.0] * 4


def _sheet(*stages: list[float], **facts: Any) -> dict[str, Any]:
    sheet = {"threads": "dry", "new_bolts": "yes", "repeat_pass": "yes", "stages": list(stages)}
    return {"exciter-flange": sheet | facts}


@pytest.mark.parametrize(
    ("torque", "holds"), [(380.0, False), (420.0, False), (379.0, True), (421.0, True)]
)
def test_a_bolt_may_be_five_per_cent_off(hands: Any, torque: float, holds: bool) -> None:
    sheet = _sheet(FIRST, SECOND, [400.0, 400.0, torque, 400.0])
    criteria = hands.judge(hands.job(torque=sheet))
    assert hands.bad(criteria) == ({TORQUE: FIX} if holds else {})
    if holds:
        percent = round(100 * (torque / 400 - 1))
        assert hands.one(criteria, TORQUE).reason == (
            f"exciter flange, stage 3: bolt 3 got {torque:g} N m, the card says 400 N m "
            f"({percent:+d} %)."
        )
        assert hands.one(criteria, TORQUE).checks[0].step == "bolts"


def test_the_tolerance_is_a_limit_of_the_card(hands: Any) -> None:
    job = hands.job(torque=_sheet(FIRST, SECOND, [400.0, 400.0, 370.0, 400.0]))
    card = hands.card(limits={"torque_tolerance_hold_percent": 8.0})
    assert TORQUE in hands.bad(hands.judge(job))
    assert hands.bad(hands.judge(job, card)) == {}


def test_a_group_torqued_too_low_names_the_worst_bolt(hands: Any) -> None:
    found = hands.one(
        hands.judge(hands.job(torque=_sheet(FIRST, SECOND, [350.0, 340.0, 350.0, 400.0]))), TORQUE
    )
    assert found.value == -15.0
    assert found.reason == (
        "exciter flange, stage 3: bolt 2 got 340 N m, the card says 400 N m (-15 %), and 2 more "
        "bolts."
    )


def test_an_earlier_stage_counts_too(hands: Any) -> None:
    criteria = hands.judge(hands.job(torque=_sheet([400.0] * 4, [400.0] * 4, [400.0] * 4)))
    assert hands.bad(criteria) == {TORQUE: FIX}
    assert (
        "stage 1: bolt 1 got 400 N m, the card says 120 N m" in hands.one(criteria, TORQUE).reason
    )
    assert (
        "stage 2: bolt 1 got 400 N m, the card says 280 N m" in hands.one(criteria, TORQUE).reason
    )


def test_stages_out_of_order(hands: Any) -> None:
    criteria = hands.judge(hands.job(torque=_sheet(SECOND, FIRST, [400.0] * 4)))
    assert hands.bad(criteria) == {TORQUE: FIX}
    assert hands.one(criteria, TORQUE).reason == (
        "The stages of exciter flange were not done in the card's order."
    )


@pytest.mark.parametrize(
    ("row", "words"),
    [([400.0] * 3, "3 torques for 4 bolts, 1 missed"), ([400.0] * 5, "5 torques for 4 bolts")],
)
def test_missed_bolts(hands: Any, row: list[float], words: str) -> None:
    criteria = hands.judge(hands.job(torque=_sheet(FIRST, SECOND, row)))
    assert hands.bad(criteria) == {TORQUE: FIX}
    assert f"exciter flange, stage 3: {words}" in hands.one(criteria, TORQUE).reason


def test_more_stages_than_the_card_has(hands: Any) -> None:
    sheet = _sheet(FIRST, SECOND, [400.0] * 4, [400.0] * 4)
    found = hands.one(hands.judge(hands.job(torque=sheet)), TORQUE)
    assert found.reason == "exciter flange was torqued in 4 stages, the card has 3."


@pytest.mark.parametrize(
    ("stages", "words"),
    [
        ([], "torque of exciter flange (4 bolts)"),
        ([[], [], []], "torque of exciter flange (4 bolts)"),
        ([FIRST, SECOND], "torque of exciter flange at stage 3 of 3"),
        ([[], SECOND, []], "torque of exciter flange at stage 1 and 3 of 3"),
    ],
)
def test_stages_that_are_not_given_are_not_judged(
    hands: Any, stages: list[list[float]], words: str
) -> None:
    criteria = hands.judge(hands.job(torque=_sheet(*stages)))
    assert hands.bad(criteria)[TORQUE] == NOT_JUDGED
    assert hands.one(criteria, TORQUE).reason == f"NOT CHECKED: {words}. Answer needed before PASS."


def test_foot_pounds_are_converted(hands: Any) -> None:
    stages = [[torque / FT_LB] * 4 for torque in (120, 280, 400)]
    assert hands.bad(hands.judge(hands.job(torque=_sheet(*stages, unit="ft lb")))) == {}
    stages[2][1] *= 0.9
    found = hands.one(hands.judge(hands.job(torque=_sheet(*stages, unit="ft lb"))), TORQUE)
    assert "bolt 2 got 360 N m (265.5 ft lb), the card says 400 N m (295 ft lb)" in found.reason


@pytest.mark.parametrize(
    ("facts", "card", "how"),
    [
        ({"new_bolts": "no"}, {}, FIX),
        ({"new_bolts": "not checked"}, {}, NOT_JUDGED),
        ({"new_bolts": "no"}, {"single_use": False}, None),
        ({"repeat_pass": "no"}, {}, FIX),
        ({"repeat_pass": "not checked"}, {}, NOT_JUDGED),
        ({"threads": ""}, {}, NOT_JUDGED),
        ({"threads": "oiled"}, {}, FIX),
        ({"threads": "oiled"}, {"lubrication": "oiled"}, None),
        ({"threads": "dry"}, {"lubrication": "oiled"}, FIX),
    ],
)
def test_how_the_bolts_were_put_in(
    hands: Any, facts: Any, card: Any, how: tuple[str, str] | None
) -> None:
    job = hands.job(torque=_sheet(FIRST, SECOND, [400.0] * 4, **facts))
    assert hands.bad(hands.judge(job, hands.bolts(**card))) == ({BOLTS: how} if how else {})


def test_oiled_threads_at_the_dry_torque(hands: Any) -> None:
    """380 ft lb on a 3/4-10 of grade 8: common practice, no source; 75 % of proof load dry."""
    last = 380 * FT_LB
    card = hands.bolts(thread="3/4-10 UNC", grade="8", torque_stages_nm=[last])
    dry = hands.judge(hands.job(torque=_sheet([last] * 4)), card)
    assert hands.bad(dry) == {}
    assert hands.one(dry, PRELOAD).value == pytest.approx(0.757, abs=0.001)
    oiled = hands.judge(hands.job(torque=_sheet([last] * 4, threads="oiled")), card)
    assert hands.bad(oiled) == {BOLTS: FIX, PRELOAD: FIX}
    assert hands.one(oiled, BOLTS).reason == (
        "exciter flange: oiled threads at the dry torque: about 1.33 times the preload, 101 % of "
        "proof load."
    )
    assert hands.one(oiled, BOLTS).checks[0].mistake == "bolts stretched by too much torque"
    assert "101 % of proof load, 90 % is the limit" in hands.one(oiled, PRELOAD).reason


def test_dry_threads_at_the_oiled_torque_clamp_too_little(hands: Any) -> None:
    found = hands.one(hands.judge(hands.job(), hands.bolts(lubrication="oiled")), BOLTS)
    assert "dry threads at the oiled torque: about 0.75 times the preload" in found.reason


# M20 10.9 dry: proof load 203.2 kN, so 0.2 * 0.020 m * 203.2 kN = 812.7 N m is all of it.
@pytest.mark.parametrize(
    ("share", "result"), [(0.799, "pass"), (0.801, "watch"), (0.899, "watch"), (0.901, "hold")]
)
def test_preload_over_proof_load(hands: Any, share: float, result: str) -> None:
    torque = share * 812.7
    card = hands.bolts(torque_stages_nm=[torque])
    found = hands.one(hands.judge(hands.job(torque=_sheet([torque] * 4)), card), PRELOAD)
    assert found.result.value == result
    assert found.value == pytest.approx(share, abs=2e-4)


@pytest.mark.parametrize(
    ("facts", "why"),
    [
        ({"thread": None}, "the card gives no thread"),
        ({"thread": None, "grade": None}, "the card gives no thread and grade"),
        ({"thread": "M21"}, "thread 'M21': the coarse pitch of M21 is not known here"),
        ({"grade": "soft"}, "bolt grade 'soft' is not known here"),
    ],
)
def test_a_preload_that_is_not_known_says_why(hands: Any, facts: Any, why: str) -> None:
    criteria = hands.judge(hands.job(), hands.bolts(**facts))
    found = hands.one(criteria, PRELOAD)
    assert found.result is CriterionResult.WATCH
    assert str(found.value).startswith(f"not computed: {why}")
    oiled = hands.job(torque=_sheet(FIRST, SECOND, [400.0] * 4, threads="oiled"))
    reason = hands.one(hands.judge(oiled, hands.bolts(**facts)), BOLTS).reason
    assert reason.endswith("about 1.33 times the preload.")


def test_a_card_without_bolts_is_no_pass_in_silence(hands: Any) -> None:
    criteria = hands.judge(hands.job(torque=None), hands.card(bolt_group=[]))
    assert hands.bad(criteria) == {"torque": ("watch", "")}
