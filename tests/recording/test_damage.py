"""Any file with bytes changed at random is read or refused in one sentence; nothing else."""

import gzip
import io
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import scipy.io
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from vibhealth.errors import RecordingError
from vibhealth.recording import ReadOptions, read_recording

VALUES = np.random.default_rng(7).uniform(-0.9, 0.9, (60, 2))
SECOND_SENTENCE = re.compile(r"[.!?]\s+[A-Z]")


def audio(container: str, subtype: str) -> bytes:
    stream = io.BytesIO()
    soundfile.write(stream, VALUES, 8000, subtype=subtype, format=container)
    return stream.getvalue()


def stored(save: Callable[[io.BytesIO], None]) -> bytes:
    stream = io.BytesIO()
    save(stream)
    return stream.getvalue()


TABLE = "time [s],x [g],y\n" + "".join(
    f"{i / 1000},{x:.6f},{y:.6f}\n" for i, (x, y) in enumerate(VALUES)
)
SOUND = {
    "a.wav": audio("WAV", "PCM_16"),
    "b.wav": audio("RF64", "FLOAT"),
    "a.w64": audio("W64", "PCM_24"),
    "a.flac": audio("FLAC", "PCM_16"),
    "a.aiff": audio("AIFF", "PCM_16"),
    "a.caf": audio("CAF", "DOUBLE"),
    "a.npy": stored(lambda stream: np.save(stream, VALUES)),
    "a.npz": stored(lambda stream: np.savez_compressed(stream, x=VALUES)),
    "a.mat": stored(lambda stream: scipy.io.savemat(stream, {"x": VALUES})),
    "a.csv": TABLE.encode(),
    "a.csv.gz": gzip.compress(TABLE.encode()),
}


@pytest.mark.parametrize("name", sorted(SOUND))
def test_the_undamaged_file_is_read(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(SOUND[name])
    options = ReadOptions(rate_hz=1000.0 if "csv" in name or name[2] in "nm" else None)
    (recording,) = read_recording(path, options=options)
    assert (recording.n_channels, recording.samples.size) == (2, 60)


@settings(deadline=None, max_examples=300)
@given(
    name=st.sampled_from(sorted(SOUND)),
    place=st.floats(0, 1, exclude_max=True),
    near_start=st.booleans(),
    removed=st.integers(0, 6),
    inserted=st.binary(max_size=6),
    keeps_tail=st.booleans(),
)
def test_damage_never_ends_in_another_exception(
    *,
    tmp_path_factory: pytest.TempPathFactory,
    name: str,
    place: float,
    near_start: bool,
    removed: int,
    inserted: bytes,
    keeps_tail: bool,
) -> None:
    whole = SOUND[name]
    at = int(place * (min(len(whole), 120) if near_start else len(whole)))
    tail = whole[at + removed :] if keeps_tail else b""
    path = tmp_path_factory.mktemp("damage") / name
    path.write_bytes(whole[:at] + inserted + tail)
    try:
        recordings = read_recording(path)
    except RecordingError as error:
        message = str(error)
        assert str(path) in message
        assert "\n" not in message
        assert not SECOND_SENTENCE.search(message), message
    else:
        assert all(np.isfinite(recording.samples).all() for recording in recordings)
