"""Reading a record: half-filled is valid; each fault is one sentence in our words."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from vibhealth.card import read_card
from vibhealth.errors import CardError, JobError
from vibhealth.job import ITEMS, JobRecord, Phase, filled_record, read_job

Make = Callable[..., JobRecord]

STARTED = "machine_started = 2031-03-05T13:00:00+01:00"


def answered(item: str, at: str, answer: str = "yes") -> tuple[str, str]:
    """Change that answers an item of the fresh record at a time."""
    fresh = f'[check.{item}]\nanswer = "not checked"\nby = ""\nat = ""'
    return fresh, f'[check.{item}]\nanswer = "{answer}"\nby = "A"\nat = {at}'


def test_a_fresh_record_is_valid_with_nothing_answered(job: Path) -> None:
    record = read_job(job)
    assert set(record.check) == {item.id for item in ITEMS}
    assert {answer.answer for answer in record.check.values()} == {"not checked"}
    assert record.torque["exciter-flange"].stages == ((), (), ())
    assert record.oil.filled_l is None
    assert record.override is None
    assert record.machine_card is not None
    assert record.machine_card.machine.id == record.job.machine == "F3"
    assert record.path == str(job / "job.toml")
    assert len(record.sha256) == 64


def test_the_shortest_record_is_valid(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text("schema_version = 1\n", "utf-8")
    record = read_job(tmp_path)
    assert record.answer("oil-filled").answer == "not checked"
    assert record.machine_card is None
    assert record == read_job(tmp_path / "job.toml")


def test_times_may_all_be_without_offset(record: Make) -> None:
    found = record(
        ('machine_started = ""', "machine_started = 2031-03-05T13:00:00"),
        answered("no-knock", "2031-03-05T13:05:00"),
    )
    assert found.answer("no-knock").by == "A"


FAULTS = [
    ([("unit_serial =", "unit_sreial =")], r"job\.unit_sreial: is not a known key \(did you mean 'unit_serial'\?\)"),
    ([("[check.breather-open]", "[check.breather-opn]")], r"check\.breather-opn: is no item of the check list \(did you mean 'breather-open'\?\), found"),
    ([('drained_l = ""', 'drained_l = "four"')], r'oil\.drained_l: must be a number, found "four"'),
    ([('drained_l = ""', "drained_l = -1.0")], r"oil\.drained_l: must be at least 0, found -1"),
    ([('filled_l = ""', "filled_l = 4500.0")], r"oil\.filled_l: must be at most 1000, found 4500"),
    ([('machine_started = ""', 'machine_started = "13:00"')], r"job\.machine_started: must be a date with a time, without quotes"),
    ([('machine_started = ""', "machine_started = 2031-03-05")], r"job\.machine_started: must be a date with a time"),
    ([('machine_started = ""', "machine_started = 0031-03-05T13:00:00")], r"must lie in the years 1990 to 2199"),
    ([('load = ""', 'load = "full"')], r"job\.load: must be '', 'empty' or 'loaded', found \"full\""),
    ([('threads = ""', 'threads = "wet"')], r"torque\.exciter-flange\.threads: must be '', 'dry' or 'oiled'"),
    ([('unit = "N m"', 'unit = "kg m"')], r"torque\.exciter-flange\.unit: must be 'N m' or 'ft lb'"),
    ([("guard_mm = []", "guard_mm = 15.0")], r"clearance\.guard_mm: must be a list in square brackets, found 15"),
    ([('machine = "F3"', 'machine = "F4"')], r'job\.machine: must be the machine of .*F3\.toml \(F3\), found "F4"'),
    ([('card = "F3.toml"', 'card = "G.toml"')], r"job\.card: must name the machine card beside this file; copy it to"),
    ([('card = "F3.toml"', 'card = "../F3.toml"')], r"job\.card: must be a file name without folder"),
    ([("[torque.exciter-flange]", "[torque.exciter-flnge]")], r"torque\.exciter-flnge: is no bolt group of .* \(did you mean 'exciter-flange'\?\)"),
    ([('rebuild_finished = ""', "rebuild_finished = 2031-03-05T14:00:00+01:00"), ('machine_started = ""', STARTED)],
     r"job\.machine_started: must not lie before job\.rebuild_finished \(2031-03-05T14:00:00\+01:00\)"),
    ([('machine_started = ""', STARTED), answered("no-knock", "2031-03-05T11:59:59Z")],
     r"check\.no-knock\.at: must not lie before 2031-03-05T13:00:00\+01:00"),
    ([('machine_started = ""', STARTED), answered("no-leak-8h", "2031-03-05T18:59:00+01:00")],
     r"check\.no-leak-8h\.at: must not lie before 2031-03-05T19:00:00\+01:00, .* answer this again at the 8h check"),
    ([('machine_started = ""', STARTED), answered("oil-filled", "2031-03-05T10:00:00")],
     r"check\.oil-filled\.at: must have an offset from UTC such as \+01:00, as job\.machine_started has one"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "sentence"), FAULTS)
def test_a_fault_is_one_sentence(
    record: Make, job: Path, changes: list[tuple[str, str]], sentence: str
) -> None:
    with pytest.raises(JobError, match=sentence) as refusal:
        record(*changes)
    (line,) = str(refusal.value).splitlines()
    assert line.startswith(f"{job / 'job.toml'}: ")
    assert not re.search("Input should|Value error|type=|pydantic", line)


def test_a_later_check_counts_from_three_quarters_of_its_time(record: Make) -> None:
    found = record(
        ('machine_started = ""', STARTED), answered("no-leak-8h", "2031-03-05T19:00:00+01:00")
    )
    assert found.answer("no-leak-8h").answer == "yes"


def test_work_answered_after_the_start_is_paperwork_and_allowed(record: Make) -> None:
    found = record(
        ('machine_started = ""', STARTED), answered("oil-filled", "2031-03-05T16:00:00+01:00")
    )
    assert found.answer("oil-filled").answer == "yes"


def test_temperatures_must_rise_in_time(record: Make) -> None:
    rows = "".join(
        f"[[temperature]]\nat = 2031-03-05T13:{minute}:00Z\nhousing_c = 30.0\n"
        for minute in (10, 20, 20)
    )
    sentence = r"temperature\[3\]\.at: must lie after the reading before it \(2031-03-05T13:20"
    with pytest.raises(JobError, match=sentence):
        record(append=rows)


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("housing_c = 30.0", r"temperature\[1\]\.at: is required"),
        ("at = 2031-03-05T13:10:00Z", r"temperature\[1\]\.housing_c: is required"),
        ("at = 2031-03-05T13:10:00Z\nhousing_c = 330.0", r"housing_c: must be at most 300"),
    ],
)
def test_a_temperature_needs_its_time_and_figure(record: Make, row: str, sentence: str) -> None:
    with pytest.raises(JobError, match=sentence):
        record(append=f"[[temperature]]\n{row}\n")


def test_every_fault_has_its_line(record: Make) -> None:
    with pytest.raises(JobError) as refusal:
        record(('load = ""', "load = 3"), ('noise = ""', "noise = 4"))
    assert len(str(refusal.value).splitlines()) == 2


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"schema_version = 1\n[job\n", r"not valid TOML: .*line 2"),
        (b"schema_version = 1\n[job]\nnoise = '\xff'\n", r"line 3 is not UTF-8 text \(byte 0xff\)"),
        (b"schema_version = 2\n", r"schema_version: must be 1, found 2"),
        (b"[job]\n", r"schema_version: is required, found nothing"),
        (b"schema_version = 1\ncheck = 3\n", r"check: must be a table of keys, found 3"),
        (b"schema_version = 1\n[check]\nseals-new = 'yes'\n", r"check\.seals-new: must be a table"),
        (b"a = " + b"[" * 20_000, r"not valid TOML"),
        (b" " * 4_000_001, r"is larger than 4 MB and so no job record"),
    ],
)
def test_what_is_no_record_is_refused(tmp_path: Path, content: bytes, sentence: str) -> None:
    (tmp_path / "job.toml").write_bytes(content)
    with pytest.raises(JobError, match=sentence):
        read_job(tmp_path)


def test_a_missing_record_says_how_to_start_one(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=re.escape("start a job with: vibhealth job new CARD")):
        read_job(tmp_path)


def test_a_broken_card_beside_the_record_is_named(job: Path) -> None:
    (job / "F3.toml").write_text("schema_version = 1\n", "utf-8")
    with pytest.raises(CardError, match=re.escape(f"{job / 'F3.toml'}: machine: is required")):
        read_job(job)


def test_the_invented_record_is_whole(job: Path) -> None:
    started = datetime(2031, 3, 5, 12, tzinfo=UTC)
    text = filled_record(read_card(job / "F3.toml"), by="A. N. Invented", at=started)
    assert text.startswith("# INVENTED")
    (job / "job.toml").write_text(text, "utf-8")
    record = read_job(job)
    assert {(answer.answer, answer.by) for answer in record.check.values()} == {
        ("yes", "A. N. Invented")
    }
    sheet = record.torque["exciter-flange"]
    assert sheet.stages == tuple((torque,) * 12 for torque in (120.0, 280.0, 400.0))
    last, before = record.temperature[-1], record.temperature[-2]
    assert 0 <= last.housing_c - before.housing_c < 1
    assert min(record.clearance.guard_mm) > 15.0


def test_the_invented_record_can_stop_early_and_say_no(job: Path) -> None:
    text = filled_record(
        read_card(job / "F3.toml"),
        by="A",
        at=datetime(2031, 3, 5, 12),  # noqa: DTZ001 - records may be in local time
        until=Phase.BUILD,
        no={"seals-new": "lip folded"},
    )
    (job / "job.toml").write_text(text, "utf-8")
    record = read_job(job)
    assert record.answer("seals-new").answer == "no"
    assert record.answer("seals-new").remark == "lip folded"
    assert record.answer("no-knock").answer == "not checked"
    assert record.job.machine_started is None
    assert record.temperature == ()
