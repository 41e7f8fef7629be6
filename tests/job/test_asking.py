"""Walking through the open questions: what is typed is what stands in the record."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from vibhealth.card import read_card
from vibhealth.errors import JobError
from vibhealth.job import (
    ITEM_BY_ID,
    Asked,
    Console,
    Phase,
    ask_job,
    edit_record,
    filled_record,
    read_job,
)
from vibhealth.job.questions import all_questions, open_questions
from vibhealth.job.typed import typed_number, typed_numbers, typed_time
from vibhealth.model import Hold

NOW = datetime(2031, 3, 5, 13, 0, 30, 987, tzinfo=UTC)


class Talk:
    """A scripted user: typed lines by question, everything said, a clock that can be set."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.now = NOW

    @property
    def text(self) -> str:
        return "\n".join(self.said)

    def ask(self, job: Path, *lines: str, by: str | None = "A. N.", **options: object) -> Asked:
        typed: Iterator[str] = iter(lines)

        def next_line(prompt: str) -> str | None:
            self.said.append(prompt)
            return next(typed, None)

        console = Console(say=self.said.append, ask=next_line, now=lambda: self.now)
        return ask_job(job, console=console, by=by, **options)  # type: ignore[arg-type]


@pytest.fixture
def talk() -> Talk:
    return Talk()


@pytest.fixture
def filled(job: Path) -> Callable[..., Path]:
    """The invented record, answered until a phase."""

    def fill(**options: object) -> Path:
        started = NOW.replace(microsecond=0) - timedelta(hours=2)
        text = filled_record(read_card(job / "F3.toml"), by="B", at=started, **options)  # type: ignore[arg-type]
        (job / "job.toml").write_text(text, "utf-8")
        return job

    return fill


def ahead_of(job: Path, question_id: str) -> list[str]:
    """Empty lines that lead from the first question of the build to this one."""
    ids = [question.id for question in open_questions(read_job(job), from_phase=Phase.BUILD)]
    return [""] * ids.index(question_id)


def test_an_answer_is_signed_and_written_at_once(job: Path, talk: Talk) -> None:
    asked = talk.ask(job, "y", "n no bags there", by=" A. N. ")
    answer = read_job(job).answer("as-found-recorded")
    assert (answer.answer, answer.by, answer.at) == ("yes", "A. N.", NOW.replace(microsecond=0))
    no = read_job(job).answer("match-marked")
    assert (no.answer, no.remark) == ("no", "no bags there")
    assert "put it right before going on; then: vibhealth job ask --again" in talk.text
    assert asked.open == len(open_questions(read_job(job)))
    assert not asked.stop_now


def test_who_answers_is_asked_until_it_is_known(job: Path, talk: Talk) -> None:
    talk.ask(job, "", "  ", "?", "Eva Maß", "y", by=None)
    assert read_job(job).answer("as-found-recorded").by == "Eva Maß"
    assert talk.text.count("every answer is signed: type your name") == 3
    assert talk.ask(job, "q", by=None).open == len(open_questions(read_job(job)))


def test_a_question_mark_signs_nothing(job: Path, talk: Talk) -> None:
    talk.ask(job, "4711", "y", by="?")
    assert read_job(job).answer("as-found-recorded").by == "4711"


def test_it_goes_on_with_the_first_open_question(job: Path, talk: Talk) -> None:
    talk.ask(job, "y", "", "y", "q")  # the second is left for later
    again = Talk()
    again.ask(job, "q")
    assert ITEM_BY_ID["match-marked"].question in again.text
    assert ITEM_BY_ID["as-found-recorded"].question not in again.text
    assert ITEM_BY_ID["oil-drained"].question not in again.text


def test_why_is_explained_and_nonsense_asked_again(job: Path, talk: Talk) -> None:
    talk.ask(job, "?", "perhaps", "yes.")
    assert ITEM_BY_ID["as-found-recorded"].why in talk.text
    assert '"perhaps" is no answer; type y or n' in talk.text
    assert read_job(job).answer("as-found-recorded").answer == "yes"


def test_cautions_come_before_each_phase(job: Path, talk: Talk) -> None:
    talk.ask(job, "", "")
    stripping = talk.text.index("== STRIPPING ==")
    assert talk.text.index("Oil may be hot") > stripping
    assert talk.text.index("Oil may be hot") < talk.text.index("match-marked, and")


def test_a_bad_sign_at_the_start_stops_the_walk(filled: Callable[..., Path], talk: Talk) -> None:
    job = filled(until=Phase.PRE_START)
    asked = talk.ask(job, "now", "n loud clang", "y", "y")
    assert asked.stop_now
    assert "STOP NOW: press stop, lock out, tag, try." in talk.text
    assert ITEM_BY_ID["no-contact"].question not in talk.text
    assert read_job(job).answer("no-knock").remark == "loud clang"


