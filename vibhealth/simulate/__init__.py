"""Recordings of an invented exciter with a chosen fault, for training and for tests."""

from vibhealth.simulate.course import Course
from vibhealth.simulate.exciter import simulate
from vibhealth.simulate.fault_kinds import FaultPlan, draw_fault
from vibhealth.simulate.faulty import simulate_plan
from vibhealth.simulate.files import FileForm, write_simulated
from vibhealth.simulate.machine_fault import MachineFault
from vibhealth.simulate.past_readings import past_readings
from vibhealth.simulate.rebuild import FAULTS, RebuildRecording, rebuild_recordings, write_rebuild
from vibhealth.simulate.recording import (
    BearingTruth,
    CourseTruth,
    DefectTruth,
    SimulatedRecording,
    SimulationTruth,
)
from vibhealth.simulate.recording_faults import RECORDING_FAULTS
from vibhealth.simulate.run_to_failure import LifeRecording, run_to_failure
from vibhealth.simulate.settings import Defect, Resonance, SimulationSettings
from vibhealth.simulate.start_stop import simulate_course

__all__ = [
    "FAULTS",
    "RECORDING_FAULTS",
    "BearingTruth",
    "Course",
    "CourseTruth",
    "Defect",
    "DefectTruth",
    "FaultPlan",
    "FileForm",
    "LifeRecording",
    "MachineFault",
    "RebuildRecording",
    "Resonance",
    "SimulatedRecording",
    "SimulationSettings",
    "SimulationTruth",
    "draw_fault",
    "past_readings",
    "rebuild_recordings",
    "run_to_failure",
    "simulate",
    "simulate_course",
    "simulate_plan",
    "write_rebuild",
    "write_simulated",
]
