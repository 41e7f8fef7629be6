"""``baseline``: made, listed, shown, checked, promoted from a candidate, used by ``accept``."""

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import soundfile

from vibhealth.baseline import read_baseline, store_baseline
from vibhealth.report import schema

Run = Callable[..., Any]
BY = "Ä. Müller"
POINTS = ("P1X", "P1Y")
SECOND_CHANNEL = '[[channel]]\nchannel = 2\npoint = "P1Y"\ndirection = "y"\n'
FILES = {
    "SHA256SUMS",
    "baseline.toml",
    "envelope_spectrum.csv",
    "families.csv",
    "half_octaves.csv",
    "harmonics.csv",
    "levels.csv",
    "order_spectrum.csv",
    "sensitivity.csv",
    "whitened_envelope_spectrum.csv",
}


@dataclass(frozen=True)
class Kept:
    """A store with version 1 of both points, its recordings, and how the command ended."""

    folder: Path
    card: Path
    recordings: tuple[Path, Path]
    ended: Any

    def version(self, point: str = "P1X", number: int = 1) -> Path:
        return self.folder / "F3" / point / f"v{number}"


@pytest.fixture(scope="session")
def second(run: Run, job: Any) -> Path:
    """Another recording of the good machine, made on another day; only P1X was recorded."""
    path = Path(job.folder) / "second.wav"
    made = ("--card", job.card, "--seconds", 26, "--rate", 8000, "--seed", 4, "--clean")
    facts = ("--start-time", "2031-03-06T08:00:00", "--temperature-c", 51, "--load", "empty")
    ended = run("simulate", path, *made, *facts)
    assert ended.code == 0, ended.err
    text = path.with_suffix(".toml").read_text("utf-8")
    assert text.count(SECOND_CHANNEL) == 1
    path.with_suffix(".toml").write_text(text.replace(SECOND_CHANNEL, ""), "utf-8")
    return path


@pytest.fixture(scope="session")
def short(job: Any) -> Path:
    """The first four seconds of the clean recording."""
    samples, rate = soundfile.read(job.clean, always_2d=True)
    path = Path(job.folder) / "short.wav"
    soundfile.write(path, samples[: 4 * rate], rate, subtype=soundfile.info(job.clean).subtype)
    path.with_suffix(".toml").write_bytes(Path(job.clean).with_suffix(".toml").read_bytes())
    return path


@pytest.fixture(scope="session")
def kept(run: Run, job: Any, second: Path, tmp_path_factory: pytest.TempPathFactory) -> Kept:
    folder = tmp_path_factory.mktemp("kept") / "reference_spectra"
    recordings = (Path(job.clean), second)
    common = ("--card", job.card, "--baselines", folder, "--json")
    ended = run("baseline", "make", *recordings, *common, "--accepted-by", BY)
    return Kept(folder=folder, card=job.card, recordings=recordings, ended=ended)


@pytest.fixture
def store(kept: Kept, tmp_path: Path) -> Path:
    """A copy of the store that a test may damage."""
    return Path(shutil.copytree(kept.folder, tmp_path / "reference_spectra"))


@dataclass(frozen=True)
class Passed:
    """A set that passed without a reference, and the store with its candidate."""

    folder: Path
    ended: Any

    @property
    def candidate(self) -> Path:
        return self.folder / "F3" / "P1X" / "candidate-1"


@pytest.fixture(scope="session")
def passed(run: Run, job: Any, tmp_path_factory: pytest.TempPathFactory) -> Passed:
    folder = tmp_path_factory.mktemp("passed")
    given = ("--card", job.card, "--point", "P1X", "--after", job.clean)
    return Passed(folder=folder, ended=run("accept", *given, "--baselines", folder))


def refused(ended: Any, *words: str) -> None:
    """Exit 2 and one sentence with these words, on stderr."""
    assert ended.code == 2, ended.out
    assert ended.out == ""
    assert "Traceback" not in ended.err
    assert len(ended.err.strip().splitlines()) == 1, ended.err
    for word in words:
        assert word in ended.err


def parsed(ended: Any, code: int = 0) -> Any:
    assert ended.code == code, ended.err
    return json.loads(ended.out)


