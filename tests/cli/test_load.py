"""Which channels are read, and as which point."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vibhealth.card import MachineCard, read_card
from vibhealth.cli._load import Source, read_one, read_options, read_points
from vibhealth.errors import InputError
from vibhealth.model import Stage
from vibhealth.recording import ReadOptions, write_recording

SAMPLES = np.linspace(-0.5, 0.5, 64)


@pytest.fixture(scope="module")
def card(job: Any) -> MachineCard:
    return read_card(job.card)


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    def write_file(n_channels: int, **sidecar: Any) -> Path:
        path = tmp_path / "a.wav"
        rows = np.stack([SAMPLES * (k + 1) for k in range(n_channels)])
        return write_recording(path, rows, 100.0, sidecar=sidecar or None)

    return write_file


def source(path: Path, **choice: Any) -> Source:
    return Source(path=path, options=ReadOptions(), **choice)


def places(recordings: tuple[Any, ...]) -> list[tuple[str | None, int]]:
    return [(item.point, item.channel) for item in recordings]


def test_all_points_of_the_card_in_a_file(card: MachineCard, write: Callable[..., Path]) -> None:
    found = read_points(source(write(2)), card, Stage.AS_LEFT)
    assert places(found) == [("P1X", 1), ("P1Y", 2)]
    assert {item.stage for item in found} == {Stage.AS_LEFT}
    assert [item.direction for item in found] == ["x", "y"]


def test_a_file_with_fewer_channels_than_points(
    card: MachineCard, write: Callable[..., Path]
) -> None:
    assert places(read_points(source(write(1)), card, Stage.AS_LEFT)) == [("P1X", 1)]


def test_the_sidecar_names_the_point_of_a_single_channel(
    card: MachineCard, write: Callable[..., Path]
) -> None:
    path = write(1, point="p1y", unit="m/s2")
    assert places(read_points(source(path), card, Stage.AS_LEFT)) == [("P1Y", 1)]


def test_the_sidecar_wins_over_the_channels_of_the_card(
    card: MachineCard, write: Callable[..., Path]
) -> None:
    swapped = [{"channel": 1, "point": "P1Y"}, {"channel": 2, "point": "P1X"}]
    path = write(2, channel=swapped)
    assert places(read_points(source(path), card, Stage.AS_LEFT)) == [("P1Y", 1), ("P1X", 2)]
    assert read_one(source(path, point="P1X"), card).channel == 2
    assert read_one(source(path, channel=2), card).point == "P1X"


def test_a_point_given_for_a_single_channel(card: MachineCard, write: Callable[..., Path]) -> None:
    assert places(read_points(source(write(1), point="P1Y"), card, Stage.AS_LEFT)) == [("P1Y", 1)]


def test_the_card_calibrates(card: MachineCard, write: Callable[..., Path]) -> None:
    recording = read_one(source(write(1)), card)
    # 10 mV/g at 5 V full scale: 500 g for the file value 1.
    np.testing.assert_allclose(recording.samples, SAMPLES.astype(np.float32) * 500 * 9.80665)
    assert recording.sensor_range_m_s2 == pytest.approx(50 * 9.80665)
    assert recording.sensor_usable_hz == (1.0, 10000.0)


def test_options_win_over_the_card(card: MachineCard, write: Callable[..., Path]) -> None:
    options = read_options(unit="m/s2", rate_hz=None)
    recording = read_one(Source(path=write(1), options=options), card)
    np.testing.assert_allclose(recording.samples, SAMPLES.astype(np.float32))


def test_without_a_card_nothing_is_guessed(write: Callable[..., Path]) -> None:
    recording = read_one(source(write(2)), None)
    assert (recording.point, recording.channel, recording.unit) == (None, 1, "counts")
    with pytest.raises(InputError, match="which channel point P1X has is not known"):
        read_one(source(recording_path := Path(recording.path), point="P1X"), None)
    assert recording_path.exists()


def test_two_points_on_one_channel_are_not_told_apart(
    job: Any, tmp_path: Path, write: Callable[..., Path]
) -> None:
    text = job.card.read_text("utf-8")
    assert "channel = 2 " in text
    other = tmp_path / "card.toml"
    other.write_text(text.replace("channel = 2 ", "channel = 1 "), "utf-8")
    card = read_card(other)
    with pytest.raises(InputError, match="P1X and P1Y both have channel 1 on the card"):
        read_points(source(write(1)), card, Stage.AS_LEFT)
    assert read_one(source(tmp_path / "a.wav", point="P1Y"), card).point == "P1Y"


def test_a_sidecar_point_that_the_card_does_not_have(
    card: MachineCard, write: Callable[..., Path]
) -> None:
    path = write(1, point="P7Z")
    assert read_one(source(path), card).unit == "counts"
    with pytest.raises(InputError, match="no point is named 'P7Z'"):
        read_points(source(path), card, Stage.AS_LEFT)


def test_a_numbered_time_column_is_a_number() -> None:
    assert read_options(time_column="2").time_column == 2
    assert read_options(time_column="clock").time_column == "clock"
    assert read_options(time_column=None, resample=True) == ReadOptions(resample=True)
