"""Whatever is typed into a record: it can be read, asked about, and edited, or is refused."""

import random
import re
from datetime import UTC, datetime
from pathlib import Path

from vibhealth.card import read_card
from vibhealth.errors import JobError
from vibhealth.job import edit_record, filled_record, job_status, read_job, status_text
from vibhealth.job.questions import all_questions

VALUES = (
    *("-1", "0", "1e308", "1e-308", "nan", "-inf", "1" * 30, "9" * 400, "true", "3.5"),
    *('"x"', '""', '"\\u0000"', '"é"', '"yes"', "[]", "{}", "[[1]]", '[1, "a"]', "{ a = 1 }"),
    *("1979-05-27", "07:32:00", "2031-05-27T07:32:00Z", "2031-05-27T07:32:00", "[[400.0]]"),
)
KEY = re.compile(r"^([a-z_]+ = )(?!\[$)")
LIBRARY_WORDS = re.compile("Input should|Value error|type=|pydantic")
NOW = datetime(2031, 6, 1, tzinfo=UTC)


def damaged(text: str, seed: int) -> str:
    """The record with one to three keys given a value that may be absurd."""
    chance = random.Random(seed)  # noqa: S311 - damage, not secrets
    lines = text.splitlines()
    keys = [number for number, line in enumerate(lines) if KEY.match(line)]
    for number in chance.sample(keys, chance.randint(1, 3)):
        found = KEY.match(lines[number])
        assert found is not None
        lines[number] = found[1] + chance.choice(VALUES)
    return "\n".join(lines)


def test_a_damaged_record_is_read_or_refused_in_our_words(job: Path) -> None:
    path, outcomes = job / "job.toml", set()
    card = read_card(job / "F3.toml")
    whole = filled_record(card, by="B", at=datetime(2031, 3, 5, 12, tzinfo=UTC))
    for seed in range(150):
        path.write_text(damaged(whole, seed), "utf-8")
        try:
            record = read_job(job)
        except JobError as refusal:
            outcomes.add("refused")
            for line in str(refusal).splitlines():
                assert line.startswith(f"{path}: ")
                assert not LIBRARY_WORDS.search(line), line
        else:
            outcomes.add("read")
            assert status_text(job_status(record, (), now=NOW))
            for question in all_questions(record):
                question.is_open(record)
                question.not_before(record)
            assert edit_record(path, {("job", "remarks"): "z"}).job.remarks == "z"
    assert outcomes == {"read", "refused"}
