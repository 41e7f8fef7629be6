"""Findings and limits to criteria, criteria to PASS or HOLD."""

from vibhealth.acceptance.assess import analyze_all, assess, judge, orbits_of
from vibhealth.acceptance.assess_job import assess_job
from vibhealth.acceptance.cautions import CAUTIONS
from vibhealth.acceptance.decide import decide, headline, hold_kind, next_step, reasons
from vibhealth.acceptance.line_differences import line_settings
from vibhealth.acceptance.references import condition_limits
from vibhealth.acceptance.sensitivity_criteria import found_words, most_sensitive

__all__ = [
    "CAUTIONS",
    "analyze_all",
    "assess",
    "assess_job",
    "condition_limits",
    "decide",
    "found_words",
    "headline",
    "hold_kind",
    "judge",
    "line_settings",
    "most_sensitive",
    "next_step",
    "orbits_of",
    "reasons",
]
