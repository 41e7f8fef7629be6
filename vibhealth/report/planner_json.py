"""Outlook and trends as JSON: stable names, units in keys."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from vibhealth import __version__
from vibhealth.model import BearingLife, CrossingRange, Outlook, Trend, TrendPoint
from vibhealth.report.planner_view import by_urgency

__all__ = ["outlooks_dict", "trends_dict"]

SCHEMA_VERSION = 1


def outlooks_dict(outlooks: Sequence[Outlook]) -> dict[str, Any]:
    """One or several outlooks, most urgent first; valid against ``schema("outlook")``.

    Parameters
    ----------
    outlooks : sequence of Outlook
        At least one.

    Returns
    -------
    dict
    """
    return {**_head(), "machines": [_outlook(item) for item in by_urgency(outlooks)]}


def trends_dict(machine: str, trends: Sequence[Trend]) -> dict[str, Any]:
    """Trends of one machine; valid against ``schema("trend")``.

    Parameters
    ----------
    machine : str
        Its id.
    trends : sequence of Trend
        In any order, which is kept.

    Returns
    -------
    dict
    """
    return {**_head(), "machine": machine, "trends": [_trend(item) for item in trends]}


def _head() -> dict[str, Any]:
    return {
        "schema_version": SCHEMA_VERSION,
        "tool": {"name": "vibhealth", "version": __version__},
    }


def _outlook(item: Outlook) -> dict[str, Any]:
    return {
        "machine": item.machine,
        "name": item.name,
        "as_of": item.as_of,
        "sign": item.sign,
        "headline": item.headline,
        "reasons": item.reasons,
        "evidence": item.evidence,
        "trends": [_trend(trend) for trend in item.trends],
        "rating_life": [_life(life) for life in item.life],
        "rating_life_sentence": item.life_sentence,
        "basis": asdict(item.basis),
        "windows": [
            {
                "name": window.name,
                "at": window.at,
                "probability_before": window.probability_before,
                "cost_over_cheapest": window.expected_cost,
                "is_cheapest": window.is_cheapest,
                "spare_there": window.spare_is_there,
                "sentence": window.sentence,
            }
            for window in item.windows
        ],
        "chosen_window": item.chosen_window,
        "currency": item.currency,
        "spare": asdict(item.spare),
        "would_change": item.would_change,
        "next_recording": {"by": item.next_recording, "sentence": item.next_recording_sentence},
        "cautions": item.cautions,
        "settings": item.settings,
    }


def _life(life: BearingLife) -> dict[str, Any]:
    return {
        "bearing": life.bearing,
        "load_kn": life.load_kn,
        "l10h_h": life.l10h,
        "lnmh_h": life.lnmh,
        "kappa": life.kappa,
        "a_iso": life.a_iso,
        "life_ratio_5_percent_faster": life.faster_5_percent,
        "life_ratio_10_percent_more_stroke": life.stroke_10_percent,
        "factors": [asdict(factor) for factor in life.factors],
        "missing": life.missing,
        "remarks": life.remarks,
    }


def _trend(trend: Trend) -> dict[str, Any]:
    return {
        "quantity": trend.quantity,
        "title": trend.title,
        "unit": trend.unit,
        "point": trend.point,
        "bearing": trend.bearing,
        "element": trend.element,
        "state": trend.state,
        "course": trend.course,
        "sentence": trend.sentence,
        "slope_per_day": trend.slope_per_day,
        "slope_interval_80": trend.slope_interval,
        "watch_level": trend.watch_level,
        "action_level": trend.action_level,
        "action_source": trend.action_source,
        "reaches_action_level": _crossing(trend.crossing),
        "steps": [asdict(step) for step in trend.steps],
        "visits": [_visit(point) for point in trend.points],
    }


def _crossing(crossing: CrossingRange) -> dict[str, Any]:
    return {
        "earliest": crossing.earliest,
        "latest": crossing.latest,
        "withheld_because": crossing.withheld_because,
        "already_reached": crossing.already_reached,
    }


def _visit(point: TrendPoint) -> dict[str, Any]:
    return {
        "at": point.at,
        "running_hours_h": point.running_hours_h,
        "value": point.value,
        "low": point.low,
        "high": point.high,
        "n_recordings": point.n_recordings,
        "left_out_because": point.left_out_because,
    }
