"""Audio files through soundfile, block by block, only the channels that are wanted."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from vibhealth.errors import RecordingError
from vibhealth.recording._container import data_extent
from vibhealth.recording._source import SampleSource, as_clause

__all__ = ["open_audio"]

_BLOCK_FRAMES = 1 << 18
_COUNTED_FRAMES = 256  # fineness of "decoding stops after"
# Longest file taken for real: 2^40 frames are 124 days at 102.4 kHz. A stream that was never
# closed states 2^63 - 1.
_MAX_FRAMES = 1 << 40
_INTEGER_BITS = {"PCM_16": 16, "PCM_24": 24, "PCM_32": 32}
_FLOAT_BITS = {"FLOAT": 32, "DOUBLE": 64}
_EIGHT_BIT = frozenset(("PCM_S8", "PCM_U8"))


@contextmanager
def _opened(path: Path) -> Iterator[soundfile.SoundFile]:
    """Open by descriptor, so that the suffix decides nothing; translate the library's errors."""
    with path.open("rb") as stream:
        try:
            sound = soundfile.SoundFile(stream.fileno(), closefd=False)
        except soundfile.SoundFileError as error:
            raise RecordingError(_undecodable(path, error)) from error
        with sound:
            yield sound


def open_audio(path: Path) -> SampleSource:
    """Open a WAV, RF64, W64, FLAC, AIFF or CAF file.

    Integer formats are scaled to -1 to 1 by 2^(bits - 1); float values are the
    file's own and may exceed 1.

    Raises
    ------
    RecordingError
        If the file cannot be decoded, is compressed with loss, has only 8 bits,
        or holds fewer (or, never having been closed, more) samples than its
        header promises.
    """
    with _opened(path) as sound:
        frames, n_channels = int(sound.frames), int(sound.channels)
        rate_hz, subtype = float(sound.samplerate), str(sound.subtype)
    bits = _check_subtype(path, subtype)
    _check_complete(path, frames, n_channels * bits // 8)

    def load(channels: tuple[int, ...]) -> NDArray[np.float64]:
        return _load(path, channels, frames)

    return SampleSource(
        n_channels=n_channels,
        load=load,
        is_audio=True,
        sampling_rate_hz=rate_hz,
        rate_tolerance_hz=1.0,  # audio headers hold whole hertz, cut or rounded
        rate_place="its header",
        converter_limit=1.0 - 2.0 ** (1 - bits) if subtype in _INTEGER_BITS else None,
    )


def _undecodable(path: Path, error: soundfile.SoundFileError) -> str:
    extent = data_extent(path)
    if extent is not None and extent.promised is not None and extent.promised > extent.present:
        return (
            f"{path}: its header promises {extent.promised} bytes of samples, but "
            f"{extent.present} are there; the file is cut short, copy it again"
        )
    reason = as_clause(getattr(error, "error_string", error))
    return f"{path}: its audio header cannot be decoded ({reason}); copy it again from the recorder"


def _check_subtype(path: Path, subtype: str) -> int:
    if subtype in _EIGHT_BIT:
        msg = (
            f"{path}: has 8-bit samples, whose 48 dB cannot hold a bearing beside the working "
            "motion; record with 16 bits at least"
        )
        raise RecordingError(msg)
    bits = _INTEGER_BITS.get(subtype) or _FLOAT_BITS.get(subtype)
    if bits is None:
        msg = (
            f"{path}: its samples are coded as {subtype}, which loses detail; "
            "record as PCM 16, 24 or 32 bit, float, or FLAC"
        )
        raise RecordingError(msg)
    return bits


def _check_complete(path: Path, frames: int, frame_bytes: int) -> None:
    if frames > _MAX_FRAMES:
        msg = f"{path}: its header states no length, the recording was not closed; copy it again"
        raise RecordingError(msg)
    extent = data_extent(path)
    if extent is None or extent.promised is None:
        return
    present = extent.present // frame_bytes
    if extent.promised > extent.present:
        msg = (
            f"{path}: its header promises {extent.promised // frame_bytes} samples, but "
            f"{present} are there; the file is cut short, copy it again"
        )
        raise RecordingError(msg)
    if extent.promised == 0 and present:
        msg = (
            f"{path}: its header promises 0 samples, but {present} seem to be there; "
            "the recorder did not close the file, record again"
        )
        raise RecordingError(msg)


def _load(path: Path, channels: tuple[int, ...], frames: int) -> NDArray[np.float64]:
    columns = [channel - 1 for channel in channels]
    samples = np.empty((len(columns), frames), dtype=np.float64)
    done = 0
    with _opened(path) as sound:
        while done < frames:
            try:
                block = sound.read(
                    min(_BLOCK_FRAMES, frames - done), dtype="float64", always_2d=True
                )
            except soundfile.SoundFileError as error:
                raise RecordingError(_cut_short(path, frames)) from error
            if not len(block):
                raise RecordingError(_cut_short(path, frames))
            samples[:, done : done + len(block)] = block[:, columns].T
            done += len(block)
    return samples


def _cut_short(path: Path, frames: int) -> str:
    """Message of a file whose decoding breaks off, with what can be decoded."""
    done = 0
    with _opened(path) as sound:
        try:
            while count := len(sound.read(_COUNTED_FRAMES, always_2d=True)):
                done += count
        except soundfile.SoundFileError:
            pass  # the end that is looked for
    return (
        f"{path}: its header promises {frames} samples, but decoding stops after about "
        f"{done}; the file is cut short or damaged, copy it again"
    )