def test_every_sign_to_abort_means_stop_now() -> None:
    for name in ("no-knock", "no-contact", "no-smoke", "no-oil-running", "full-speed"):
        assert ITEM_BY_ID[name].no_means is Hold.STOP_NOW
    assert all(
        item.no_means is Hold.STOP_NOW
        for name, item in ITEM_BY_ID.items()
        if "leak" in name or "someone" in name
    )


def test_what_was_answered_no_is_asked_again_on_demand(
    filled: Callable[..., Path], talk: Talk
) -> None:
    job = filled(until=Phase.PRE_START, no={"seals-new": "lip folded"})
    assert "seals" not in "".join(q.id for q in open_questions(read_job(job)))
    talk.ask(job, "y new one fitted", "q", again=True)
    answer = read_job(job).answer("seals-new")
    assert (answer.answer, answer.by) == ("yes", "A. N.")
    assert answer.remark == "new one fitted; before: no (B, 2031-03-05 08:00:30+00:00): lip folded"


def test_nobody_is_led_past_an_open_question_into_the_start(
    filled: Callable[..., Path], talk: Talk
) -> None:
    job = filled(until=Phase.PRE_START, no={"braces-out": "one is stuck"})
    talk.ask(job, "q", from_phase=Phase.START)
    assert "NOT READY TO START: 1 earlier questions are open or answered no" in talk.text


def test_later_checks_wait_for_their_time(filled: Callable[..., Path], talk: Talk) -> None:
    job = filled(until=Phase.HOUR_1)
    asked = talk.ask(job, *["y"] * 9)
    assert asked.open == 3
    assert f"not before 2031-03-05 17:00+00:00: {ITEM_BY_ID['no-leak-8h'].question}" in talk.text
    talk.now = NOW + timedelta(hours=6)
    assert talk.ask(job, *["y"] * 9).open == 2
    assert read_job(job).answer("no-leak-8h").answer == "yes"


def test_later_checks_need_the_time_of_the_start(job: Path, talk: Talk) -> None:
    talk.ask(job, *["y"] * 9, from_phase=Phase.DAY_7)
    assert "not before the time of the first start is given" in talk.text
    assert read_job(job).answer("no-leak-7d").answer == "not checked"


def test_torques_stage_by_stage(job: Path, talk: Talk) -> None:
    skipped = ahead_of(job, "torque.exciter-flange.threads")
    each = " ".join(str(torque) for torque in range(391, 403))
    told = talk.ask(
        job, *skipped, "wet", "oiled", "y", "207 ft lb", "280", "1 2 3", each, "q",
        from_phase=Phase.BUILD,
    )  # fmt: skip
    assert told.open > 0
    sheet = read_job(job).torque["exciter-flange"]
    assert sheet.stages == ((120.0,) * 12, (280.0,) * 12, tuple(map(float, range(391, 403))))
    assert (sheet.unit, sheet.threads, sheet.by) == ("N m", "oiled", "A. N.")
    assert "the other stages of this group are in N m; give this one in N m" in talk.text
    assert "3 torques for 12 bolts; type one for all, or 12" in talk.text


def test_torques_in_foot_pounds_as_the_card_says(job: Path, talk: Talk) -> None:
    skipped = ahead_of(job, "torque.exciter-flange.threads")
    talk.ask(job, *skipped, "y", "y ft lb", "y", "295", "q", from_phase=Phase.BUILD)
    sheet = read_job(job).torque["exciter-flange"]
    assert sheet.unit == "ft lb"
    # 120, 280 and 400 N m over 1.3558 N m per ft lb.
    assert [row[0] for row in sheet.stages] == [88.5, 206.5, 295.0]
    assert sheet.threads == "dry"


def test_an_implausible_torque_is_asked_again(job: Path, talk: Talk) -> None:
    skipped = ahead_of(job, "torque.exciter-flange.threads")
    talk.ask(job, *skipped, "dry", "12", "88.5", "120", from_phase=Phase.BUILD)
    assert "is implausible for this stage (the card says 120 N m)" in talk.text
    assert "looks like ft lb, not N m" in talk.text
    assert read_job(job).torque["exciter-flange"].stages[0] == (120.0,) * 12


def test_bolts_answered_for_all_stand_in_each_sheet(job: Path, talk: Talk) -> None:
    skipped = ahead_of(job, "check.bolts-new")
    talk.ask(job, *skipped, "y", "q", from_phase=Phase.BUILD)
    sheet = read_job(job).torque["exciter-flange"]
    assert (sheet.new_bolts, sheet.repeat_pass) == ("yes", "not checked")


