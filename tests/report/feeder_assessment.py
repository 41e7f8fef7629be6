"""What an acceptance said of the invented deck feeder F3, before and after a rebuild."""

from typing import Any

import numpy as np

from tests.report.feeder_recordings import analysis, silent_analysis
from vibhealth.model import (
    Assessment,
    Criterion,
    CriterionResult,
    Group,
    Hold,
    Improvement,
    NextStep,
    Orbit,
    Stage,
    Verdict,
)

HOSTILE_NAME = "<script>alert(1)</script>.wav"
HOSTILE_REMARK = '"><img src=x onerror=alert(2)> \x1b[31mred\x1b[0m \u202eevil'


def criteria() -> tuple[Criterion, ...]:
    return (
        Criterion(
            id="clipping", group=Group.RECORDING, title="Clipped samples",
            result=CriterionResult.PASS, value=0.0, unit="percent", limit=0.0,
            limit_source="common practice, no source", advice="",
        ),
        Criterion(
            id="speed", group=Group.STATE, title="Shaft speed against nominal",
            result=CriterionResult.WATCH, value=2.4, unit="percent", limit=2.0,
            limit_source="machine card", advice="Check the belt.",
            hold=Hold.MEASURE_AGAIN, reason="The shaft turns 2.4 % fast.",
        ),
        Criterion(
            id="stroke-x", group=Group.MOTION, title="Stroke along x",
            result=CriterionResult.PASS, value=5.99, unit="mm", limit="6 mm ± 10 %",
            limit_source="machine card", advice="",
        ),
        Criterion(
            id="family-outer-ring", group=Group.BEARING, title="Outer ring, bearing upper",
            result=CriterionResult.HOLD, value=0.84, unit="1", limit=0.3,
            limit_source="starting limit without a baseline",
            advice="Do not load the machine. Call the engineer.",
            hold=Hold.FIX, reason="Regular ticking that fits the outer ring.",
        ),
        Criterion(
            id="detectable-depth", group=Group.SENSITIVITY, title="Smallest defect shown",
            result=CriterionResult.PASS, value=0.041, unit="1", limit=0.1,
            limit_source="starting limit without a baseline", advice="",
        ),
        Criterion(
            id="drift", group=Group.STABILITY, title="Drift within the hour",
            result=CriterionResult.NOT_JUDGED, value=None, unit="percent", limit=25.0,
            limit_source="starting limit without a baseline",
            advice="Record three times, two minutes apart.",
            hold=Hold.MEASURE_AGAIN, reason="Only one recording as left.",
        ),
        Criterion(
            id="improvement", group=Group.IMPROVEMENT, title="High-frequency level",
            result=CriterionResult.PASS, value=10.0, unit="dB", limit=0.0,
            limit_source="as found", advice="",
        ),
    )  # fmt: skip


def orbit(stage: Stage, scale: float) -> Orbit:
    angle = np.linspace(0, 2 * np.pi, 121)
    return Orbit(
        stage=stage.value,
        points=("P1X", "P1Y"),
        path=f"{stage.value}/orbit.wav",
        major_mm=6.1 * scale,
        minor_mm=5.8 * scale,
        tilt_deg=12.0,
        direction="counter-clockwise",
        curve_x_mm=3.05 * scale * np.cos(angle),
        curve_y_mm=2.9 * scale * np.sin(angle + 0.1),
    )


def machine() -> dict[str, Any]:
    return {
        "id": "F3",
        "name": "Deck feeder F3",
        "nominal_speed_rpm": 978.0,
        "exciter": {"stroke_mm": {"x": 6.0, "y": 6.0}},
        "bearing": [{"name": "upper", "element_count": 17, "load_case": "rotating"}],
    }


def settings() -> dict[str, Any]:
    return {
        "limits": {
            "depth_hold": {"value": 0.3, "unit": "1", "source": "starting limit"},
            "stroke_tolerance": {"value": 10.0, "unit": "percent", "source": "machine card"},
        },
        "seed": 7,
    }


def build_assessment(**changes: Any) -> Assessment:
    values: dict[str, Any] = {
        "machine": machine(),
        "verdict": Verdict.HOLD,
        "hold": Hold.FIX,
        "headline": "HOLD · FIX - Regular ticking that fits the outer ring of the new bearing.",
        "scope": "Recordings only, nothing seen of the work by hand.",
        "reasons": (
            "Regular ticking that fits the outer ring.",
            "Only one recording as left.",
            "The shaft turns 2.4 % fast.",
        ),
        "next_step": NextStep(
            action="Do not load the machine. Call the engineer.", check_at="before any restart"
        ),
        "criteria": criteria(),
        "recordings": (
            analysis("as-found/P1X.wav", stage=Stage.AS_FOUND, condition="spalled"),
            analysis(
                f"as-left/{HOSTILE_NAME}",
                stage=Stage.AS_LEFT,
                condition="clean",
                remark=HOSTILE_REMARK,
                seed=2,
            ),
            analysis("as-left/P1Y.csv", stage=Stage.AS_LEFT, point="P1Y", condition="clean",
                     unit="counts", seed=3),
            silent_analysis(),
        ),
        "improvements": (
            Improvement(title="Level in the bearing band", before=1.9, after=0.6, unit="m/s2",
                        improvement_db=10.0),
            Improvement(title="Outer-ring depth", before=0.84, after=0.041, unit="1",
                        improvement_db=26.2, at_least=True, detail="nothing found as left"),
            Improvement(title="Velocity", before=3.1, after=3.4, unit="mm/s",
                        improvement_db=-0.8),
        ),
        "orbits": (orbit(Stage.AS_FOUND, 0.9), orbit(Stage.AS_LEFT, 1.0)),
        "cautions": ("The salt works' own isolation procedure applies.",),
        "settings": settings(),
    }  # fmt: skip
    return Assessment(**(values | changes))
