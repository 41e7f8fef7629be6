"""Read a recording: file, sidecar, options and request become calibrated samples."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal, assert_never

import numpy as np
from numpy.typing import NDArray

from vibhealth.errors import RecordingError
from vibhealth.model import Recording, Stage
from vibhealth.recording._arrays import open_matlab, open_npy, open_npz
from vibhealth.recording._audio import open_audio
from vibhealth.recording._calibration import Statement, calibration, statements
from vibhealth.recording._content import Kind, file_sha256, identify
from vibhealth.recording._source import SampleSource
from vibhealth.recording._table import open_table
from vibhealth.recording.request import ChannelRequest, ReadOptions
from vibhealth.recording.sidecar import Sidecar, read_sidecar
from vibhealth.units import g_to_m_s2

__all__ = ["read_recording"]

_NO_OPTIONS = ReadOptions()
_SAME_RATE = 1e-9  # relative; two statements of one rate


def read_recording(
    path: str | Path,
    *,
    requests: Sequence[ChannelRequest] = (),
    options: ReadOptions = _NO_OPTIONS,
    stage: Stage = Stage.UNSTATED,
) -> tuple[Recording, ...]:
    """Read the wanted channels of a recording, calibrated where a calibration is known.

    Known are WAV (PCM 16, 24, 32 bit, float), RF64, W64, FLAC, AIFF, CAF; tables
    of text (comma, semicolon, tab or blanks; decimal point or comma; header or
    none; also gzip); ``.npy``, ``.npz``; ``.mat`` of version 5. The content
    decides, not the suffix. Calibration, strongest first: options, sidecar, a
    unit stated inside the file, request.

    With ``full_scale_g``, or a sensitivity with ``full_scale_v``, file values are
    fractions of full scale (integer audio is read as -1 to 1; values of all other
    formats are multiplied as they are). With ``unit`` file values already are in
    that unit, which integer audio cannot be.

    Parameters
    ----------
    path : str or Path
        The file.
    requests : sequence of ChannelRequest, optional
        Channels wanted, in the order of the result. Without any: the channel that
        the sidecar names, else the first that is not the tachometer.
    options : ReadOptions, optional
        Overrides.
    stage : Stage, optional
        Where in the rebuild the recording belongs.

    Returns
    -------
    tuple of Recording
        One per request. ``unit`` is ``"counts"`` where no calibration is known.

    Raises
    ------
    RecordingError
        If the file, its sidecar or its samples cannot be used, a channel is not
        there, no sampling rate or two different ones are stated, or a
        calibration is incomplete or contradictory.
    """
    place = Path(path)
    kind = identify(place)
    sidecar = read_sidecar(place)
    given_rate_hz = _given_rate(str(path), options, sidecar)
    try:
        source = _open(kind, place, options, given_rate_hz)
        rate_hz = _rate(str(path), source, given_rate_hz)
        wanted = tuple(requests) or (_default_request(source, options, sidecar),)
        _check_channels(str(path), source, wanted, options)
        samples = _load(str(path), source, wanted, options)
        digest = file_sha256(place)
    except (OSError, MemoryError) as error:
        reason = "it does not fit into memory" if isinstance(error, MemoryError) else error
        msg = f"{path}: cannot be read ({reason}); copy it to a local disk, or cut it into parts"
        raise RecordingError(msg) from error
    common = Recording(
        samples=samples[0],
        sampling_rate_hz=rate_hz,
        unit="counts",
        path=str(path),
        sha256=digest,
        n_channels=source.n_channels,
        stage=stage,
        tachometer=None if options.tachometer_channel is None else samples[-1],
        tachometer_pulses_per_turn=options.tachometer_pulses_per_turn,
    )
    described = [_described(common, request, sidecar) for request in wanted]
    return tuple(
        _calibrated(
            replace(one, samples=row, remarks=one.remarks + source.remarks),
            source,
            statements(options, sidecar, request),
        )
        for one, request, row in zip(described, wanted, samples, strict=False)
    )


def _open(
    kind: Kind, path: Path, options: ReadOptions, given_rate_hz: float | None
) -> SampleSource:
    match kind:
        case Kind.AUDIO:
            return open_audio(path)
        case Kind.TEXT:
            return open_table(path, options, given_rate_hz=given_rate_hz)
        case Kind.NPY:
            return open_npy(path)
        case Kind.NPZ:
            return open_npz(path, options)
        case Kind.MATLAB:
            return open_matlab(path, options)
    assert_never(kind)


def _given_rate(path: str, options: ReadOptions, sidecar: Sidecar | None) -> float | None:
    """Rate from options or sidecar, which must not differ."""
    stated = None if sidecar is None else sidecar.common.get("sampling_rate_hz")
    if options.rate_hz is None or stated is None:
        return options.rate_hz if stated is None else float(stated)
    if abs(options.rate_hz - stated) > _SAME_RATE * stated:
        msg = (
            f"{path}: a sampling rate of {options.rate_hz:.9g} Hz is given, but its sidecar says "
            f"{stated:.9g} Hz; correct one of them"
        )
        raise RecordingError(msg)
    return options.rate_hz


def _rate(path: str, source: SampleSource, given_rate_hz: float | None) -> float:
    """Rate of the file; a given one may only be finer than what the file can state."""
    own = source.sampling_rate_hz
    if own is None:
        if given_rate_hz is None:
            msg = (
                f"{path}: states no sampling rate; give the rate in Hz, "
                "or write sampling_rate_hz into its sidecar"
            )
            raise RecordingError(msg)
        return given_rate_hz
    if not (np.isfinite(own) and own > 0):
        msg = f"{path}: {source.rate_place} states a sampling rate of {own:g} Hz; record again"
        raise RecordingError(msg)
    if given_rate_hz is None:
        return own
    if abs(given_rate_hz - own) >= max(source.rate_tolerance_hz, _SAME_RATE * own):
        msg = (
            f"{path}: a sampling rate of {given_rate_hz:.9g} Hz is given, but {source.rate_place} "
            f"says {own:.9g} Hz; leave the rate out or correct it"
        )
        raise RecordingError(msg)
    return given_rate_hz


def _default_request(
    source: SampleSource, options: ReadOptions, sidecar: Sidecar | None
) -> ChannelRequest:
    named = None if sidecar is None else sidecar.default_channel
    if named is not None:
        return ChannelRequest(channel=named)
    is_first_taken = options.tachometer_channel == 1 and source.n_channels > 1
    return ChannelRequest(channel=2 if is_first_taken else 1)


def _check_channels(
    path: str, source: SampleSource, wanted: Sequence[ChannelRequest], options: ReadOptions
) -> None:
    count = f"{source.n_channels} channel{'s' if source.n_channels > 1 else ''}"
    for request in wanted:
        if request.channel > source.n_channels:
            msg = f"{path}: channel {request.channel} is wanted, but the file has {count}"
            raise RecordingError(msg)
        if request.channel == options.tachometer_channel:
            msg = (
                f"{path}: channel {request.channel} is wanted as vibration and as tachometer; "
                "choose different channels"
            )
            raise RecordingError(msg)
    if options.tachometer_channel is not None and options.tachometer_channel > source.n_channels:
        msg = (
            f"{path}: channel {options.tachometer_channel} is wanted as tachometer, "
            f"but the file has {count}"
        )
        raise RecordingError(msg)


def _load(
    path: str, source: SampleSource, wanted: Sequence[ChannelRequest], options: ReadOptions
) -> NDArray[np.float64]:
    """Rows in the order of the requests, then the tachometer; all finite, two samples at least."""
    channels = [request.channel for request in wanted]
    if options.tachometer_channel is not None:
        channels.append(options.tachometer_channel)
    samples = source.load(tuple(channels))
    if samples.shape[-1] < 2:
        count = samples.shape[-1]
        words = f"{count} sample{'' if count == 1 else 's'}"
        msg = f"{path}: holds {words}, a recording needs at least 2; record again"
        raise RecordingError(msg)
    for channel, row in zip(channels, samples, strict=True):
        _check_finite(path, channel, row)
    return samples


def _check_finite(path: str, channel: int, row: NDArray[np.float64]) -> None:
    if np.isfinite(row).all():
        return
    index = int(np.flatnonzero(~np.isfinite(row))[0])
    msg = (
        f"{path}: channel {channel} holds {row[index]} at index {index} (from 0); "
        "samples must be finite numbers, record again"
    )
    raise RecordingError(msg)


def _described(common: Recording, request: ChannelRequest, sidecar: Sidecar | None) -> Recording:
    """Add what request and sidecar say about one channel, calibration apart."""
    values = {} if sidecar is None else sidecar.of_channel(request.channel)
    return replace(
        common,
        channel=request.channel,
        point=_name("point", common.path, request, values),
        direction=_name("direction", common.path, request, values),
        sensor_range_m_s2=None if request.range_g is None else g_to_m_s2(request.range_g),
        sensor_usable_hz=request.usable_hz,
        shaft_speed_rpm=values.get("shaft_speed_rpm"),
        start_time=values.get("start_time"),
        temperature_c=values.get("temperature_c"),
        running_hours_h=values.get("running_hours_h"),
        remarks=tuple((key, str(values[key])) for key in ("load", "remarks") if key in values),
    )


def _name(
    key: Literal["point", "direction"], path: str, request: ChannelRequest, values: dict[str, Any]
) -> str | None:
    """Point or direction from request and sidecar, which must not differ."""
    wanted = request.point if key == "point" else request.direction
    stated: str | None = values.get(key)
    if wanted and stated and wanted.casefold() != stated.casefold():
        msg = (
            f"{path}: {key} {wanted} is wanted from channel {request.channel}, but the sidecar "
            f"says {stated}; choose another file or correct the sidecar"
        )
        raise RecordingError(msg)
    return wanted or stated


def _calibrated(
    recording: Recording, source: SampleSource, stated: Sequence[Statement]
) -> Recording:
    """Scale the samples where a calibration is known."""
    limit, samples = source.converter_limit, np.ascontiguousarray(recording.samples)
    scale = calibration(
        stated,
        file_unit=source.unit_of(recording.channel),
        is_integer=limit is not None,
        path=recording.path,
    )
    if scale is None:
        return replace(recording, samples=samples, full_scale=limit)
    if scale.of_full_scale and not source.is_audio:
        _check_fractions(recording.path, samples, scale.calibration.source)
    with np.errstate(over="ignore"):  # an overflow is refused in the next line
        scaled = samples * scale.calibration.scale_m_s2
    _check_finite(recording.path, recording.channel, scaled)
    return replace(
        recording,
        samples=scaled,
        unit="m/s2",
        calibration=scale.calibration,
        full_scale=None if limit is None else limit * scale.calibration.scale_m_s2,
    )


def _check_fractions(path: str, row: NDArray[np.float64], how: str) -> None:
    """Refuse converter counts where fractions of full scale are expected."""
    peak = float(np.max(np.abs(row)))
    if peak <= 1 or not bool(np.all(row == np.rint(row))):
        return
    msg = (
        f"{path}: its values are whole numbers up to {peak:g}, but the calibration ({how}) needs "
        "fractions of full scale; divide by the converter's full scale, or give the unit"
    )
    raise RecordingError(msg)
