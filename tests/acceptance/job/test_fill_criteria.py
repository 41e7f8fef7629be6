"""Oil and guard: both sides of every limit."""

from typing import Any

import pytest

FIX, NOT_JUDGED, WATCH = ("hold", "fix"), ("not-judged", "measure-again"), ("watch", "")


@pytest.mark.parametrize(
    ("litres", "reason"),
    [
        (4.05, ""),
        (4.95, ""),
        (4.04, "Too little oil: 4.04 L filled in, the card says 4.5 L (-10 %)."),
        (4.96, "Too much oil: 4.96 L filled in, the card says 4.5 L (+10 %)."),
        (9.0, "Too much oil: 9 L filled in, the card says 4.5 L (+100 %)."),
        (0.0, "Too little oil: 0 L filled in, the card says 4.5 L (-100 %)."),
    ],
)
def test_litres_may_be_ten_per_cent_off(hands: Any, litres: float, reason: str) -> None:
    criteria = hands.judge(hands.job(oil={"filled_l": litres}))
    assert hands.bad(criteria) == ({"oil-volume": FIX} if reason else {})
    assert hands.one(criteria, "oil-volume").reason == reason


@pytest.mark.parametrize(
    ("grade", "is_right"),
    [
        ("ISO VG 220", True),
        ("iso vg220", True),
        ("VG 220", True),
        ("220", True),
        ("ISO VG 22", False),
        ("ISO VG 150", False),
        ("gear oil", False),
    ],
)
def test_grade_of_the_oil(hands: Any, grade: str, is_right: bool) -> None:
    criteria = hands.judge(hands.job(oil={"grade": grade}))
    assert hands.bad(criteria) == ({} if is_right else {"oil-grade": FIX})
    if not is_right:
        reason = f"Wrong oil: {grade} filled in, the card says ISO VG 220."
        assert hands.one(criteria, "oil-grade").reason == reason


@pytest.mark.parametrize(
    ("oil", "card", "expected"),
    [
        ({"filled_l": ""}, None, {"oil-volume": NOT_JUDGED}),
        ({"grade": ""}, None, {"oil-grade": NOT_JUDGED}),
        ({}, {"grade": "ISO VG 220"}, {"oil-volume": WATCH}),
        ({}, {"volume_l": 4.5}, {"oil-grade": WATCH}),
        ({"filled_l": ""}, {}, {"oil-volume": NOT_JUDGED, "oil-grade": WATCH}),
    ],
)
def test_oil_that_nobody_wrote_down(hands: Any, oil: Any, card: Any, expected: Any) -> None:
    given = hands.card() if card is None else hands.card(oil=card)
    assert hands.bad(hands.judge(hands.job(oil=oil), given)) == expected


@pytest.mark.parametrize(
    ("gaps", "how", "reason"),
    [
        ([15.0, 20.0, 20.0, 20.0], None, ""),
        (
            [20.0, 14.9, 20.0, 20.0],
            FIX,
            "Guard too close: 14.9 mm at place 2 of 4, the card asks for 15 mm.",
        ),
        ([], NOT_JUDGED, "NOT CHECKED: clearance at the guard. Answer needed before PASS."),
        ([20.0] * 3, NOT_JUDGED, "The clearance was measured at 3 of at least 4 places."),
        ([3.0], FIX, "Guard too close: 3 mm at place 1 of 1, the card asks for 15 mm."),
    ],
)
def test_clearance_at_the_guard(hands: Any, gaps: list[float], how: Any, reason: str) -> None:
    criteria = hands.judge(hands.job(clearance={"guard_mm": gaps}))
    assert hands.bad(criteria) == ({"guard-clearance": how} if how else {})
    assert hands.one(criteria, "guard-clearance").reason == reason


@pytest.mark.parametrize(
    ("swing", "how"), [(12.7, None), (12.9, WATCH), (15.9, WATCH), (16.0, FIX), (30.0, FIX)]
)
def test_the_swing_must_not_reach_the_smallest_gap(hands: Any, swing: float, how: Any) -> None:
    """Smallest gap 16 mm: watch above 12.8 mm, hold from 16 mm on."""
    criteria = hands.judge(swing=swing)
    assert hands.bad(criteria) == ({"guard-swing": how} if how else {})
    if how == FIX:
        assert hands.one(criteria, "guard-swing").reason == (
            f"The body swings {swing:.1f} mm to one side while starting or stopping, the smallest "
            "gap at the guard is 16 mm."
        )


def test_a_gap_of_nothing_holds_at_any_swing(hands: Any) -> None:
    criteria = hands.judge(hands.job(clearance={"guard_mm": [0.0, 20.0, 20.0, 20.0]}), swing=0.5)
    assert hands.bad(criteria) == {"guard-clearance": FIX, "guard-swing": FIX}


def test_without_a_guard_on_the_card_only_the_swing_is_judged(hands: Any) -> None:
    criteria = hands.judge(None, hands.card(guard=None), swing=17.0)
    assert hands.bad(criteria) == {"guard-swing": FIX}
    assert all(item.id != "guard-clearance" for item in criteria)
