"""Is a file usable: every channel that was recorded together, by itself and beside the others."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from vibhealth.card import MachineCard
from vibhealth.diagnosis.inspection import (
    axes_finding,
    inspect_recording,
    reasons_to_record_again,
    speed_reasons,
)
from vibhealth.diagnosis.quality_cable import cable_look
from vibhealth.diagnosis.start_stop_inspection import start_stop_reasons
from vibhealth.model import Recording, RecordingAnalysis

__all__ = ["ChannelLook", "inspect_file", "said_of_file"]

WORKERS = 2
# Beside the body, where little moves, only these speak against a recording.
ANYWHERE = frozenset({"constant", "clipping", "sensor-range", "length"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelLook:
    """One channel of a file, and why it has to be recorded again (empty: it has not).

    ``of_file`` are reasons that concern all channels and are told with the first.
    """

    analysis: RecordingAnalysis
    reasons: tuple[str, ...]
    of_file: tuple[str, ...] = ()


def inspect_file(
    recordings: Sequence[Recording],
    *,
    card: MachineCard | None = None,
    given_speed_rpm: float | None = None,
) -> tuple[ChannelLook, ...]:
    """Quick look at all channels of one file, before anyone leaves the machine.

    Parameters
    ----------
    recordings : sequence of Recording
        Channels that were recorded together, at least one.
    card : MachineCard, optional
        Nominal speed, strokes, bearing band, places of the points, limits.
    given_speed_rpm : float, optional
        Shaft speed, above 0, used instead of the recording's own.

    Returns
    -------
    tuple of ChannelLook
        In the order of the channels. Axes, cables and the speed are told with the first
        channel on the moving body.

    Raises
    ------
    InputError
        If a recording has too few samples.
    """

    def look(recording: Recording) -> RecordingAnalysis:
        return inspect_recording(recording, card=card, given_speed_rpm=given_speed_rpm)

    with ThreadPoolExecutor(max_workers=WORKERS) as pool:
        analyses = list(pool.map(look, recordings))
    if card is None:
        return tuple(
            ChannelLook(
                analysis=analysis,
                reasons=reasons_to_record_again(analysis, is_nominal_speed_known=False),
            )
            for analysis in analyses
        )
    on_body = [a for a in analyses if card.is_on_body(a.recording.point)]
    looks = []
    for analysis in analyses:
        if not card.is_on_body(analysis.recording.point):
            looks.append(ChannelLook(analysis=analysis, reasons=_beside_the_body(analysis)))
        elif analysis is on_body[0]:
            looks.append(_first(analysis, on_body, card, is_given=given_speed_rpm is not None))
        else:
            looks.append(ChannelLook(analysis=analysis, reasons=_own_reasons(analysis, card)))
    return tuple(looks)


def _first(
    analysis: RecordingAnalysis,
    on_body: Sequence[RecordingAnalysis],
    card: MachineCard,
    *,
    is_given: bool,
) -> ChannelLook:
    """The channel that speaks for all: with what only several show, and the speed."""
    axes, cable = axes_finding(on_body, card=card), cable_look(on_body, card=card)
    told = (axes, None if cable is None else cable.finding)
    together = tuple(finding for finding in told if finding is not None)
    whole = replace(analysis, quality=(*analysis.quality, *together))
    started = start_stop_reasons(analysis, card=card)
    if started is not None:
        return ChannelLook(analysis=whole, reasons=started)
    of_file = reasons_to_record_again(
        replace(analysis, quality=together), is_nominal_speed_known=False
    )
    return ChannelLook(
        analysis=whole,
        reasons=reasons_to_record_again(analysis, is_nominal_speed_known=True),
        of_file=(*of_file, *(() if is_given else speed_reasons(analysis, card=card))),
    )


def _own_reasons(analysis: RecordingAnalysis, card: MachineCard) -> tuple[str, ...]:
    started = start_stop_reasons(analysis, card=card)
    if started is not None:
        return started
    return reasons_to_record_again(analysis, is_nominal_speed_known=True)


def _beside_the_body(analysis: RecordingAnalysis) -> tuple[str, ...]:
    kept = tuple(finding for finding in analysis.quality if finding.id in ANYWHERE)
    return reasons_to_record_again(replace(analysis, quality=kept), is_nominal_speed_known=False)


def said_of_file(looks: Sequence[ChannelLook]) -> tuple[str, ...]:
    """Why a file has to be recorded again: each reason once, with the points that it is told of.

    Parameters
    ----------
    looks : sequence of ChannelLook
        All channels of a file.

    Returns
    -------
    tuple of str
        Reasons told of every channel stand without a point.
    """
    told: dict[str, list[str]] = {}
    for look in looks:
        recording = look.analysis.recording
        for reason in look.reasons:
            told.setdefault(reason, []).append(recording.point or f"channel {recording.channel}")
    own = (
        reason if len(points) == len(looks) else f"{', '.join(points)}: {reason}"
        for reason, points in told.items()
    )
    return (*own, *(reason for look in looks for reason in look.of_file))
