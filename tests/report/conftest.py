"""Fixtures of the invented deck feeder F3: analyses, assessments, views, golden files."""

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.report.feeder_assessment import build_assessment, criteria
from tests.report.feeder_recordings import analysis, silent_analysis
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    NextStep,
    RecordingAnalysis,
    Stage,
    Verdict,
)
from vibhealth.report import FigureImage, ReportView, assessment_images, report_view

GOLDEN = Path(__file__).parents[1] / "golden"


@pytest.fixture(scope="session")
def make_assessment() -> Callable[..., Assessment]:
    """Build the rich assessment, with some of its fields replaced."""
    return build_assessment


@pytest.fixture(scope="session")
def assessment() -> Assessment:
    """HOLD · FIX: as found with an outer-ring family, as left clean, one uncalibrated, gaps."""
    return build_assessment()


@pytest.fixture(scope="session")
def passing() -> Assessment:
    """PASS: everything judged and good."""
    return build_assessment(
        verdict=Verdict.PASS,
        hold=None,
        headline="PASS. The bearing unit runs clean.",
        reasons=(),
        next_step=NextStep(action="Hand the machine back.", check_at="8 h, 24 h, 7 days"),
        criteria=tuple(c for c in criteria() if c.result is CriterionResult.PASS),
        recordings=(analysis("as-left/P1X.wav", stage=Stage.AS_LEFT, condition="clean"),),
        improvements=(),
        orbits=(),
    )


@pytest.fixture(scope="session")
def spalled() -> RecordingAnalysis:
    """As found, P1X, outer-ring family deep."""
    return analysis("as-found/P1X.wav", stage=Stage.AS_FOUND, condition="spalled")


@pytest.fixture(scope="session")
def silent() -> RecordingAnalysis:
    """Nothing could be measured."""
    return silent_analysis()


@pytest.fixture
def check_golden() -> Callable[[str, str], None]:
    """Compare with ``tests/golden``; REWRITE_GOLDEN=1 writes the file and fails once."""

    def check(name: str, text: str) -> None:
        path = GOLDEN / name
        if os.environ.get("REWRITE_GOLDEN") == "1":
            path.write_bytes(text.encode("utf-8"))
            pytest.fail(f"{name} rewritten: read the difference before you keep it")
        assert text == path.read_bytes().decode("utf-8")

    return check


@pytest.fixture(scope="session")
def make_criterion() -> Callable[..., Criterion]:
    """One criterion of the bearing group, with some of its fields replaced."""

    def make(**changes: Any) -> Criterion:
        return replace(criteria()[3], **changes)

    return make


@pytest.fixture(scope="session")
def make_view(make_assessment: Callable[..., Assessment]) -> Callable[..., ReportView]:
    """View of the rich assessment, with some of its fields replaced."""

    def make(**changes: Any) -> ReportView:
        return report_view(
            make_assessment(**changes), generated_at="2031-03-04 12:00 UTC", version="0.0.0"
        )

    return make


@pytest.fixture(scope="session")
def images(assessment: Assessment) -> tuple[FigureImage, ...]:
    """Figures of the rich assessment; drawn once for all tests."""
    return assessment_images(assessment)
