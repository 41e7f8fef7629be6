"""NumPy ``.npy`` and ``.npz`` and MATLAB ``.mat`` (version 5) files."""

import tokenize
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import scipy.io
from numpy.typing import NDArray

from vibhealth.errors import RecordingError
from vibhealth.recording._source import FileUnit, SampleSource, as_clause, file_unit
from vibhealth.recording.request import ReadOptions

__all__ = ["open_matlab", "open_npy", "open_npz"]

# What the loaders raise on damaged content (found by changing bytes at random).
_LOAD_ERRORS = (ValueError, EOFError, OSError, SyntaxError, tokenize.TokenError)
_NPZ_ERRORS = (*_LOAD_ERRORS, KeyError, NotImplementedError, zipfile.BadZipFile, zlib.error)
_MATLAB_ERRORS = (
    *_LOAD_ERRORS,
    TypeError,
    KeyError,
    IndexError,
    NotImplementedError,
    zlib.error,
    scipy.io.matlab.MatReadError,
)
_RATE_NAME = "sampling_rate_hz"
_UNIT_NAME = "unit"
# A stated rate in double precision may have been rounded to single on its way.
_RATE_TOLERANCE = 1e-6


def open_npy(path: Path) -> SampleSource:
    """Read a ``.npy`` file: one array, the longer axis is time.

    Raises
    ------
    RecordingError
        If the file is damaged or the array is not of real numbers in one or two dimensions.
    """
    try:
        array = np.load(path, allow_pickle=False)
    except _LOAD_ERRORS as error:
        raise _damaged(path, ".npy", error) from error
    return _source(path, "its array", np.asarray(array), {})


def open_npz(path: Path, options: ReadOptions) -> SampleSource:
    """Read an ``.npz`` file; it may state ``sampling_rate_hz`` and ``unit``.

    Raises
    ------
    RecordingError
        As for `open_npy`, and if it is not clear which array holds the samples.
    """
    try:
        with np.load(path, allow_pickle=False) as archive:
            arrays = {name: np.asarray(archive[name]) for name in archive.files}
    except _NPZ_ERRORS as error:
        raise _damaged(path, ".npz", error) from error
    return _chosen(path, arrays, options)


def open_matlab(path: Path, options: ReadOptions) -> SampleSource:
    """Read a MATLAB version 5 file; it may hold ``sampling_rate_hz`` and ``unit``.

    Raises
    ------
    RecordingError
        As for `open_npz`.
    """
    try:
        content = scipy.io.loadmat(path)
    except _MATLAB_ERRORS as error:
        raise _damaged(path, ".mat", error) from error
    arrays = {
        name: value
        for name, value in content.items()
        if not name.startswith("__") and isinstance(value, np.ndarray)
    }
    return _chosen(path, arrays, options)


def _damaged(path: Path, what: str, error: Exception) -> RecordingError:
    return RecordingError(
        f"{path}: its {what} content is damaged or of no readable type ({as_clause(error)}); "
        "save it again"
    )


def _is_plausible(array: NDArray[Any]) -> bool:
    """Whether an array can be samples: real numbers, one or two dimensions, more than one value."""
    is_real = np.issubdtype(array.dtype, np.integer) or np.issubdtype(array.dtype, np.floating)
    return bool(is_real and array.ndim in (1, 2) and array.size > 1)


def _chosen(path: Path, arrays: Mapping[str, NDArray[Any]], options: ReadOptions) -> SampleSource:
    names = ", ".join(sorted(arrays)) or "nothing"
    if options.variable is not None:
        if options.variable not in arrays:
            msg = f"{path}: holds no array {options.variable!r}; it holds {names}"
            raise RecordingError(msg)
        name = options.variable
    else:
        plausible = [key for key, array in arrays.items() if _is_plausible(array)]
        if len(plausible) != 1:
            found = ", ".join(sorted(plausible)) if plausible else f"none; it holds {names}"
            msg = f"{path}: cannot tell which array holds the samples ({found}); name the variable"
            raise RecordingError(msg)
        name = plausible[0]
    return _source(path, f"array {name!r}", arrays[name], arrays)


def _source(
    path: Path, place: str, array: NDArray[Any], arrays: Mapping[str, NDArray[Any]]
) -> SampleSource:
    if not _is_plausible(array):
        msg = (
            f"{path}: {place} has type {array.dtype} and shape {array.shape}; samples must be real "
            "numbers in one or two dimensions, at least 2 of them"
        )
        raise RecordingError(msg)
    channels = _channels_first(path, place, array)
    unit = _unit(path, arrays.get(_UNIT_NAME))
    rate_hz = _rate(path, arrays.get(_RATE_NAME))

    def load(wanted: tuple[int, ...]) -> NDArray[np.float64]:
        return np.array(channels[[channel - 1 for channel in wanted]], dtype=np.float64)

    return SampleSource(
        n_channels=channels.shape[0],
        load=load,
        sampling_rate_hz=rate_hz,
        rate_tolerance_hz=0.0 if rate_hz is None else rate_hz * _RATE_TOLERANCE,
        rate_place=f"its value {_RATE_NAME}",
        channel_units=(unit,) * channels.shape[0],
    )


def _channels_first(path: Path, place: str, array: NDArray[Any]) -> NDArray[Any]:
    """Shape (n_channels, n_samples): the longer axis is time."""
    if array.ndim == 1:
        return array[np.newaxis]
    rows, columns = array.shape
    if rows == columns:
        msg = f"{path}: {place} has shape {array.shape}, which leaves open which axis is time"
        raise RecordingError(msg)
    return array if columns > rows else array.T


def _rate(path: Path, value: NDArray[Any] | None) -> float | None:
    if value is None:
        return None
    is_real = np.issubdtype(value.dtype, np.integer) or np.issubdtype(value.dtype, np.floating)
    number = float(value.reshape(-1)[0]) if is_real and value.size == 1 else float("nan")
    if not (np.isfinite(number) and number > 0):
        found = value.reshape(-1)[0] if value.size == 1 else f"shape {value.shape}"
        msg = f"{path}: {_RATE_NAME} must be one finite number above 0, got {found}"
        raise RecordingError(msg)
    return number


def _unit(path: Path, value: NDArray[Any] | None) -> FileUnit | None:
    if value is None:
        return None
    text = str(value.reshape(-1)[0]) if value.size == 1 else str(value.tolist())
    unit = file_unit(text, place=f"value {_UNIT_NAME!r}")
    if unit is None:
        msg = f"{path}: unit must be g, m/s2 or counts, got {text!r}"
        raise RecordingError(msg)
    return unit
