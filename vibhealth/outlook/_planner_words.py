"""What the planner's page says in words: headline, evidence, what would change the answer."""

from collections.abc import Sequence
from datetime import date, timedelta

from vibhealth.card.maintenance import Maintenance
from vibhealth.model import INVENTED, HistoryRecording, HistoryVerdict, Sign, Trend, Window
from vibhealth.outlook.condition import Condition
from vibhealth.outlook.plan_basis import Basis, hours_in_words
from vibhealth.outlook.stop_windows import Stops

__all__ = ["CAUTIONS", "evidence_of", "headline", "next_recording_of", "would_change"]

CAUTIONS = (
    (
        "This page plans; it does not judge whether the machine is safe to run. Noise, heat, smoke, "
        "leaking oil or contact: stop it, whatever is written here."
    ),
    (
        "Lock out, tag and try before anybody touches the machine; never record with the guard off. "
        "The unit is heavy and the oil may be hot. Site rules, local codes and licensed trades come "
        "first."
    ),
)
# Share of the warning time between recordings: half in quiet times (the usual rule of periodic
# measurement), a third after a first sign, a tenth after a clear one (common practice, no source).
INTERVAL_SHARE = {Sign.EARLY: 1 / 3, Sign.CLEAR: 1 / 10}
QUIET_SHARE = 1 / 2


def headline(
    condition: Condition,
    window: Window | None,
    basis: Basis,
    *,
    is_on_shelf: bool = False,
    arrival: date | None = None,
) -> str:
    """The answer in one sentence; a spare ``is_on_shelf`` is not ordered again.

    ``arrival`` is the day on which a spare that is ordered now is there.
    """
    stop = f"{window.at:%d %b %Y}" if window else ""
    if condition.sign is Sign.NONE:
        return _quiet_headline(condition, stop, basis)
    clear = (
        f"use the window of {stop}"
        if stop
        else ("rebuild at the next stop that can be made; no window is known")
    )
    early = f"plan the rebuild for {stop}" if stop else "watch it more often"
    spare = "the spare is on the shelf" if is_on_shelf else "order the spare"
    if window is not None and window.spare_is_there is False and arrival is not None:
        late = (
            f"; no spare by then, ordered now it comes about {arrival:%d %b %Y}: press for an "
            "earlier one"
        )
        clear, early = clear + late, early + late
    return {
        Sign.STOP: "Stop soon: do not wait for the window",
        Sign.CLEAR: f"Clear sign: {clear}",
        Sign.EARLY: f"Early sign: {spare}; {early}",
        Sign.NOT_KNOWN: f"Not known: {next(iter(condition.reasons), 'nothing was recorded')}",
    }[condition.sign] + _silence(condition)


def _silence(condition: Condition) -> str:
    has_sign = condition.sign in {Sign.EARLY, Sign.CLEAR}
    days = condition.silent_days if has_sign else 0.0
    return f"; last heard {days:.0f} days ago, record now" if days else ""


def _quiet_headline(condition: Condition, stop: str, basis: Basis) -> str:
    first = "No sign yet" + (", one loud reading to confirm" if condition.needs_confirming else "")
    go_on = "record again now" if condition.needs_confirming else "keep recording"
    best, age = basis.plan.optimum_age_h, basis.plan.age_h
    slope, interval = basis.plan.slope, basis.plan.slope_interval
    is_ageing = slope is None or (slope > 1 and (interval is None or interval[0] > 1))
    if basis.policy is None and is_ageing:
        return f"{first}: {go_on}; what going early would gain is not known"
    if best is None:
        return f"{first}: going early gains nothing by itself, {go_on}"
    if stop:
        return f"{first}: by age the window of {stop} costs least"
    if age is None:
        return f"{first}: by age rebuild at about {hours_in_words(best)}; the age of the unit is not known"
    if age < best:
        return f"{first}: by age no rebuild is due before about {hours_in_words(best)}"
    return (
        f"{first}: by age due since about {hours_in_words(best)}, rebuild at the next planned stop"
    )


