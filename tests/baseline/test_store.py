"""The folder of baselines: nothing is overwritten, nothing that was changed is believed."""

import os
import shutil
import subprocess
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from vibhealth.baseline import (
    Baseline,
    Status,
    Stored,
    baseline_documents,
    in_force,
    list_stored,
    read_baseline,
    store_baseline,
)
from vibhealth.baseline.files import FACTS, SUMS, sums_text
from vibhealth.errors import BaselineError, OutputError

Make = Callable[..., Baseline]
FILES = (
    FACTS,
    "levels.csv",
    "families.csv",
    "half_octaves.csv",
    "harmonics.csv",
    "sensitivity.csv",
    "order_spectrum.csv",
    "envelope_spectrum.csv",
    "whitened_envelope_spectrum.csv",
)
N_WRITERS, N_EACH = 2, 10


@pytest.fixture
def kept(tmp_path: Path, make_baseline: Make) -> Path:
    """Folder of one stored baseline."""
    return Path(store_baseline(tmp_path, make_baseline()).path)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def relist(folder: Path) -> None:
    """Make the list of digests fit files that were changed on purpose."""
    listed = {p.name: p.read_bytes() for p in folder.iterdir() if p.name != SUMS}
    (folder / SUMS).write_text(sums_text(listed), "utf-8")


def refusal(folder: Path) -> str:
    with pytest.raises(BaselineError) as caught:
        read_baseline(folder)
    message = str(caught.value)
    assert message.startswith(str(folder))
    assert "\n" not in message
    return message


def test_what_is_read_is_what_was_stored(tmp_path: Path, make_baseline: Make) -> None:
    given = make_baseline()
    back = store_baseline(tmp_path, given)
    assert back.path == str(tmp_path / "F3" / "P1X" / "v1")
    assert back.version == 1
    again = replace(given, version=1)
    assert baseline_documents(back) == baseline_documents(again)
    assert contents(Path(back.path)) == {n: t.encode() for n, t in baseline_documents(back).items()}
    assert len(back.digest) == 64
    assert read_baseline(back.path).digest == back.digest
    assert set(contents(Path(back.path))) == {*FILES, SUMS}


def test_versions_count_up_and_leave_the_others_alone(tmp_path: Path, make_baseline: Make) -> None:
    baseline = make_baseline()
    before = contents(Path(store_baseline(tmp_path, baseline).path))
    second = store_baseline(tmp_path, replace(baseline, note="later"))
    candidate = store_baseline(tmp_path, replace(baseline, status=Status.CANDIDATE))
    third = store_baseline(tmp_path, second)
    names = [Path(item.path).name for item in (second, candidate, third)]
    assert names == ["v2", "candidate-1", "v3"]
    assert [item.version for item in (second, candidate, third)] == [2, 1, 3]
    assert contents(tmp_path / "F3" / "P1X" / "v1") == before
    assert sorted(p.name for p in (tmp_path / "F3" / "P1X").iterdir()) == [
        "candidate-1",
        "v1",
        "v2",
        "v3",
    ]


def test_a_gap_is_not_filled(tmp_path: Path, make_baseline: Make) -> None:
    """A number that was once given out belongs to what it was given to."""
    for _ in range(3):
        last = store_baseline(tmp_path, make_baseline())
    shutil.rmtree(tmp_path / "F3" / "P1X" / "v2")
    assert store_baseline(tmp_path, last).version == 4


def test_the_highest_number_supersedes_the_others(tmp_path: Path, make_baseline: Make) -> None:
    for number in range(11):
        store_baseline(tmp_path, make_baseline(note=f"number {number + 1}"))
    store_baseline(tmp_path, make_baseline(status=Status.CANDIDATE))
    found = list_stored(tmp_path)
    assert [s.version for s in found] == [*range(1, 12), 1]
    assert [s.is_superseded for s in found] == [*[True] * 10, False, False]
    assert found[-1] == Stored(
        path=tmp_path / "F3" / "P1X" / "candidate-1",
        status=Status.CANDIDATE,
        version=1,
        is_superseded=False,
    )
    (baseline,) = in_force(tmp_path, "F3")
    assert (baseline.version, baseline.note) == (11, "number 11")


def test_a_candidate_is_never_in_force(tmp_path: Path, make_baseline: Make) -> None:
    store_baseline(tmp_path, make_baseline(status=Status.CANDIDATE))
    assert in_force(tmp_path, "F3") == ()