def flat(text: str) -> str:
    return " ".join(text.split())


def copied(recording: Path, folder: Path, name: str, **facts: tuple[str, str]) -> Path:
    """Recording and sidecar under another name, with lines of the sidecar changed."""
    path = folder / name
    shutil.copyfile(recording, path)
    text = recording.with_suffix(".toml").read_text("utf-8")
    for key, (was, becomes) in facts.items():
        assert text.count(f"{key} = {was}") == 1
        text = text.replace(f"{key} = {was}", f"{key} = {becomes}")
    path.with_suffix(".toml").write_text(text, "utf-8")
    return path


def tamper(path: Path) -> None:
    """One digit of a file becomes another one."""
    text = path.read_text("utf-8")
    place = max(text.rfind(digit) for digit in "123456789")
    path.write_text(f"{text[:place]}0{text[place + 1 :]}", "utf-8")


# --- make -------------------------------------------------------------------------------------


def test_every_point_gets_one_version(kept: Kept) -> None:
    document = parsed(kept.ended)
    assert document["schema_version"] == 1
    found = {item["point"]: item for item in document["baselines"]}
    assert tuple(found) == POINTS
    for point, item in found.items():
        jsonschema.validate({"schema_version": 1, **item}, schema("baseline"))
        assert (item["version"], item["status"], item["accepted_by"]) == (1, "known-good", BY)
        assert (item["flags"], item["note"], item["conditions"]["load"]) == ([], "", "empty")
        assert item["path"] == str(kept.version(point))
        assert {path.name for path in kept.version(point).iterdir()} == FILES
    x, y = found.values()
    assert [len(row["values"]) for row in (x["levels"][0], y["levels"][0])] == [2, 1]
    assert len({recording["sha256"] for recording in x["recordings"]}) == 2
    assert x["conditions"]["temperature_c"] == [50.0, 51.0]
    first, second = kept.ended.err.splitlines()
    assert first.startswith(f"F3, P1X, version 1: 2 recordings, accepted by {BY}.")
    assert first.endswith(str(kept.version("P1X")))
    assert second.startswith(f"F3, P1Y, version 1: 1 recording, accepted by {BY}.")


def test_an_invented_machine_says_so(kept: Kept) -> None:
    for item in parsed(kept.ended)["baselines"]:
        assert item["label"].startswith("INVENTED")


def test_made_again_it_is_the_next_version_and_the_first_stays(
    run: Run, kept: Kept, store: Path
) -> None:
    first = (store / "F3" / "P1X" / "v1" / "SHA256SUMS").read_bytes()
    given = ("--card", kept.card, "--point", "P1X", "--accepted-by", "C. Second")
    ended = run("baseline", "make", kept.recordings[1], *given, "--baselines", store)
    assert ended.code == 0, ended.err
    assert ended.out.startswith("F3, P1X, version 2: 1 recording, accepted by C. Second.")
    assert (store / "F3" / "P1X" / "v1" / "SHA256SUMS").read_bytes() == first
    assert not (store / "F3" / "P1Y" / "v2").exists()
    rows = parsed(run("baseline", "list", "--baselines", store, "--json"))["baselines"]
    assert [(row["point"], row["version"], row["state"]) for row in rows] == [
        ("P1X", 1, "superseded"),
        ("P1X", 2, "in-force"),
        ("P1Y", 1, "in-force"),
    ]
    shown = parsed(run("baseline", "show", "F3", "P1X", "--baselines", store, "--json"))
    assert (shown["version"], shown["accepted_by"]) == (2, "C. Second")
    older = ("baseline", "show", "F3", "P1X", "--version", 1, "--baselines", store, "--json")
    assert parsed(run(*older))["accepted_by"] == BY


def test_recordings_need_the_card(run: Run, kept: Kept, tmp_path: Path) -> None:
    ended = run(
        "baseline", "make", kept.recordings[0], "--accepted-by", BY, "--baselines", tmp_path / "s"
    )
    refused(ended, "machine card", "--card")
    assert not (tmp_path / "s").exists()


