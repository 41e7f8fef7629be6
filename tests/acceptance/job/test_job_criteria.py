"""Questions of the check list and facts of the job: yes, no, not checked, no name."""

from typing import Any

import pytest

from vibhealth.acceptance import decide, headline, hold_kind
from vibhealth.job import ITEMS, JobItem, JobRecord, Phase, items_of
from vibhealth.model import CriterionResult, Hold, Moment, ReferenceRank, Verdict

NOT_JUDGED = ("not-judged", "measure-again")
EARLY = [item for item in ITEMS if item.moment is None]


@pytest.mark.parametrize("moment", [None, *Moment])
def test_a_clean_job_passes_at_every_moment(hands: Any, moment: Moment) -> None:
    criteria = hands.judge(moment=moment)
    assert hands.bad(criteria) == {}
    assert decide(criteria) is Verdict.PASS


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.id)
def test_every_no_holds_in_its_own_kind(hands: Any, item: JobItem) -> None:
    job = hands.job(check={item.id: {"answer": "no", "by": "X", "remark": "seen at dusk"}})
    criteria = hands.judge(job, moment=Moment.RUN_UP)
    line = f"check-{item.phase.value}"
    assert hands.bad(criteria) == {line: ("hold", item.no_means.value)}
    found = hands.one(criteria, line)
    assert found.reason == f"NO to: {item.question}"
    assert f"no: {item.id} (X, seen at dusk)" in found.detail
    assert [check.step for check in found.checks] == [item.step]
    assert hold_kind(criteria) is item.no_means


@pytest.mark.parametrize("item", EARLY, ids=lambda item: item.id)
def test_every_question_left_open_is_not_judged(hands: Any, item: JobItem) -> None:
    criteria = hands.judge(hands.job(check={item.id: {"answer": "not checked"}}))
    line = f"check-{item.phase.value}"
    assert hands.bad(criteria) == {line: NOT_JUDGED}
    words = item.id.replace("-", " ")
    assert hands.one(criteria, line).reason == f"NOT CHECKED: {words}. Answer needed before PASS."
    assert headline(criteria, rank=ReferenceRank.NAMEPLATE) == (
        f"HOLD - MEASURE AGAIN. NOT CHECKED: {words}. Answer needed before PASS."
    )


def test_stop_now_beats_all_else_that_is_wrong_in_a_phase(hands: Any) -> None:
    answers = {
        "rotation-right": {"answer": "no"},
        "guard-on-at-start": {"answer": "no"},
        "isolators-level": {"answer": "not checked"},
    }
    criteria = hands.judge(hands.job(check=answers))
    found = hands.one(criteria, "check-pre-start")
    assert (found.result, found.hold) == (CriterionResult.HOLD, Hold.STOP_NOW)
    assert found.reason.startswith("NO to: Is the guard on,")
    assert "NO to: Did a short bump" in found.reason
    assert found.reason.endswith("NOT CHECKED: isolators level. Answer needed before PASS.")
    assert headline(criteria, rank=ReferenceRank.NAMEPLATE).startswith(
        "HOLD - STOP NOW. NO to: Is the guard"
    )


def test_a_record_with_nothing_in_it_is_judged_nowhere(hands: Any) -> None:
    criteria = hands.judge(JobRecord.model_validate({"schema_version": 1}))
    found = hands.bad(criteria)
    assert {id_ for id_, how in found.items() if how == NOT_JUDGED} == {
        "job-facts",
        "job-state",
        *(f"check-{phase.value}" for phase in Phase if items_of(phase)[0].moment is None),
        "check-1h",
        "torque-exciter-flange",
        "bolts-exciter-flange",
        "oil-volume",
        "oil-grade",
        "guard-clearance",
        "temperature",
    }
    assert set(found) - {id_ for id_, how in found.items() if how == NOT_JUDGED} == {
        "preload-exciter-flange"
    }
    assert hold_kind(criteria) is Hold.MEASURE_AGAIN


def test_a_half_filled_job_names_some_and_counts_the_rest(hands: Any) -> None:
    build = items_of(Phase.BUILD)
    open_ = {item.id: {"answer": "not checked"} for item in build[5:]}
    found = hands.one(hands.judge(hands.job(check=open_)), "check-build")
    first = ", ".join(item.id.replace("-", " ") for item in build[5:11])
    assert found.reason == (
        f"NOT CHECKED: {first} and {len(build) - 11} more. Answer needed before PASS."
    )
    assert all(item.id in found.detail for item in build[5:])


@pytest.mark.parametrize(
    ("moment", "judged"),
    [
        (Moment.RUN_UP, set()),
        (None, {"check-1h"}),
        (Moment.HOUR_1, {"check-1h"}),
        (Moment.COAST_DOWN, {"check-1h"}),
        (Moment.HOUR_8, {"check-1h", "check-8h"}),
        (Moment.HOUR_24, {"check-1h", "check-8h", "check-24h"}),
        (Moment.DAY_7, {"check-1h", "check-8h", "check-24h", "check-7d"}),
    ],
)
def test_later_looks_count_from_their_moment_on(
    hands: Any, moment: Moment, judged: set[str]
) -> None:
    later = {item.id: {"answer": "not checked"} for item in ITEMS if item.moment is not None}
    found = hands.bad(hands.judge(hands.job(check=later), moment=moment))
    assert found == dict.fromkeys(judged, NOT_JUDGED)


