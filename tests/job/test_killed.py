"""Killed anywhere: the file always parses, and every confirmed answer is in it."""

import itertools
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from vibhealth.job import ITEM_BY_ID, JobRecord, read_job
from vibhealth.job._question import Question
from vibhealth.job.questions import open_questions

KILLS = 20
LONGEST_WAIT_S = 0.02  # about two answers: read, check, write, sync
ANSWERS = {
    "litres": "4.2",
    "text": "abc",
    "mm": "16 17 18",
    "13:05": "now",
    "empty": "e",
    "°C": "40 18",
    "as on": "VG 220",
}


def reply(question: Question) -> str:
    found = [typed for form, typed in ANSWERS.items() if question.form.startswith(form)]
    return found[0] if found else "y"


def ask_and_kill(job: Path, name: str, confirmed: int, wait_s: float) -> list[str]:
    """Feed answers to all that is open, kill after some are confirmed; the confirmed questions."""
    asked = open_questions(read_job(job))
    # A temperature stays open after a reading, until it has levelled: left out here.
    known = itertools.takewhile(lambda question: question.id != "temperature", asked)
    lines = [reply(question) for question in known]
    confirmed = min(confirmed, len(lines))
    with subprocess.Popen(
        [sys.executable, "-m", "vibhealth", "job", "ask", str(job), "--by", name],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONUTF8": "1"},
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write("\n".join(lines) + "\n")
        process.stdin.flush()
        said = []
        while confirmed > 0 and (line := process.stdout.readline()):
            said.append(line)
            confirmed -= "noted: " in line
        time.sleep(wait_s)
        process.send_signal(signal.SIGKILL)
        said += process.stdout.readlines()
        process.wait()
    return questions_noted(said)


def questions_noted(said: list[str]) -> list[str]:
    """Texts of the questions whose answer was confirmed in full."""
    noted, asked = [], ""
    for line in said:
        if "noted: " in line and line.endswith(")\n"):
            noted.append(asked)
        elif line.rstrip().endswith("?"):
            asked = line.rstrip("\n").split(". ", 1)[-1] if line[0].isdigit() else line.rstrip("\n")
    return noted


def signed_by(record: JobRecord, name: str) -> set[str]:
    return {ITEM_BY_ID[key].question for key, answer in record.check.items() if answer.by == name}


def test_killed_at_random_points_nothing_confirmed_is_lost(job: Path) -> None:
    chance = random.Random(7)  # noqa: S311 - points in time, not secrets
    path = job / "job.toml"
    path.write_text(path.read_text("utf-8") + "# my own words\n", "utf-8")
    all_noted: list[str] = []
    for number in range(KILLS):
        before = [question.text for question in open_questions(read_job(job))]
        name = f"N{number}"
        noted = ask_and_kill(job, name, chance.randint(0, 3), chance.uniform(0, LONGEST_WAIT_S))
        record = read_job(job)
        still_open = {question.text for question in open_questions(record)}
        all_noted += noted
        assert not still_open & set(all_noted)
        assert noted == before[: len(noted)]  # it went on with the first open question
        written = [text for text in before if text not in still_open]
        assert len(written) - len(noted) in {0, 1}  # one may be written and not yet confirmed
        checks = {item.question for item in ITEM_BY_ID.values()}
        assert set(noted) & checks <= signed_by(record, name) <= set(written)
    assert len(all_noted) >= KILLS // 2
    text = path.read_text("utf-8")
    assert text.endswith("# my own words\n")
    assert text.count("# ") > 100