def evidence_of(
    trends: Sequence[Trend],
    recordings: Sequence[HistoryRecording],
    condition: Condition,
    verdicts: Sequence[HistoryVerdict] = (),
) -> tuple[str, ...]:
    """What the answer rests on: last recording, last verdict, trend by trend."""
    undated = sum(r.recorded_at is None for r in recordings)
    lines = []
    invented = sum(r.tool_version == INVENTED for r in recordings)
    if invented:
        share = f"{invented} of {len(recordings)} readings are INVENTED"
        lines.append(f"{share}: for practice, never evidence")
    if condition.last_heard is not None:
        lines.append(f"last usable recording of {condition.last_heard:%d %b %Y}")
    dated = [(v.decided_on, v) for v in verdicts if v.decided_on is not None]
    if dated:
        at, last = max(dated, key=lambda pair: pair[0])
        check = f", check {last.check}" if last.check else ""
        lines.append(f"last verdict of {at:%d %b %Y}{check}: {last.headline}")
    for trend in trends:
        where = f"point {trend.point}, {trend.title}"
        lines.append(f"{where}: {trend.sentence}")
        if trend.crossing.earliest is not None and trend.crossing.latest is not None:
            lines.append(
                f"{where}: reaches its action level between {trend.crossing.earliest:%d %b %Y} "
                f"and {trend.crossing.latest:%d %b %Y} (80 of 100)"
            )
        elif trend.crossing.already_reached:
            lines.append(f"{where}: the action level is reached already")
        elif trend.course == "rising":
            lines.append(f"{where}: no date, {trend.crossing.withheld_because}")
    if undated:
        lines.append(
            "1 recording without a date stands in no trend"
            if undated == 1
            else f"{undated} recordings without a date stand in no trend"
        )
    return tuple(lines)


def would_change(
    condition: Condition, basis: Basis, plan: Maintenance, stops: Stops
) -> tuple[str, ...]:
    """What could turn the answer round, and what is missing for a better one."""
    lines = {
        Sign.NONE: ["a family of watch size in two of three visits would make it an early sign"],
        Sign.EARLY: [
            (
                "a next visit in the same state without the sign would take it back for now; two "
                "of three visits at the action level would make it a clear sign"
            )
        ],
        Sign.CLEAR: [
            (
                "a new recording in the same state that is clean (other sensor, checked mount) would "
                "ask for a second look before the unit is opened"
            )
        ],
        Sign.STOP: ["nothing but a look at the machine, locked out"],
        Sign.NOT_KNOWN: ["one usable recording, warm and empty, at the card's speed"],
    }[condition.sign]
    missing = {
        "maintenance.planned_cost and unplanned_cost": basis.costs is None,
        "maintenance.running_hours_per_day": plan.running_hours_per_day is None,
        "maintenance.windows": not stops.windows,
        "the date of the last rebuild (vibhealth history rebuild)": basis.plan.age_h is None,
        "three failed units on record, or maintenance.weibull_slope and characteristic_life_h":
            basis.plan.source in {"rating life", "none"},
    }  # fmt: skip
    wanted = [name for name, is_missing in missing.items() if is_missing]
    if wanted:
        lines.append(f"better known with: {'; '.join(wanted)}")
    if stops.remark:
        lines.append(stops.remark)
    return tuple(lines)


def next_recording_of(
    condition: Condition, plan: Maintenance, as_of: date
) -> tuple[date | None, str]:
    """Day by which to record again, and why then."""
    sign = condition.sign
    if sign is Sign.STOP:
        return None, "do not run on to record: stop, lock out, look"
    if condition.last_heard is None or sign is Sign.NOT_KNOWN or condition.needs_confirming:
        return as_of, "now: warm, empty, at the card's speed"
    usual = plan.recording_interval_days or QUIET_SHARE * plan.warning_time_days
    usual = min(usual, plan.warning_time_days)  # longer, and nothing would be known any more
    share = INTERVAL_SHARE.get(sign)
    days = max(min(usual, share * plan.warning_time_days) if share else usual, 1.0)
    due = (condition.last_heard + timedelta(days=days)).date()
    why = f"{days:.0f} days after the last one, warning time {plan.warning_time_days:g} days"
    if due < as_of:
        return as_of, f"overdue since {due:%d %b %Y} ({why}): record now"
    return due, f"by {due:%d %b %Y}, {why}"
