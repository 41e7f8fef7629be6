"""Recording faults, speed, motion, levels and defect families: findings, no opinion."""

from vibhealth.diagnosis.analysis import analyze_recording, largest_present
from vibhealth.diagnosis.families import FamilyLimits, FamilyReport, find_families
from vibhealth.diagnosis.inspection import inspect_recording
from vibhealth.diagnosis.levels import LevelResult, level_descriptors
from vibhealth.diagnosis.motion import motion_of, orbit_of, shaft_phase_of
from vibhealth.diagnosis.quality import check_pair, check_recording
from vibhealth.diagnosis.sensitivity import detectable_families
from vibhealth.diagnosis.speed import ShaftTrack, find_speed

__all__ = [
    "FamilyLimits",
    "FamilyReport",
    "LevelResult",
    "ShaftTrack",
    "analyze_recording",
    "check_pair",
    "check_recording",
    "detectable_families",
    "find_families",
    "find_speed",
    "inspect_recording",
    "largest_present",
    "level_descriptors",
    "motion_of",
    "orbit_of",
    "shaft_phase_of",
]
