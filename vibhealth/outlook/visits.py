"""Recordings of one point gathered into visits, and which of them belong to one state."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median

from vibhealth.card import MachineCard
from vibhealth.model import HistoryRecording, Rebuild

__all__ = ["ONE_VISIT", "WARMER", "Visit", "left_out", "state_sentence", "visits_of"]

# Recordings of one visit: repeats on one day, not independent looks at the bearing.
ONE_VISIT = timedelta(hours=12)
LEAST_EMPTY = 3
WARMER = "warmer than the others"


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """The recordings of one point within twelve hours that share a fate: used, or left out."""

    at: datetime
    recordings: tuple[HistoryRecording, ...]
    left_out_because: str

    @property
    def running_hours_h(self) -> float | None:
        """The hour counter as first noted in this visit."""
        noted = [r.running_hours_h for r in self.recordings if r.running_hours_h is not None]
        return noted[0] if noted else None


def visits_of(
    recordings: Sequence[HistoryRecording], *, reason_of: Callable[[HistoryRecording], str]
) -> tuple[Visit, ...]:
    """Recordings by visits, in the order of time.

    Parameters
    ----------
    recordings : sequence of HistoryRecording
        Of one point; those without a date are left out without a word (`left_out` counts them).
    reason_of : callable
        Why a recording belongs to another state, empty for one to be used.

    Returns
    -------
    tuple of Visit
        A visit has used recordings only, if it has any; else one of its reasons.
    """
    dated = sorted(
        ((r.recorded_at, r) for r in recordings if r.recorded_at is not None),
        key=lambda pair: (pair[0], pair[1].sha256, pair[1].channel),
    )
    groups: list[list[tuple[datetime, HistoryRecording]]] = []
    for at, recording in dated:
        if groups and at - groups[-1][0][0] <= ONE_VISIT:
            groups[-1].append((at, recording))
        else:
            groups.append([(at, recording)])
    return tuple(_visit(group, reason_of) for group in groups)


def _visit(
    group: list[tuple[datetime, HistoryRecording]], reason_of: Callable[[HistoryRecording], str]
) -> Visit:
    reasons = [reason_of(recording) for _, recording in group]
    used = [pair for pair, reason in zip(group, reasons, strict=True) if not reason]
    kept = used or group
    return Visit(
        at=kept[0][0],
        recordings=tuple(recording for _, recording in kept),
        left_out_because="" if used else reasons[0],
    )


def left_out(
    recordings: Sequence[HistoryRecording], card: MachineCard, rebuilds: Sequence[Rebuild]
) -> Callable[[HistoryRecording], str]:
    """Why a recording does not belong to the state of the others; empty where it does.

    Parameters
    ----------
    recordings : sequence of HistoryRecording
        Of one point.
    card : MachineCard
        Its nominal speed and limits decide.
    rebuilds : sequence of Rebuild
        A unit settles in its first hours (``trend_run_in_h``).

    Returns
    -------
    callable
        HistoryRecording to a clause, or to an empty text.
    """
    limits, nominal_hz = card.limits, card.nominal_shaft_frequency_hz
    hold_percent, run_in_h = limits.value("speed_hold_percent"), limits.value("trend_run_in_h")
    spread_c = limits.value("trend_temperature_spread_c")

    def is_off_speed(recording: HistoryRecording) -> bool:
        found_hz = recording.shaft_frequency_hz
        return found_hz is None or abs(found_hz / nominal_hz - 1) * 100 > hold_percent

    usable = [r for r in recordings if not r.unusable_because and not is_off_speed(r)]
    load = _compared_load(usable)
    same = [r.temperature_c for r in usable if r.load == load and r.temperature_c is not None]
    usual_c = median(same) if same else None
    # One recording without calibration must not throw out all the others.
    unit = _most_frequent([r.unit for r in reversed(usable)])

    def reason(recording: HistoryRecording) -> str:
        if recording.unusable_because:
            return recording.unusable_because
        differs = (
            (recording.moment in {"run-up", "coast-down"}, "start or stop"),
            (recording.load != load,
             f"load {recording.load or 'not stated'}, the others {load or 'not stated'}"),
            (is_off_speed(recording), "another speed"),
            (recording.unit != unit, "not calibrated like the others"),
        )  # fmt: skip
        if other := next((words for is_so, words in differs if is_so), ""):
            return other
        away_c = _away(recording.temperature_c, usual_c)
        if abs(away_c) > spread_c:
            return f"{abs(away_c):.0f} °C {WARMER if away_c > 0 else 'colder than the others'}"
        return _settling(recording, rebuilds, run_in_h)

    return reason


def _compared_load(recordings: Sequence[HistoryRecording]) -> str:
    """Empty, once there are some of it: material is loud by itself. Else what is usual."""
    loads = [recording.load for recording in recordings]
    usual = _most_frequent(loads)
    enough = min(loads.count(usual), LEAST_EMPTY)
    return "empty" if 0 < enough <= loads.count("empty") else usual


def _most_frequent(values: Sequence[str]) -> str:
    """The value that occurs most often, of equals the first; empty for none."""
    counts = Counter(values)
    return counts.most_common(1)[0][0] if counts else ""


def _away(temperature_c: float | None, usual_c: float | None) -> float:
    return 0.0 if temperature_c is None or usual_c is None else temperature_c - usual_c


def state_sentence(visits: Sequence[Visit]) -> str:
    """What the used visits have in common, and how many were left out.

    Parameters
    ----------
    visits : sequence of Visit
        As `visits_of` gives them.

    Returns
    -------
    str
    """
    used = [v for v in visits if not v.left_out_because]
    loads = {r.load or "load not stated" for v in used for r in v.recordings}
    out = len(visits) - len(used)
    left = f"; {out} visit{'s' * (out != 1)} in another state left out" if out else ""
    return f"{', '.join(sorted(loads)) or 'no visit that can be used'}, at the card's speed{left}"


def _settling(recording: HistoryRecording, rebuilds: Sequence[Rebuild], run_in_h: float) -> str:
    at = recording.recorded_at
    for rebuild in rebuilds:
        if at is not None and timedelta() <= at - rebuild.at < timedelta(hours=run_in_h):
            return f"within {run_in_h:g} h of a rebuild: still settling"
    return ""
