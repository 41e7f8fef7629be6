"""Write a recording and its sidecar: whole or not at all, never clipped, same bytes every time."""

import io
import json
import os
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import scipy.io.wavfile
import soundfile
from numpy.typing import ArrayLike, NDArray

from vibhealth._check import check_positive, check_samples
from vibhealth.errors import InputError, OutputError
from vibhealth.recording.sidecar import parse_sidecar, sidecar_path

__all__ = ["write_recording"]

_SUBTYPES = {
    ".wav": ("FLOAT", "DOUBLE", "PCM_16", "PCM_24", "PCM_32"),
    ".flac": ("PCM_24", "PCM_16"),
    ".csv": ("DOUBLE",),
}


def write_recording(  # noqa: PLR0913 - one option each, all keyword-only
    path: str | Path,
    samples: ArrayLike,
    sampling_rate_hz: float,
    *,
    subtype: str | None = None,
    sidecar: Mapping[str, Any] | None = None,
    overwrite: bool = False,
) -> Path:
    """Write samples to WAV, FLAC or CSV, with a sidecar beside them if given.

    Parameters
    ----------
    path : str or Path
        The suffix decides: ``.wav``, ``.flac`` or ``.csv``.
    samples : array_like, shape (n_samples,) or (n_channels, n_samples)
        File values. Integer subtypes hold -1 to just below 1.
    sampling_rate_hz : float
        Above 0. WAV and FLAC headers hold whole hertz: another rate must be
        stated in the sidecar too.
    subtype : str, optional
        WAV: FLOAT (default), DOUBLE, PCM_16, PCM_24, PCM_32. FLAC: PCM_24
        (default), PCM_16. CSV: none to choose.
    sidecar : mapping, optional
        Keys as in a sidecar file; checked before anything is written.
    overwrite : bool
        Whether existing files may be replaced.

    Returns
    -------
    Path
        ``path``.

    Raises
    ------
    InputError
        If samples, rate, suffix, subtype or sidecar break their rule, or an
        integer subtype would clip.
    OutputError
        If a file exists and ``overwrite`` is not set, or it cannot be written.
    """
    target = Path(path)
    array = np.atleast_2d(check_samples(samples))
    rate_hz = check_positive(sampling_rate_hz, name="sampling_rate_hz")
    chosen = _checked_subtype(target, subtype)
    checked = None if sidecar is None else parse_sidecar(sidecar, path=str(sidecar_path(target)))
    stated_rate_hz = None if checked is None else checked.common.get("sampling_rate_hz")
    header_rate_hz = _header_rate(target, rate_hz, stated_rate_hz)
    content = _content(target, array, header_rate_hz, chosen, sidecar or {})
    files = [(target, content)]
    if sidecar is not None:  # first, so that a recording never stands without its calibration
        files.insert(0, (sidecar_path(target), _toml(sidecar).encode()))
    _write_all(files, overwrite=overwrite)
    return target


def _checked_subtype(path: Path, subtype: str | None) -> str:
    allowed = _SUBTYPES.get(path.suffix.lower())
    if allowed is None:
        msg = f"{path}: a recording is written to {', '.join(_SUBTYPES)}, got {path.suffix!r}"
        raise InputError(msg)
    if subtype is not None and subtype not in allowed:
        msg = f"{path}: subtype must be one of {', '.join(allowed)}, got {subtype!r}"
        raise InputError(msg)
    return subtype or allowed[0]


def _header_rate(path: Path, rate_hz: float, stated_rate_hz: float | None) -> float:
    if stated_rate_hz is not None and stated_rate_hz != rate_hz:
        msg = f"{path}: the sidecar says {stated_rate_hz:g} Hz, the samples have {rate_hz:g} Hz"
        raise InputError(msg)
    if path.suffix.lower() == ".csv" or rate_hz.is_integer():
        return rate_hz
    if stated_rate_hz is None:
        msg = (
            f"{path}: its header holds whole hertz only, got {rate_hz:.12g} Hz; "
            "state sampling_rate_hz in the sidecar too"
        )
        raise InputError(msg)
    return float(round(rate_hz))


