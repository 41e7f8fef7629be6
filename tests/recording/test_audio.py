"""Audio formats: exact values, channels, digests, and files that must be refused."""

import hashlib
import struct
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray

from vibhealth.model import Recording
from vibhealth.recording import ChannelRequest, ReadOptions, read_recording

SAMPLING_RATE_HZ = 8000
INTEGER_BITS = {"PCM_16": 16, "PCM_24": 24, "PCM_32": 32}
EXACT_FORMATS = [
    ("wav", "WAV", "FLOAT"),
    ("wav", "WAV", "DOUBLE"),
    ("wav", "WAVEX", "FLOAT"),
    ("rf64", "RF64", "FLOAT"),
    ("w64", "W64", "DOUBLE"),
    ("aiff", "AIFF", "FLOAT"),
    ("caf", "CAF", "DOUBLE"),
]
INTEGER_FORMATS = [
    ("wav", "WAV", "PCM_16"),
    ("wav", "WAV", "PCM_24"),
    ("wav", "WAV", "PCM_32"),
    ("wav", "RF64", "PCM_24"),
    ("w64", "W64", "PCM_16"),
    ("flac", "FLAC", "PCM_16"),
    ("flac", "FLAC", "PCM_24"),
    ("aiff", "AIFF", "PCM_24"),
    ("caf", "CAF", "PCM_32"),
]

Refused = Callable[..., str]
ReadOne = Callable[..., Recording]


def wide_samples() -> NDArray[np.float64]:
    """Three channels of float32 values that exceed 1, all different."""
    rng = np.random.default_rng(1)
    return (5 * rng.standard_normal((3, 700))).astype(np.float32).astype(np.float64)


def counts(bits: int) -> NDArray[np.int64]:
    """Integer samples with both ends of the converter among them."""
    low, high = -(2 ** (bits - 1)), 2 ** (bits - 1) - 1
    rng = np.random.default_rng(2)
    random = rng.integers(low, high, 500, endpoint=True)
    return np.concatenate([np.array([low, high, 0, 1, -1]), random])


def write_audio(path: Path, values: NDArray[np.float64], container: str, subtype: str) -> Path:
    soundfile.write(path, values.T, SAMPLING_RATE_HZ, subtype=subtype, format=container)
    return path


@pytest.mark.parametrize(("suffix", "container", "subtype"), EXACT_FORMATS)
def test_float_files_come_back_exactly_and_unscaled(
    tmp_path: Path, suffix: str, container: str, subtype: str
) -> None:
    path = write_audio(tmp_path / f"a.{suffix}", wide_samples(), container, subtype)
    wanted = [ChannelRequest(channel=channel) for channel in (3, 1)]
    third, first = read_recording(path, requests=wanted)

    np.testing.assert_array_equal(third.samples, wide_samples()[2])
    np.testing.assert_array_equal(first.samples, wide_samples()[0])
    assert (third.channel, third.n_channels) == (3, 3)
    assert (first.sampling_rate_hz, first.unit, first.full_scale) == (8000.0, "counts", None)
    assert first.calibration is None
    assert first.samples.dtype == np.float64
    assert first.samples.flags.c_contiguous


@pytest.mark.parametrize(("suffix", "container", "subtype"), INTEGER_FORMATS)
def test_integer_files_are_fractions_of_full_scale(
    tmp_path: Path, read_one: ReadOne, suffix: str, container: str, subtype: str
) -> None:
    bits = INTEGER_BITS[subtype]
    expected = counts(bits) / 2.0 ** (bits - 1)  # exact: at most 32 bits in a 53-bit mantissa
    path = write_audio(tmp_path / f"a.{suffix}", expected, container, subtype)
    recording = read_one(path)

    np.testing.assert_array_equal(recording.samples, expected)
    assert recording.full_scale == np.max(recording.samples) == 1 - 2.0 ** (1 - bits)


@pytest.mark.parametrize("sample_bytes", [2, 3, 4])
def test_pcm_agrees_bit_by_bit_with_the_standard_library(tmp_path: Path, sample_bytes: int) -> None:
    """Outside reference: ``wave`` of the standard library writes and reads the raw integers."""
    path = tmp_path / "a.wav"
    integers = counts(8 * sample_bytes)[:504].reshape(-1, 2)
    raw = b"".join(int(v).to_bytes(sample_bytes, "little", signed=True) for v in integers.flat)
    with wave.open(str(path), "wb") as writer:
        writer.setparams((2, sample_bytes, 25600, 0, "NONE", ""))
        writer.writeframes(raw)

    with wave.open(str(path), "rb") as reader:
        frames = reader.readframes(reader.getnframes())
    width = sample_bytes
    reference = [
        int.from_bytes(frames[i : i + width], "little", signed=True)
        for i in range(0, len(frames), width)
    ]
    left, right = read_recording(path, requests=[ChannelRequest(), ChannelRequest(channel=2)])
    scale = 2 ** (8 * sample_bytes - 1)
    assert (left.samples * scale).tolist() == reference[0::2]
    assert (right.samples * scale).tolist() == reference[1::2]
    assert left.sampling_rate_hz == 25600


