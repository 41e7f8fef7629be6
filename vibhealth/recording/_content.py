"""Which kind of file this is: decided by its first bytes, the suffix is only checked against."""

import difflib
import hashlib
import zipfile
from enum import StrEnum
from pathlib import Path

from vibhealth.errors import RecordingError

__all__ = ["AUDIO_SUFFIXES", "TEXT_SUFFIXES", "Kind", "file_sha256", "identify", "text_suffix"]

AUDIO_SUFFIXES = frozenset((".wav", ".w64", ".rf64", ".flac", ".aif", ".aiff", ".aifc", ".caf"))
TEXT_SUFFIXES = frozenset((".csv", ".tsv", ".txt", ".dat", ".asc", ".prn", ""))
_KNOWN = "WAV, RF64, W64, FLAC, AIFF, CAF, CSV, TSV, TXT (also .gz), .npy, .npz and .mat"
_HEAD_BYTES = 4096
_BLOCK_BYTES = 1 << 20


class Kind(StrEnum):
    """How a file is read."""

    AUDIO = "audio"
    TEXT = "text"
    NPY = "npy"
    NPZ = "npz"
    MATLAB = "mat"


def file_sha256(path: Path) -> str:
    """Digest of all bytes of a file, read block by block."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK_BYTES):
            digest.update(block)
    return digest.hexdigest()


def text_suffix(path: Path) -> str:
    """Suffix in lower case, that below ``.gz`` for a compressed file."""
    suffix = path.suffix.lower()
    return Path(path.stem).suffix.lower() if suffix == ".gz" else suffix


def _missing(path: Path) -> str:
    names = [p.name for p in path.parent.iterdir()] if path.parent.is_dir() else []
    if not path.parent.is_dir():
        return f"{path}: no such file, and no folder {path.parent} either; check the path"
    similar = difflib.get_close_matches(path.name, sorted(names), n=3, cutoff=0.6)
    hint = f"similar names there: {', '.join(similar)}" if similar else "check the path"
    return f"{path}: no such file; {hint}"


def _head(path: Path) -> bytes:
    """First bytes of an existing, non-empty, ordinary file; refuses anything else."""
    if not path.exists():
        raise RecordingError(_missing(path))
    if path.is_dir():
        msg = f"{path}: is a folder, not a recording; name one file in it"
        raise RecordingError(msg)
    if not path.is_file():
        msg = f"{path}: is not an ordinary file; copy the recording to a file first"
        raise RecordingError(msg)
    try:
        with path.open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
    except OSError as error:
        msg = f"{path}: cannot be opened ({error.strerror or error}); check permissions and medium"
        raise RecordingError(msg) from error
    if not head:
        msg = f"{path}: is empty (0 bytes); copy it again from the recorder, or remove it"
        raise RecordingError(msg)
    return head


def _by_magic(path: Path, head: bytes) -> Kind | None:
    """Kind by magic bytes; None when the content has none. Refuses what is known but unusable."""
    if (head[:4] in (b"RIFF", b"RIFX", b"RF64") and head[8:12] == b"WAVE") or (
        head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC")
    ):
        return Kind.AUDIO
    if head[:4] in (b"fLaC", b"caff") or head[:8] == b"riff\x2e\x91\xcf\x11":
        return Kind.AUDIO
    if head[:6] == b"\x93NUMPY":
        return Kind.NPY
    if head[:10] == b"MATLAB 5.0":
        return Kind.MATLAB
    if head[:10] == b"MATLAB 7.3" or head[:8] == b"\x89HDF\r\n\x1a\n":
        msg = (
            f"{path}: is a MATLAB 7.3 (HDF5) file, which is not read here; "
            "save it again with the option -v7"
        )
        raise RecordingError(msg)
    is_mpeg_frame = head[0] == 0xFF and b"\xe0" <= head[1:2] <= b"\xfb"  # fffe starts UTF-16 text
    if head[:4] == b"OggS" or head[:3] == b"ID3" or is_mpeg_frame:
        msg = (
            f"{path}: is compressed with loss (MP3 or Ogg), which removes what a bearing shows; "
            "record to WAV or FLAC"
        )
        raise RecordingError(msg)
    if head[:2] == b"PK":
        return _zip_kind(path)
    return None


def _zip_kind(path: Path) -> Kind:
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OSError) as error:
        msg = f"{path}: is a damaged or cut-short zip archive ({error}); copy it again"
        raise RecordingError(msg) from error
    if names and all(name.endswith(".npy") for name in names):
        return Kind.NPZ
    msg = f"{path}: is a zip archive or office file without NumPy arrays; unpack or export it first"
    raise RecordingError(msg)


def _check_text(path: Path, head: bytes) -> Kind:
    """Refuse what is not a table of text, or text under the name of another format."""
    is_gzip = head[:2] == b"\x1f\x8b"
    is_utf16 = head[:2] in (b"\xff\xfe", b"\xfe\xff")
    if not is_gzip and not is_utf16 and b"\x00" in head:
        msg = f"{path}: is in no known format (starts with {head[:8]!r}); known are {_KNOWN}"
        raise RecordingError(msg)
    if head.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"<":
        msg = f"{path}: is a web page or XML file, not a recording; download the file itself"
        raise RecordingError(msg)
    if (suffix := text_suffix(path)) not in TEXT_SUFFIXES:
        what = "is compressed with gzip" if is_gzip else "holds plain text"
        msg = (
            f"{path}: is named {suffix} but {what}; copy the recording again, "
            "or name it .csv if it is a table of numbers"
        )
        raise RecordingError(msg)
    return Kind.TEXT


def identify(path: Path) -> Kind:
    """Kind of a file by its content.

    Raises
    ------
    RecordingError
        If there is no such ordinary, non-empty file, its content is in no
        known format, or it is text under the name of another format.
    """
    head = _head(path)
    return _by_magic(path, head) or _check_text(path, head)
