"""Recordings of an invented exciter with a chosen fault, for training and for tests."""

from vibhealth.simulate.exciter import simulate
from vibhealth.simulate.files import FileForm, write_simulated
from vibhealth.simulate.recording import (
    BearingTruth,
    DefectTruth,
    SimulatedRecording,
    SimulationTruth,
)
from vibhealth.simulate.settings import Defect, Resonance, SimulationSettings

__all__ = [
    "BearingTruth",
    "Defect",
    "DefectTruth",
    "FileForm",
    "Resonance",
    "SimulatedRecording",
    "SimulationSettings",
    "SimulationTruth",
    "simulate",
    "write_simulated",
]