def test_somebody_has_to_be_named(run: Run, kept: Kept, tmp_path: Path) -> None:
    given = ("--card", kept.card, "--point", "P1X", "--baselines", tmp_path / "s")
    ended = run("baseline", "make", kept.recordings[0], *given)
    assert ended.code == 2
    assert ended.out == ""
    assert "--accepted-by" in ended.err
    for nobody in ("", "  ", "?"):
        again = run("baseline", "make", kept.recordings[0], *given, "--accepted-by", nobody)
        refused(again, "baseline of P1X", "nobody answers for it", "--accepted-by")
    assert not (tmp_path / "s").exists()


def test_the_same_recording_twice_is_refused(run: Run, kept: Kept, tmp_path: Path) -> None:
    copy = copied(kept.recordings[0], tmp_path, "copy.wav")
    given = ("--card", kept.card, "--point", "P1X", "--accepted-by", BY)
    ended = run("baseline", "make", kept.recordings[0], copy, *given, "--baselines", tmp_path / "s")
    refused(ended, str(copy), "given twice")
    assert not (tmp_path / "s").exists()


def test_recordings_in_two_states_are_refused_and_nothing_is_kept(
    run: Run, kept: Kept, tmp_path: Path
) -> None:
    loaded = copied(kept.recordings[1], tmp_path, "loaded.wav", load=('"empty"', '"loaded"'))
    given = ("--card", kept.card, "--accepted-by", BY, "--note", "all the same")
    ended = run(
        "baseline", "make", kept.recordings[0], loaded, *given, "--baselines", tmp_path / "s"
    )
    refused(ended, "loaded.wav", "load is loaded", "empty", "one state")
    assert not (tmp_path / "s").exists()


def test_a_settling_set_is_refused_unless_a_note_says_why(
    run: Run, kept: Kept, tmp_path: Path
) -> None:
    cold = copied(kept.recordings[1], tmp_path, "cold.wav", temperature_c=("51.0", "38.0"))
    store = tmp_path / "s"
    given = ("--card", kept.card, "--point", "P1X", "--accepted-by", BY, "--baselines", store)
    ended = run("baseline", "make", kept.recordings[0], cold, *given)
    refused(ended, "baseline of P1X is refused", "between 38 and 50 °C", "--note")
    assert not store.exists()
    noted = ("--note", "no other day was to be had")
    accepted = run("baseline", "make", kept.recordings[0], cold, *given, *noted)
    assert accepted.code == 0, accepted.err
    assert "accepted although the housing was between 38 and 50 °C" in accepted.out
    (row,) = parsed(run("baseline", "list", "--baselines", store, "--json"))["baselines"]
    assert row["note"] == "no other day was to be had"
    (flag,) = row["flags"]
    assert flag.startswith("the housing was between 38 and 50 °C")
    page = flat(run("baseline", "show", store / "F3" / "P1X" / "v1").out)
    assert f"Against it {flag}" in page
    assert "Note no other day was to be had" in page


def test_a_bearing_that_reads_like_a_defect_is_no_reference(
    run: Run, job: Any, tmp_path: Path
) -> None:
    given = ("--card", job.card, "--point", "P1X", "--accepted-by", BY)
    ended = run("baseline", "make", job.faulty, *given, "--baselines", tmp_path / "s")
    refused(ended, "baseline of P1X is refused", "outer ring of bearing upper reads like a defect")
    assert not (tmp_path / "s").exists()


def test_a_recording_that_is_too_short_is_refused(
    run: Run, job: Any, short: Path, tmp_path: Path
) -> None:
    given = ("--card", job.card, "--point", "P1X", "--accepted-by", BY, "--note", "why not")
    ended = run("baseline", "make", short, *given, "--baselines", tmp_path / "s")
    refused(ended, "short.wav: not usable for a baseline", "turns in 4 s")
    assert not (tmp_path / "s").exists()


def test_a_point_that_does_not_move_with_the_body_makes_none(
    run: Run, job: Any, short: Path, tmp_path: Path
) -> None:
    card = tmp_path / "on_base.toml"
    text = Path(job.card).read_text("utf-8")
    assert text.count('\nname = "P1X" ') == 1
    on_base = text.replace('\nname = "P1X" ', '\nmounted_on = "base"\nname = "P1X" ')
    card.write_text(on_base, "utf-8")
    given = ("--card", card, "--point", "P1X", "--accepted-by", BY)
    ended = run("baseline", "make", short, *given, "--baselines", tmp_path / "s")
    refused(ended, "no recording of a point on the moving body")


