"""Baselines: how a point reads when the machine is good, kept, compared, and never overwritten."""

from vibhealth.baseline.build import (
    build_baseline,
    conditions_of,
    gather,
    load_of,
    refuse_unanswered,
    sensor_of,
)
from vibhealth.baseline.comparison import (
    ComparedFamily,
    ComparedSpectrum,
    ComparedValue,
    Comparison,
    Side,
    compare_sides,
)
from vibhealth.baseline.conditions import ConditionFinding, ConditionLimits, compare_conditions
from vibhealth.baseline.explain import explain_order
from vibhealth.baseline.files import baseline_documents
from vibhealth.baseline.levels import REMOUNT_RATIO, LevelLimits, level_limits, spread_limit_db
from vibhealth.baseline.lines import (
    FEWEST_FOR_SPREAD,
    LineDifference,
    LineSettings,
    RaisedLine,
    line_difference,
    raised_lines,
)
from vibhealth.baseline.reference import (
    Baseline,
    Conditions,
    FamilyReading,
    FamilyStatistic,
    OrbitReading,
    Range,
    Scalar,
    SourceRecording,
    SpectrumStatistic,
    Status,
    is_same_band,
)
from vibhealth.baseline.settling import settling_flags
from vibhealth.baseline.signatures import Signature, list_signatures, read_signature
from vibhealth.baseline.statistics import motion_values
from vibhealth.baseline.store import (
    Stored,
    in_force,
    list_stored,
    read_baseline,
    store_baseline,
)
from vibhealth.baseline.tolerance import one_sided_factor, two_sided_factor, upper_limit_db

__all__ = [
    "FEWEST_FOR_SPREAD",
    "REMOUNT_RATIO",
    "Baseline",
    "ComparedFamily",
    "ComparedSpectrum",
    "ComparedValue",
    "Comparison",
    "ConditionFinding",
    "ConditionLimits",
    "Conditions",
    "FamilyReading",
    "FamilyStatistic",
    "LevelLimits",
    "LineDifference",
    "LineSettings",
    "OrbitReading",
    "RaisedLine",
    "Range",
    "Scalar",
    "Side",
    "Signature",
    "SourceRecording",
    "SpectrumStatistic",
    "Status",
    "Stored",
    "baseline_documents",
    "build_baseline",
    "compare_conditions",
    "compare_sides",
    "conditions_of",
    "explain_order",
    "gather",
    "in_force",
    "is_same_band",
    "level_limits",
    "line_difference",
    "list_signatures",
    "list_stored",
    "load_of",
    "motion_values",
    "one_sided_factor",
    "raised_lines",
    "read_baseline",
    "read_signature",
    "refuse_unanswered",
    "sensor_of",
    "settling_flags",
    "spread_limit_db",
    "store_baseline",
    "two_sided_factor",
    "upper_limit_db",
]
