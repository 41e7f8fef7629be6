"""From criteria to one of four answers: kinds, order, words, and no criterion without effect."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vibhealth.acceptance import decide, headline, hold_kind, next_step, reasons
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Group,
    Hold,
    MachineCheck,
    ReferenceRank,
    Verdict,
)

Judged = Callable[..., Assessment]

# In the order of the report.
GROUPS = list(Group)


def line(
    result: str,
    *,
    hold: Hold | None = None,
    group: Group = Group.BEARING,
    id_: str = "some",
    title: str = "Some title",
) -> Criterion:
    text = f"{id_} {group} {result} {hold}"
    return Criterion(
        id=id_,
        group=group,
        title=title,
        result=CriterionResult(result),
        value=1.0,
        unit="1",
        limit=2.0,
        limit_source="table",
        advice=f"do {text}",
        hold=hold,
        reason=f"because {text}" if result in {"hold", "not-judged"} else "",
    )


FINE = line("pass")
WATCH = line("watch")
STOP = line("hold", hold=Hold.STOP_NOW, group=Group.STATE)
FIX = line("hold", hold=Hold.FIX)
SPOILED = line("hold", hold=Hold.MEASURE_AGAIN, group=Group.RECORDING)
SCALED = line("hold", hold=Hold.MEASURE_AGAIN, group=Group.MOTION)
UNSTEADY = line("hold", hold=Hold.MEASURE_AGAIN, group=Group.STATE)
COARSE = line("hold", hold=Hold.MEASURE_AGAIN, group=Group.SENSITIVITY)
SPREAD = line("hold", hold=Hold.MEASURE_AGAIN, group=Group.STABILITY)
UNKNOWN = line("not-judged", hold=Hold.MEASURE_AGAIN, group=Group.MOTION)
BARE = line("not-judged")


@pytest.mark.parametrize(
    ("criteria", "kind"),
    [
        ([FINE], None),
        ([FINE, WATCH], None),
        ([FIX], Hold.FIX),
        ([UNKNOWN], Hold.MEASURE_AGAIN),
        ([BARE], Hold.MEASURE_AGAIN),
        ([SPOILED], Hold.MEASURE_AGAIN),
        ([COARSE], Hold.MEASURE_AGAIN),
        ([STOP, FIX, SPOILED, UNKNOWN], Hold.STOP_NOW),
        ([FIX, SPOILED], Hold.MEASURE_AGAIN),
        ([FIX, SCALED], Hold.MEASURE_AGAIN),
        ([FIX, UNSTEADY], Hold.MEASURE_AGAIN),
        ([FIX, UNKNOWN], Hold.FIX),
        ([FIX, BARE], Hold.FIX),
        ([FIX, COARSE], Hold.FIX),
        ([FIX, SPREAD], Hold.FIX),
    ],
)
def test_kind_of_hold(criteria: list[Criterion], kind: Hold | None) -> None:
    for order in (criteria, criteria[::-1], [FINE, *criteria, WATCH]):
        assert hold_kind(order) is kind
        assert decide(order) is (Verdict.PASS if kind is None else Verdict.HOLD)


def test_reasons_begin_with_the_verdicts_own_kind_and_hide_none() -> None:
    everything = [WATCH, UNKNOWN, FIX, SPOILED, STOP, FINE]
    assert reasons(everything) == (
        STOP.reason,
        SPOILED.reason,
        UNKNOWN.reason,
        FIX.reason,
        f"Watch: some title - {WATCH.advice}",
    )
    assert reasons([UNKNOWN, COARSE, FIX]) == (FIX.reason, COARSE.reason, UNKNOWN.reason)
    assert reasons([FINE]) == ()
    assert reasons([FIX, FIX]) == (FIX.reason,)


def test_too_few_recordings_come_after_what_is_wrong_with_those_there_are() -> None:
    few = line("hold", hold=Hold.MEASURE_AGAIN, group=Group.RECORDING, id_="recording-count")
    said = reasons([few, UNKNOWN, UNSTEADY])
    assert said == (UNSTEADY.reason, UNKNOWN.reason, few.reason)
    none = replace(few, result=CriterionResult.NOT_JUDGED)
    assert reasons([none, UNKNOWN])[0] == none.reason


def test_the_step_to_look_at_is_that_of_the_first_reason_of_its_kind_that_names_one() -> None:
    check = MachineCheck(
        step="sensor", mistake="a cable whips", check="Look.", seen_by_vibration="well"
    )
    named = replace(UNSTEADY, checks=(check,))
    assert next_step([SPOILED, named]).checks == (check,)
    assert next_step([SPOILED, named]).action == SPOILED.advice
    other_kind = replace(FIX, checks=(check,))
    assert next_step([SPOILED, other_kind]).checks == ()


def test_a_failed_line_without_a_sentence_still_gets_one() -> None:
    mute = replace(BARE, reason="")
    assert reasons([mute]) == ("Some title: not judged.",)
    assert (
        headline([mute], rank=ReferenceRank.NAMEPLATE)
        == "HOLD - MEASURE AGAIN. Some title: not judged."
    )


@pytest.mark.parametrize("group", GROUPS)
def test_only_what_the_machine_shows_is_named_for_watching(group: Group) -> None:
    named = reasons([line("watch", group=group)])
    assert bool(named) == (group in {Group.BEARING, Group.MOTION})
    assert reasons([line("watch", group=group, id_="blind-spots")]) == ()
    assert reasons([line("watch", title="RMS at P1X")])[0].startswith("Watch: RMS at P1X - ")


@pytest.mark.parametrize(
    ("criteria", "first"),
    [
        ([FIX, STOP], f"HOLD - STOP NOW. {STOP.reason}"),
        ([UNKNOWN, FIX], f"HOLD - FIX. {FIX.reason}"),
        ([FIX, SPOILED], f"HOLD - MEASURE AGAIN. {SPOILED.reason}"),
    ],
)
def test_the_first_line_is_the_first_reason(criteria: list[Criterion], first: str) -> None:
    for rank in ReferenceRank:
        assert headline(criteria, rank=rank) == first
    assert reasons(criteria)[0] in first


def test_the_first_line_of_a_pass() -> None:
    clean = "No fault found, and a small bearing fault would have been seen."
    assert (
        headline([FINE], rank=ReferenceRank.NAMEPLATE) == f"PASS on absolute checks only. {clean}"
    )
    assert headline([FINE], rank=ReferenceRank.KNOWN_GOOD) == f"PASS. {clean}"
    small = replace(WATCH, id="family-DE-cage")
    ticking = headline([FINE, small], rank=ReferenceRank.KNOWN_GOOD)
    assert ticking == "PASS. A small regular ticking is there, too small to hold: check early."
    assert (
        headline([line("watch", group=Group.RECORDING)], rank=ReferenceRank.KNOWN_GOOD)
        == f"PASS. {clean}"
    )
    for id_, group, words in (
        ("blind-spots", Group.BEARING, "Blind spot: 1.0."),
        ("points-recorded", Group.RECORDING, "Not recorded, of the card's points: 1.0."),
    ):
        found = headline([line("watch", group=group, id_=id_)], rank=ReferenceRank.KNOWN_GOOD)
        assert found == f"PASS. {clean} {words}"


def test_what_to_do_next() -> None:
    stop, again, fix = (next_step(found) for found in ([FIX, STOP], [SPOILED, FIX], [UNKNOWN, FIX]))
    assert stop.action == f"Press stop, lock out. {STOP.advice}"
    assert stop.check_at == "Do not restart before this is put right"
    assert again.action == SPOILED.advice
    assert again.check_at == "Now: record again before the machine is handed back"
    assert fix.action == FIX.advice
    assert fix.check_at == "Record again after the repair, warm and empty"
    mute = [replace(item, advice="") for item in (FIX, SPOILED)]
    assert next_step(mute[:1]).action == "Lock out and put this right."
    assert next_step(mute[1:]).action == "Record again."


@pytest.mark.parametrize("group", GROUPS)
def test_when_to_check_after_a_pass(group: Group) -> None:
    usual, early = "At 8 h, 24 h and 7 days of running", "Within 4 h of running, then at 8 h"
    assert next_step([FINE]).check_at == usual
    assert "signed off" in next_step([FINE]).action
    found = next_step([FINE, line("watch", group=group)]).check_at
    if group in {Group.BEARING, Group.MOTION, Group.IMPROVEMENT}:
        assert found.startswith(early)
    else:
        assert found == usual
    assert next_step([line("watch", group=group, id_="blind-spots")]).check_at == usual


def test_every_criterion_of_a_pass_can_hold_it(judged: Judged) -> None:
    """Worsen one line at a time: none is for show."""
    assessment = judged(temperature_c=50.0, remarks=(("load", "empty"),))
    criteria = assessment.criteria
    assert assessment.verdict is Verdict.PASS
    assert len(criteria) > 15
    for place, criterion in enumerate(criteria):
        for result in (CriterionResult.HOLD, CriterionResult.NOT_JUDGED):
            worse = [*criteria]
            worse[place] = replace(criterion, result=result, reason="worse")
            assert decide(worse) is Verdict.HOLD, criterion.id
            assert hold_kind(worse) is Hold.MEASURE_AGAIN
            assert reasons(worse)[0] == "worse"
            assert headline(worse, rank=ReferenceRank.NAMEPLATE) == "HOLD - MEASURE AGAIN. worse"


@st.composite
def criteria_of_any_kind(draw: st.DrawFn) -> list[Criterion]:
    results = st.sampled_from(["pass", "watch", "hold", "not-judged"])
    kinds = st.sampled_from([None, *Hold])
    count = draw(st.integers(1, 8))
    return [
        line(draw(results), hold=draw(kinds), group=draw(st.sampled_from(GROUPS)), id_=f"c{n}")
        for n in range(count)
    ]


@given(criteria=criteria_of_any_kind(), data=st.data())
def test_any_set_of_criteria(criteria: list[Criterion], data: st.DataObject) -> None:
    """Verdict, kind, first line and reasons agree; their order decides nothing but the order."""
    failed = [c for c in criteria if c.result.value in {"hold", "not-judged"}]
    kind = hold_kind(criteria)
    assert (decide(criteria) is Verdict.PASS) == (not failed) == (kind is None)
    assert {c.reason for c in failed} <= set(reasons(criteria))
    first = headline(criteria, rank=ReferenceRank.NAMEPLATE)
    assert first.startswith("PASS" if kind is None else "HOLD")
    if kind is not None:
        assert first.endswith(reasons(criteria)[0])
        assert (kind is Hold.STOP_NOW) == any(c.hold is Hold.STOP_NOW for c in failed)
        own = next(c for c in failed if c.reason == reasons(criteria)[0])
        assert (own.hold or Hold.MEASURE_AGAIN) is kind
        assert next_step(criteria).action.endswith(own.advice)
    shuffled = data.draw(st.permutations(criteria))
    assert hold_kind(shuffled) is kind
    assert set(reasons(shuffled)) == set(reasons(criteria))


def test_of_nothing_judged_there_is_no_pass() -> None:
    assert decide([]) is Verdict.HOLD
    assert hold_kind([]) is Hold.MEASURE_AGAIN
    assert (
        headline([], rank=ReferenceRank.KNOWN_GOOD) == "HOLD - MEASURE AGAIN. Nothing was judged."
    )
    assert reasons([]) == ("Nothing was judged.",)
    assert next_step([]).action == "Record the machine."


def test_what_only_disturbs_is_no_ticking() -> None:
    for id_ in ("disturbances", "masked", "blind-spots"):
        assert "No fault found" in headline([line("watch", id_=id_)], rank=ReferenceRank.KNOWN_GOOD)
    assert "ticking" in headline(
        [line("watch", id_="family-DE-cage")], rank=ReferenceRank.KNOWN_GOOD
    )


def test_a_first_line_calls_nothing_small_that_is_of_hold_size() -> None:
    small = replace(WATCH, id="family-DE-cage")
    watch = replace(WATCH, id="family-DE-outer-ring", value=0.31, limit=0.3)
    assert "too few recordings to hold" in headline([small, watch], rank=ReferenceRank.KNOWN_GOOD)
    assert "too small to hold" in headline(
        [replace(watch, value=0.29)], rank=ReferenceRank.KNOWN_GOOD
    )


def test_a_rougher_bearing_is_no_ticking() -> None:
    rough = replace(WATCH, id="bearing-band-over-baseline")
    first = headline([FINE, rough], rank=ReferenceRank.KNOWN_GOOD)
    assert (
        first == "PASS. No fault to hold, but it sounds otherwise than the reference: check early."
    )
    blind = replace(WATCH, id="blind-spots", value="cage")
    assert "ticking" not in headline([FINE, blind], rank=ReferenceRank.KNOWN_GOOD)
