"""From file values to m/s^2: which statement counts, and what it comes to.

Order of precedence: options, sidecar, the file itself (a unit in a header or
array file), request (machine card). A sensitivity may find its full-scale
voltage, or the reverse, at a lower level; nothing else is mixed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

from vibhealth.errors import RecordingError
from vibhealth.model import Calibration
from vibhealth.recording._source import FileUnit
from vibhealth.recording.request import ChannelRequest, ReadOptions
from vibhealth.recording.sidecar import Sidecar
from vibhealth.units import STANDARD_GRAVITY_M_S2

__all__ = ["Level", "Scale", "Statement", "calibration", "statements"]

_UNIT_SCALE_M_S2 = {"g": STANDARD_GRAVITY_M_S2, "m/s2": 1.0}


class Level(IntEnum):
    """Who states a calibration; lower numbers win."""

    OPTIONS = 0
    SIDECAR = 1
    REQUEST = 2


class Scale(NamedTuple):
    """A calibration, and whether it takes file values for fractions of full scale."""

    calibration: Calibration
    of_full_scale: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What one level says about calibration."""

    level: Level
    source: str
    unit: str | None = None
    full_scale_g: float | None = None
    full_scale_v: float | None = None
    sensitivity_mv_per_g: float | None = None
    sensitivity_mv_per_m_s2: float | None = None

    @property
    def is_set(self) -> bool:
        """Whether anything is stated."""
        others = (self.sensor, self.unit, self.full_scale_g, self.full_scale_v)
        return any(value is not None for value in others)

    @property
    def has_full_scale(self) -> bool:
        """Whether the acceleration at full scale follows from this statement alone."""
        has_pair = self.sensor is not None and self.full_scale_v is not None
        return self.full_scale_g is not None or has_pair

    @property
    def sensor(self) -> tuple[float, str] | None:
        """Acceleration in m/s^2 of one volt, and the sensitivity in words, if it is stated."""
        if self.sensitivity_mv_per_g is not None:
            words = f"{self.sensitivity_mv_per_g:g} mV/g"
            return STANDARD_GRAVITY_M_S2 / (1e-3 * self.sensitivity_mv_per_g), words
        if self.sensitivity_mv_per_m_s2 is None:
            return None
        return 1e3 / self.sensitivity_mv_per_m_s2, f"{self.sensitivity_mv_per_m_s2:g} mV per m/s2"


def statements(
    options: ReadOptions, sidecar: Sidecar | None, request: ChannelRequest
) -> tuple[Statement, ...]:
    """All that is stated about one channel, the strongest first."""
    found = [
        Statement(
            level=Level.OPTIONS,
            source="options",
            unit=options.unit,
            full_scale_g=options.full_scale_g,
            full_scale_v=options.full_scale_v,
            sensitivity_mv_per_g=options.sensitivity_mv_per_g,
        )
    ]
    if sidecar is not None:
        values = sidecar.of_channel(request.channel)
        keys = [name for name in Statement.__dataclass_fields__ if name in values]
        source = f"sidecar {sidecar.path}"
        own = {name: values[name] for name in keys}
        found.append(Statement(level=Level.SIDECAR, source=source, **own))
    found.append(
        Statement(
            level=Level.REQUEST,
            source=request.source,
            unit=request.unit,
            full_scale_g=request.full_scale_g,
            full_scale_v=request.full_scale_v,
            sensitivity_mv_per_g=request.sensitivity_mv_per_g,
            sensitivity_mv_per_m_s2=request.sensitivity_mv_per_m_s2,
        )
    )
    return tuple(statement for statement in found if statement.is_set)


def calibration(
    stated: Sequence[Statement], *, file_unit: FileUnit | None, is_integer: bool, path: str
) -> Scale | None:
    """Calibration of one channel, None where none is known.

    Parameters
    ----------
    stated : sequence of Statement
        The strongest first.
    file_unit : FileUnit or None
        What the file says of itself.
    is_integer : bool
        Whether values are fractions of a converter's full scale.
    path : str
        For the messages.

    Raises
    ------
    RecordingError
        If a statement is incomplete or contradicts itself or the file.
    """
    top = stated[0] if stated else None
    if top is not None and (top.full_scale_g is not None or top.unit in _UNIT_SCALE_M_S2):
        _check_single(top, is_integer=is_integer, path=path)
    if file_unit is not None and (top is None or top.level is not Level.OPTIONS):
        return _by_file_unit(file_unit, top, path)
    if top is None:
        return None
    return _by_statement(top, stated, is_integer=is_integer, path=path)


def _refuse(path: str, statement: Statement, problem: str) -> RecordingError:
    return RecordingError(f"{path}: calibration from {statement.source} {problem}")


