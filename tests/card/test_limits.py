"""Limits in force: default, derived from the card, or given, each with its source."""

import re
from collections.abc import Callable

import pytest

from vibhealth.card import LIMIT_DEFINITIONS, Limits, MachineCard
from vibhealth.card.limit_table import FALLING
from vibhealth.errors import CardError, SettingsError

Make = Callable[..., MachineCard]
PRACTICE = "starting value, common practice, no source"


def with_limits(card: Make, *lines: str) -> MachineCard:
    return card(("[limits]\n", "[limits]\n" + "\n".join(lines) + "\n"))


def test_defaults_lie_within_their_own_rules(card: Make) -> None:
    for limit in LIMIT_DEFINITIONS:
        if limit.default is None:
            continue
        assert limit.low <= limit.default <= limit.high
        given = with_limits(card, f"{limit.id} = {limit.default}")
        assert given.limits.value(limit.id) == limit.default
    assert len({limit.id for limit in LIMIT_DEFINITIONS}) == len(LIMIT_DEFINITIONS)


def test_a_default_says_that_it_has_no_source() -> None:
    limits = Limits.default()
    assert limits.value("depth_hold") == 0.30
    assert limits.source("depth_hold") == PRACTICE
    assert limits.source("temperature_hold_c").startswith("US Army TM 5-3895-374-24-2, p. 3-1287")


def test_a_given_limit_names_card_and_source(card: Make) -> None:
    given = with_limits(
        card, "depth_watch = 0.1", 'depth_hold = { value = 0.5, source = "three rebuilds" }'
    )
    assert given.limits.value("depth_watch") == 0.1
    assert given.limits.source("depth_watch") == f"card {given.path}, no source given"
    assert given.limits.value("depth_hold") == 0.5
    assert given.limits.source("depth_hold") == f"card {given.path}, three rebuilds"


def test_a_limit_without_default_is_not_applied_unless_given(card: Make) -> None:
    limit = "detectable_impact_hold_m_s2"
    assert Limits.default().optional_value(limit) is None
    message = "limit 'detectable_impact_hold_m_s2' has no default and the card gives none"
    with pytest.raises(SettingsError, match=re.escape(message)):
        Limits.default().value(limit)
    assert with_limits(card, f"{limit} = 0.5").limits.value(limit) == 0.5


def test_tolerances_of_the_card_become_limits(card: Make) -> None:
    limits = card(
        ("= 978.0", "= 978.0\nspeed_tolerance_percent = 4\ntemperature_limit_c = 75"),
        ("stroke_mm =", "stroke_tolerance_percent = 8\nstroke_mm ="),
    ).limits
    assert limits.value("speed_hold_percent") == 4.0
    assert limits.source("speed_hold_percent") == "card, machine.speed_tolerance_percent"
    assert limits.value("stroke_watch_percent") == 8.0
    assert limits.value("stroke_hold_percent") == pytest.approx(12.0)
    assert (
        limits.source("stroke_hold_percent") == "1.5 times card, exciter.stroke_tolerance_percent"
    )
    assert limits.value("temperature_hold_c") == 75.0


def test_a_narrow_speed_tolerance_does_not_tighten_the_default(card: Make) -> None:
    limits = card(("= 978.0", "= 978.0\nspeed_tolerance_percent = 1")).limits
    assert limits.value("speed_hold_percent") == 3.0
    assert limits.source("speed_hold_percent") == PRACTICE


def test_a_given_limit_outranks_the_tolerance(card: Make) -> None:
    limits = card(
        ("= 978.0", "= 978.0\nspeed_tolerance_percent = 4"),
        ("[limits]\n", "[limits]\nspeed_hold_percent = 2.5\n"),
    ).limits
    assert limits.value("speed_hold_percent") == 2.5