# --- of a job ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def early(run: Run, job: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with one recording at 1 h; most of its questions are open."""
    place = tmp_path_factory.mktemp("early") / "F3-2031"
    assert run("job", "new", job.card, place).code == 0
    copied(Path(job.clean), place / "as-left" / "1h", "clean.wav")
    return place


@pytest.fixture
def released(early: Path, tmp_path: Path) -> Path:
    """The same job; an engineer runs on against the HOLD."""
    place = Path(shutil.copytree(early, tmp_path / "released"))
    record = place / "job.toml"
    override = '[override]\nby = "B. Engineer"\nreason = "spare arrives tonight"\n'
    at = "at = 2031-03-09T08:00:00+00:00\n"
    record.write_text(f"{record.read_text('utf-8')}\n{override}{at}", "utf-8")
    return place


def test_a_job_that_is_not_accepted_makes_no_reference(
    run: Run, early: Path, tmp_path: Path
) -> None:
    given = ("--accepted-by", BY, "--note", "it will be", "--baselines", tmp_path / "s")
    ended = run("baseline", "make", early, *given)
    refused(ended, str(early), "this job is not accepted, so it makes no reference", "HOLD")
    assert not (tmp_path / "s").exists()


def test_a_job_brings_its_own_card(run: Run, early: Path, job: Any, tmp_path: Path) -> None:
    given = ("--card", job.card, "--accepted-by", BY, "--baselines", tmp_path / "s")
    refused(run("baseline", "make", early, *given), "--card does not go with a job folder")


def test_an_accepted_job_of_the_first_hours_needs_a_note(
    run: Run, released: Path, tmp_path: Path
) -> None:
    store = tmp_path / "s"
    given = ("--accepted-by", BY, "--baselines", store)
    ended = run("baseline", "make", released, *given)
    refused(ended, str(released), "no recording of the check at 24 h or 7 days", "record at 24 h")
    assert not store.exists()
    noted = run("baseline", "make", released, *given, "--note", "it ran for years before")
    assert noted.code == 0, noted.err
    assert len(noted.out.splitlines()) == len(POINTS)
    assert "accepted although recordings of the check at 1 h are among them" in noted.out


def test_an_accepted_job_at_24_h_makes_one(
    run: Run, released: Path, second: Path, tmp_path: Path
) -> None:
    """Its recordings at 1 h are left out; that a HOLD was overridden is kept with it."""
    copied(second, released / "as-left" / "24h", "steady.wav")
    given = ("--accepted-by", BY, "--baselines", tmp_path / "s", "--json")
    (item,) = parsed(run("baseline", "make", released, *given))["baselines"]
    assert item["point"] == "P1X"
    (flag,) = item["flags"]
    assert flag.startswith("the job was a HOLD (NOT WRITTEN DOWN")
    assert flag.endswith("overridden by B. Engineer")
    assert item["note"].startswith("override: ")
    (recording,) = item["recordings"]
    assert (recording["name"], recording["moment"]) == ("24h/steady.wav", "24h")


# --- candidates -------------------------------------------------------------------------------


def test_a_pass_without_reference_is_kept_as_candidate(run: Run, passed: Passed) -> None:
    assert passed.ended.code == 0, passed.ended.err
    assert passed.ended.out.startswith("PASS on absolute checks only.")
    assert "Kept as candidate for a reference" in passed.ended.err
    assert str(passed.candidate) in passed.ended.err
    assert [path.name for path in (passed.folder / "F3").iterdir()] == ["P1X"]
    (row,) = parsed(run("baseline", "list", "--baselines", passed.folder, "--json"))["baselines"]
    assert (row["state"], row["version"], row["fault"]) == ("candidate", 1, None)
    assert (row["status"], row["accepted_by"]) == ("candidate", "")
    page = run("baseline", "list", "--baselines", passed.folder).out
    assert "candidate-1" in page
    assert "nobody yet" in page