def _check_single(top: Statement, *, is_integer: bool, path: str) -> None:
    """Refuse two calibrations in one statement."""
    if top.full_scale_g is not None and top.sensor is not None and top.full_scale_v is not None:
        raise _refuse(
            path,
            top,
            "gives full_scale_g as well as a sensitivity with full_scale_v; keep one of the two",
        )
    if not is_integer and top.unit is not None and top.has_full_scale:
        raise _refuse(
            path,
            top,
            f"gives unit {top.unit} as well as a full scale for values that are no integers; "
            "keep the one that is true of the file's values",
        )


def _by_file_unit(unit: FileUnit, top: Statement | None, path: str) -> Scale | None:
    said = f"{path}: {unit.place} says {unit.text}"
    if unit.kind == "other":
        msg = f"{said}, which is not an acceleration; choose another channel or give the unit"
        raise RecordingError(msg)
    if unit.kind == "voltage":
        return _by_voltage(unit, top, said)
    if top is not None and _contradicts(unit, top):
        stated = f"unit {top.unit}" if top.unit else "a full scale"
        msg = f"{said}, but {top.source} gives {stated}; correct one of them or give the unit"
        raise RecordingError(msg)
    if unit.kind == "counts":
        return None
    own = Calibration(scale_m_s2=unit.scale, source=f"{unit.place}: unit {unit.text}")
    return Scale(own, of_full_scale=False)


def _contradicts(unit: FileUnit, top: Statement) -> bool:
    """Whether a statement denies the unit in the file.

    A full scale on the machine card belongs to raw files and does not deny it.
    """
    if top.unit is not None:
        return top.unit != unit.text and _UNIT_SCALE_M_S2.get(top.unit) != unit.scale
    return top.level is Level.SIDECAR and top.has_full_scale


def _by_voltage(unit: FileUnit, top: Statement | None, said: str) -> Scale | None:
    if top is None:
        return None
    if top.unit is not None or top.sensor is None:
        stated = f"unit {top.unit}" if top.unit else "no sensitivity"
        msg = f"{said}, but {top.source} gives {stated}; give the sensitivity in mV/g"
        raise RecordingError(msg)
    scale, words = top.sensor
    source = f"{top.source}: {words}; {unit.place}: unit {unit.text}"
    return Scale(Calibration(scale_m_s2=unit.scale * scale, source=source), of_full_scale=False)


def _by_statement(
    top: Statement, stated: Sequence[Statement], *, is_integer: bool, path: str
) -> Scale | None:
    if top.unit == "counts":
        if top.has_full_scale:
            raise _refuse(path, top, "gives unit counts as well as a full scale; keep one of them")
        return None
    if top.full_scale_g is not None:
        scale = top.full_scale_g * STANDARD_GRAVITY_M_S2
        source = f"{top.source}: full scale {top.full_scale_g:g} g"
        return Scale(Calibration(scale_m_s2=scale, source=source), of_full_scale=True)
    if top.unit is not None and not (is_integer and top.has_full_scale):
        if is_integer:
            raise _refuse(
                path,
                top,
                f"gives unit {top.unit} for integer samples, which only say the fraction of full "
                "scale; give full_scale_g, or a sensitivity with full_scale_v",
            )
        scale = _UNIT_SCALE_M_S2[top.unit]
        own = Calibration(scale_m_s2=scale, source=f"{top.source}: unit {top.unit}")
        return Scale(own, of_full_scale=False)
    return _by_sensitivity(top, stated, path)


def _by_sensitivity(top: Statement, stated: Sequence[Statement], path: str) -> Scale:
    """Full-scale voltage over sensitivity; the missing half may stand at a lower level."""
    by_sensor = next((s for s in stated if s.sensor is not None), None)
    by_recorder = next((s for s in stated if s.full_scale_v is not None), None)
    if by_sensor is None or by_sensor.sensor is None:
        raise _refuse(path, top, "gives full_scale_v without a sensitivity; give it in mV/g")
    if by_recorder is None or by_recorder.full_scale_v is None:
        raise _refuse(
            path,
            top,
            "gives a sensitivity without full_scale_v; give the recorder's full-scale voltage",
        )
    both = by_sensor.sensitivity_mv_per_g, by_sensor.sensitivity_mv_per_m_s2
    if None not in both:
        raise _refuse(path, by_sensor, "gives the sensitivity per g and per m/s2; keep one of them")
    volt_scale, words = by_sensor.sensor
    source = f"{by_sensor.source}: {words}, full scale {by_recorder.full_scale_v:g} V"
    if by_recorder is not by_sensor:
        source += f" from {by_recorder.source}"
    scale_m_s2 = by_recorder.full_scale_v * volt_scale
    return Scale(Calibration(scale_m_s2=scale_m_s2, source=source), of_full_scale=True)
