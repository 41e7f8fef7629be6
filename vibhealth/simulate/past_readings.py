"""An invented past of a machine: readings of a year, and the units that ran before."""

import math
import random
from dataclasses import replace
from datetime import datetime, timedelta

from vibhealth.bearing import defect_orders
from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import (
    INVENTED,
    CriterionResult,
    Damage,
    Descriptor,
    Element,
    HistoryFamily,
    HistoryRecording,
    OpenedUnit,
    Past,
    Rebuild,
    RebuildReason,
)

__all__ = ["past_readings"]

DAYS, EVERY_DAYS, GROWS_FROM_DAY = 345, 10, 230
GROWTH_PER_DAY, HEALTHY_DEPTH = 0.0145, 0.04
HOURS_PER_DAY = 20.0
COUNTER_H = 44_100.0
LIVES_H = (9_800.0, 14_300.0, 12_100.0, 7_900.0)  # of the units before
PLANNED = 2  # the rebuild that was planned; before the others the unit had failed


def past_readings(card: MachineCard, *, until: datetime, seed: int = 7) -> Past:
    """Visits every ten days of a year in which a mark on an outer ring begins to grow.

    Parameters
    ----------
    card : MachineCard
        Its first bearing has the mark, its first point on the body hears it.
    until : datetime
        End of the year, aware.
    seed : int
        Of the scatter from visit to visit.

    Returns
    -------
    Past
        The visits, one of them loaded, and four units before, with the rebuilds between them.

    Raises
    ------
    SettingsError
        If the card has no bearing or no point on the body.
    """
    bearings, points = card.rolling_bearings(), [p for p in card.points if card.is_on_body(p.name)]
    if not bearings or not points:
        msg = f"{card.path or 'card'}: a past needs a bearing and a point on the body; add them"
        raise SettingsError(msg)
    start = until - timedelta(days=DAYS)
    rng = random.Random(seed)  # noqa: S311 - invented readings, no secret
    visits = []
    for day in range(2, DAYS, EVERY_DAYS):
        grown = HEALTHY_DEPTH * math.exp(max(day - GROWS_FROM_DAY, 0) * GROWTH_PER_DAY)
        noise = math.exp(rng.gauss(0, 0.09))
        level = 0.42 * math.exp(rng.gauss(0, 0.06)) + 0.4 * (grown - HEALTHY_DEPTH)
        visits.append(_visit(card, start, day, level, grown * noise))
    loaded = _visit(card, start, DAYS - 12, 1.6, 0.03)
    visits.append(replace(loaded, load="loaded", sha256="f" * 64))
    rebuilds = _rebuilds(card.machine.id, start)
    unit = OpenedUnit(
        machine=card.machine.id, removed_at=rebuilds[-1].at, bearing=bearings[0].name,
        element=Element.OUTER_RING, damage=Damage.SUBSURFACE_FATIGUE, by="W. Workshop (invented)",
    )  # fmt: skip
    return Past(recordings=tuple(visits), rebuilds=rebuilds, opened=(unit,))


def _rebuilds(machine: str, start: datetime) -> tuple[Rebuild, ...]:
    hours, at = COUNTER_H - sum(LIVES_H), start - timedelta(days=sum(LIVES_H) / HOURS_PER_DAY)
    found = []
    for number, life in enumerate((0.0, *LIVES_H)):
        hours, at = hours + life, at + timedelta(days=life / HOURS_PER_DAY)
        reason = RebuildReason.PLANNED if number == PLANNED else RebuildReason.FAILED
        by = "T. Technician (invented)"
        found.append(Rebuild(machine=machine, at=at, reason=reason, by=by, running_hours_h=hours))
    return tuple(found)


def _visit(
    card: MachineCard, start: datetime, day: int, level: float, depth: float
) -> HistoryRecording:
    """One visit, as a recording would be kept."""
    bearing = card.rolling_bearings()[0]
    order = defect_orders(bearing).outer_ring
    shaft_hz = card.nominal_shaft_frequency_hz
    watch, hold = card.limits.value("depth_watch"), card.limits.value("depth_hold")
    result = CriterionResult.HOLD if depth >= hold else CriterionResult.WATCH
    family = HistoryFamily(
        bearing=bearing.name, element=Element.OUTER_RING, order=order,
        frequency_hz=order * shaft_hz, depth=depth, depth_whitened=depth,
        false_alarm_probability=1e-6 if depth >= watch else 0.4,
        depth_interval=(0.85 * depth, 1.18 * depth), impact_m_s2=None, present=depth >= hold,
        blind_spot=False, result=result if depth >= watch else CriterionResult.PASS,
    )  # fmt: skip
    band = Descriptor(
        id="bearing-band-block-median", title="median rms of 50 ms blocks, bearing band",
        value=level, unit="m/s2", band_hz=card.analysis.bearing_band_hz,
    )  # fmt: skip
    point = next(p for p in card.points if card.is_on_body(p.name))
    return HistoryRecording(
        machine=card.machine.id, sha256=f"{day * 1000:064x}", channel=1,
        path=f"invented/day-{day}.wav", point=point.name, direction=point.direction,
        stage="unstated", moment=None, recorded_at=start + timedelta(days=day),
        running_hours_h=COUNTER_H + HOURS_PER_DAY * day, load="empty", temperature_c=46.0,
        shaft_frequency_hz=shaft_hz, sampling_rate_hz=25_600.0, duration_s=60.0, unit="m/s2",
        unusable_because="", masked="", descriptors=(band,), families=(family,),
        card_sha256=card.sha256, tool_version=INVENTED,
    )  # fmt: skip