def _content(
    path: Path,
    array: NDArray[np.float64],
    rate_hz: float,
    subtype: str,
    sidecar: Mapping[str, Any],
) -> bytes:
    stream = io.BytesIO()
    if path.suffix.lower() == ".csv":
        return _csv(array, rate_hz, sidecar)
    if subtype in ("FLOAT", "DOUBLE"):
        # Not through soundfile, which puts the time of day into float files.
        values = array.T.astype(np.float32 if subtype == "FLOAT" else np.float64)
        try:
            scipy.io.wavfile.write(stream, int(rate_hz), np.ascontiguousarray(values))
        except ValueError as error:
            msg = f"{path}: {values.nbytes} bytes are too many for WAV (4 GiB); write parts"
            raise OutputError(msg) from error
        return stream.getvalue()
    bits = int(subtype.removeprefix("PCM_"))
    limit = 1.0 - 2.0 ** (1 - bits)
    low, high = float(np.min(array)), float(np.max(array))
    if low < -1 or high > limit:
        msg = (
            f"{path}: {subtype} holds -1 to {limit:.9g}, got {low:g} to {high:g}; "
            "divide by the full scale, or write FLOAT to WAV"
        )
        raise InputError(msg)
    kind = path.suffix.lower().removeprefix(".").upper()
    # Rounded here, because the library cuts off; 32-bit integers are written by their top bits.
    counts = np.rint(array.T * 2.0 ** (bits - 1)).astype(np.int64) << (32 - bits)
    soundfile.write(stream, counts.astype(np.int32), int(rate_hz), subtype=subtype, format=kind)
    return stream.getvalue()


def _csv(array: NDArray[np.float64], rate_hz: float, sidecar: Mapping[str, Any]) -> bytes:
    unit = f" [{sidecar['unit']}]" if "unit" in sidecar else ""
    columns = {"time [s]": np.arange(array.shape[-1]) / rate_hz}
    for index, row in enumerate(array, start=1):
        columns[f"channel {index}{unit}"] = row
    return str(pd.DataFrame(columns).to_csv(index=False, lineterminator="\n")).encode()


def _toml(table: Mapping[str, Any]) -> str:
    """TOML of flat keys and of one list of tables."""
    flat = {key: value for key, value in table.items() if not isinstance(value, list)}
    lines = [f"{key} = {_toml_value(value)}" for key, value in flat.items()]
    for key, value in table.items():
        if isinstance(value, list):
            for row in value:
                lines += ["", f"[[{key}]]", *(f"{k} = {_toml_value(v)}" for k, v in row.items())]
    return "\n".join(lines) + "\n"


def _toml_value(value: object) -> str:
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, str):  # a JSON string is a TOML basic string, DEL apart
        return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(float(value)) if isinstance(value, np.floating) else repr(value)


def _write_all(files: list[tuple[Path, bytes]], *, overwrite: bool) -> None:
    """Write all aside, then rename one after the other."""
    for path, _ in files:
        if path.exists() and not overwrite:
            msg = f"{path}: exists already; choose another name or ask to overwrite"
            raise OutputError(msg)
    asides = [path.with_name(f".{path.name}.{os.getpid()}.part") for path, _ in files]
    try:
        for aside, (_, content) in zip(asides, files, strict=True):
            _write_synced(aside, content)
        for aside, (path, _) in zip(asides, files, strict=True):
            aside.replace(path)
    except OSError as error:
        msg = (
            f"{files[-1][0]}: cannot be written ({error.strerror or error}); check folder and disk"
        )
        raise OutputError(msg) from error
    finally:
        for aside in asides:
            aside.unlink(missing_ok=True)


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
