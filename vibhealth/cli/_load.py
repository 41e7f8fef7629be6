"""From what the user typed to recordings: which channels, which points, which calibration."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vibhealth.errors import InputError

if TYPE_CHECKING:  # no numpy before a command runs
    from vibhealth.card import MachineCard, Point
    from vibhealth.model import Recording, Stage
    from vibhealth.recording import ChannelRequest, ReadOptions, Sidecar

__all__ = ["Source", "checked_speed", "read_one", "read_options", "read_points"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A recording as the user named it: file, and what the options say of it."""

    path: Path
    options: "ReadOptions"
    point: str | None = None
    channel: int | None = None


def read_options(**values: Any) -> "ReadOptions":
    """Return the overrides of the command line, checked."""
    from vibhealth.recording import ReadOptions

    given = {key: value for key, value in values.items() if value is not None}
    column = given.get("time_column", "")
    if column.isdecimal():
        given["time_column"] = int(column)
    return ReadOptions(**given)


def checked_speed(speed_rpm: float | None) -> float | None:
    """Return a given shaft speed; refuse one that is not above 0."""
    from vibhealth._check import check_positive

    return None if speed_rpm is None else check_positive(speed_rpm, name="--speed-rpm")


def read_one(source: Source, card: "MachineCard | None") -> "Recording":
    """Read the one channel that options, sidecar, card or file single out.

    Raises
    ------
    VibhealthError
        If the file cannot be used, or the point or channel is not there.
    """
    from vibhealth.recording import read_recording

    requests = _requests(source, card)[:1]
    return read_recording(source.path, requests=requests, options=source.options)[0]


def read_points(source: Source, card: "MachineCard", stage: "Stage") -> "tuple[Recording, ...]":
    """Read every measurement point of the card that a file holds.

    Raises
    ------
    VibhealthError
        If the file cannot be used, or holds no point of the card.
    """
    from vibhealth.recording import read_recording

    requests = _requests(source, card)
    for request in requests:
        if request.point is None:
            msg = (
                f"{source.path}: channel {request.channel} belongs to no point of {card.path}; "
                "name it with --point, or write point into the sidecar"
            )
            raise InputError(msg)
        card.point(request.point)
    return read_recording(source.path, requests=requests, options=source.options, stage=stage)


def _requests(source: Source, card: "MachineCard | None") -> "list[ChannelRequest]":
    from vibhealth.recording import read_sidecar

    sidecar = read_sidecar(source.path) if source.path.is_file() else None
    named = _named_channels(sidecar)
    if source.point is not None:
        channel = source.channel or _channel_of(source, card, named, source.point)
        return [_request(card, source.point, channel)]
    if source.channel is not None:
        names = {channel: name for name, channel in named if channel is not None}
        return [_request(card, names.get(source.channel), source.channel)]
    if named:
        return [
            _request(card, name, channel or _channel_of(source, card, (), name))
            for name, channel in _on_card(named, card)
        ]
    return _by_card_channels(source, card)


def _named_channels(sidecar: "Sidecar | None") -> list[tuple[str, int | None]]:
    """Points that a sidecar names, each with its channel where that is stated."""
    if sidecar is None:
        return []
    found: list[tuple[str, int | None]] = [
        (values["point"], channel)
        for channel, values in sidecar.channels.items()
        if "point" in values
    ]
    if not found and "point" in sidecar.common:
        found.append((sidecar.common["point"], None))
    return found


def _on_card(
    named: list[tuple[str, int | None]], card: "MachineCard | None"
) -> list[tuple[str, int | None]]:
    """Those on the card; all of them where the card has none."""
    known = [pair for pair in named if _card_point(card, pair[0]) is not None]
    return known or named


def _channel_of(
    source: Source,
    card: "MachineCard | None",
    named: "list[tuple[str, int | None]] | tuple[()]",
    name: str,
) -> int:
    """Channel of a point: the sidecar's, the only one, else the card's."""
    for other, channel in named:
        if channel is not None and other.casefold() == name.casefold():
            return channel
    if _n_channels(source) == 1:
        return 1
    if card is not None:
        return card.point(name).channel
    msg = f"{source.path}: which channel point {name} has is not known; give --channel or --card"
    raise InputError(msg)


def _by_card_channels(source: Source, card: "MachineCard | None") -> "list[ChannelRequest]":
    """Points of the card whose channel the file has; without any, its first channel."""
    n_channels = _n_channels(source)
    points = [point for point in card.points if point.channel <= n_channels] if card else []
    taken: dict[int, str] = {}
    for point in points:
        if point.channel in taken:
            msg = (
                f"{source.path}: {taken[point.channel]} and {point.name} both have channel "
                f"{point.channel} on the card; name the point with --point or in the sidecar"
            )
            raise InputError(msg)
        taken[point.channel] = point.name
    first = 2 if source.options.tachometer_channel == 1 and n_channels > 1 else 1
    return [_request(card, name, channel) for channel, name in taken.items()] or [
        _request(card, None, first)
    ]


def _n_channels(source: Source) -> int:
    from vibhealth.recording import read_recording

    return read_recording(source.path, options=source.options)[0].n_channels


def _card_point(card: "MachineCard | None", name: str | None) -> "Point | None":
    if card is None or name is None:
        return None
    return next((p for p in card.points if p.name.casefold() == name.casefold()), None)


def _request(card: "MachineCard | None", name: str | None, channel: int) -> "ChannelRequest":
    """One channel with what the card knows of its point and sensor."""
    from vibhealth.recording import ChannelRequest

    if card is not None and name is None:
        same = [point.name for point in card.points if point.channel == channel]
        name = same[0] if len(same) == 1 else None
    point = _card_point(card, name)
    if card is None or point is None:
        return ChannelRequest(channel=channel, point=name)
    sensor = card.sensor(point.sensor)
    return ChannelRequest(
        channel=channel,
        point=point.name,
        direction=point.direction,
        sensitivity_mv_per_g=sensor.sensitivity_mv_per_g,
        sensitivity_mv_per_m_s2=sensor.sensitivity_mv_per_m_s2,
        full_scale_v=sensor.full_scale_v,
        full_scale_g=sensor.full_scale_g,
        unit=sensor.unit,
        range_g=sensor.range_g,
        usable_hz=sensor.usable_hz,
        source=f"machine card, sensor {sensor.name}",
    )
