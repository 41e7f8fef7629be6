"""``vibhealth simulate`` with a mistake, a start and a stop."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.card import card_template
from vibhealth.cli import main
from vibhealth.recording import read_recording, read_sidecar

RATE = 6400


class Run:
    """Calls the command in a folder with a card."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "F3.toml").write_text(card_template(), encoding="utf-8")

    def __call__(self, name: str, *options: str) -> int:
        card = str(self.folder / "F3.toml")
        usual = ["--card", card, "--seconds", "2", "--rate", str(RATE)]
        with pytest.raises(SystemExit) as end:
            main(["simulate", str(self.folder / name), *usual, *options])
        assert isinstance(end.value.code, int)
        return end.value.code

    def samples(self, name: str) -> NDArray[np.float64]:
        """First channel of a recording."""
        return read_recording(self.folder / name)[0].samples


@pytest.fixture
def run(tmp_path: Path) -> Run:
    return Run(tmp_path)


def test_a_mistake_by_name_is_written_and_said(run: Run) -> None:
    assert run("clean.wav", "--clean") == 0
    assert run("set-wrong.wav", "--fault", "eccentric-set-wrong") == 0
    ratio = np.std(run.samples("set-wrong.wav")) / np.std(run.samples("clean.wav"))
    assert 0.59 < ratio < 0.81 or 1.19 < ratio < 1.46
    sidecar = read_sidecar(run.folder / "set-wrong.wav")
    assert sidecar is not None
    assert "eccentric-set-wrong" in sidecar.of_channel(1)["remarks"]


def test_start_and_stop_are_put_around_the_steady_part(run: Run) -> None:
    assert run("both.wav", "--clean", "--start", "1", "--stop", "2") == 0
    samples = run.samples("both.wav")
    assert samples.size == (3 + 1 + 2 + 2 + 5) * RATE
    assert np.std(samples[: 2 * RATE]) < 0.001 * np.std(samples[4 * RATE : 6 * RATE])
    assert run("start.wav", "--clean", "--start", "1") == 0
    assert run.samples("start.wav").size == (3 + 1 + 2) * RATE


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--fault", "gremlins"], "fault must be one of shipping-brace-left-in"),
        (["--clean", "--fault", "grit"], "give either --element"),
        ([], "give either --element"),
        (["--clean", "--start", "-1"], "run_up_s must lie in [0, 3600]"),
    ],
)
def test_bad_wishes_are_one_sentence(
    run: Run, options: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("bad.wav", *options) == 2
    said = capsys.readouterr().err
    assert words in " ".join(said.split())
    assert "Traceback" not in said
    assert not (run.folder / "bad.wav").exists()