def test_machines_and_points_are_kept_apart(tmp_path: Path, make_baseline: Make) -> None:
    for machine, point in (("F3", "P1Y"), ("F3", "P1X"), ("F4", "P1X")):
        store_baseline(tmp_path, make_baseline(machine_id=machine, point=point))
    places = [str(s.path.relative_to(tmp_path)) for s in list_stored(tmp_path)]
    assert places == ["F3/P1X/v1", "F3/P1Y/v1", "F4/P1X/v1"]
    assert len(list_stored(tmp_path, machine_id="F3")) == 2
    assert len(list_stored(tmp_path, machine_id="F4", point="P1Y")) == 0
    assert [b.point for b in in_force(tmp_path, "F3")] == ["P1X", "P1Y"]
    assert [b.machine_id for b in in_force(tmp_path, "F4", "P1X")] == ["F4"]
    assert in_force(tmp_path, "F5") == ()


def test_a_folder_that_does_not_exist_holds_none(tmp_path: Path) -> None:
    assert list_stored(tmp_path / "nowhere") == ()
    assert in_force(tmp_path / "nowhere", "F3") == ()


@pytest.mark.parametrize(
    "name", ["deck/2 top", "..", ".", "Förderrinne 7", "a\\b", "%2F", "v1", "c:d"]
)
def test_any_name_is_a_folder_of_its_own(tmp_path: Path, make_baseline: Make, name: str) -> None:
    store = tmp_path / "store"
    back = store_baseline(store, make_baseline(machine_id=name, point=name))
    assert (back.machine_id, back.point) == (name, name)
    place = Path(back.path)
    assert place.resolve().parent.parent.parent == store.resolve()
    assert [p.name for p in tmp_path.iterdir()] == ["store"]
    assert [s.path for s in list_stored(store, machine_id=name, point=name)] == [place]
    (found,) = in_force(store, name, name)
    assert found.digest == back.digest


@pytest.mark.parametrize("pair", [("a/b", "a%2Fb"), ("ä", "a")])
def test_names_that_look_alike_are_others(
    tmp_path: Path, make_baseline: Make, pair: tuple[str, str]
) -> None:
    for machine in pair:
        store_baseline(tmp_path, make_baseline(machine_id=machine))
    assert len(list_stored(tmp_path)) == 2
    assert {b.machine_id for machine in pair for b in in_force(tmp_path, machine)} == set(pair)