def test_the_same_set_is_kept_once(run: Run, job: Any, passed: Passed) -> None:
    given = ("--card", job.card, "--point", "P1X", "--after", job.clean)
    again = run("accept", *given, "--baselines", passed.folder)
    assert (again.code, again.err) == (0, "")
    assert [path.name for path in (passed.folder / "F3" / "P1X").iterdir()] == ["candidate-1"]


def test_a_candidate_is_no_reference(run: Run, job: Any, passed: Passed) -> None:
    given = ("--card", job.card, "--point", "P1X", "--after", job.clean, "--json")
    document = parsed(run("accept", *given, "--baselines", passed.folder))
    (reference,) = document["references"]
    assert (reference["rank"], reference["name"]) == ("nameplate", "")
    ended = run("baseline", "show", "F3", "P1X", "--baselines", passed.folder)
    refused(ended, "no baseline of machine F3, point P1X")


def test_a_candidate_is_promoted_when_somebody_answers_for_it(
    run: Run, passed: Passed, tmp_path: Path
) -> None:
    store = Path(shutil.copytree(passed.folder, tmp_path / "store"))
    candidate = store / "F3" / "P1X" / "candidate-1"
    given = ("--baselines", store, "--accepted-by")
    refused(run("baseline", "make", candidate, *given, " ? "), "nobody answers for it")
    assert not (candidate.parent / "v1").exists()
    ended = run("baseline", "make", candidate, *given, f" {BY} ")
    assert ended.code == 0, ended.err
    assert ended.out.startswith(f"F3, P1X, version 1: 1 recording, accepted by {BY}.")
    was = parsed(run("baseline", "show", candidate, "--json"))
    is_ = parsed(run("baseline", "show", "F3", "P1X", "--baselines", store, "--json"))
    assert (is_["status"], is_["accepted_by"]) == ("known-good", BY)
    for key in ("levels", "families", "recordings", "conditions"):
        assert is_[key] == was[key]
    again = run("baseline", "make", candidate.parent / "v1", *given, "D. Other")
    refused(again, "v1: is known-good already", BY)


def test_a_candidate_with_something_against_it_needs_a_note(
    run: Run, passed: Passed, tmp_path: Path
) -> None:
    warming = replace(read_baseline(passed.candidate), flags=("the housing still warmed up",))
    candidate = store_baseline(tmp_path, warming).path
    given = (candidate, "--accepted-by", BY, "--baselines", tmp_path)
    refused(run("baseline", "make", *given), candidate, "the housing still warmed up", "--note")
    ended = run("baseline", "make", *given, "--note", "by 2 °C only", "--json")
    (item,) = parsed(ended)["baselines"]
    assert (item["status"], item["note"]) == ("known-good", "by 2 °C only")
    assert item["flags"] == ["the housing still warmed up"]
    assert "accepted although the housing still warmed up" in ended.err


def test_a_tampered_candidate_is_not_promoted(run: Run, passed: Passed, tmp_path: Path) -> None:
    candidate = Path(shutil.copytree(passed.candidate, tmp_path / "candidate-1"))
    tamper(candidate / "levels.csv")
    given = ("--accepted-by", BY, "--baselines", tmp_path / "s")
    refused(run("baseline", "make", candidate, *given), str(candidate / "levels.csv"), "changed")
    assert not (tmp_path / "s").exists()


# --- list and check ---------------------------------------------------------------------------


def test_whole_baselines_pass_the_check(run: Run, kept: Kept) -> None:
    ended = run("baseline", "check", "--baselines", kept.folder)
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.splitlines() == [f"whole: {kept.version(point)}" for point in POINTS]
    rows = parsed(run("baseline", "check", "--baselines", kept.folder, "--json"))["baselines"]
    assert [row["fault"] for row in rows] == [None, None]