@settings(deadline=None)
@given(
    values=hnp.arrays(
        np.float64,
        st.integers(2, 60),
        elements=st.floats(-1e300, 1e300, allow_nan=False, allow_infinity=False),
    )
)
def test_any_finite_double_survives(
    tmp_path_factory: pytest.TempPathFactory, values: NDArray[np.float64]
) -> None:
    path = write_audio(tmp_path_factory.mktemp("d") / "a.wav", values, "WAV", "DOUBLE")
    (recording,) = read_recording(path)
    np.testing.assert_array_equal(recording.samples, values)


def test_a_file_longer_than_one_block_is_whole(tmp_path: Path, read_one: ReadOne) -> None:
    ramp = np.arange(300_001, dtype=np.float64)  # more than one block of 2^18 frames
    path = write_audio(tmp_path / "a.wav", ramp, "WAV", "DOUBLE")
    np.testing.assert_array_equal(read_one(path).samples, ramp)


def test_the_digest_is_that_of_the_bytes(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_audio(tmp_path / "a.wav", wide_samples(), "WAV", "FLOAT")
    recording = read_one(path)
    assert recording.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert recording.path == str(path)


@pytest.mark.parametrize("name", ["a.raw", "a.csv", "a", "ä ö.WAV"])
def test_content_decides_not_the_suffix(tmp_path: Path, read_one: ReadOne, name: str) -> None:
    path = write_audio(tmp_path / name, wide_samples()[0], "WAV", "FLOAT")
    np.testing.assert_array_equal(read_one(path).samples, wide_samples()[0])


def test_silence_can_be_read(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_audio(tmp_path / "a.wav", np.zeros(10), "WAV", "PCM_16")
    assert read_one(path).samples.tolist() == [0.0] * 10


def test_the_tachometer_comes_along_raw(tmp_path: Path) -> None:
    path = write_audio(tmp_path / "a.wav", wide_samples(), "WAV", "FLOAT")
    options = ReadOptions(tachometer_channel=3, tachometer_pulses_per_turn=2.0, unit="g")
    both = read_recording(
        path, requests=[ChannelRequest(), ChannelRequest(channel=2)], options=options
    )
    for recording in both:
        assert recording.tachometer is not None
        np.testing.assert_array_equal(recording.tachometer, wide_samples()[2])
        assert recording.tachometer_pulses_per_turn == 2.0


def test_the_default_channel_is_not_the_tachometer(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_audio(tmp_path / "a.wav", wide_samples(), "WAV", "FLOAT")
    assert read_one(path).channel == 1
    assert read_one(path, options=ReadOptions(tachometer_channel=1)).channel == 2


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (
            {"requests": [ChannelRequest(channel=4)]},
            "channel 4 is wanted, but the file has 3 channels",
        ),
        (
            {"options": ReadOptions(tachometer_channel=5)},
            "channel 5 is wanted as tachometer, but the file has 3 channels",
        ),
        (
            {"requests": [ChannelRequest()], "options": ReadOptions(tachometer_channel=1)},
            "channel 1 is wanted as vibration and as tachometer",
        ),
        (
            {"options": ReadOptions(rate_hz=44100)},
            "a sampling rate of 44100 Hz is given, but its header says 8000 Hz",
        ),
    ],
)
def test_a_wish_the_file_cannot_fulfil_is_refused(
    tmp_path: Path, refused: Refused, arguments: dict[str, object], text: str
) -> None:
    path = write_audio(tmp_path / "a.wav", wide_samples(), "WAV", "FLOAT")
    refused(path, text, **arguments)


def test_a_finer_rate_than_the_header_can_hold_is_taken(tmp_path: Path, read_one: ReadOne) -> None:
    path = write_audio(tmp_path / "a.wav", wide_samples(), "WAV", "FLOAT")
    assert read_one(path, options=ReadOptions(rate_hz=8000.125)).sampling_rate_hz == 8000.125


@pytest.mark.parametrize(
    ("suffix", "container", "subtype", "tail_bytes", "promised"),
    [
        ("wav", "WAV", "FLOAT", 2800, 1000),
        ("wav", "WAV", "PCM_16", 1400, 1000),
        ("rf64", "RF64", "FLOAT", 2800, 1000),
        ("w64", "W64", "FLOAT", 2800, 1000),
        ("aiff", "AIFF", "PCM_24", 2100, 1000),
        ("caf", "CAF", "PCM_16", 1400, 1000),
    ],
)
def test_a_cut_file_is_refused_with_what_is_there(
    *,
    tmp_path: Path,
    refused: Refused,
    suffix: str,
    container: str,
    subtype: str,
    tail_bytes: int,
    promised: int,
) -> None:
    path = write_audio(tmp_path / f"a.{suffix}", np.zeros(promised), container, subtype)
    path.write_bytes(path.read_bytes()[:-tail_bytes])
    refused(path, "its header promises 1000 samples, but 300 are there; the file is cut short")


def test_an_odd_chunk_before_the_samples_is_padded(
    tmp_path: Path, read_one: ReadOne, refused: Refused
) -> None:
    """RIFF chunks start at even offsets: one of 5 bytes is followed by a pad byte."""
    path = write_audio(tmp_path / "a.wav", wide_samples()[0] / 50, "WAV", "PCM_16")
    whole = path.read_bytes()
    at = whole.index(b"data")
    note = b"note" + struct.pack("<I", 5) + b"salt!" + b"\0"
    size = struct.pack("<I", len(whole) - 8 + len(note))
    padded = whole[:4] + size + whole[8:at] + note + whole[at:]
    path.write_bytes(padded)
    assert read_one(path).samples.size == 700
    path.write_bytes(padded[:-800])
    refused(path, "its header promises 700 samples, but 300 are there")


def test_a_file_cut_so_short_that_it_cannot_be_opened_is_refused(
    tmp_path: Path, refused: Refused
) -> None:
    path = write_audio(tmp_path / "a.caf", np.zeros(3000), "CAF", "FLOAT")
    path.write_bytes(path.read_bytes()[:-8000])
    refused(path, "its header promises 12000 bytes of samples, but 4000 are there")


def test_a_cut_flac_file_is_refused(tmp_path: Path, refused: Refused) -> None:
    noise = np.random.default_rng(3).uniform(-1, 1, 50_000)
    path = write_audio(tmp_path / "a.flac", noise, "FLAC", "PCM_16")
    path.write_bytes(path.read_bytes()[:60_000])
    message = refused(path, "its header promises 50000 samples, but decoding stops after about ")
    # 60 of about 100 kB: at least half must be found, and not all.
    assert 25_000 <= int(message.split("after about ")[1].split(";")[0]) < 50_000


@pytest.mark.parametrize("container", ["wav", "flac"])
def test_a_file_that_was_never_closed_is_refused(
    tmp_path: Path, refused: Refused, container: str
) -> None:
    path = write_audio(tmp_path / f"a.{container}", np.zeros(100), container.upper(), "PCM_16")
    content = bytearray(path.read_bytes())
    if container == "wav":
        content[40:44] = struct.pack("<I", 0)
        path.write_bytes(content)
        refused(path, "its header promises 0 samples, but 100 seem to be there")
    else:
        content[21] &= 0xF0  # the 36-bit count of samples in STREAMINFO (RFC 9639, 8.2)
        content[22:26] = bytes(4)
        path.write_bytes(content)
        refused(path, "its header states no length")


@pytest.mark.parametrize(
    ("container", "subtype", "text"),
    [
        ("WAV", "PCM_U8", "has 8-bit samples"),
        ("FLAC", "PCM_S8", "has 8-bit samples"),
        ("WAV", "ULAW", "coded as ULAW, which loses detail"),
        ("WAV", "IMA_ADPCM", "coded as IMA_ADPCM, which loses detail"),
        ("OGG", "VORBIS", "compressed with loss (MP3 or Ogg)"),
    ],
)
def test_too_coarse_a_coding_is_refused(
    tmp_path: Path, refused: Refused, container: str, subtype: str, text: str
) -> None:
    refused(write_audio(tmp_path / "a.wav", np.zeros(2000), container, subtype), text)


@pytest.mark.parametrize(("bad", "word"), [(np.nan, "nan"), (np.inf, "inf"), (-np.inf, "-inf")])
def test_a_sample_that_is_no_number_is_refused(
    tmp_path: Path, refused: Refused, bad: float, word: str
) -> None:
    samples = wide_samples()
    samples[1, 17] = bad
    path = write_audio(tmp_path / "a.wav", samples, "WAV", "FLOAT")
    refused(
        path, f"channel 2 holds {word} at index 17 (from 0)", requests=[ChannelRequest(channel=2)]
    )
    (other,) = read_recording(path)  # the first channel is sound
    np.testing.assert_array_equal(other.samples, samples[0])


@pytest.mark.parametrize(("count", "words"), [(0, "0 samples"), (1, "1 sample")])
def test_fewer_than_two_samples_are_refused(
    tmp_path: Path, refused: Refused, count: int, words: str
) -> None:
    path = write_audio(tmp_path / "a.wav", np.zeros(count), "WAV", "FLOAT")
    refused(path, f"holds {words}, a recording needs at least 2")


def test_a_header_of_nonsense_is_refused(tmp_path: Path, refused: Refused) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"RIFF\x24\x00\x00\x00WAVEfmt \x10\x00\x00\x00" + bytes(60))
    refused(path, "its audio header cannot be decoded (")
