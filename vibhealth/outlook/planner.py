"""The planner's question of one machine, answered: rebuild early, which window, what to order."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

from vibhealth.card import MachineCard
from vibhealth.card.maintenance import Maintenance
from vibhealth.model import (
    CrossingRange,
    Outlook,
    Past,
    Sign,
    Trend,
    Window,
)
from vibhealth.outlook._planner_words import (
    CAUTIONS,
    evidence_of,
    headline,
    next_recording_of,
    would_change,
)
from vibhealth.outlook.condition import Condition, condition_of
from vibhealth.outlook.machine_life import LIFE_SENTENCE, bearing_lives
from vibhealth.outlook.plan_basis import Basis, choose_basis
from vibhealth.outlook.risk import Unit, risk_before
from vibhealth.outlook.spare_order import spare_advice, spare_arrives
from vibhealth.outlook.stop_windows import Stops, stop_windows
from vibhealth.outlook.strays import loud_strays
from vibhealth.outlook.trend import machine_trends
from vibhealth.outlook.unit_lives import unit_lives

__all__ = ["Past", "machine_outlook"]

# A best age further off than 30 years is as good as never within any list of stops.
LATEST_BEST_DAYS = 30 * 365.0


def machine_outlook(
    card: MachineCard, past: Past, *, as_of: date, windows: Sequence[date] | None = None
) -> Outlook:
    """State, evidence, windows with cost and risk, spare, and what would change the answer.

    Parameters
    ----------
    card : MachineCard
        ``[maintenance]`` holds costs, windows, spare; all may be missing.
    past : Past
        Of the card's machine.
    as_of : date
        The day that is asked for; nothing later counts.
    windows : sequence of date, optional
        Planned stops, instead of those on the card.

    Returns
    -------
    Outlook
        Dates as ranges and probabilities, never one figure of remaining life.
    """
    now = datetime.combine(as_of, time.max, tzinfo=UTC)
    known, plan = past.until(now), card.maintenance or Maintenance()
    trends = machine_trends(known.recordings, card, known.rebuilds)
    condition = condition_of(
        trends, card, as_of=now, rebuilds=known.rebuilds, verdicts=known.verdicts
    )
    condition = _with_strays(condition, known, card)
    ratings = bearing_lives(card)
    lives = unit_lives(
        known.rebuilds,
        known.opened,
        as_of=now,
        hours_per_day=plan.running_hours_per_day,
        hours_now=_hours_now(known, now, plan),
    )
    basis = choose_basis(plan, lives, ratings)
    unit = _unit(condition, trends, basis, plan, now)
    risk = risk_before(unit, as_of=as_of)
    stops = stop_windows(
        plan.windows if windows is None else windows,
        risk,
        as_of=as_of,
        costs=basis.costs,
        cost_rate_per_day=_rate_per_day(basis, plan),
        is_at_action_level=condition.sign in {Sign.CLEAR, Sign.STOP},
    )
    is_quiet = condition.sign in {Sign.NONE, Sign.NOT_KNOWN}
    is_due = not is_quiet or _is_due_by_age(stops, risk, basis, plan, as_of)
    if condition.sign is Sign.STOP or not is_due:
        stops = replace(stops, windows=tuple(replace(w, is_cheapest=False) for w in stops.windows))
    arrival = spare_arrives(plan, as_of=as_of)
    stops = replace(stops, windows=tuple(_with_spare(w, arrival) for w in stops.windows))
    chosen = _chosen(stops.windows, condition, unit.crossing)
    due, due_sentence = next_recording_of(condition, plan, as_of)
    return Outlook(
        machine=card.machine.id,
        name=card.machine.name,
        as_of=as_of,
        sign=condition.sign,
        headline=headline(
            condition, chosen, basis, is_on_shelf=bool(plan.spare_on_shelf), arrival=arrival
        ),
        reasons=condition.reasons,
        evidence=(
            *evidence_of(trends, known.recordings, condition, known.verdicts),
            *_later(len(past.recordings) - len(known.recordings)),
        ),
        trends=trends,
        life=ratings,
        life_sentence=LIFE_SENTENCE,
        basis=replace(basis.plan, sentence="; ".join((basis.plan.sentence, *lives.remarks))),
        windows=stops.windows,
        spare=spare_advice(
            risk,
            plan,
            as_of=as_of,
            sign=condition.sign,
            needed_by=None if chosen is None else chosen.at,
        ),
        would_change=would_change(condition, basis, plan, stops),
        next_recording=due,
        next_recording_sentence=due_sentence,
        cautions=CAUTIONS,
        currency=plan.currency or "",
        chosen_window=None if chosen is None else chosen.at,
        settings={
            row.id: {"value": row.value, "unit": row.unit, "source": row.source}
            for row in card.limits.rows
            if row.id.startswith("trend_") or row.id in {"depth_watch", "depth_hold"}
        },
    )


def _with_strays(condition: Condition, known: Past, card: MachineCard) -> Condition:
    """What stands in no trend makes no sign, and no silence either."""
    strays = loud_strays(known.recordings, card, since=known.last_rebuild_at)
    if not strays:
        return condition
    is_quiet = condition.sign in {Sign.NONE, Sign.NOT_KNOWN}
    return replace(
        condition,
        reasons=(*condition.reasons, *strays),
        needs_confirming=condition.needs_confirming or is_quiet,
    )


def _with_spare(window: Window, arrival: date | None) -> Window:
    if arrival is None or window.at >= arrival:
        return replace(window, spare_is_there=None if arrival is None else True)
    sentence = f"{window.sentence}; no spare by then"
    return replace(window, spare_is_there=False, sentence=sentence)


def _later(count: int) -> tuple[str, ...]:
    if count == 1:
        return ("1 recording made after this day does not count",)
    return (f"{count} recordings made after this day do not count",) if count else ()


def _hours_now(known: Past, now: datetime, plan: Maintenance) -> float | None:
    """Hour counter today: as last noted since the last rebuild, and on by the usual hours."""
    since = known.last_rebuild_at
    noted = [
        (r.recorded_at, r.running_hours_h)
        for r in known.recordings
        if r.recorded_at is not None
        and r.running_hours_h is not None
        and (since is None or r.recorded_at > since)
    ]
    if not noted:
        return None
    if any(later < earlier for (_, earlier), (_, later) in pairwise(sorted(noted))):
        return None  # exchanged or mistyped: days and usual hours are surer
    at, hours = max(noted)
    per_day = plan.running_hours_per_day or 0.0
    return hours + per_day * max((now - at) / timedelta(days=1), 0.0)


def _unit(
    condition: Condition, trends: Sequence[Trend], basis: Basis, plan: Maintenance, now: datetime
) -> Unit:
    heard = condition.last_heard
    leading = condition.leading
    is_dated = leading is not None and leading.crossing.earliest is not None
    dated = [t.crossing for t in trends if is_dated and t.crossing.earliest is not None]
    # A loud reading that waits to be confirmed is no silence that counts in favour.
    sign = Sign.NOT_KNOWN if condition.needs_confirming else condition.sign
    silent_days = plan.warning_time_days if heard is None else (now - heard) / timedelta(days=1)
    return Unit(
        life=None if condition.has_unheard else basis.life,
        age_h=basis.plan.age_h,
        hours_per_day=plan.running_hours_per_day,
        sign=sign,
        crossing=min(dated, key=lambda c: c.earliest or date.max, default=None),
        heard_days_ago=silent_days,
        warning_days=plan.warning_time_days,
        detection_share=plan.detection_share,
    )


def _rate_per_day(basis: Basis, plan: Maintenance) -> float | None:
    """Long-run cost of a unit per day: of the best age if there is one, else to failure."""
    if basis.policy is None or plan.running_hours_per_day is None:
        return None
    is_early = basis.plan.optimum_age_h is not None
    rate = basis.policy.cost_rate if is_early else basis.policy.cost_rate_to_failure
    return rate * plan.running_hours_per_day


def _is_due_by_age(
    stops: Stops,
    risk: Callable[[date], float | None],
    basis: Basis,
    plan: Maintenance,
    as_of: date,
) -> bool:
    """Whether a stop costs as little as waiting for the best age; never where going early gains nothing."""
    best, age, per_day = basis.plan.optimum_age_h, basis.plan.age_h, plan.running_hours_per_day
    if best is None or age is None or per_day is None or not stops.windows:
        return False
    best_day = as_of + timedelta(days=min(max((best - age) / per_day, 0.0), LATEST_BEST_DAYS))
    days = [window.at for window in stops.windows]
    if best_day <= days[-1]:
        return True
    with_waiting = stop_windows(
        [*days, best_day],
        risk,
        as_of=as_of,
        costs=basis.costs,
        cost_rate_per_day=_rate_per_day(basis, plan),
    )
    return not with_waiting.windows[-1].is_cheapest


def _chosen(
    windows: Sequence[Window], condition: Condition, crossing: CrossingRange | None
) -> Window | None:
    """The window to use: the cheapest; without costs, at an early sign, the last one in time.

    At a clear sign the first, whatever it costs; at a sign to stop none: nobody waits for it.
    """
    if condition.sign is Sign.STOP:
        return None
    if condition.sign is Sign.CLEAR:
        return next(iter(windows), None)
    cheapest = next((w for w in windows if w.is_cheapest), None)
    if cheapest is not None or condition.sign is not Sign.EARLY:
        return cheapest
    earliest = crossing.earliest if crossing is not None else None
    before = [w for w in windows if earliest is not None and w.at <= earliest]
    return before[-1] if before else next(iter(windows), None)