def test_the_list_in_json_says_who_answers_for_them(run: Run, kept: Kept) -> None:
    document = parsed(run("baseline", "list", "--baselines", kept.folder, "--json"))
    assert document["schema_version"] == 1
    for row, point in zip(document["baselines"], POINTS, strict=True):
        assert row.keys() == {
            "path", "state", "version", "fault", "machine_id", "point", "status", "made_at",
            "accepted_by", "note", "flags", "n_recordings", "digest", "label",
        }  # fmt: skip
        assert (row["path"], row["state"]) == (str(kept.version(point)), "in-force")
        assert (row["machine_id"], row["point"], row["accepted_by"]) == ("F3", point, BY)


def test_the_list_is_a_table(run: Run, kept: Kept) -> None:
    ended = run("baseline", "list", "--baselines", kept.folder)
    assert (ended.code, ended.err) == (0, "")
    for point in POINTS:
        (row,) = [line for line in ended.out.splitlines() if point in line]
        assert row.split()[:5] == ["F3", point, "v1", "in", "force"]
        assert BY in row
    assert "2 of them INVENTED" in ended.out


@pytest.mark.parametrize("name", ["baseline.toml", "families.csv", "order_spectrum.csv"])
def test_a_file_that_was_tampered_with_is_named(run: Run, store: Path, name: str) -> None:
    damaged = store / "F3" / "P1X" / "v1" / name
    tamper(damaged)
    ended = run("baseline", "check", "--baselines", store)
    assert (ended.code, ended.err) == (2, "")
    told, whole = ended.out.splitlines()
    assert told.startswith(f"DAMAGED: {damaged}: changed since the baseline was made")
    assert whole == f"whole: {store / 'F3' / 'P1Y' / 'v1'}"


def test_digests_that_were_tampered_with_are_found(run: Run, store: Path) -> None:
    tamper(store / "F3" / "P1X" / "v1" / "SHA256SUMS")
    ended = run("baseline", "check", "--baselines", store)
    assert (ended.code, ended.err) == (2, "")
    assert ended.out.startswith(f"DAMAGED: {store / 'F3' / 'P1X' / 'v1'}")


@pytest.mark.parametrize("name", ["levels.csv", "SHA256SUMS", "baseline.toml"])
def test_a_file_that_is_lost_is_named(run: Run, store: Path, name: str) -> None:
    (store / "F3" / "P1X" / "v1" / name).unlink()
    ended = run("baseline", "check", "--baselines", store)
    assert (ended.code, ended.err) == (2, "")
    assert ended.out.startswith(f"DAMAGED: {store / 'F3' / 'P1X' / 'v1'}")
    assert name in ended.out.splitlines()[0]
    assert "make" in ended.out.splitlines()[0]


def test_damage_is_in_the_json_of_the_check(run: Run, store: Path) -> None:
    damaged = store / "F3" / "P1X" / "v1" / "families.csv"
    tamper(damaged)
    ended = run("baseline", "check", "--baselines", store, "--json")
    first, second = parsed(ended, code=2)["baselines"]
    assert (first["state"], first["version"]) == ("damaged", 1)
    assert first["fault"].startswith(f"{damaged}: changed")
    assert (second["state"], second["fault"]) == ("in-force", None)
    assert ended.err == f"DAMAGED: {first['fault']}\n"


def test_the_list_names_the_damaged_file_and_keeps_the_others(run: Run, store: Path) -> None:
    damaged = store / "F3" / "P1X" / "v1" / "half_octaves.csv"
    tamper(damaged)
    ended = run("baseline", "list", "--baselines", store)
    assert ended.err == ""
    assert "".join(ended.out.split()).count(f"{damaged}:changedsincethebaselinewasmade") == 1
    (row,) = [line for line in ended.out.splitlines() if "P1X" in line and "DAMAGED" in line]
    assert row.split() == ["F3", "P1X", "v1", "DAMAGED"]
    assert any("P1Y" in line and "in force" in line for line in ended.out.splitlines())
    rows = json.loads(run("baseline", "list", "--baselines", store, "--json").out)["baselines"]
    assert [row["state"] for row in rows] == ["damaged", "in-force"]


def test_an_empty_store_is_no_fault(run: Run, tmp_path: Path) -> None:
    ended = run("baseline", "list", "--baselines", tmp_path)
    assert (ended.code, ended.err) == (0, "")
    assert "No baseline is kept here" in ended.out
    assert parsed(run("baseline", "list", "--baselines", tmp_path, "--json"))["baselines"] == []
    assert run("baseline", "check", "--baselines", tmp_path).code == 0