@pytest.mark.parametrize("name", FILES)
def test_a_changed_byte_is_seen(kept: Path, name: str) -> None:
    content = bytearray((kept / name).read_bytes())
    content[len(content) // 2] ^= 1
    (kept / name).write_bytes(content)
    message = refusal(kept)
    assert message.startswith(f"{kept / name}: changed since the baseline was made")


@pytest.mark.parametrize("name", FILES)
def test_a_lost_file_is_named(kept: Path, name: str) -> None:
    (kept / name).unlink()
    assert refusal(kept).startswith(f"{kept / name}: cannot be read (No such file or directory)")


def test_a_half_written_folder_is_refused(kept: Path) -> None:
    (kept / SUMS).unlink()
    message = refusal(kept)
    assert f"no complete baseline: {SUMS} cannot be read" in message
    assert message.endswith("make it again from its recordings")


def test_nothing_at_all_is_refused(tmp_path: Path) -> None:
    assert "no complete baseline" in refusal(tmp_path / "nowhere")


@pytest.mark.parametrize(
    "row", ["abc  levels.csv", f"{'0' * 64} levels.csv", f"{'0' * 64}  ../levels.csv", ""]
)
def test_a_broken_list_of_digests_is_refused(kept: Path, row: str) -> None:
    text = (kept / SUMS).read_text("utf-8")
    (kept / SUMS).write_text(f"{row}\n{text}", "utf-8")
    assert refusal(kept).startswith(f"{kept / SUMS}: not a list of digests: {row!r}")


@pytest.mark.parametrize("text", ["", f"{'0' * 64}  levels.csv\n"])
def test_facts_that_are_not_listed_are_refused(kept: Path, text: str) -> None:
    (kept / SUMS).write_text(text, "utf-8")
    assert refusal(kept).startswith(f"{kept / SUMS}: {FACTS} is not listed")


@pytest.mark.parametrize("name", FILES[1:])
def test_a_table_that_is_not_listed_is_not_believed(kept: Path, name: str) -> None:
    rows = (kept / SUMS).read_text("utf-8").splitlines(keepends=True)
    (kept / SUMS).write_text("".join(row for row in rows if name not in row.split()), "utf-8")
    assert f"KeyError: '{name}'" in refusal(kept)


def test_another_edition_is_refused(kept: Path) -> None:
    text = (kept / FACTS).read_text("utf-8")
    (kept / FACTS).write_text(text.replace("schema_version = 1", "schema_version = 99"), "utf-8")
    relist(kept)
    assert refusal(kept).startswith(f"{kept / FACTS}: edition 99 of the layout is not known")


def test_a_broken_one_in_force_is_never_replaced_by_an_older_one(
    tmp_path: Path, make_baseline: Make
) -> None:
    for _ in range(2):
        last = store_baseline(tmp_path, make_baseline())
    (Path(last.path) / "levels.csv").unlink()
    with pytest.raises(BaselineError, match=r"v2/levels\.csv"):
        in_force(tmp_path, "F3")
    (Path(last.path) / SUMS).unlink()
    with pytest.raises(BaselineError, match="v2: no complete baseline"):
        in_force(tmp_path, "F3")


def test_what_is_written_aside_is_no_baseline(tmp_path: Path, make_baseline: Make) -> None:
    place = Path(store_baseline(tmp_path, make_baseline()).path).parent
    for name in (".0123.part", "v0", "v01", "v2x", "old"):
        (place / name).mkdir()
    (place / "v7").write_text("a file", "utf-8")
    assert [s.path.name for s in list_stored(tmp_path)] == ["v1"]
    assert store_baseline(tmp_path, make_baseline()).version == 2


def test_a_baseline_of_another_machine_is_not_in_force(tmp_path: Path, make_baseline: Make) -> None:
    store_baseline(tmp_path, make_baseline(machine_id="F3"))
    shutil.copytree(tmp_path / "F3", tmp_path / "F4")
    with pytest.raises(BaselineError, match="put it back where it belongs") as caught:
        in_force(tmp_path, "F4")
    assert "v1: holds a baseline of F3, point P1X" in str(caught.value)


def test_a_baseline_of_another_point_is_not_in_force(tmp_path: Path, make_baseline: Make) -> None:
    store_baseline(tmp_path, make_baseline(point="P1X"))
    shutil.copytree(tmp_path / "F3" / "P1X", tmp_path / "F3" / "P1Y")
    with pytest.raises(BaselineError, match="put it back where it belongs"):
        in_force(tmp_path, "F3", "P1Y")


def test_two_writers_at_once_get_their_own_numbers(tmp_path: Path, make_baseline: Make) -> None:
    baseline = make_baseline()

    def write(writer: int) -> list[tuple[int, str]]:
        found = [
            store_baseline(tmp_path, replace(baseline, note=f"{writer}-{n}")) for n in range(N_EACH)
        ]
        return [(item.version, item.note) for item in found]

    with ThreadPoolExecutor(N_WRITERS) as pool:
        rows = [row for found in pool.map(write, range(N_WRITERS)) for row in found]
    total = N_WRITERS * N_EACH
    assert sorted(version for version, _ in rows) == list(range(1, total + 1))
    assert {note for _, note in rows} == {
        f"{w}-{n}" for w in range(N_WRITERS) for n in range(N_EACH)
    }
    place = tmp_path / "F3" / "P1X"
    assert {(b.version, b.note) for b in map(read_baseline, place.iterdir())} == set(rows)
    assert len(list(place.iterdir())) == total


def test_a_number_taken_in_the_meantime_is_not_overwritten(
    tmp_path: Path, make_baseline: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another writer stores v1 just before the folder of this one is renamed."""
    rename, rivals = Path.rename, [make_baseline(note="the other")]

    def late(self: Path, target: Path) -> Path:
        if rivals:
            store_baseline(tmp_path, rivals.pop())
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", late)
    mine = store_baseline(tmp_path, make_baseline(note="mine"))
    assert (mine.version, mine.note) == (2, "mine")
    assert read_baseline(tmp_path / "F3" / "P1X" / "v1").note == "the other"


def test_a_disk_that_is_full_leaves_nothing(
    tmp_path: Path, make_baseline: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = [3]

    def full(_: int) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left on device; check the folder") as caught:
        store_baseline(tmp_path, make_baseline())
    assert str(caught.value).startswith(f"cannot write {tmp_path / 'F3' / 'P1X'}: ")
    assert list((tmp_path / "F3" / "P1X").iterdir()) == []


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path, make_baseline: Make) -> None:
    (tmp_path / "F3").write_text("a file", "utf-8")
    with pytest.raises(OutputError, match="cannot write"):
        store_baseline(tmp_path, make_baseline())


def test_a_name_that_is_too_long_is_refused(tmp_path: Path, make_baseline: Make) -> None:
    with pytest.raises(OutputError, match="File name too long"):
        store_baseline(tmp_path, make_baseline(point="ä" * 60))


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="no sha256sum on this system")
def test_sha256sum_agrees(kept: Path) -> None:
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", SUMS], cwd=kept, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.decode().split("\n")[:-1] == [f"{name}: OK" for name in sorted(FILES)]


def test_what_could_not_be_read_again_takes_no_number(
    tmp_path: Path, make_baseline: Callable[..., Baseline]
) -> None:
    """A number that is none is refused before a folder is made for it."""
    good = make_baseline()
    family = good.families[0]
    odd = replace(family.readings[0], false_alarm_probability=float("nan"))
    with pytest.raises(BaselineError, match="no baseline that vibhealth"):
        store_baseline(tmp_path, replace(good, families=(replace(family, readings=(odd,)),)))
    assert list_stored(tmp_path) == ()
    assert store_baseline(tmp_path, good).version == 1