@pytest.mark.parametrize("name", ["?", " - ", "..."])
def test_a_sign_without_letters_is_no_name(hands: Any, name: str) -> None:
    signed = {item.id: {"answer": "yes", "by": name} for item in ITEMS}
    found = hands.bad(hands.judge(hands.job(check=signed, job={"rebuilt_by": name})))
    assert found["job-facts"] == NOT_JUDGED
    assert found["check-build"] == found["check-1h"] == NOT_JUDGED
    numbered = {item.id: {"answer": "yes", "by": "4711"} for item in ITEMS}
    assert hands.bad(hands.judge(hands.job(check=numbered))) == {}


def test_a_noise_that_was_written_down_and_denied_has_to_be_settled(hands: Any) -> None:
    loud = {"noise": "knocking at the feed end"}
    criteria = hands.judge(hands.job(job=loud))
    assert hands.bad(criteria) == {"job-noise": NOT_JUDGED}
    assert "knocking at the feed end" in hands.one(criteria, "job-noise").reason
    for nothing in ("", "none", "No noise.", "-"):
        assert hands.bad(hands.judge(hands.job(job={"noise": nothing}))) == {}
    refused = {"no-new-noise": {"answer": "no", "by": "N. Looker"}}
    assert "job-noise" not in hands.bad(hands.judge(hands.job(job=loud, check=refused)))


def test_a_yes_without_a_name_is_not_judged(hands: Any) -> None:
    unsigned = {item.id: {"answer": "yes"} for item in ITEMS}
    with_rebuilder = hands.judge(hands.job(check=unsigned))
    assert hands.bad(with_rebuilder) == {"check-1h": NOT_JUDGED}
    assert hands.one(with_rebuilder, "check-1h").reason == (
        "NO NAME beside: no leak 1h, no witness marks, guard still tight, no new noise."
    )
    without = hands.judge(hands.job(check=unsigned, job={"rebuilt_by": ""}))
    phases = {f"check-{phase.value}" for phase in list(Phase)[:6]}
    signed = {"torque-exciter-flange", "oil-volume", "oil-grade", "guard-clearance", "job-facts"}
    assert hands.bad(without) == dict.fromkeys(phases | signed, NOT_JUDGED)


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("machine", "machine"),
        ("unit_serial", "serial number of the unit"),
        ("bearing_designation", "designation of the bearings"),
        ("rebuilt_by", "who rebuilt it"),
        ("rebuild_finished", "when the rebuild was finished"),
        ("machine_started", "when the machine was started"),
    ],
)
def test_facts_that_nobody_wrote_down(hands: Any, key: str, words: str) -> None:
    found = hands.one(hands.judge(hands.job(job={key: ""})), "job-facts")
    assert (found.result, found.hold) == (CriterionResult.NOT_JUDGED, Hold.MEASURE_AGAIN)
    assert found.reason == f"NOT WRITTEN DOWN: {words}. Answer needed before PASS."


@pytest.mark.parametrize("name", ["f3", "Deck feeder F3", "Deck feeder F3 (F3)"])
def test_the_machine_is_known_by_id_and_name(hands: Any, name: str) -> None:
    assert hands.bad(hands.judge(hands.job(job={"machine": name}))) == {}


def test_a_record_of_another_machine_holds(hands: Any) -> None:
    found = hands.one(hands.judge(hands.job(job={"machine": "F4"})), "job-facts")
    assert (found.result, found.hold) == (CriterionResult.HOLD, Hold.MEASURE_AGAIN)
    assert found.reason == (
        "The job record is about F4, the machine card about Deck feeder F3 (F3)."
    )


@pytest.mark.parametrize(
    ("facts", "result", "reason"),
    [
        ({"load": ""}, "not-judged", "NOT CHECKED: empty or loaded."),
        ({"load": "loaded"}, "hold", "The recordings were made with the machine loaded."),
        (
            {"point_checked": "not checked"},
            "not-judged",
            "NOT CHECKED: sensor at the marked point.",
        ),
        ({"point_checked": "no"}, "hold", "The sensor did not sit at the marked point."),
    ],
)
def test_the_state_of_the_recordings(hands: Any, facts: Any, result: str, reason: str) -> None:
    criteria = hands.judge(hands.job(job=facts))
    assert hands.bad(criteria) == {"job-state": (result, "measure-again")}
    assert hands.one(criteria, "job-state").reason.startswith(reason)


@pytest.mark.parametrize(
    ("on_card", "result"),
    [
        ("Roller bearing bore 100mm", "pass"),
        ("roller bearing, bore 100 mm, C4", "pass"),
        ("roller bearing, bore 110 mm", "watch"),
        (None, None),
    ],
)
def test_parts_and_card_name_the_same_bearing(
    hands: Any, on_card: str | None, result: str | None
) -> None:
    bearing = {"name": "DE", "orders": {"outer_ring": 7.1, "inner_ring": 9.9}, "element_count": 17}
    if on_card is not None:
        bearing["designation"] = on_card
    criteria = hands.judge(None, hands.card(bearing=[bearing]))
    if result is None:
        assert all(item.id != "bearing-designation" for item in criteria)
    else:
        assert hands.one(criteria, "bearing-designation").result.value == result