@pytest.mark.parametrize("command", ["list", "check"])
def test_no_such_store(
    run: Run, command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone = tmp_path / "gone"
    ended = run("baseline", command, "--baselines", gone)
    refused(ended, str(gone), "no such folder of baselines", "vibhealth baseline make")
    monkeypatch.chdir(tmp_path)
    refused(run("baseline", command), "no folder reference_spectra here", "--baselines")


def test_the_store_beside_one_is_the_default(
    run: Run, kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(kept.folder.parent)
    ended = run("baseline", "check")
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.splitlines() == [
        f"whole: {Path('reference_spectra', 'F3', point, 'v1')}" for point in POINTS
    ]


# --- show -------------------------------------------------------------------------------------


def test_show_says_who_when_conditions_levels_and_families(run: Run, kept: Kept) -> None:
    ended = run("baseline", "show", "F3", "P1X", "--baselines", kept.folder)
    assert (ended.code, ended.err) == (0, "")
    page = flat(ended.out)
    digest = parsed(kept.ended)["baselines"][0]["digest"]
    for words in (
        "Deck feeder F3: baseline of F3, P1X, version 1",
        "INVENTED",
        f"Accepted by {BY}",
        "Housing 50 to 51 °C",
        "State empty, x",
        "8000 Hz",
        "Orbit",
        "stroke, peak to peak",
        "rms, bearing band",
        "upper, outer ring",
        "clean.wav: 26 s",
        "second.wav: 26 s",
        f"Digest {digest}",
    ):
        assert words in page, words
    assert "Against it" not in page


def test_show_by_folder_is_the_same(run: Run, kept: Kept) -> None:
    by_name = run("baseline", "show", "F3", "P1Y", "--baselines", kept.folder)
    by_folder = run("baseline", "show", kept.version("P1Y"))
    assert by_folder.code == 0
    assert by_folder.out == by_name.out


def test_show_in_json_keeps_its_schema(run: Run, kept: Kept) -> None:
    document = parsed(run("baseline", "show", kept.version("P1X"), "--json"))
    jsonschema.validate(document, schema("baseline"))
    made = {item["point"]: item for item in parsed(kept.ended)["baselines"]}
    assert document == {"schema_version": 1} | made["P1X"]
    stroke = next(item for item in document["levels"] if item["id"] == "stroke-mm")
    assert stroke["unit"] == "mm"
    assert stroke["values"] == pytest.approx([6.0, 6.0], rel=0.01)  # of the template card


@pytest.mark.parametrize(
    ("what", "words"),
    [
        (("F3", "P9"), ("no baseline of machine F3, point P9", "vibhealth baseline list")),
        (("F9", "P1X"), ("no baseline of machine F9, point P1X",)),
        (("F3", "P1X", "--version", 2), ("no baseline version 2 of machine F3, point P1X",)),
        (("F3",), ("F3: no such folder", "a machine and its point")),
    ],
)
def test_show_of_what_is_not_there(
    run: Run, kept: Kept, what: tuple[object, ...], words: tuple[str, ...]
) -> None:
    refused(run("baseline", "show", *what, "--baselines", kept.folder), *words)


def test_show_of_a_folder_that_is_no_baseline(run: Run, kept: Kept) -> None:
    place = kept.version().parent
    refused(run("baseline", "show", place), str(place), "no complete baseline", "SHA256SUMS")


def test_show_of_a_tampered_baseline(run: Run, store: Path) -> None:
    damaged = store / "F3" / "P1X" / "v1" / "levels.csv"
    tamper(damaged)
    for which in (("F3", "P1X", "--baselines", store), (damaged.parent,)):
        refused(run("baseline", "show", *which), str(damaged), "changed", "make the baseline again")


# --- accept -----------------------------------------------------------------------------------


def test_accept_compares_with_the_one_in_force(run: Run, job: Any, kept: Kept) -> None:
    given = ("--card", job.card, "--point", "P1X", "--after", job.faulty)
    document = parsed(run("accept", *given, "--baselines", kept.folder, "--json"), code=3)
    jsonschema.validate(document, schema("assessment"))
    (reference,) = document["references"]
    made = parsed(kept.ended)["baselines"][0]
    for key in ("accepted_by", "digest", "path", "made_at", "n_recordings", "point"):
        assert reference[key] == made[key], key
    assert (reference["rank"], reference["is_fair"]) == ("known-good", True)
    assert reference["name"] == "F3, P1X, version 1"
    assert (
        f"Compared with the known-good reference of {made['made_at'][:10]}, version 1, "
        f"accepted by {BY} (P1X)." in document["scope"]
    )
    by_id = {item["id"]: item for item in document["criteria"]}
    assert by_id["reference"]["value"] == "known-good of this machine (F3, P1X, version 1)"
    assert by_id["reference-conditions"]["result"] == "pass"


def test_a_pass_against_a_reference_is_no_candidate(
    run: Run, job: Any, second: Path, tmp_path: Path
) -> None:
    common = ("--card", job.card, "--point", "P1X", "--baselines", tmp_path)
    assert run("baseline", "make", second, *common, "--accepted-by", BY).code == 0
    ended = run("accept", "--after", job.clean, *common)
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.startswith("PASS")
    assert "absolute checks only" not in ended.out.splitlines()[0]
    page = flat(ended.out)
    assert "Reference P1X: known-good reference F3, P1X, version 1 of " in page
    assert f"accepted by {BY} (1 recording)" in page
    assert [path.name for path in (tmp_path / "F3" / "P1X").iterdir()] == ["v1"]


def test_nothing_is_kept_of_a_hold(run: Run, job: Any, tmp_path: Path) -> None:
    given = ("--card", job.card, "--point", "P1X", "--after", job.faulty)
    ended = run("accept", *given, "--baselines", tmp_path)
    assert (ended.code, ended.err) == (3, "")
    assert list(tmp_path.iterdir()) == []


def test_a_recording_is_not_judged_against_itself(run: Run, job: Any, kept: Kept) -> None:
    given = ("--card", job.card, "--point", "P1X", "--after", job.clean)
    document = parsed(run("accept", *given, "--baselines", kept.folder, "--json"), code=3)
    assert document["hold"] == "measure-again"
    by_id = {item["id"]: item for item in document["criteria"]}
    criterion = by_id["reference-conditions"]
    assert criterion["result"] == "not-judged"
    assert f"the reference was made from {job.clean} itself" in criterion["reason"]
    (reference,) = document["references"]
    assert reference["is_fair"] is False
    assert f"the reference was made from {job.clean} itself" in reference["conditions"]
    judged = {item["id"]: item["result"] for item in document["criteria"]}
    assert "reference-pattern" not in judged


def test_accept_without_the_store(run: Run, job: Any, tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    given = ("--card", job.card, "--point", "P1X", "--after", job.clean)
    refused(run("accept", *given, "--baselines", gone), str(gone), "no such folder of baselines")
    assert not gone.exists()


@pytest.mark.parametrize("name", ["levels.csv", "SHA256SUMS"])
def test_accept_with_a_damaged_baseline(run: Run, job: Any, store: Path, name: str) -> None:
    """An older version is never taken in its place."""
    older, newer = store / "F3" / "P1X" / "v1", store / "F3" / "P1X" / "v2"
    shutil.copytree(older, newer)
    (newer / name).unlink()
    given = ("--card", job.card, "--point", "P1X", "--after", job.faulty)
    refused(run("accept", *given, "--baselines", store), str(newer), name, "make")


def test_accept_with_a_baseline_of_another_machine_in_its_place(
    run: Run, job: Any, store: Path, tmp_path: Path
) -> None:
    other = replace(read_baseline(store / "F3" / "P1X" / "v1"), machine_id="F4")
    moved = Path(store_baseline(tmp_path / "other", other).path)
    shutil.copytree(moved, store / "F3" / "P1X" / "v2")
    given = ("--card", job.card, "--point", "P1X", "--after", job.faulty)
    ended = run("accept", *given, "--baselines", store)
    refused(ended, str(store / "F3" / "P1X" / "v2"), "holds a baseline of F4, point P1X")
