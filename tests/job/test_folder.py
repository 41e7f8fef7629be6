"""Which recordings a job folder holds; what would be overlooked is refused."""

import re
from pathlib import Path

import pytest

from vibhealth.errors import JobError, OutputError
from vibhealth.job import JobFile, job_files, new_job, read_job
from vibhealth.model import Moment, Stage


def put(job: Path, *names: str) -> None:
    for name in names:
        (job / name).parent.mkdir(parents=True, exist_ok=True)
        (job / name).write_bytes(b"")


def test_recordings_are_sorted_by_stage_moment_and_name(job: Path) -> None:
    put(
        job,
        "as-left/7d/a.wav",
        "as-left/1h/b.FLAC",
        "as-left/1h/a.csv.gz",
        "as-left/z.npy",
        "as-left/run-up/a.mat",
        "as-found/p2.wav",
        "as-found/p1.w64",
        "as-found/coast-down/a.tsv",
    )
    found = [(file.stage, file.moment, file.path.name) for file in job_files(job)]
    assert found == [
        (Stage.AS_FOUND, None, "p1.w64"),
        (Stage.AS_FOUND, None, "p2.wav"),
        (Stage.AS_FOUND, Moment.COAST_DOWN, "a.tsv"),
        (Stage.AS_LEFT, None, "z.npy"),
        (Stage.AS_LEFT, Moment.RUN_UP, "a.mat"),
        (Stage.AS_LEFT, Moment.HOUR_1, "a.csv.gz"),
        (Stage.AS_LEFT, Moment.HOUR_1, "b.FLAC"),
        (Stage.AS_LEFT, Moment.DAY_7, "a.wav"),
    ]
    assert job_files(job / "job.toml") == job_files(job)
    assert job_files(job)[0] == JobFile(
        path=job / "as-found" / "p1.w64", stage=Stage.AS_FOUND, moment=None
    )


def test_sidecars_notes_pictures_and_hidden_files_are_left_out(job: Path) -> None:
    put(job, *(f"as-left/1h/{name}" for name in ("a.toml", "n.txt", "n.MD", "p.JPG", "p.png")))
    put(job, "as-left/.DS_Store", "as-left/Thumbs.db", "as-found/.x/a.wav", "notes.txt")
    put(job, "photos/p.jpg", "report/families.csv")
    assert job_files(job) == ()


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("as-left/2h/a.wav", "as-left/2h: is no folder of a job; did you mean '24h'? known here: run-up, 1h, 8h, 24h, 7d, coast-down"),
        ("as-left/runup/a.wav", "did you mean 'run-up'?"),
        ("as-found/1h/a.wav", "as-found/1h: is no folder of a job; known here: run-up, coast-down"),
        ("as-fond/a.wav", "as-fond: is no folder of a job; did you mean 'as-found'? known here: as-found, as-left"),
        ("monday/1h/a.flac", "monday: is no folder of a job; it holds recordings; known here: as-found, as-left"),
        ("a.wav", "a.wav: lies outside the folders of a stage; move a recording into as-found or as-left"),
        ("as-left/1h/a.mp3", "a.mp3: is of no kind that can be read (.aif, .aifc, .aiff, .asc, .caf, .csv"),
        ("as-left/1h/noname", "noname: is of no kind that can be read"),
        ("as-left/1h/x/a.wav", "1h/x: no folder can be inside 1h; move its files up"),
    ],
)  # fmt: skip
def test_what_would_be_overlooked_is_refused(job: Path, name: str, sentence: str) -> None:
    put(job, name)
    with pytest.raises(JobError, match=re.escape(sentence)):
        job_files(job)


def test_no_folder_and_missing_stages(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"gone: no such folder; start a job with"):
        job_files(tmp_path / "gone")
    (tmp_path / "bare").mkdir()
    assert job_files(tmp_path / "bare") == ()


def test_a_new_job_has_the_folders_of_every_moment(job: Path) -> None:
    folders = {path.relative_to(job).as_posix() for path in job.rglob("*") if path.is_dir()}
    assert folders == {
        *("as-found", "as-found/run-up", "as-found/coast-down"),
        *("as-left", *(f"as-left/{moment}" for moment in Moment)),
    }


def test_a_new_job_takes_no_used_folder(job: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"job is not empty; give a new folder"):
        new_job(tmp_path / "F3.toml", job)
    with pytest.raises(OutputError, match=r"F3\.toml is a file; give a new folder"):
        new_job(tmp_path / "F3.toml", tmp_path / "F3.toml")
    with pytest.raises(OutputError, match=r"cannot make .*Not a directory"):
        new_job(tmp_path / "F3.toml", tmp_path / "F3.toml" / "job")
    (tmp_path / "empty").mkdir()
    assert new_job(tmp_path / "F3.toml", tmp_path / "empty").job.card == "F3.toml"


def test_the_card_is_copied_as_it_is(job: Path, tmp_path: Path) -> None:
    assert (job / "F3.toml").read_bytes() == (tmp_path / "F3.toml").read_bytes()


@pytest.mark.parametrize("name", ["job.toml", "F3.txt", "F3"])
def test_a_card_of_an_awkward_name_gets_another(job: Path, tmp_path: Path, name: str) -> None:
    place = tmp_path / "cards" / name
    place.parent.mkdir()
    place.write_bytes((job / "F3.toml").read_bytes())
    new_job(place, tmp_path / "other")
    assert read_job(tmp_path / "other").job.card == "card.toml"