@pytest.mark.parametrize(
    ("line", "refusal"),
    [
        (
            "depth_hol = 1",
            "limits.depth_hol: is not a known limit (did you mean 'depth_hold'?), found 1.0",
        ),
        ("depth_hold = 20", "limits.depth_hold: must lie between 0.001 and 10, found 20.0"),
        ("depth_hold = true", "limits.depth_hold: must be a number, found true"),
        ("depth_hold = nan", "limits.depth_hold: must be a finite number, found nan"),
        ('depth_hold = "0.3"', 'limits.depth_hold: must be a number, found "0.3"'),
        ("depth_hold = {}", "limits.depth_hold.value: is required, found nothing"),
        (
            'depth_hold = { value = 1, sorce = "x" }',
            "limits.depth_hold.sorce: is not a known key (did you mean 'source'?), found \"x\"",
        ),
        (
            "minimum_recordings = 1.5",
            "limits.minimum_recordings: must be a whole number, found 1.5",
        ),
        (
            "harmonic_ratio_hold = 0.1",
            f"limits.harmonic_ratio_hold: must not be below harmonic_ratio_watch (0.25, {PRACTICE}), found 0.1",
        ),
        (
            "harmonic_ratio_watch = 0.6",
            f"limits.harmonic_ratio_watch: must not be above harmonic_ratio_hold (0.5, {PRACTICE}), found 0.6",
        ),
        (
            "minimum_turns = 2000",
            (
                f"limits.minimum_turns: must not be above recommended_turns (1000, {PRACTICE}), "
                "found 2000.0"
            ),
        ),
    ],
)
def test_a_limit_that_cannot_be_meant_is_refused(card: Make, line: str, refusal: str) -> None:
    with pytest.raises(CardError) as caught:
        with_limits(card, line)
    assert str(caught.value).partition("card.toml: ")[2] == refusal


def test_watch_and_hold_may_be_equal(card: Make) -> None:
    limits = with_limits(card, "harmonic_ratio_watch = 0.5").limits
    assert limits.value("harmonic_ratio_watch") == limits.value("harmonic_ratio_hold")


def test_every_watch_limit_is_held_below_its_hold(card: Make) -> None:
    pairs = [
        (limit.id, limit.id.replace("_watch", "_hold"))
        for limit in LIMIT_DEFINITIONS
        if "_watch" in limit.id and limit.id not in FALLING
    ]
    assert len(pairs) >= 23
    for watch, hold in pairs:
        swapped = (Limits.default().value(hold), Limits.default().value(watch))
        with pytest.raises(
            CardError, match=f"{watch}: must not be above {hold} \\(.*, card, no source given\\)"
        ):
            with_limits(card, f"{watch} = {swapped[0]}", f"{hold} = {swapped[1]}")


def test_what_is_worse_the_smaller_has_its_hold_below_its_watch(card: Make) -> None:
    for watch in FALLING:
        hold = watch.replace("_watch", "_hold")
        values = Limits.default().value(watch), Limits.default().value(hold)
        assert values[1] < values[0]
        with pytest.raises(CardError, match=f"{hold}: must not be above {watch}"):
            with_limits(card, f"{watch} = {values[1]}", f"{hold} = {values[0]}")


def test_an_unknown_limit_is_refused_with_a_suggestion() -> None:
    message = "limit 'depth_hld' is not known (did you mean 'depth_hold'?)"
    with pytest.raises(SettingsError, match=re.escape(message)):
        Limits.default().source("depth_hld")


def test_what_would_have_been_found_is_watched_above_what_counts_as_found() -> None:
    """Nothing below depth_watch counts as found, so no recording could ever pass a lower limit."""
    limits = Limits.default()
    watch, hold = (limits.value(f"detectable_depth_{kind}") for kind in ("watch", "hold"))
    smallest, largest = limits.value("depth_watch"), limits.value("depth_hold")
    assert smallest < watch < hold <= largest
    assert watch == pytest.approx((smallest + largest) / 2)
    assert "at least watch size" in next(
        row.meaning for row in limits.rows if row.id == "detectable_depth_watch"
    )
