"""Findings and limits to criteria, criteria to PASS or HOLD."""

from vibhealth.acceptance.assess import analyze_all, assess, judge
from vibhealth.acceptance.cautions import CAUTIONS
from vibhealth.acceptance.decide import decide, headline, hold_kind, next_step, reasons

__all__ = [
    "CAUTIONS",
    "analyze_all",
    "assess",
    "decide",
    "headline",
    "hold_kind",
    "judge",
    "next_step",
    "reasons",
]
