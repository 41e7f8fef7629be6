"""The TOML file beside a recording: what the recorder or the technician wrote down of it."""

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from vibhealth.errors import RecordingError
from vibhealth.recording._source import as_clause

__all__ = ["SIDECAR_KEYS", "Sidecar", "parse_sidecar", "read_sidecar", "sidecar_path"]

_CALIBRATION_KEYS = (
    "unit",
    "full_scale_g",
    "full_scale_v",
    "sensitivity_mv_per_g",
    "sensitivity_mv_per_m_s2",
)
_CHANNEL_KEYS = ("channel", "point", "direction", *_CALIBRATION_KEYS)
SIDECAR_KEYS = (
    "schema_version",
    *_CHANNEL_KEYS,
    "sampling_rate_hz",
    "shaft_speed_rpm",
    "start_time",
    "temperature_c",
    "running_hours_h",
    "load",
    "remarks",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sidecar:
    """Checked content of a sidecar file.

    ``common`` holds the values of the whole file, ``channels`` those of single
    channels, which win. A top-level ``channel`` ties point, direction and
    calibration to that one channel, which then is the one read by default.
    """

    path: str
    common: Mapping[str, Any] = field(default_factory=dict)
    channels: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)

    @property
    def default_channel(self) -> int | None:
        """The channel that the sidecar is about, if it names just one."""
        return next(iter(self.channels)) if len(self.channels) == 1 else None

    def of_channel(self, channel: int) -> dict[str, Any]:
        """Values in force for a 1-based channel.

        A channel with any calibration of its own takes none from the file's.
        """
        own = dict(self.channels.get(channel, {}))
        common = dict(self.common)
        if any(key in own for key in _CALIBRATION_KEYS):
            common = {k: v for k, v in common.items() if k not in _CALIBRATION_KEYS}
        return common | own


def sidecar_path(recording: str | Path) -> Path:
    """Path of the sidecar of a recording: same folder, same stem, ``.toml``.

    >>> sidecar_path("as-left/P1X.csv.gz").as_posix()
    'as-left/P1X.toml'
    """
    path = Path(recording)
    stem = Path(path.stem).stem if path.suffix.lower() == ".gz" else path.stem
    return path.with_name(f"{stem}.toml")


def read_sidecar(recording: str | Path) -> Sidecar | None:
    """Sidecar of a recording, or None where there is none.

    Parameters
    ----------
    recording : str or Path
        The recording, not the sidecar.

    Returns
    -------
    Sidecar or None

    Raises
    ------
    RecordingError
        If the sidecar is no valid TOML, has an unknown key, or a value breaks its rule.
    """
    path = sidecar_path(recording)
    if not path.is_file():
        return None
    try:
        table = tomllib.loads(path.read_text("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        reason = as_clause(error)
        msg = f"{path}: this sidecar is not valid TOML ({reason}); correct it or move it away"
        raise RecordingError(msg) from error
    return parse_sidecar(table, path=str(path))


def parse_sidecar(table: Mapping[str, Any], *, path: str) -> Sidecar:
    """Check the content of a sidecar.

    Parameters
    ----------
    table : mapping
        As TOML gives it.
    path : str
        For the messages.

    Raises
    ------
    RecordingError
        If a key is unknown or a value breaks its rule.
    """
    _check_known(table, SIDECAR_KEYS, path, where="")
    channel = table.get("channel")
    rest = {key: value for key, value in table.items() if key != "channel"}
    common = _checked(rest, path, where="")
    if isinstance(channel, list):
        return Sidecar(path=path, common=common, channels=_channel_tables(channel, path))
    if channel is None:
        return Sidecar(path=path, common=common)
    number = _whole_number_from_1(path, "channel", channel)
    own = {key: common.pop(key) for key in _CHANNEL_KEYS if key in common}
    return Sidecar(path=path, common=common, channels={number: own})


def _channel_tables(tables: list[Any], path: str) -> dict[int, dict[str, Any]]:
    found: dict[int, dict[str, Any]] = {}
    for position, table in enumerate(tables, start=1):
        where = f"[[channel]] table {position}: "
        if not isinstance(table, Mapping):
            msg = f"{path}: {where}must be a table of keys, got {table!r}"
            raise RecordingError(msg)
        _check_known(table, _CHANNEL_KEYS, path, where=where)
        checked = _checked(table, path, where=where)
        number = checked.pop("channel", None)
        if number is None or number in found:
            problem = "has no key channel" if number is None else f"repeats channel {number}"
            msg = f"{path}: {where}{problem}; give each table its own channel number from 1 on"
            raise RecordingError(msg)
        found[number] = checked
    return found


def _check_known(table: Mapping[str, Any], known: tuple[str, ...], path: str, where: str) -> None:
    unknown = [key for key in table if key not in known]
    if not unknown:
        return
    card = " (a machine card must not share a recording's name)" if "machine" in unknown else ""
    msg = f"{path}: {where}unknown key {unknown[0]!r}{card}; known keys are {', '.join(known)}"
    raise RecordingError(msg)


def _checked(table: Mapping[str, Any], path: str, where: str) -> dict[str, Any]:
    return {key: _RULES[key](path, f"{where}{key}", value) for key, value in table.items()}


def _refuse(path: str, key: str, rule: str, value: object) -> RecordingError:
    return RecordingError(f"{path}: {key} must be {rule}, got {value!r}")


def _number(path: str, key: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise _refuse(path, key, "a finite number", value)
    return float(value)


def _positive(path: str, key: str, value: object) -> float:
    rule = "a finite number above 0"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _refuse(path, key, rule, value)
    if not (math.isfinite(value) and value > 0):
        raise _refuse(path, key, rule, value)
    return float(value)


def _not_negative(path: str, key: str, value: object) -> float:
    rule = "a finite number of at least 0"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _refuse(path, key, rule, value)
    if not (math.isfinite(value) and value >= 0):
        raise _refuse(path, key, rule, value)
    return float(value)


def _whole_number_from_1(path: str, key: str, value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise _refuse(path, key, "a whole number from 1 on", value)
    return value


def _text(path: str, key: str, value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise _refuse(path, key, "text in quotes", value)
    return value.strip()


def _one_of(*allowed: object) -> Callable[[str, str, object], Any]:
    def check(path: str, key: str, value: object) -> Any:
        if isinstance(value, bool) or value not in allowed:
            raise _refuse(path, key, f"one of {', '.join(map(str, allowed))}", value)
        return value

    return check


def _offset_time(path: str, key: str, value: object) -> datetime:
    if not isinstance(value, datetime) or value.tzinfo is None:
        rule = "a date and time with offset, such as 2024-05-01T10:00:00+02:00"
        found = value.isoformat() if isinstance(value, datetime) else value
        raise _refuse(path, key, rule, found)
    return value


_RULES: dict[str, Callable[[str, str, object], Any]] = {
    "schema_version": _one_of(1),
    "unit": _one_of("g", "m/s2", "counts"),
    "full_scale_g": _positive,
    "full_scale_v": _positive,
    "sensitivity_mv_per_g": _positive,
    "sensitivity_mv_per_m_s2": _positive,
    "sampling_rate_hz": _positive,
    "shaft_speed_rpm": _positive,
    "point": _text,
    "direction": _text,
    "channel": _whole_number_from_1,
    "start_time": _offset_time,
    "temperature_c": _number,
    "running_hours_h": _not_negative,
    "load": _one_of("empty", "loaded"),
    "remarks": _text,
}