def test_oil_clearance_names_and_times(job: Path, talk: Talk) -> None:
    skipped = ahead_of(job, "clearance.guard_mm")
    lines = [*skipped, "16,5 15 17 mm", "y", "y", "y", "y", "VG 220", "4,5 l"]
    lines += ["y", "y", "y", "12:40"]
    talk.ask(job, *lines, from_phase=Phase.BUILD)
    record = read_job(job)
    assert record.clearance.guard_mm == (16.5, 15.0, 17.0)
    assert (record.oil.grade, record.oil.filled_l) == ("VG 220", 4.5)
    assert record.job.rebuilt_by == "A. N."
    assert record.job.rebuild_finished == NOW.replace(hour=12, minute=40, second=0, microsecond=0)
    assert "the card states no grade to say yes or no to" in talk.text


def test_temperatures_are_asked_until_they_level(filled: Callable[..., Path], talk: Talk) -> None:
    job = filled(until=Phase.PRE_START)
    talk.ask(job, "now", *["y"] * 6, "25 18", "q")
    for minutes, typed in ((2, ""), (12, "33,5 18"), (22, "34.2")):
        talk.now = NOW + timedelta(minutes=minutes)
        talk.ask(job, *([typed] if typed else []), from_phase=Phase.START)
    readings = read_job(job).temperature
    assert [(row.housing_c, row.ambient_c) for row in readings] == [
        (25.0, 18.0),
        (33.5, 18.0),
        (34.2, None),
    ]
    assert "not before 2031-03-05 13:05+00:00: How warm" in talk.text
    assert "temperature" not in [question.id for question in open_questions(read_job(job))]


def test_load_and_point(filled: Callable[..., Path], talk: Talk) -> None:
    job = filled(until=Phase.START)
    path = job / "job.toml"
    edit_record(path, {("job", "load"): "", ("job", "point_checked"): "not checked"})
    talk.ask(job, "full", "e", "n")
    assert '"full" is no answer; type empty / loaded' in talk.text
    assert (read_job(job).job.load, read_job(job).job.point_checked) == ("empty", "no")


def test_a_record_in_local_time_stays_in_local_time(job: Path, talk: Talk) -> None:
    path = job / "job.toml"
    local = datetime(2031, 3, 5, 6)  # noqa: DTZ001 - as somebody typed it
    edit_record(path, {("job", "rebuild_finished"): local})
    talk.ask(job, "y")
    assert read_job(job).answer("as-found-recorded").at == NOW.replace(microsecond=0, tzinfo=None)


def test_words_of_a_name_are_no_yes(job: Path, talk: Talk) -> None:
    skipped = ahead_of(job, "job.bearing_designation")
    talk.ask(job, *skipped, "y", "bore 100 mm", "q", from_phase=Phase.BUILD)
    assert '"y" is no answer; type it as it is written there' in talk.text
    assert read_job(job).job.bearing_designation == "bore 100 mm"


def test_a_broken_record_ends_the_walk_with_its_sentence(job: Path, talk: Talk) -> None:
    (job / "job.toml").write_text("schema_version = 3\n", "utf-8")
    with pytest.raises(JobError, match=r"schema_version: must be 1"):
        talk.ask(job, "y")


def test_all_questions_have_a_reason_and_differ(job: Path) -> None:
    questions = all_questions(read_job(job))
    assert len({question.id for question in questions}) == len(questions)
    assert len({question.text for question in questions}) == len(questions)
    phases = [list(Phase).index(question.phase) for question in questions]
    assert phases == sorted(phases)
    for question in questions:
        assert question.text.endswith("?")
        assert len(question.why.split()) > 4


@pytest.mark.parametrize("text", ["", "four", "1e400", "nan", "4.5.6", "--1", "1 two 3", "0x10"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(JobError, match=r"is no number; type it as 4\.5"):
        typed_numbers(text)


def test_one_number_is_one() -> None:
    with pytest.raises(JobError, match=r"one number is asked for, not 2"):
        typed_number("4 5")


@pytest.mark.parametrize(
    ("text", "hour", "minute"),
    [("now", 13, 0), ("12:05", 12, 5), ("2031-03-05T07:30-05:00", 12, 30)],
)
def test_times(text: str, hour: int, minute: int) -> None:
    at = typed_time(text, now=NOW)
    assert at.utcoffset() is not None
    assert at.astimezone(UTC).hour == hour
    assert at.minute == minute


@pytest.mark.parametrize(
    "text", ["noon", "25:00", "12:61", "2031-03-05", "2031-13-05 12:00", "0001-01-01 00:00"]
)
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(JobError, match=r"is no time; type 13:05, 2031-03-05 13:05, or now"):
        typed_time(text, now=NOW)


def test_the_future_is_refused() -> None:
    with pytest.raises(JobError, match=r"lies in the future; type date and time, or now"):
        typed_time("13:05", now=NOW)
