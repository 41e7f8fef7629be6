"""What the file is: append-only, migrated, refused in one sentence where it is something else."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.benchmark.history_store import sample_recording
from tests.store.store_samples import REBUILD, UNIT, VERDICT
from vibhealth.errors import StoreError
from vibhealth.store import DEFAULT_STORE, History, check_integrity
from vibhealth.store.connection import refusing
from vibhealth.store.migrations import MIGRATIONS, NEWEST, migrate
from vibhealth.store.schema import APPLICATION_ID
from vibhealth.store.times import time_text

TABLES = (
    "migration",
    "machine",
    "recording",
    "descriptor",
    "family",
    "verdict",
    "verdict_recording",
    "rebuild",
    "opened_unit",
    "withdrawal",
)


@pytest.fixture
def filled(history: History, place: Path) -> Path:
    """A file with a row in every table."""
    with history.transaction():
        history.add_recording(sample_recording(1))
        history.add_verdict(VERDICT)
        history.add_rebuild(REBUILD)
        history.add_opened_unit(UNIT)
        history.withdraw("verdict", 1, by="x", reason="y")
    history.close()
    return place


def values(path: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(query).fetchall()


class TestAppendOnly:
    @pytest.mark.parametrize("table", TABLES)
    def test_no_row_is_changed_or_deleted(self, filled: Path, table: str) -> None:
        with closing(sqlite3.connect(filled)) as connection:
            rows = connection.execute(f"SELECT * FROM {table}")  # noqa: S608 - of the list above
            assert rows.fetchone() is not None
            column = rows.description[0]
            for statement in (f"UPDATE {table} SET {column[0]} = 9", f"DELETE FROM {table}"):  # noqa: S608
                with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                    connection.execute(statement)

    def test_nor_replaced_through_the_open_history(self, filled: Path) -> None:
        with (
            History.open(filled) as history,
            pytest.raises(StoreError, match="append-only"),
            history.reading() as connection,
        ):
            connection.execute("INSERT OR REPLACE INTO machine VALUES (1, 'other')")

    def test_every_table_is_in_this_list(self, filled: Path) -> None:
        found = values(filled, "SELECT name FROM sqlite_master WHERE type = 'table'")
        assert {name for (name,) in found} - {"sqlite_sequence"} == set(TABLES)


class TestFile:
    def test_one_file_at_rest(self, filled: Path) -> None:
        assert [path.name for path in filled.parent.iterdir()] == [filled.name]

    def test_header_and_migrations(self, filled: Path) -> None:
        assert values(filled, "PRAGMA application_id") == [(APPLICATION_ID,)]
        assert values(filled, "PRAGMA user_version") == [(NEWEST,)]
        assert values(filled, "PRAGMA journal_mode") == [("delete",)]
        steps = values(filled, "SELECT number, name FROM migration")
        assert steps == [(1, "tables"), (2, "withdrawals and label indexes")]

    def test_when_each_step_was_taken(self, history: History) -> None:
        steps = history.migrations()
        assert [step[:2] for step in steps] == [(step.number, step.name) for step in MIGRATIONS]
        assert all(abs(datetime.now(UTC) - at) < timedelta(minutes=5) for *_, at in steps)

    def test_synced_at_every_commit(self, history: History) -> None:
        with history.reading() as connection:
            assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
            assert connection.execute("PRAGMA busy_timeout").fetchone() == (30_000,)

    def test_an_empty_file_becomes_a_history_only_if_asked(self, place: Path) -> None:
        place.touch()
        with pytest.raises(StoreError, match="not a history"):
            History.open(place)
        History.open(place, create=True).close()
        History.open(place).close()

    def test_name_with_signs_of_an_address(self, tmp_path: Path) -> None:
        odd = tmp_path / "plant #1 50% ?.sqlite"
        History.open(odd, create=True).close()
        assert odd.is_file()

    def test_a_trend_is_read_by_index_in_three_queries_and_not_sorted(
        self, history: History
    ) -> None:
        history.add_recordings(sample_recording(number) for number in range(20))
        asked: list[str] = []
        with history.reading() as connection:
            connection.set_trace_callback(asked.append)
            assert len(history.recordings("screen 0", descriptors={"level-1"})) == 20
            connection.set_trace_callback(None)
            queries = [query for query in asked if query.startswith("SELECT")]
            plans = [
                " ".join(row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {query}"))
                for query in queries
            ]
        assert len(plans) == 3
        assert all("recording_by_time (machine_id=?)" in plan for plan in plans)
        assert not any("TEMP B-TREE" in plan or "SCAN" in plan for plan in plans)


class TestMigration:
    def old(self, place: Path) -> None:
        """A history of layout 1 with one rebuild in it."""
        with closing(sqlite3.connect(place, isolation_level=None)) as connection:
            connection.execute("BEGIN")
            assert migrate(connection, path="x", up_to=1) == 1
            connection.execute("INSERT INTO machine VALUES (1, 'screen 0')")
            connection.execute(
                "INSERT INTO rebuild VALUES (1, 1, ?, 'planned', 'x', '', '', NULL, '', 'd', ?,"
                " 's')",
                (time_text(datetime(2020, 1, 1, tzinfo=UTC)),) * 2,
            )
            connection.execute("COMMIT")

    def test_an_old_history_keeps_its_rows_and_learns_withdrawals(self, place: Path) -> None:
        self.old(place)
        with History.open(place) as history:
            (rebuild,) = history.rebuilds("screen 0")
            assert rebuild.at == datetime(2020, 1, 1, tzinfo=UTC)
            history.withdraw("rebuild", 1, by="x", reason="y")
            assert history.rebuilds("screen 0") == ()
        assert values(place, "SELECT number FROM migration") == [(1,), (2,)]

    def test_a_step_that_fails_leaves_the_old_layout(self, place: Path) -> None:
        self.old(place)
        before = values(place, "SELECT name, sql FROM sqlite_master")
        with closing(sqlite3.connect(place)) as connection:
            connection.execute("CREATE TABLE probe (x)")
            connection.execute("CREATE INDEX opened_unit_by_time ON probe (x)")
        with pytest.raises(StoreError, match="already exists"):
            History.open(place)
        with closing(sqlite3.connect(place)) as connection:
            connection.execute("DROP TABLE probe")
        assert values(place, "SELECT name, sql FROM sqlite_master") == before
        assert values(place, "PRAGMA user_version") == [(1,)]

    def test_a_migrated_layout_is_the_new_layout(self, place: Path, tmp_path: Path) -> None:
        self.old(place)
        History.open(place).close()
        History.open(tmp_path / "new.sqlite", create=True).close()
        query = "SELECT type, name, sql FROM sqlite_master ORDER BY name"
        assert values(place, query) == values(tmp_path / "new.sqlite", query)

    def test_numbers_rise_by_one_and_names_differ(self) -> None:
        assert [step.number for step in MIGRATIONS] == list(range(1, NEWEST + 1))
        assert len({step.name for step in MIGRATIONS}) == NEWEST


class TestRefusals:
    def test_none_there(self, tmp_path: Path) -> None:
        with pytest.raises(StoreError, match="there is no history here: name another file, or ma"):
            History.open(tmp_path / DEFAULT_STORE)
        assert list(tmp_path.iterdir()) == []

    def test_a_folder_or_none(self, tmp_path: Path) -> None:
        with pytest.raises(StoreError, match="this is a folder"):
            History.open(tmp_path, create=True)
        with pytest.raises(StoreError, match="there is no folder"):
            History.open(tmp_path / "no" / DEFAULT_STORE, create=True)

    @pytest.mark.parametrize("create", [True, False])
    def test_another_kind_of_file(self, place: Path, create: bool) -> None:
        place.write_text("time,value\n0,1\n" * 100, "utf-8")
        with pytest.raises(StoreError, match="not a history of vibhealth: name another file"):
            History.open(place, create=create)
        assert place.read_text("utf-8").startswith("time,value")

    @pytest.mark.parametrize("create", [True, False])
    def test_a_database_of_something_else(self, place: Path, create: bool) -> None:
        with closing(sqlite3.connect(place)) as connection:
            connection.execute("CREATE TABLE recording (x)")
        with pytest.raises(StoreError, match="not a history of vibhealth: name another file"):
            History.open(place, create=create)
        assert values(place, "SELECT name FROM sqlite_master") == [("recording",)]

    def test_a_newer_history(self, filled: Path) -> None:
        with closing(sqlite3.connect(filled)) as connection:
            connection.execute(f"PRAGMA user_version = {NEWEST + 1}")
        with pytest.raises(StoreError, match=f"has layout {NEWEST + 1} .* up to {NEWEST}: use"):
            History.open(filled)

    def test_cut_off(self, filled: Path) -> None:
        filled.write_bytes(filled.read_bytes()[: 3 * 4096])
        with pytest.raises(StoreError, match="damaged"), History.open(filled) as history:
            history.recordings("screen 0")

    def test_a_value_that_is_none(self, filled: Path) -> None:
        with closing(sqlite3.connect(filled)) as connection:
            connection.execute("DROP TRIGGER family_is_not_updated")
            connection.execute("UPDATE family SET element = 'lid' WHERE position = 2")
            connection.commit()
        with (
            History.open(filled) as history,
            pytest.raises(StoreError, match="an entry of this history cannot be read"),
        ):
            history.recordings("screen 0")

    def test_read_only(self, filled: Path) -> None:
        with (
            closing(sqlite3.connect(f"{filled.as_uri()}?mode=ro", uri=True)) as connection,
            pytest.raises(StoreError, match="read-only: allow writing to both"),
            refusing(filled),
        ):
            connection.execute("INSERT INTO machine (name) VALUES ('x')")

    @pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder of no files")
    def test_a_folder_that_takes_no_files(self) -> None:
        with pytest.raises(StoreError, match="cannot be opened for writing: allow writing to its"):
            History.open("/proc/self/history.sqlite", create=True)

    def test_another_writer_that_does_not_end(
        self, history: History, another: sqlite3.Connection
    ) -> None:
        with history.reading() as connection:
            connection.execute("PRAGMA busy_timeout = 50")
        another.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="another process has been writing to it for 30 s"):
            history.add_rebuild(REBUILD)
        another.execute("ROLLBACK")
        assert history.add_rebuild(REBUILD).added

    def test_sound_after_all(self, filled: Path) -> None:
        with History.open(filled) as history:
            assert check_integrity(history).is_sound


@pytest.fixture
def another(history: History) -> Iterator[sqlite3.Connection]:
    """A second connection to the same file."""
    with closing(sqlite3.connect(history.path, isolation_level=None)) as connection:
        yield connection
