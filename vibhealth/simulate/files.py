"""Simulated recordings as files that say that they are invented."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from vibhealth._check import check_positive
from vibhealth.errors import InputError
from vibhealth.recording import write_recording
from vibhealth.simulate.recording import SimulatedRecording
from vibhealth.units import g_to_m_s2, m_s2_to_g

__all__ = ["FileForm", "write_simulated"]

FileForm = Literal["wav-float", "wav-24", "wav-16", "flac", "csv"]

# Suffix, subtype, and the bits of the integer forms.
_FORMS: dict[str, tuple[str, str | None, int | None]] = {
    "wav-float": (".wav", "FLOAT", None),
    "wav-24": (".wav", "PCM_24", 24),
    "wav-16": (".wav", "PCM_16", 16),
    "flac": (".flac", "PCM_24", 24),
    "csv": (".csv", None, None),
}


def write_simulated(  # noqa: PLR0913 (how one file is written)
    path: str | Path,
    simulated: SimulatedRecording,
    *,
    form: FileForm = "wav-float",
    full_scale_g: float | None = None,
    sidecar: Mapping[str, Any] | None = None,
    overwrite: bool = False,
) -> Path:
    """Write a simulated recording, one channel per point, with its sidecar.

    The sidecar states rate, calibration, point and direction of each channel,
    and in its remarks that the recording is invented, with seed and defects.

    Parameters
    ----------
    path : str or Path
        Suffix ``.wav``, ``.flac`` or ``.csv``, as the form demands.
    simulated : SimulatedRecording
        Result of `simulate`.
    form : {"wav-float", "wav-24", "wav-16", "flac", "csv"}
        Float and CSV hold m/s^2; the others integers of ``full_scale_g``.
    full_scale_g : float or None
        Full scale in g of the integer forms, above 0; None for the others. A
        sample at full scale becomes the converter's largest value.
    sidecar : mapping or None
        Further keys of the sidecar, such as ``start_time``, ``temperature_c`` or
        ``load``; they win over those written by default.
    overwrite : bool
        Whether existing files may be replaced.

    Returns
    -------
    Path
        ``path``.

    Raises
    ------
    InputError
        If form, suffix and full scale do not fit each other, or a sample lies
        beyond full scale.
    RecordingError
        If a key of ``sidecar`` is unknown or breaks its rule.
    OutputError
        If a file exists and ``overwrite`` is not set, or it cannot be written.
    """
    if form not in _FORMS:
        msg = f"form must be one of {', '.join(get_args(FileForm))}, got {form!r}"
        raise InputError(msg)
    suffix, subtype, bits = _FORMS[form]
    if Path(path).suffix.lower() != suffix:
        msg = f"{path}: form {form} needs a name that ends in {suffix}"
        raise InputError(msg)
    if (bits is None) != (full_scale_g is None):
        rule = "needs" if bits is not None else "has no"
        msg = f"{path}: form {form} {rule} full_scale_g, got {full_scale_g}"
        raise InputError(msg)
    table = {**_facts(simulated), **(sidecar or {})}
    values = simulated.samples
    if bits is not None and full_scale_g is not None:
        values = _converted(path, values, full_scale_g, bits)
        table["full_scale_g"] = float(full_scale_g)
    else:
        table["unit"] = "m/s2"
    return write_recording(
        path,
        values,
        simulated.sampling_rate_hz,
        subtype=subtype,
        sidecar=_channels_last(table),
        overwrite=overwrite,
    )


def _facts(simulated: SimulatedRecording) -> dict[str, Any]:
    defects = [
        f"{truth.defect.element.words} of bearing {truth.bearing} "
        f"({truth.defect.impact_m_s2:g} m/s2{', all round' * truth.defect.marks_at_every_element})"
        for truth in simulated.truth.defects
    ]
    what = "; ".join([*([simulated.fault] if simulated.fault else []), *defects]) or "no defect"
    channels = [
        {"channel": number, "point": point, "direction": direction}
        for number, (point, direction) in enumerate(
            zip(simulated.points, simulated.directions, strict=True), start=1
        )
    ]
    return {
        "schema_version": 1,
        "sampling_rate_hz": float(simulated.sampling_rate_hz),
        "remarks": f"INVENTED by simulation, seed {simulated.settings.seed}: {what}",
        "channel": channels,
    }


def _converted(
    path: str | Path, samples: NDArray[np.float64], full_scale_g: float, bits: int
) -> NDArray[np.float64]:
    """Samples over full scale; full scale itself becomes the largest code."""
    full_scale_m_s2 = g_to_m_s2(check_positive(full_scale_g, name="full_scale_g"))
    largest = float(np.max(np.abs(samples)))
    if largest > full_scale_m_s2:
        msg = (
            f"{path}: samples reach {m_s2_to_g(largest):.4g} g, beyond full_scale_g = "
            f"{full_scale_g:g}: raise it, or set clip_g to simulate a clipped recording"
        )
        raise InputError(msg)
    return np.minimum(samples / full_scale_m_s2, 1.0 - 2.0 ** (1 - bits))


def _channels_last(table: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of the whole file before the tables of the channels."""
    return dict(sorted(table.items(), key=lambda item: isinstance(item[1], list)))
