"""A changed, moved or missing row is found, whoever changed it."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.benchmark.history_store import sample_recording
from tests.store.store_samples import REBUILD, UNIT, VERDICT
from vibhealth.errors import StoreError
from vibhealth.store import History, check_integrity
from vibhealth.store.integrity import MOST_TOLD


@pytest.fixture
def filled(history: History, place: Path) -> Path:
    with history.transaction():
        history.add_recordings(sample_recording(number) for number in range(3))
        history.add_verdict(VERDICT)
        history.add_rebuild(REBUILD)
        history.add_opened_unit(UNIT)
        history.withdraw("opened_unit", 1, by="x", reason="y")
    history.close()
    return place


def edit(path: Path, statement: str) -> None:
    """Change rows as somebody who takes the triggers away and puts them back."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("BEGIN")
        triggers = connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        assert connection.execute(statement).rowcount > 0
        for _, sql in triggers:
            connection.execute(sql)
        connection.commit()


def problems(path: Path) -> str:
    with History.open(path) as history:
        return "; ".join(check_integrity(history).problems)


def test_a_sound_history(filled: Path) -> None:
    with History.open(filled) as history:
        found = check_integrity(history)
    assert found.is_sound
    assert found.checked == {
        "recording": 3,
        "verdict": 1,
        "rebuild": 1,
        "opened_unit": 1,
        "withdrawal": 1,
    }


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE recording SET point = 'x' WHERE id = 2", "recording number 2 is not as"),
        ("UPDATE recording SET machine_id = 7 WHERE id = 2", "recording number 2 is not as"),
        ("UPDATE descriptor SET value = value + 1e-9 WHERE position = 5", "recording number 3"),
        ("UPDATE family SET present = 1 - present WHERE recording_id = 1", "recording number 1"),
        ("DELETE FROM family WHERE recording_id = 3 AND position = 7", "recording number 3"),
        ("UPDATE verdict SET verdict = 'PASS'", "verdict number 1 is not as"),
        ("UPDATE verdict_recording SET sha256 = 'c' WHERE position = 1", "verdict number 1"),
        ("UPDATE rebuild SET at = replace(at, '2026', '2025')", "rebuild number 1 is not as"),
        ("UPDATE opened_unit SET damage = 'no-damage'", "opened unit number 1 is not as"),
        ("UPDATE withdrawal SET entry_id = 2", "withdrawal number 1 is not as"),
        ("UPDATE machine SET name = 'screen 1'", "recording number 1 is not as"),
        ("UPDATE rebuild SET added_at = 'long ago'", "time of adding rebuild number 1"),
        ("DELETE FROM rebuild", "table rebuild has given 1 numbers and holds 0 entries"),
        ("DELETE FROM recording WHERE id = 2", "a row of table descriptor belongs to no entry"),
        ("DELETE FROM migration WHERE number = 2", "the list of migrations is not"),
    ],
)
def test_an_edited_row_is_found(filled: Path, statement: str, said: str) -> None:
    edit(filled, statement)
    assert said in problems(filled)


def test_triggers_taken_away_are_missed(filled: Path) -> None:
    with closing(sqlite3.connect(filled)) as connection:
        connection.execute("DROP TRIGGER rebuild_is_not_deleted")
        connection.execute("CREATE TABLE strange (x)")
    said = problems(filled)
    assert "the layout lacks: CREATE TRIGGER rebuild_is_not_deleted" in said
    assert "the layout has something else: CREATE TABLE strange" in said


def test_a_flipped_byte_of_content_is_found(filled: Path) -> None:
    content = filled.read_bytes()
    place = content.index(b"one spall")
    filled.write_bytes(content[:place] + b"0" + content[place + 1 :])
    assert "opened unit number 1 is not as it was written" in problems(filled)


def test_no_flipped_byte_of_any_page_is_read_as_sound_content(filled: Path) -> None:
    """One byte inverted in the middle of the used end of every page."""
    content, size = filled.read_bytes(), 4096
    with History.open(filled) as history:
        before = history.recordings("screen 0"), history.verdicts("screen 0")
    for start in range(0, len(content), size):
        flipped = bytearray(content)
        flipped[start + size - 9] ^= 0xFF
        filled.write_bytes(flipped)
        try:
            with History.open(filled) as history:
                is_sound = check_integrity(history).is_sound
                after = history.recordings("screen 0"), history.verdicts("screen 0")
        except StoreError:
            continue
        assert not is_sound or after == before, start // size


def test_a_long_list_of_problems_is_cut(filled: Path) -> None:
    with History.open(filled) as history:
        history.add_recordings(sample_recording(number) for number in range(3, MOST_TOLD + 9))
    edit(filled, "UPDATE recording SET point = 'x'")
    with History.open(filled) as history:
        assert len(check_integrity(history).problems) == MOST_TOLD
